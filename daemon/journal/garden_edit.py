"""Adds, changes or takes out what the garden's file holds, which stays the one truth.

Comments, order and blanks stay as they are. A change that would not load is refused, and nothing is
written. Each change keeps the file before it as a copy beside it (``garden.toml.1`` is the newest).
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import tomlkit

from underbench.daemon.config.problems import ConfigProblems
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.config.tomlfile import Key, TomlFault, headers, key_lines, read_toml
from underbench.daemon.faults import Fault

MOST_COPIES = 5
_LACKS = re.compile(r"(\w+): missing$|missing: give (\w+),.*$")  # a table without a key
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
Section = Literal["tree", "spot", "stand_in", "watering"]
Values = Mapping[str, Any]


class Refused(Fault):
    """A change would not load; ``by_field`` holds the problems of single fields."""

    def __init__(self, problems: tuple[str, ...], by_field: Mapping[str, str]) -> None:
        super().__init__("\n".join(problems))
        self.by_field = by_field


class _File:
    """The file as text with plain line ends, and how to write it as it was."""

    def __init__(self, path: Path) -> None:
        """Read the file; raises Fault if it cannot be read or is no TOML."""
        try:
            self.raw = path.read_bytes()
            read_toml(path)
        except OSError as error:
            raise Fault(f"{path}: cannot be read: {error.strerror}") from None
        except TomlFault as fault:
            raise Fault(str(fault)) from None
        text = self.raw.decode("utf-8-sig")
        self._mark = self.raw.startswith(_BYTE_ORDER_MARK)
        self._windows = text.count("\n") == text.count("\r\n") > 0
        self.text = text.replace("\r\n", "\n") if self._windows else text
        self.held = tomllib.loads(text)

    def state(self) -> str:
        """What tells this state of the file from any other."""
        return hashlib.sha256(self.raw).hexdigest()

    def encoded(self, text: str) -> bytes:
        """A text in the bytes of this file."""
        written = text.replace("\n", "\r\n") if self._windows else text
        return (_BYTE_ORDER_MARK if self._mark else b"") + written.encode()

    def number(self, section: Section, name: str) -> int:
        """The number of a section's entry with this name; raises Fault if there is none."""
        for number, table in enumerate(self.held.get(section, [])):
            if str(table.get("name", "")).casefold() == name.casefold():
                return number
        raise Fault(f"no {section} called {name!r} is in the file")


def seen(path: Path) -> str:
    """Return what tells this state of the file from any other. Raises Fault."""
    return _File(path).state()


def written(path: Path, section: Section, name: str) -> dict[str, Any]:
    """Return the table of a tree or spot as written, its keys by name. Raises Fault."""
    file = _File(path)
    return dict(file.held[section][file.number(section, name)])


def listed(path: Path, section: Section) -> list[dict[str, Any]]:
    """Return the entries of a section as written. Raises Fault."""
    return [dict(one) for one in _File(path).held.get(section, [])]


def add(path: Path, section: Section, values: Values, as_seen: str) -> Settings:
    """Add an entry of a section at the end of the file; return the settings with it.

    ``as_seen`` is what ``seen`` gave when the keeper was shown the garden. Raises Refused for a
    change that would not load, Fault for a file that cannot be written or has changed since.
    """
    file = _as_seen(path, as_seen)
    table = tomlkit.table()
    for key, value in values.items():
        if value is not None:
            table[key] = value
    end = "\n" if file.text.endswith("\n") else "\n\n"
    new = f"{file.text}{end}[[{section}]]\n{table.as_string().strip()}\n"
    return _replace(path, file, new, (section, len(file.held.get(section, []))))


def change(path: Path, section: Section, name: str, values: Values, as_seen: str) -> Settings:
    """Change keys of a tree or a spot (None takes a key out); return the settings after it.

    Raises as ``add`` does. The name itself cannot change, because the journal uses it.
    """
    return write(path, place_of(path, section, name), values, as_seen)


