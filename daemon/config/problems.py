"""Mistakes in the configuration, one line each: where it is and what was expected."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from underbench.daemon.config.file import fields_of, table_at
from underbench.daemon.config.slips import SECRET_SECTIONS, number_hint, sizes_hint
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.faults import Fault

_SHOWN_LENGTH = 40
_T = TypeVar("_T")

_EXPECTED = {
    "missing": "missing",
    "string_too_short": "must not be empty",
    "string_too_long": "expected {max_length} characters or fewer",
    "string_pattern_mismatch": "expected text on one line",
    "too_short": "expected {min_length} or more values, found {actual_length}",
    "too_long": (
        "expected {max_length} or fewer values, found {actual_length} (a comma parts values; "
        "decimals have a point, such as 38.5)"
    ),
    "string_type": 'expected text in quotes, "like this"',
    "float_type": "expected a number",
    "float_parsing": "expected a number",
    "finite_number": "expected a number",
    "int_type": "expected a whole number",
    "int_parsing": "expected a whole number",
    "int_from_float": "expected a whole number",
    "bool_type": "expected true or false",
    "bool_parsing": "expected true or false",
    "greater_than": "expected more than {gt:g}",
    "greater_than_equal": "expected {ge:g} or more",
    "less_than_equal": "expected {le:g} or less",
    "enum": "expected {expected}",
    "literal_error": "expected {expected}",
    "tuple_type": "expected a list in square brackets",
    "model_type": "expected a table of keys",
    "path_type": "expected a path in quotes",
    "value_error": "{error}",
}
_GONE = {
    ("readings", "listen"): (
        "the page takes posts of readings now, at /readings: leave this line out, and under "
        '[page] write listen = "127.0.0.1:8640"'
    ),
}
_SHOWS_VALUE = {"float_parsing", "int_parsing", "int_from_float", "bool_parsing", "enum"}
_SHOWS_VALUE |= {"greater_than", "greater_than_equal", "less_than_equal", "literal_error"}
_SHOWS_VALUE |= {"value_error", "tuple_type"}


class ConfigProblems(Fault):
    """Everything wrong with a configuration, one line each, in the order of the file."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


@dataclass
class Problems:
    """Gathers problems by key path and tells where each comes from.

    ``raw`` is what was read, merged. ``lines`` holds the line of each key in the file,
    ``elsewhere`` the environment variable or secrets file that gave a key.
    """

    path: Path
    raw: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[Key, int] = field(default_factory=dict)
    elsewhere: Mapping[Key, str] = field(default_factory=dict)
    _found: dict[str, tuple[int, int]] = field(default_factory=dict)

    def add(self, key: Key, text: str) -> None:
        """Note a problem with what is (or is missing) at a key path."""
        line = 0 if _nearest(key, self.elsewhere) else _nearest(key, self.lines) or 0
        self._note(f"{self.place(key)}: {self._label(key)}: {text}", line=line)

    def place(self, key: Key) -> str:
        """Return where what is at a key path stands: a file and its line, or a variable."""
        if source := _nearest(key, self.elsewhere):
            return source
        line = _nearest(key, self.lines)
        return f"{self.path}:{line}" if line else f"{self.path}"

    def add_plain(self, text: str) -> None:
        """Note a problem that has no key in the file."""
        self._note(text, line=0)

    def add_unknown(self, key: Key) -> None:
        """Note a key that means nothing in its place."""
        self.add(key, _unknown_key(key))

    def add_invalid(self, error: ValidationError, at: Key = ()) -> None:
        """Note every fault that pydantic found in what stands at key path ``at``."""
        faults = [((*at, *fault["loc"]), fault) for fault in error.errors()]
        unknown = [key for key, fault in faults if fault["type"] == "extra_forbidden"]
        misspelt = {(*key[:-1], _meant(key)) for key in unknown}
        inside = {key[:n] for key, _ in faults for n in range(len(key))}
        for key, fault in faults:
            if fault["type"] == "extra_forbidden":
                self.add_unknown(key)
            elif fault["type"] == "missing" and key in misspelt:
                continue
            # pydantic also calls a list too short when its entries are there but wrong.
            elif fault["type"] != "too_short" or key not in inside:
                self.add(key, _wording(key, fault))

    def need(self, table: Key, keys: Sequence[str]) -> None:
        """Note that a table has none of these keys, unless it has one of them misspelt."""
        held, model = self.at(table), table_at(table)
        unknown = set(held) - set(fields_of(model) if model else ())
        meant = {_meant((*table, name)) for name in unknown}
        if not (set(held) | meant) & set(keys):
            self.add(table, f"missing: give {', '.join(keys[:-1])} or {keys[-1]}")

    def at(self, key: Key) -> Any:
        """Return the raw value at a key path; None when there is none."""
        value: Any = self.raw
        for part in key:
            try:
                value = value[part]
            except (LookupError, TypeError):
                return None
        return value

    def raise_any(self) -> None:
        """Raise ConfigProblems if anything was noted, in the file's order; the rest comes last."""
        if self._found:
            raise ConfigProblems(sorted(self._found, key=lambda text: self._found[text]))

    def _note(self, text: str, line: int) -> None:
        last = max(self.lines.values(), default=0) + 1
        text = " ".join(text.splitlines())  # a name may hold a line break
        self._found.setdefault(text, (line or last, len(self._found)))

    def _label(self, key: Key) -> str:
        """Write a key path for a person: ``tree 2 "Asa": limits.gust_ms``."""
        if len(key) < 2 or not isinstance(key[1], int):
            return _dotted(key)
        name = self.at((*key[:2], "name"))
        item = f"{key[0]} {key[1] + 1}" + (f' "{name}"' if isinstance(name, str) else "")
        return ": ".join(filter(None, [item, _dotted(key[2:])]))


