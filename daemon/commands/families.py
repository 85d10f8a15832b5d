"""A group of commands. Its help has headings, and a known fault is one line."""

from __future__ import annotations

import sys
from typing import Any

import click

from underbench.daemon.faults import Fault, unforeseen

FAULT = 2


class Families(click.Group):
    """Commands in families. A fault ends in one clear line and exit code 2."""

    def __init__(self, *args: Any, **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.families: dict[str, tuple[click.Command, ...]] = {}

    def add_family(self, heading: str, *commands: click.Command) -> None:
        """Add commands, to be listed in this order under ``heading``."""
        self.families[heading] = commands
        for command in commands:
            self.add_command(command)

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write each family under its heading, with all descriptions in one column."""
        width = max(map(len, self.commands))
        for heading, commands in self.families.items():
            with formatter.section(heading):
                formatter.write_dl(
                    [
                        ((one.name or "").ljust(width), one.get_short_help_str(formatter.width))
                        for one in commands
                    ]
                )

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except Fault as fault:
            click.echo(str(fault), err=True)
            sys.exit(FAULT)
        except KeyboardInterrupt:
            sys.exit(130)
        except click.UsageError as error:
            click.echo(_in_one_line(error), err=True)
            sys.exit(FAULT)
        except (click.ClickException, click.Abort, click.exceptions.Exit):
            raise
        except Exception as error:  # its text may hold secrets
            click.echo(str(unforeseen(error)), err=True)
            sys.exit(FAULT)


def _in_one_line(error: click.UsageError) -> str:
    """What is wrong on the command line, and where its help is."""
    path = error.ctx.command_path if error.ctx else "underbench"
    said = " ".join(error.format_message().split()).rstrip(".")
    return f"{path}: {said}. More: {path} --help"