def change_limits(path: Path, tree: str, values: Values, as_seen: str) -> Settings:
    """Change keys of a tree's own limits, likewise. They stay where the file has them: in a table
    below the tree's, or in a line of it."""
    file = _as_seen(path, as_seen)
    at = ("tree", file.number("tree", tree))
    below = (*at, "limits")
    held = _at(file.held, below)
    if not held or any(key == below for _, key in headers(file.text)):
        return write(path, below, values, as_seen)
    changed = {key: value for key, value in (held | dict(values)).items() if value is not None}
    inline = tomlkit.inline_table()
    inline.update(changed)
    return write(path, at, {"limits": inline}, as_seen)


def place_of(path: Path, section: Section, name: str) -> Key:
    """Return where the table of a tree or spot is in the file. Raises Fault."""
    return (section, _File(path).number(section, name))


def written_at(path: Path, table: Key) -> dict[str, Any]:
    """Return a table as written, its keys by name; empty if there is none. Raises Fault."""
    return dict(_at(_File(path).held, table))


def write(path: Path, table: Key, values: Values, as_seen: str) -> Settings:
    """Change keys of any table, such as ``("means",)`` or ``("tree", 2, "limits")`` (None takes a
    key out); return the settings after it. A table that is not there yet is added: below the one
    it belongs to, or at the end. Raises as ``add`` does.
    """
    file = _as_seen(path, as_seen)
    plain = _at(file.held, table)
    fresh = {key: value for key, value in values.items() if plain.get(key) != value}
    if not fresh:
        return load(path)
    lines = file.text.split("\n")
    first, last = _lines(path, file.text, table) if plain else _room_for(path, file.text, table)
    # Only this table's own lines go through tomlkit: it would reorder tables of a list that stand
    # apart from one another.
    document = tomlkit.parse("\n".join(lines[first:last]) + "\n")
    for key, value in fresh.items():
        if value is None:
            document.pop(key)
        else:
            document[key] = value
    new_lines = tomlkit.dumps(document).removesuffix("\n").split("\n")
    if not plain:
        names = ".".join(
            tomlkit.key(part).as_string() for part in table if not isinstance(part, int)
        )
        new_lines = ["", f"[{names}]", *new_lines]
    new = "\n".join([*lines[:first], *new_lines, *lines[last:]])
    wanted = {key: value for key, value in (plain | fresh).items() if value is not None}
    if _held(new, table) != wanted:
        raise _by_hand(path)
    return _replace(path, file, new, table)


def remove(path: Path, entry: Key, as_seen: str) -> Settings:
    """Take an entry of a section, such as ``("tree", 2)``, out of the file with all its tables;
    return the settings after it. Raises as ``add`` does."""
    file = _as_seen(path, as_seen)
    section, number = str(entry[0]), int(entry[1])
    first, last = _whole(path, file.text, entry)
    lines = file.text.split("\n")
    new = "\n".join([*lines[:first], *lines[last:]])
    others = [one for n, one in enumerate(file.held[section]) if n != number]
    try:
        fits = tomllib.loads(new).get(section, []) == others
    except tomllib.TOMLDecodeError:
        fits = False
    if not fits:
        raise _by_hand(path)
    return _replace(path, file, new, entry)


def put_back(path: Path, before: str, as_seen: str) -> Settings:
    """Make the file what it was in the state ``before``, by a copy beside it; return the settings
    then. Raises as ``add`` does, and if no copy is of that state."""
    file = _File(path)
    if file.state() != as_seen:
        raise Fault(f"{path}: has been changed since, so nothing was taken back; change it there")
    for copy in _copies(path):
        if copy.exists() and (held := _File(copy)).state() == before:
            return _replace(path, file, held.text, ())
    raise Fault(f"{path}: no copy from before is left, so nothing was taken back; change it there")


def _whole(path: Path, text: str, entry: Key) -> tuple[int, int]:
    """The lines of an entry (counted from 0): from its header to the last key of its last table."""
    own = [key for _, key in headers(text) if key[: len(entry)] == entry]
    if not own:
        raise _by_hand(path)
    below, _ = _lines(path, text, own[0])
    return below - 1, _lines(path, text, own[-1])[1]


def _held(text: str, table: Key) -> dict[str, Any] | None:
    """What a text holds at a key path; None if it is no TOML."""
    try:
        return _at(tomllib.loads(text), table)
    except tomllib.TOMLDecodeError:
        return None


