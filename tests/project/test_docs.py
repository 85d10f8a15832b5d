"""The documents are true: every command, option, setting, file and name in them exists and works.

Whatever a keeper needs from the code is in them too, each kind of thing on its own page.
"""

from __future__ import annotations

import re
import shlex
import tomllib
from collections.abc import Iterator
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, get_args

import click
import pytest
from commanding import Garden

from underbench.daemon.commands.cli import main
from underbench.daemon.commands.families import Families
from underbench.daemon.config.environment import OTHER_VARIABLES, SECRET_FILES, STAND_IN_URLS
from underbench.daemon.config.file import ConfigFile, environment_keys, fields_of, table_at
from underbench.daemon.config.limits_table import LimitsTable, Table
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.weather import csv_series as series
from underbench.rules.garden.inventory import Overhead, SpotKind
from underbench.rules.garden.journal import Flower, Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import HAZARDS

ROOT = Path(__file__).parents[2]


def page(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


README, GUIDE = page("README.md"), page("DEVELOPERS.md")
COMMANDS, SETTINGS = page("daemon/README.md"), page("config_examples/README.md")
PAGES = {
    "README.md": README,
    "DEVELOPERS.md": GUIDE,
    "daemon/README.md": COMMANDS,
    "config_examples/README.md": SETTINGS,
    **{name: page(name) for name in ("daemon/JSON.md", "deploy/README.md", "rules/README.md")},
}
FOR_KEEPERS = [text for name, text in PAGES.items() if name != "DEVELOPERS.md"]
WHOLE = "\n".join(PAGES.values())
MOST_WORDS = 1400  # two pages
EXAMPLES = sorted((ROOT / "config_examples").glob("*.toml"))
FIRST = (ROOT / "config_examples" / "first_garden.toml").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PACKAGES = PROJECT["tool"]["setuptools"]["packages"]


def blocks(language: str, text: str = WHOLE) -> list[str]:
    """The code blocks of a language, without the indent of a list around them."""
    found = re.finditer(rf"^( *)```{language}\n(.*?)^ *```$", text, re.MULTILINE | re.DOTALL)
    return [re.sub(rf"^{block[1]}", "", block[2], flags=re.MULTILINE) for block in found]


def spans(text: str) -> list[str]:
    """The text between backticks outside code blocks."""
    plain = re.sub(r"^ *```.*?^ *```$", "", text, flags=re.MULTILINE | re.DOTALL)
    return re.findall(r"`([^`\n]+)`", plain)


def typed() -> list[str]:
    """The lines of shell blocks that call the command. The README's come first."""
    lines = [line for block in blocks("sh") for line in block.splitlines()]
    return [line for line in lines if re.match(r"(\.venv/bin/)?underbench ", line)]


def rows() -> dict[str, str]:
    """The commands of the tables, each with its row."""
    lines = [line for line in COMMANDS.splitlines() if line.startswith("| `underbench ")]
    return {line.split()[2].strip("`"): line for line in lines}


def loaded(file: Path, text: str) -> Settings:
    file.write_text(text, encoding="utf-8")
    return load(file, {"HOME": "/home/keeper"})


def parse(line: str) -> None:
    """Have the command read a line as typed. Words in capitals are taken as they are."""
    words = shlex.split(line.strip("[]"))[1:]
    if words == ["--help"]:
        return
    at = next(n for n, word in enumerate(words) if word in main.commands)
    main.make_context("underbench", words[: at + 1]).close()
    main.commands[words[at]].make_context(words[at], words[at + 1 :]).close()


CALLS = sorted({*typed(), *(span for span in spans(WHOLE) if span.startswith("underbench "))})


@pytest.mark.parametrize("line", CALLS)
def test_a_line_of_the_documents_is_understood(line: str) -> None:
    parse(line)


@pytest.mark.parametrize("line", ["underbench did bag Thorn --film grey", "underbench why"])
def test_a_line_that_is_wrong_is_not_understood(line: str) -> None:
    with pytest.raises(click.UsageError):
        parse(line)


MAKE_NOTES = ("did", "moved", "seen", "watered")


def test_the_notes_of_the_readme_can_be_made_in_the_first_garden(garden: Garden) -> None:
    garden.write(FIRST)
    noted = [shlex.split(line)[1:] for line in typed()]
    noted = [words for words in noted if words[0] in (*MAKE_NOTES, "handled")]
    assert {words[0] for words in noted} == {*MAKE_NOTES, "handled"}
    for words in noted:
        done = garden.do(*words)
        if words[0] == "handled":  # nothing is told there, so that only a name can be wrong
            assert "called" not in done.output, f"{shlex.join(words)}: {done.output}"
        else:
            assert done.exit_code == 0, f"{shlex.join(words)}: {done.output}"
    assert "Spark (from Ember)" in garden.do("trees").stdout


def test_the_commands_stand_in_the_families_of_the_help() -> None:
    parts = re.split(r"^### (.+)$", COMMANDS.split("## Commands", 1)[1], flags=re.MULTILINE)[1:]
    told = {
        heading: re.findall(r"^\| `underbench ([a-z-]+)", table, re.MULTILINE)
        for heading, table in zip(parts[::2], parts[1::2], strict=True)
    }
    assert isinstance(main, Families)
    assert told == {name: [one.name for one in group] for name, group in main.families.items()}


def test_every_command_is_in_the_table_with_each_of_its_options() -> None:
    assert rows().keys() == main.commands.keys()
    for name, row in rows().items():
        shown = (p for p in main.commands[name].params if not getattr(p, "hidden", False))
        known = {o for param in shown for o in param.opts if o[:2] == "--"}
        assert set(re.findall(r"--[a-z-]+", row)) == known, name


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_has_help(name: str) -> None:
    assert main.commands[name].help


def test_every_work_and_stage_is_listed() -> None:
    works = {kind.value.replace(" ", "-") for kind in WorkKind}
    assert [work for work in works if work not in (main.commands["did"].help or "")] == []
    assert works == set(spans(rows()["did"])) - {"underbench did WORK TREE…"} - options("did")
    stages = {stage.value.replace(" ", "-") for stage in (*Stage, *Flower)}
    assert [stage for stage in stages if stage not in (main.commands["seen"].help or "")] == []
    assert stages == set(spans(rows()["seen"])) - {"underbench seen STAGE TREE…"} - options("seen")


def options(name: str) -> set[str]:
    return {span for span in spans(rows()[name]) if span.startswith("--")}


def test_every_hazard_is_explained_in_its_own_words() -> None:
    explained = COMMANDS.split("## What a message means", 1)[1].split("\n## ", 1)[0]
    assert [one.words for one in HAZARDS.values() if one.words not in explained] == []


@pytest.mark.parametrize("block", blocks("toml"))
def test_a_piece_of_configuration_fits_into_the_first_garden(block: str, tmp_path: Path) -> None:
    own_garden = block.startswith("[garden]")
    rest = FIRST[FIRST.index("[[spot]]") :] if own_garden else ""
    loaded(tmp_path / "garden.toml", f"{block}\n{rest}" if own_garden else f"{FIRST}\n{block}")


def test_every_section_and_key_of_the_configuration_is_on_the_pages() -> None:
    tables = [span for text in FOR_KEEPERS for span in spans(text) if span.startswith("[")]
    named = [tuple(keys(tomllib.loads(span))) for span in tables]
    assert [key for key in named if table_at(key) is None] == []
    written = re.findall(r"(?:^|\.)([a-z_]+)(?: = |\]\]$)", "\n".join(blocks("toml")), re.MULTILINE)
    shown = {name for block in blocks("toml") for name in tomllib.loads(block)}
    assert shown == fields_of(ConfigFile).keys()
    said = set(re.findall(r"[a-z_]+", " ".join((*spans(SETTINGS), *comments()))))
    assert sorted(settings_keys(ConfigFile) - {*written, *shown, *said}) == []


def comments() -> list[str]:
    """The comments beside keys in blocks of settings. They name other units, say."""
    return re.findall(r"#(.+)$", "\n".join(blocks("toml")), re.MULTILINE)


def settings_keys(table: type[Table] | type[ConfigFile]) -> set[str]:
    """Every key that may stand in a table, and in the tables in it."""
    found = set()
    for name, kind in fields_of(table).items():
        found.add(name)
        for inner in (kind, *get_args(kind), *(a for k in get_args(kind) for a in get_args(k))):
            if isinstance(inner, type) and issubclass(inner, Table):
                found |= settings_keys(inner)
    return found


def keys(table: Any) -> Iterator[str]:
    """The names on the way into nested tables of one entry each."""
    while table:
        table = table[0] if isinstance(table, list) else table
        if table:
            (name, table), *_ = table.items()
            yield name


def test_every_own_limit_and_kind_of_spot_is_on_the_page_of_settings() -> None:
    for name in (name for pair in LimitsTable.alternatives for name in pair):
        assert f"`{name}`" in SETTINGS
    kinds = SETTINGS.split("Kinds of spot: ", 1)[1].split("\n", 1)[0]
    assert [kind for kind in SpotKind if kind not in kinds] == []
    assert [
        over for over in Overhead if over is not Overhead.OPEN_SKY and f'"{over}"' not in SETTINGS
    ] == []


def test_the_columns_of_a_series_are_those_read() -> None:
    table = SETTINGS.split("| column |", 1)[1].split("\n\n", 1)[0]
    cells = [line.split("|")[1] for line in table.splitlines()[2:]]
    assert {name for cell in cells for name in spans(cell)} == set(series.COLUMNS)


def test_every_variable_of_the_environment_named_is_read() -> None:
    named = set(re.findall(r"UNDERBENCH_[A-Z_]+", WHOLE)) - {"UNDERBENCH_SECTION__KEY"}
    assert named <= {*environment_keys(), *OTHER_VARIABLES}


def test_every_file_of_secrets_is_on_the_page_of_settings() -> None:
    assert [name for name in (*SECRET_FILES, STAND_IN_URLS) if f"`{name}`" not in SETTINGS] == []


def test_every_example_is_on_the_page_of_settings() -> None:
    assert [one.name for one in EXAMPLES if f"`config_examples/{one.name}`" not in SETTINGS] == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_an_example_loads_as_it_is_and_with_what_it_has_commented_out(
    path: Path, tmp_path: Path
) -> None:
    text = path.read_text(encoding="utf-8")
    plain = loaded(tmp_path / "garden.toml", text)
    more, count = re.subn(r"^# (?=\[|\w+ = )", "", text, flags=re.MULTILINE)
    assert count == 0 or loaded(tmp_path / "garden.toml", more) != plain


@pytest.mark.parametrize("package", PACKAGES)
def test_every_package_is_in_the_layout_with_what_it_is_for(package: str) -> None:
    said = (import_module(package).__doc__ or "").strip()
    assert said.count(".") == 1
    assert re.search(
        rf"^ *{package.rsplit('.', maxsplit=1)[-1]}/ +{re.escape(said)}$", GUIDE, re.MULTILINE
    )


@pytest.mark.parametrize("name", PAGES)
def test_every_path_named_is_there(name: str) -> None:
    text, folder = PAGES[name], (ROOT / name).parent
    paths = {span for span in spans(text) if re.fullmatch(r"[.\w]+/[\w./]*", span)}
    paths |= set(re.findall(r"(?:sh|python) (deploy/\w+(?:\.py)?)", text))
    links = re.findall(r"\]\(([\w./]+)\)", text)
    assert [path for path in paths if not (ROOT / path).exists()] == []
    assert [link for link in links if not (folder / link).exists()] == []


def test_every_page_is_linked_from_the_readme() -> None:
    assert [name for name in PAGES if f"]({name})" not in README] == ["README.md"]


def test_the_readme_is_two_pages() -> None:
    assert len(README.split()) <= MOST_WORDS


def test_every_bench_and_all_that_tests_share_is_in_the_guide() -> None:
    benches = (ROOT / "tests" / "bench").iterdir()
    shared = (*(ROOT / "tests" / "helpers").glob("*.py"), ROOT / "tests" / "conftest.py")
    names = [path.relative_to(ROOT).as_posix() for path in (*benches, *shared) if path.is_file()]
    assert [name for name in names if f"`{name}`" not in GUIDE] == []


def names_of_the_guide() -> list[str]:
    """The dotted names of the guide, such as ``course.follow``: a module and a name in it."""
    dotted = {span for span in spans(GUIDE) if re.fullmatch(r"[a-z_]+(\.[A-Za-z_]+)+", span)}
    files = (".py", ".toml", ".md")
    return sorted(n for n in dotted if not n.endswith(files) and not n.startswith("underbench."))


@pytest.mark.parametrize("name", names_of_the_guide())
def test_a_name_of_the_guide_is_in_its_module(name: str) -> None:
    module, _, inside = name.removeprefix("daemon.").partition(".")
    found = [import_module(f"{p}.{module}") for p in PACKAGES if find_spec(f"{p}.{module}")]
    assert any(hasattr(one, inside) for one in found)


def test_both_commands_of_the_readme_are_at_its_top() -> None:
    assert [block.strip() for block in blocks("sh", README)[:2]] == [
        "sh deploy/start",
        "sh deploy/test",
    ]
