"""What lies over the configuration file: the environment and the secrets directory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic_settings import EnvSettingsSource, SettingsError

from underbench.daemon.config.file import ENV_PREFIX, ConfigFile, environment_keys
from underbench.daemon.config.people_tables import numbered_lines
from underbench.daemon.config.problems import Problems
from underbench.daemon.config.tomlfile import Key

SECRETS_DIR = f"{ENV_PREFIX}SECRETS_DIR"
# Variables with the prefix that are no settings: they say where the file and the secrets are.
OTHER_VARIABLES = (f"{ENV_PREFIX}CONFIG", SECRETS_DIR)
SECRET_FILES: dict[str, Key] = {
    "telling_urls": ("telling", "urls"),
    "danger_urls": ("telling", "danger_urls"),
    "weather_api_key": ("weather", "api_key"),
    "readings_token": ("readings", "token"),
    "readings_mqtt_password": ("readings", "mqtt_password"),
    "publish_password": ("publish", "password"),
}
BESIDE = "secrets"
STAND_IN_URLS = "stand_in_urls"  # each line: a stand-in's name and an address


def laid_over(
    raw: dict[str, Any], env: Mapping[str, str], problems: Problems
) -> tuple[dict[str, Any], dict[Key, str]]:
    """Return ``raw`` with the secrets directory and then the environment laid over it.

    Also return the variable or secrets file that gave each key so replaced, and for each address of
    a secrets file its line there. Faults found on the way go into ``problems``.
    """
    origin: dict[Key, str] = {}
    for source, values, lines in _secrets(raw, env, problems):
        raw = _merged(raw, values)
        origin |= dict.fromkeys(_leaves(values), source) | lines
    for source, values in _environment(env, problems):
        raw = _merged(raw, values)
        given = dict.fromkeys(_leaves(values), source)
        replaced = [key for key in origin if any(key[:n] in given for n in range(len(key)))]
        origin = {key: at for key, at in origin.items() if key not in replaced} | given
    return raw, origin


def _environment(
    env: Mapping[str, str], problems: Problems
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each variable that is set, with the nested values it gives."""
    known = environment_keys()
    for variable, value in env.items():
        name = variable.upper()
        if not name.startswith(ENV_PREFIX) or name in OTHER_VARIABLES or not value:
            continue
        if name not in known:
            near = get_close_matches(name, [*known, *OTHER_VARIABLES], n=1)
            hint = f" (did you mean {near[0]}?)" if near else ""
            problems.add_plain(f"{variable}: no such setting{hint}")
            continue
        source = EnvSettingsSource(ConfigFile)
        source.env_vars = {name.lower(): value}
        try:
            values = source()
        except SettingsError:
            problems.add_plain(f"{variable}: expected JSON, a list in [ ] or a table in {{ }}")
        else:
            yield variable, values


def _secrets(
    raw: Mapping[str, Any], env: Mapping[str, str], problems: Problems
) -> Iterator[tuple[str, dict[str, Any], dict[Key, str]]]:
    """Yield each secrets file that exists, with the nested value it gives, and the file and line of
    each address in it."""
    for path in _secret_files(env, problems):
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            problems.add_plain(f"{path}: cannot be read as text")
            continue
        if path.name == STAND_IN_URLS:
            yield str(path), *_urls_by_name(raw, text, path, problems)
        else:
            section, key = SECRET_FILES[path.name]
            yield (
                str(path),
                {str(section): {str(key): text.strip()}},
                {
                    (section, key, n): f"{path}:{line}"
                    for n, (line, _) in enumerate(numbered_lines(text))
                },
            )


def secrets_folder(config: Path, env: Mapping[str, str]) -> Path | None:
    """Return the folder of secrets: as the environment or systemd names it, else ``secrets``.
    ``secrets`` is beside the garden's file; None if there is no such folder."""
    if named := env.get(SECRETS_DIR) or env.get("CREDENTIALS_DIRECTORY"):
        return Path(named)
    beside = config.parent / BESIDE
    return beside if beside.is_dir() else None


def _secret_files(env: Mapping[str, str], problems: Problems) -> Iterator[Path]:
    folder = secrets_folder(problems.path, env)
    if folder is None:
        return
    try:
        paths = sorted(folder.iterdir())
    except OSError as error:
        problems.add_plain(f"{folder}: secrets directory cannot be read: {error.strerror}")
        return
    known = (*SECRET_FILES, STAND_IN_URLS)
    for path in paths:
        if path.name in known:
            yield path
        # Other programs may keep secrets here too; only a likely typing slip is worth a line.
        elif near := get_close_matches(path.name, known, n=1, cutoff=0.8):
            problems.add_plain(f"{path}: not read (did you mean '{near[0]}'?)")


def _urls_by_name(
    raw: Mapping[str, Any], text: str, path: Path, problems: Problems
) -> tuple[dict[str, Any], dict[Key, str]]:
    """Return the addresses in ``text`` by the number of their stand-in, and the line of each."""
    entries = raw.get("stand_in")
    names = {
        " ".join(entry["name"].split()): number
        for number, entry in enumerate(entries if isinstance(entries, list) else ())
        if isinstance(entry, dict) and isinstance(entry.get("name"), str)
    }
    places = {name.casefold(): number for name, number in names.items()}
    found: dict[int, dict[str, list[str]]] = {}
    lines: dict[Key, str] = {}
    for line, said in numbered_lines(text):
        words = said.split()
        place = places.get(" ".join(words[:-1]).casefold())
        if place is None:
            # The text there is not repeated, because it may be the address.
            there = f"there are: {', '.join(names)}" if names else "the file has no [[stand_in]]"
            problems.add_plain(
                f"{path}:{line}: expected a stand-in's name, then an address ({there})"
            )
        else:
            urls = found.setdefault(place, {"urls": []})["urls"]
            lines["stand_in", place, "urls", len(urls)] = f"{path}:{line}"
            urls.append(words[-1])
    return {"stand_in": found} if found else {}, lines


def _merged(below: dict[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Return ``below`` with ``above`` laid over it, table by table. Lists are replaced whole,
    unless ``above`` gives entries by their number."""
    merged = dict(below)
    for key, value in above.items():
        under = merged.get(key)
        if isinstance(under, dict) and isinstance(value, dict):
            merged[key] = _merged(under, value)
        elif isinstance(under, list) and _by_place(value):
            merged[key] = [
                _merged(one, value[n]) if n in value else one for n, one in enumerate(under)
            ]
        else:
            merged[key] = value
    return merged


def _by_place(value: Any) -> bool:
    return isinstance(value, dict) and any(isinstance(key, int) for key in value)


def _leaves(values: Mapping[str, Any], above: Key = ()) -> Iterator[Key]:
    for key, value in values.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key)
