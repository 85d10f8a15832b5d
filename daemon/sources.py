"""What lies over the configuration file: the environment and the secrets directory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic_settings import EnvSettingsSource, SettingsError

from underbench.daemon.config_file import ENV_PREFIX, ConfigFile, environment_keys
from underbench.daemon.problems import Problems
from underbench.daemon.tomlfile import Key

SECRETS_DIR = f"{ENV_PREFIX}SECRETS_DIR"
# Variables with the prefix that are no settings: where the file and the secrets are.
OTHER_VARIABLES = (f"{ENV_PREFIX}CONFIG", SECRETS_DIR)
SECRET_FILES: dict[str, Key] = {
    "telling_urls": ("telling", "urls"),
    "weather_api_key": ("weather", "api_key"),
}


def laid_over(
    raw: dict[str, Any], env: Mapping[str, str], problems: Problems
) -> tuple[dict[str, Any], dict[Key, str]]:
    """Return ``raw`` with the secrets directory, then the environment over it, and the variable or
    secrets file that gave each key so replaced. Faults found on the way go into ``problems``."""
    origin: dict[Key, str] = {}
    for source, values in (*_secrets(env, problems), *_environment(env, problems)):
        raw = _merged(raw, values)
        origin |= dict.fromkeys(_leaves(values), source)
    return raw, origin


def _environment(
    env: Mapping[str, str], problems: Problems
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each variable that is set, with the nested values it stands for."""
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


def _secrets(env: Mapping[str, str], problems: Problems) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each secrets file that is there, with the nested value it stands for."""
    folder_name = env.get(SECRETS_DIR) or env.get("CREDENTIALS_DIRECTORY")
    if not folder_name:
        return
    folder = Path(folder_name)
    try:
        names = sorted(entry.name for entry in folder.iterdir())
    except OSError as error:
        problems.add_plain(f"{folder}: secrets directory cannot be read: {error.strerror}")
        return
    for name in names:
        near = get_close_matches(name, SECRET_FILES, n=1, cutoff=0.8)
        if name not in SECRET_FILES:
            # Others may keep their secrets here too; only a slip of the pen is worth a word.
            if near:
                problems.add_plain(f"{folder / name}: not read (did you mean '{near[0]}'?)")
            continue
        try:
            text = (folder / name).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            problems.add_plain(f"{folder / name}: cannot be read as text")
            continue
        section, key = SECRET_FILES[name]
        yield str(folder / name), {str(section): {str(key): text}}


def _merged(below: dict[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Return ``below`` with ``above`` laid over it, table by table; lists are replaced whole."""
    merged = dict(below)
    for key, value in above.items():
        under = merged.get(key)
        if isinstance(under, dict) and isinstance(value, dict):
            merged[key] = _merged(under, value)
        else:
            merged[key] = value
    return merged


def _leaves(values: Mapping[str, Any], above: Key = ()) -> Iterator[Key]:
    for key, value in values.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key)
