"""Push addresses as the keeper keeps them: which there are, and one more or one less.

They stand in the folder of secrets, or in the garden's file. What the environment gives cannot be
changed from here. No text here holds an address.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import SecretStr

from underbench.daemon.config.environment import (
    BESIDE,
    SECRET_FILES,
    STAND_IN_URLS,
    secrets_folder,
)
from underbench.daemon.config.file import ENV_PREFIX
from underbench.daemon.config.people_tables import KEEPER, numbered_lines
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.delivery.push_services import fault_of, key_of, veiled
from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit

DANGER = "danger"  # the second route, for danger only
ONLY = "it is the only one of yours; add another first"


@dataclass(frozen=True, slots=True)
class Address:
    """One address: whose it is (the keeper's, the second route's, a stand-in's), and its scheme
    with the rest veiled. ``key`` tells it from the others. ``fixed`` says why it stays."""

    whose: str
    key: str
    veiled: str
    fixed: str = ""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where somebody's addresses are: a file of the folder, whose lines begin with ``name`` where
    it is for all stand-ins, or a key of the garden's file."""

    whose: str
    file: str
    key: Key
    name: str = ""


def addresses(settings: Settings, env: Mapping[str, str]) -> Iterator[Address]:
    """Yield all addresses. Raises Fault if a file cannot be read."""
    for place in _places(settings):
        fixed = _fixed(place, env)
        if fixed:
            held = _in_force(settings, place)
        else:
            held = _in_folder(settings, place, env) or _in_toml(settings.file, place)
        yield from (Address(place.whose, key_of(one), veiled(one), fixed) for one in held)


def add(settings: Settings, whose: str, address: SecretStr, env: Mapping[str, str]) -> None:
    """Add an address. Raises Fault if it cannot be used, is there already, or cannot be kept."""
    typed = address.get_secret_value().strip()
    if not typed or typed.split() != [typed]:
        raise Fault("expected one address, without blanks")
    if fault := fault_of(typed):
        raise Fault(fault)
    place = _place(settings, whose, env)
    if key_of(SecretStr(typed)) in _keys(settings, whose, env):
        raise Fault("this address is there already")
    in_toml = _in_toml(settings.file, place)
    if in_toml and not _in_folder(settings, place, env):
        _write_toml(settings.file, place, [*in_toml, SecretStr(typed)])
    else:
        line = f"{place.name} {typed}".strip()
        _rewrite(settings, place, env, lambda lines: [*lines, line])


def remove(settings: Settings, whose: str, key: str, env: Mapping[str, str]) -> None:
    """Take an address out. Raises Fault if it is not there, is the keeper's only one, or stands
    where it cannot be taken out."""
    place, mine = _place(settings, whose, env), _keys(settings, whose, env)
    if key not in mine:
        raise Fault("this address is no longer there")
    if whose == KEEPER and len(mine) == 1:
        raise Fault(ONLY)
    if _in_folder(settings, place, env):
        _rewrite(settings, place, env, lambda lines: [x for x in lines if not _has(x, place, key)])
    else:
        rest = [one for one in _in_toml(settings.file, place) if key_of(one) != key]
        _write_toml(settings.file, place, rest)


def whom(settings: Settings) -> list[str]:
    """Return who can have addresses."""
    return [place.whose for place in _places(settings)]


def _keys(settings: Settings, whose: str, env: Mapping[str, str]) -> list[str]:
    return [one.key for one in addresses(settings, env) if one.whose == whose]


def _places(settings: Settings) -> Iterator[_Place]:
    files = {key: name for name, key in SECRET_FILES.items()}
    for whose, key in ((KEEPER, ("telling", "urls")), (DANGER, ("telling", "danger_urls"))):
        yield _Place(whose, files[key], key)
    for n, one in enumerate(settings.hands_on.stand_ins):
        yield _Place(one.name, STAND_IN_URLS, ("stand_in", n, "urls"), one.name)


def _place(settings: Settings, whose: str, env: Mapping[str, str]) -> _Place:
    for place in _places(settings):
        if place.whose == whose:
            if fixed := _fixed(place, env):
                raise Fault(fixed)
            return place
    raise Fault(f"nobody called {whose} is told anything")


def _fixed(place: _Place, env: Mapping[str, str]) -> str:
    """Why addresses stay as they are; empty if they can be changed."""
    section = f"{ENV_PREFIX}{place.key[0]}".upper()
    names = (section, "__".join((section, *map(str, place.key[1:]))).upper())
    found = [name for name, value in env.items() if value and name.upper() in names]
    return f"given by {found[0]}: change it there" if found else ""


def _in_force(settings: Settings, place: _Place) -> Sequence[SecretStr]:
    if place.name:
        return settings.stand_in_urls.get(place.name, ())
    return settings.telling.urls if place.whose == KEEPER else settings.telling.danger_urls


def _path(settings: Settings, place: _Place, env: Mapping[str, str]) -> Path:
    folder = secrets_folder(settings.file, env) or settings.file.parent / BESIDE
    return folder / place.file


def _text(path: Path) -> str:
    try:
        text = path.read_text(encoding="utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError):
        raise Fault(f"{path}: cannot be read as text") from None
    if text.lstrip().startswith("["):
        raise Fault(f"{path}: is a list in JSON: change it by hand")
    return text


def _in_folder(settings: Settings, place: _Place, env: Mapping[str, str]) -> list[SecretStr]:
    said = [line for _, line in numbered_lines(_text(_path(settings, place, env)))]
    return [SecretStr(line.split()[-1]) for line in said if _is_of(line, place)]


def _is_of(line: str, place: _Place) -> bool:
    return " ".join(line.split()[:-1]).casefold() == place.name.casefold()


def _has(line: str, place: _Place, key: str) -> bool:
    """Whether a line holds somebody's address of this key."""
    words = line.split()
    return bool(words) and _is_of(line, place) and key_of(SecretStr(words[-1])) == key


def _rewrite(
    settings: Settings,
    place: _Place,
    env: Mapping[str, str],
    change: Callable[[list[str]], list[str]],
) -> None:
    """Change the lines of a file of the folder, if the garden's file then loads, and have it read
    anew."""
    path = _path(settings, place, env)
    before = _text(path)
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        _put(path, "".join(f"{line}\n" for line in change(before.splitlines())))
        try:
            load(settings.file)
        except Fault:
            _put(path, before)
            raise
        settings.file.touch()  # the daemon reads its file again, and the secrets with it
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None


def _put(path: Path, text: str) -> None:
    """Write a file that nobody else can read, whole or not at all."""
    number, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)  # 0600
    try:
        with os.fdopen(number, "w", encoding="utf-8") as file:
            if path.exists() and os.geteuid() == 0:
                os.fchown(number, path.stat().st_uid, path.stat().st_gid)
            file.write(text)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)


def _in_toml(path: Path, place: _Place) -> list[SecretStr]:
    held = garden_edit.written_at(path, place.key[:-1]).get(str(place.key[-1]), [])
    return [SecretStr(str(one)) for one in held]


def _write_toml(path: Path, place: _Place, urls: Sequence[SecretStr]) -> None:
    values = {str(place.key[-1]): [one.get_secret_value() for one in urls] or None}
    garden_edit.write(path, place.key[:-1], values, garden_edit.seen(path))
