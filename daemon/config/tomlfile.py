"""A TOML file with the line of every key, so that a message can point at a mistake."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from underbench.daemon.config.slips import meant, twice

Key = tuple[str | int, ...]

_POSITION = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


class TomlFault(Exception):
    """A file that cannot be read as TOML; the text is one line that begins with the file."""


def read_toml(path: Path) -> tuple[dict[str, Any], dict[Key, int]]:
    """Return what a TOML file holds, and the line (from 1) on which each key stands.

    Raises TomlFault for a file that is missing, unreadable, not UTF-8 or not TOML.
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise TomlFault(
            f"{path}: no such file; start from config_examples/first_garden.toml"
        ) from None
    except OSError as error:
        raise TomlFault(f"{path}: cannot be read: {error.strerror}") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        fault = f"byte 0x{raw[error.start]:02x} is not UTF-8: save the file as UTF-8"
        raise TomlFault(f"{path}:{line}: {fault}") from None
    try:
        return tomllib.loads(text), key_lines(text)
    except tomllib.TOMLDecodeError as error:
        raise TomlFault(_syntax_fault(path, text, str(error))) from None
    except RecursionError:
        raise TomlFault(f"{path}: not TOML: brackets nested too deep") from None
    except ValueError:  # from int(), which the parser does not catch
        raise TomlFault(f"{path}: not TOML: a whole number of thousands of digits") from None


def _syntax_fault(path: Path, text: str, message: str) -> str:
    found = _POSITION.search(message)
    said = _POSITION.sub("", message)
    if found and found[1]:
        line = int(found[1])
        if hint := twice(said, text, line) or meant(text, line):
            return f"{path}:{line}: {hint}"
        return f"{path}:{line}: not TOML: {said} (column {found[2]})"
    return f"{path}:{text.count(chr(10)) + 1}: not TOML: {said} (end of file)"


def key_lines(text: str) -> dict[Key, int]:
    """Return the line (from 1) of every table, key and list entry of a TOML document.

    Entries of arrays of tables are counted from 0: ``("tree", 1, "litres")``. What lies inside a
    value (a list, an inline table) has the line of its key. A table that exists only through a
    deeper header has the line of the first such header. Raises tomllib.TOMLDecodeError for a text
    that is not TOML.
    """
    tomllib.loads(text)
    lines: dict[Key, int] = {}
    last_entry: dict[Key, int] = {}
    table: Key = ()
    for line, statement, held in _statements(text):
        if statement.lstrip().startswith("["):
            table = _open_table(held, last_entry)
            found = [table[:length] for length in range(1, len(table) + 1)]
        else:
            found = list(_paths(held, table))
        for key in found:
            lines.setdefault(key, line)
    return lines


def headers(text: str) -> list[tuple[int, Key]]:
    """Return the line (from 1) and the key path of each table header of a TOML document.

    Raises tomllib.TOMLDecodeError for a text that is not TOML.
    """
    tomllib.loads(text)
    last_entry: dict[Key, int] = {}
    return [
        (line, _open_table(held, last_entry))
        for line, statement, held in _statements(text)
        if statement.lstrip().startswith("[")
    ]


def _statements(text: str) -> Iterator[tuple[int, str, dict[str, Any]]]:
    """Yield the first line of each statement, the statement, and what it holds. One over several
    lines is whole as soon as it parses by itself: before that, a bracket or a quotation is open."""
    start, pending = 1, ""
    # Not splitlines(): TOML knows no other line end than the newline.
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        pending = f"{pending}\n{line}" if pending else line
        try:
            held = tomllib.loads(pending)
        except tomllib.TOMLDecodeError:
            continue
        yield start, pending, held
        start, pending = number + 1, ""


def _open_table(header: dict[str, Any], last_entry: dict[Key, int]) -> Key:
    """Return the full key of the table a header opens; ``[tree.limits]`` is the last tree's."""
    table: Key = ()
    node: Any = header
    while node:
        ((name, node),) = node.items()
        table = (*table, name)
        if isinstance(node, list):
            last_entry[table] = last_entry.get(table, -1) + 1
            node = {}
        if table in last_entry:
            table = (*table, last_entry[table])
    return table


def _paths(value: Any, key: Key) -> Iterator[Key]:
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    for name, below in inside:
        yield (*key, name)
        if isinstance(below, dict | list):
            yield from _paths(below, (*key, name))