def _nearest(key: Key, known: Mapping[Key, _T]) -> _T | None:
    """Return what is known of a key path, else of the nearest one above it."""
    above = (key[:n] for n in range(len(key), 0, -1))
    return next((known[part] for part in above if part in known), None)


def _dotted(key: Key) -> str:
    text = ""
    for part in key:
        text += f" {part + 1}" if isinstance(part, int) else f".{part}"
    return text.lstrip(".")


def _meant(key: Key) -> str | None:
    """Return the known key most like an unknown one; None when none is like it."""
    model = table_at(key[:-1])
    near = get_close_matches(str(key[-1]), fields_of(model), n=1) if model else []
    return near[0] if near else None


def _unknown_key(key: Key) -> str:
    if key in _GONE:
        return _GONE[key]
    meant, above = _meant(key), table_at(key[:-2])
    if meant:
        return f"unknown key (did you mean '{meant}'?)"
    if len(key) > 2 and isinstance(key[-2], str) and above and key[-1] in fields_of(above):
        header = ".".join(part for part in key[:-1] if isinstance(part, str))
        return f"unknown key here; it belongs above the line [{header}]"
    return "unknown key"


def _wording(key: Key, fault: ErrorDetails) -> str:
    kind, context = fault["type"], fault.get("ctx", {})
    if len(key) == 1 and (text := _section_fault(str(key[0]), kind)):
        return text
    expected = _EXPECTED.get(kind, fault["msg"]).format(**context)
    value = fault.get("input")
    if (
        key[0] in SECRET_SECTIONS
        or kind not in _SHOWS_VALUE
        or not isinstance(value, str | float | int)
    ):
        return expected
    shown = _shown(value)
    if isinstance(value, str) and (hint := _hint(str(key[-1]), kind, value)):
        return f"{expected}, not {shown}: {hint}"
    return f"{shown}: {expected}" if kind == "value_error" else f"{expected}, not {shown}"


def _hint(key: str, kind: str, value: str) -> str | None:
    """Return how to write what is meant by a text in a number's or a list's place."""
    if kind == "tuple_type":
        return sizes_hint(value)
    return number_hint(key, value) if kind in ("float_parsing", "int_parsing") else None


def _section_fault(section: str, kind: str) -> str | None:
    if kind in ("missing", "too_short"):
        header = f"[[{section}]]" if section in ("spot", "tree") else f"[{section}]"
        return f"missing: write at least one {header} section"
    if kind == "tuple_type":
        return f"expected sections headed [[{section}]], with two brackets each side"
    if kind in ("model_type", "model_attributes_type"):
        return f"expected one section headed [{section}], with one bracket each side"
    return None


def _shown(value: str | float) -> str:
    """Write a value as the file would, shortened."""
    if isinstance(value, str):
        text = repr(value)
    else:
        text = f"{value:d}" if isinstance(value, int) else f"{value:.12g}"
    return text if len(text) <= _SHOWN_LENGTH else f"{text[:_SHOWN_LENGTH]}…"
