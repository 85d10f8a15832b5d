"""What was meant by a slip in the garden's file, and how it is written."""

from __future__ import annotations

import re

# Values in these sections are never repeated: they hold keys and addresses with passwords.
SECRET_SECTIONS = ("telling", "stand_in", "weather", "readings", "publish")
REPEATED = ("spot", "tree", "stand_in", "watering")
IN_QUOTES = 'expected text in quotes, "like this"'
_LONGEST = 40
_STATEMENT = re.compile(r"\s*([\w.-]+)\s*=\s*(.*?)\s*(?:#.*)?$")
_HEADER = re.compile(r"\s*\[+\s*([\w-]+)")
_COMMA = re.compile(r"([+-]?\d+),(\d+)")
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([^\W\d]+|°\s*[CF]|m/s|['\"])\.?", re.IGNORECASE)
_SIZES = re.compile(r"(\d+(?:\.\d+)?)\s*[x×*]\s*(\d+(?:\.\d+)?)\s*[x×*]\s*(\d+(?:\.\d+)?)\D*", re.I)
_BARE_LIST = re.compile(r"\[([^\"'\[\]{}]*[^\W\d_][^\"'\[\]{}]*)\]")
_TRUTHS = {"true": ("true", "yes", "on"), "false": ("false", "no", "off")}
_CURLY = "“”„‟«»‘’‚"
# The unit that a key's last part names, as people write it.
_UNITS = {
    "litres": ("l", "litre", "litres", "liter", "liters"),
    "gallons": ("gal", "gallon", "gallons"),
    "cm": ("cm",),
    "m": ("m", "metre", "metres"),
    "in": ("in", "inch", "inches", '"'),
    "ft": ("ft", "foot", "feet", "'"),
    "c": ("c", "°c"),
    "f": ("f", "°f"),
    "ms": ("m/s",),
    "latitude": ("n",),
    "longitude": ("e",),
}


def number_hint(key: str, value: str) -> str | None:
    """Return how to write a number that somebody wrote as ``value``; None if it is no number.

    A unit is dropped only if the key names it: 28 °F under a key in °C is not 28.
    """
    text = value.strip()
    if decimal := _COMMA.fullmatch(text):
        return f"write {decimal[1]}.{decimal[2]}, with a point"
    measured = _WITH_UNIT.fullmatch(text)
    if measured is None:
        return None
    named, unit = key.rpartition("_")[2], measured[2].replace(" ", "").casefold()
    number = measured[1].replace(",", ".")
    if named not in _UNITS:
        return None
    if unit in _UNITS[named]:
        return f"write {number}, the number alone"
    if unit in ("s", "w") and named in ("latitude", "longitude"):
        return f"write -{number}: south and west are below 0"
    return "the number alone, in the unit that the key names"


def sizes_hint(value: str) -> str | None:
    """Return how to write a length, width and depth; None if ``value`` holds no such three."""
    sizes = _SIZES.fullmatch(value.strip())
    return f"write [{', '.join(sizes.groups())}]" if sizes else None


def meant(text: str, line: int) -> str | None:
    """Return how to write what stands on a line (from 1) that TOML cannot read; None if nobody can
    tell. Nothing is repeated that may be a secret."""
    lines = text.split("\n")
    if not 0 < line <= len(lines):
        return None
    statement = _STATEMENT.match(lines[line - 1].rstrip("\r"))
    if statement is None:
        return _no_statement(lines[line - 1])
    key, value = statement[1], statement[2]
    section = next((m[1] for one in lines[line - 1 :: -1] if (m := _HEADER.match(one))), "")
    if {section, key.partition(".")[0]} & set(SECRET_SECTIONS) or "://" in value:
        return IN_QUOTES if value and value[0] not in "\"'[{" else None
    hint = _value_meant(key, value)
    return f"{key}: {hint}" if hint else None


def _value_meant(key: str, value: str) -> str | None:
    if not value:
        return "a value is missing behind the ="
    if hint := number_hint(key, value):
        return f"expected a number: {hint}"
    return _truth_meant(value) or sizes_hint(value) or _quotes_meant(value)


def _truth_meant(value: str) -> str | None:
    truth = next((one for one, said in _TRUTHS.items() if value.casefold() in said), None)
    return f"write {truth}, in small letters and without quotes" if truth else None


def _quotes_meant(value: str) -> str | None:
    if value[0] in _CURLY:
        return f"expected straight quotes: write {_quoted(value.strip(_CURLY))}"
    if value[0] in "\"'" and value.count(value[0]) == 1:
        return f"the quotes are not closed: write {_quoted(value[1:])}"
    if value[0].isalnum():
        return f"the quotes are missing: write {_quoted(value)}"
    if bare := _BARE_LIST.fullmatch(value):
        inside = ", ".join(_quoted(one.strip()) for one in bare[1].split(","))
        return f"the quotes are missing: write [{inside}]"
    return None


def _no_statement(line: str) -> str | None:
    """What was meant by a line without an equals sign."""
    said = line.partition("#")[0].strip()
    key, colon, value = said.partition(":")
    if colon and value.strip() and "://" not in said and re.fullmatch(r"\w+", key):
        return f"expected {key} = and its value: an equals sign, not a colon"
    if re.fullmatch(r"[\w-]+", said):
        return f"expected a key = value, or a section such as [{said[:_LONGEST]}]"
    return None


def twice(message: str, text: str, line: int) -> str | None:
    """Return what was meant where TOML says that a key or a section stands there twice."""
    lines = text.split("\n")
    written = lines[line - 1] if 0 < line <= len(lines) else ""
    if "Cannot overwrite a value" in message and (statement := _STATEMENT.match(written)):
        return f"{statement[1]} stands twice in this section: leave one out"
    if "twice" in message and (header := _HEADER.match(written)):
        name = written[header.start(1) :].partition("]")[0].strip()
        if name in REPEATED:
            return f"write [[{name}]], with two brackets each side, at each {name}"
        return f"the section [{name}] stands twice: put its lines under one"
    return None


def _quoted(value: str) -> str:
    shown = value if len(value) <= _LONGEST else f"{value[:_LONGEST]}…"
    return f'"{shown}"'