def _at(held: Any, table: Key) -> dict[str, Any]:
    """What a file holds at a key path; empty where there is nothing."""
    for part in table:
        held = held.get(part, {}) if isinstance(held, dict) else held[part]
    return dict(held)


def _room_for(path: Path, text: str, table: Key) -> tuple[int, int]:
    """Where the lines of a new table go: below those of the table it belongs to, or at the end."""
    if any(key == table[:-1] for _, key in headers(text)):
        _, last = _lines(path, text, table[:-1])
        return last, last
    lines = text.rstrip("\n").split("\n")
    return len(lines), len(lines)


def _lines(path: Path, text: str, table: Key) -> tuple[int, int]:
    """The lines of a table's own keys (counted from 0): from below its header to its last key."""
    found = headers(text)
    at = next((n for n, (_, key) in enumerate(found) if key == table), None)
    if at is None:
        raise _by_hand(path)
    lines = text.split("\n")
    first = found[at][0]
    last = found[at + 1][0] - 1 if at + 1 < len(found) else len(lines)
    while last > first and (not lines[last - 1].strip() or lines[last - 1].lstrip()[0] == "#"):
        last -= 1
    return first, last


def _replace(path: Path, file: _File, new: str, at: Key) -> Settings:
    """Put ``new`` in place of the file once it is known to load."""
    if new == file.text:
        return load(path)
    _writable(path)
    try:
        beside = _beside(path, file.encoded(new))
        try:
            settings = _loaded(path, beside, new, at)
            if path.read_bytes() != file.raw:
                raise changed(path)
            _keep_copy(path)
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None
    return settings


def _loaded(path: Path, beside: Path, text: str, at: Key) -> Settings:
    """The settings in the file ``beside``; problems in it name ``path`` instead."""
    try:
        return load(beside)
    except ConfigProblems as problems:
        told = tuple(line.replace(str(beside), str(path)) for line in problems.problems)
        lines = {
            line: str(key[len(at)])
            for key, line in key_lines(text).items()
            if len(key) > len(at) and key[: len(at)] == at
        }
        by_field = {}
        for problem in told:
            line, _, words = problem.removeprefix(f"{path}:").partition(": ")
            field = lines.get(int(line)) if line.isdecimal() else None
            if field:
                by_field[field] = words.rpartition(f"{field}: ")[2]
            elif lacks := _LACKS.search(words):
                by_field[lacks[1] or lacks[2]] = lacks[0].rpartition(": ")[2]
        raise Refused(told, by_field) from None


def _beside(path: Path, raw: bytes) -> Path:
    """A new file in the same folder, with the same mode and owner, safely on disk."""
    number, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    kept = path.stat()
    with os.fdopen(number, "wb") as file:
        os.fchmod(number, kept.st_mode & 0o7777)
        if os.geteuid() == 0:  # the daemon's own user must be able to read what root changed
            os.fchown(number, kept.st_uid, kept.st_gid)
        file.write(raw)
        file.flush()
        os.fsync(number)
    return Path(name)


def _copies(path: Path) -> list[Path]:
    """Where copies of the file are kept, the newest first."""
    return [path.with_name(f"{path.name}.{n}") for n in range(1, MOST_COPIES + 1)]


def _keep_copy(path: Path) -> None:
    copies = _copies(path)
    for newer, older in zip(copies[-2::-1], copies[:0:-1], strict=True):
        if newer.exists():
            newer.replace(older)
    shutil.copy2(path, copies[0])


def _writable(path: Path) -> None:
    if path.is_symlink():
        raise Fault(f"{path}: is a link to another file; change that one by hand")
    if not os.access(path, os.W_OK, effective_ids=True):
        raise Fault(f"{path}: is read-only; change it by hand")


def _as_seen(path: Path, as_seen: str) -> _File:
    file = _File(path)
    if file.state() != as_seen:
        raise changed(path)
    return file


def changed(path: Path) -> Fault:
    """Return what is said of a file that somebody else changed meanwhile."""
    return Fault(f"{path}: has changed since it was shown; look at it again, then change it")


def _by_hand(path: Path) -> Fault:
    return Fault(f"{path}: is written in a way that cannot be changed safely; change it by hand")
