"""The settings of one garden: file, environment and secrets, checked, completed and frozen."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from hashlib import sha256
from pathlib import Path
from typing import Any

from pydantic import SecretStr, ValidationError

from underbench.daemon.config import defaults as derive
from underbench.daemon.config import group_limits as kin
from underbench.daemon.config.environment import laid_over
from underbench.daemon.config.file import (
    VOLUME_KEYS,
    ConfigFile,
    GardenTable,
    MeansTable,
    WeatherSource,
    fields_of,
    table_at,
)
from underbench.daemon.config.limits_table import KinsTable, Table
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.people_tables import Telling, hands_on_of, people_faults
from underbench.daemon.config.problems import ConfigProblems, Problems
from underbench.daemon.config.publish_table import PublishTable
from underbench.daemon.config.readings_table import ReadingsTable, readings_faults
from underbench.daemon.config.tomlfile import Key, TomlFault, read_toml
from underbench.daemon.wording.units import LITRES_PER_GALLON, M_PER_FOOT, UnitSystem
from underbench.rules.garden.inventory import (
    Chance,
    ContainerKind,
    Garden,
    HandsOn,
    Means,
    Minutes,
    Model,
    Routine,
    Spot,
    SpotKind,
    Tree,
)
from underbench.rules.plants.hardiness_ratings import nearest_rating, rating
from underbench.rules.plants.species import catalogue, hardiness_class
from underbench.rules.plants.species_lookup import find, nearest

SECRET_KEYS = {  # never in the file
    *(("readings", "token"), ("readings", "mqtt_password"), ("publish", "password")),
}


class Settings(Model):
    """Everything the daemon was told.

    ``derived`` and ``derived_spots`` give the reason for each value that the file leaves out, by
    tree or spot and by field. ``kin`` is what is set for whole classes and species; the trees carry
    it already. ``stand_in_urls`` are the push addresses of each stand-in who has any;
    ``address_places`` says where each push address stands, as ``file:line`` or a variable.
    """

    file: Path
    garden: Garden
    units: UnitSystem
    spots: Mapping[str, Spot]
    trees: tuple[Tree, ...]
    hands_on: HandsOn
    routines: tuple[Routine, ...]
    means: Means
    chance: Chance
    kin: KinsTable
    telling: Telling
    stand_in_urls: Mapping[str, tuple[SecretStr, ...]]
    address_places: Mapping[SecretStr, str]
    weather: WeatherSource
    readings: ReadingsTable
    publish: PublishTable | None
    store_path: Path
    page: PageTable
    derived: Mapping[str, derive.Derived]
    derived_spots: Mapping[str, derive.Derived]


def load(path: Path, env: Mapping[str, str] | None = None) -> Settings:
    """Return the settings in the TOML file at ``path``, with environment and secrets laid over.

    ``env`` replaces the process's environment (None: it does not). Variables like
    ``UNDERBENCH_GARDEN__LATITUDE`` win over the secrets directory, which wins over the file.

    The secrets directory is ``UNDERBENCH_SECRETS_DIR``, else systemd's ``CREDENTIALS_DIRECTORY``.
    Its files are ``telling_urls`` and ``danger_urls`` (one address a line), ``stand_in_urls`` (a
    name and an address a line), ``weather_api_key``, ``readings_token``, ``readings_mqtt_password``
    and ``publish_password``.

    Raises ConfigProblems with everything that is wrong; it never repeats a secret.
    """
    env = os.environ if env is None else env
    try:
        raw, lines = read_toml(path)
    except TomlFault as fault:
        raise ConfigProblems([str(fault)]) from None
    problems = Problems(path, lines=lines)
    for secret in SECRET_KEYS & lines.keys():
        problems.add(secret, f"belongs in the secrets folder, as {'_'.join(secret)}, not here")
    raw, problems.elsewhere = laid_over(raw, env, problems)
    problems.raw = raw
    _check_raw(problems)
    # Unknown sections go first: the model would take some of them for its own parameters.
    sections = fields_of(ConfigFile)
    for name in raw.keys() - sections.keys():
        problems.add_unknown((name,))
    try:
        file = ConfigFile(**{name: raw[name] for name in raw.keys() & sections.keys()})
    except ValidationError as error:
        problems.add_invalid(error)
    else:
        spots = [spot.name for spot in file.spot]
        for key, text in (
            *people_faults(file.stand_in, file.telling),
            *readings_faults(file.readings, spots),
        ):
            problems.add(key, text)
    problems.raise_any()
    return _complete(file, path, env, problems)


def _complete(file: ConfigFile, path: Path, env: Mapping[str, str], problems: Problems) -> Settings:
    spots = [derive.complete_spot(table) for table in file.spot]
    trees = _trees(file, {spot.name: spot.kind for spot, _ in spots}, problems)
    return Settings(
        file=path.resolve(),
        garden=_garden(file.garden),
        units=file.garden.units,
        spots={spot.name: _with_limits(spot, file.limits) for spot, _ in spots},
        trees=tuple(tree for tree, _ in trees),
        hands_on=hands_on_of(file.hands_on, file.stand_in),
        routines=tuple(
            Routine(
                times=w.times,
                every_days=w.every_days,
                first=w.first,
                last=w.until,
                as_needed=w.as_needed,
            )
            for w in file.watering
        ),
        means=_means(file.means),
        chance=file.chance,
        kin=file.limits,
        telling=file.telling,
        stand_in_urls={one.name: one.urls for one in file.stand_in if one.urls},
        address_places={url: problems.place(key) for key, url in _addresses(file)},
        weather=file.weather,
        readings=_readings(file.readings, path),
        publish=file.publish,
        store_path=_store_path(file.store.path, path, env),
        page=file.page,
        derived={tree.name: derived for tree, derived in trees},
        derived_spots={spot.name: derived for spot, derived in spots},
    )


def _trees(
    file: ConfigFile, kinds: Mapping[str, SpotKind], problems: Problems
) -> list[tuple[Tree, derive.Derived]]:
    trees = []
    for number, table in enumerate(file.tree):
        try:
            tree, derived = derive.complete_tree(table, kinds[table.spot])
        except ValidationError as error:
            # Only a volume worked out from a size can still be out of bounds here.
            problems.add_invalid(error, at=("tree", number))
            continue
        tree, why = kin.laid_on(tree, file.limits)
        trees.append((tree, derived | why))
    problems.raise_any()
    return trees


def _addresses(file: ConfigFile) -> Iterator[tuple[Key, SecretStr]]:
    """Yield each push address with its key path; where one stands twice, the first comes last."""
    telling = file.telling
    found: list[tuple[Key, SecretStr]] = [
        *((("telling", "urls", n), url) for n, url in enumerate(telling.urls)),
        *((("telling", "danger_urls", n), url) for n, url in enumerate(telling.danger_urls)),
    ]
    for number, one in enumerate(file.stand_in):
        found += [(("stand_in", number, "urls", n), url) for n, url in enumerate(one.urls)]
    return reversed(found)


def _with_limits(spot: Spot, table: KinsTable) -> Spot:
    own = table.spot.get(spot.name)
    return spot if own is None else spot.model_copy(update={"limits": kin.own_limits(own)})


def _garden(table: GardenTable) -> Garden:
    elevation_m = derive.either(table.elevation_m, table.elevation_ft, M_PER_FOOT)
    values = table.model_dump(exclude={"elevation_m", "elevation_ft", "units"})
    return Garden.model_validate({**values, "elevation_m": elevation_m})


def _means(table: MeansTable) -> Means:
    lift_litres = derive.either(table.lift_litres, table.lift_gallons, LITRES_PER_GALLON)
    means = Means(
        fleece_layers=table.fleece_layers,
        shade_cloth=table.shade_cloth,
        minutes=Minutes(
            carry=table.carry_minutes, heavy=table.heavy_minutes, water=table.water_minutes
        ),
    )
    return means if lift_litres is None else means.model_copy(update={"lift_litres": lift_litres})


def _readings(table: ReadingsTable, config: Path) -> ReadingsTable:
    """The table, its file as a path from the configuration's folder."""
    if table.file is None:
        return table
    return table.model_copy(update={"file": config.parent / os.path.expanduser(table.file)})


def _store_path(given: Path | None, config: Path, env: Mapping[str, str]) -> Path:
    """Return where the database is. It is as given (from the folder of the file), else in systemd's
    state directory. Else it lies where the XDG Base Directory Specification 0.8 says, under a name
    made of the file's path: each garden of one user has its own."""
    if given is not None:
        return config.parent / os.path.expanduser(given)
    if state := env.get("STATE_DIRECTORY"):
        return Path(state.split(":")[0]) / "underbench.db"
    home = env.get("HOME") or os.path.expanduser("~")
    state_home = Path(env.get("XDG_STATE_HOME") or "")
    if not state_home.is_absolute():  # the specification ignores a relative path
        state_home = Path(home) / ".local" / "state"
    mark = sha256(os.fsencode(config.resolve())).hexdigest()[:8]
    return state_home / "underbench" / f"{config.stem}-{mark}.db"


def _check_raw(problems: Problems) -> None:
    """Check keys against each other, on the raw values: a slip elsewhere must not hide a fault."""
    for key, table in _tables(problems.raw):
        _check_alternatives(key, table, problems)
    for section in ("spot", "tree", "stand_in"):
        _check_names(section, problems)
    garden = problems.at(("garden",))
    if isinstance(garden, dict):
        problems.need(("garden",), ("elevation_m", "elevation_ft"))
    spots = {_text(spot, "name"): spot for _, spot in _entries(problems.raw, "spot")}
    for key, tree in _entries(problems.raw, "tree"):
        _check_species(key, tree, problems)
        _check_spot((*key, "spot"), _text(tree, "spot"), spots, problems)
        if not _in_bed(tree, spots):
            problems.need(key, VOLUME_KEYS)
    held, trees = problems.at(("limits",)), _entries(problems.raw, "tree")
    species = [_text(tree, "species") for _, tree in trees]
    for key, fault, known in kin.name_faults(held, species, list(spots)):
        problems.add(("limits", *key), f"{fault} {_near(key[1], list(known))}".rstrip())


def _check_alternatives(key: Key, table: dict[str, Any], problems: Problems) -> None:
    model = table_at(key)
    for group in model.alternatives if model and issubclass(model, Table) else ():
        given = [name for name in group if name in table]
        if len(given) > 1:
            problems.add((*key, given[1]), f"give {' or '.join(given)}, only one of them")


def _check_names(section: str, problems: Problems) -> None:
    """Names must differ by more than case, because they are typed on a phone."""
    first: dict[str, Key] = {}
    for key, table in _entries(problems.raw, section):
        name = _text(table, "name")
        if name and first.setdefault(name.casefold(), key) != key:
            number = int(first[name.casefold()][1]) + 1
            problems.add((*key, "name"), f"{section} {number} has this name already")


def _check_species(key: Key, tree: dict[str, Any], problems: Problems) -> None:
    name, hardiness = _text(tree, "species"), _text(tree, "hardiness")
    rated = rating(hardiness) is not None
    if hardiness and not rated and hardiness_class(hardiness) is None:
        like = nearest_rating(hardiness)
        known = _near(hardiness, list(catalogue().classes))
        told = f"rating (did you mean '{like}'?)" if like else f"class {known}"
        problems.add((*key, "hardiness"), f"no such {told}")
    if name and (rated or not hardiness) and find(name) is None:
        problems.add((*key, "species"), f"unknown species {_nearest_species(name)}")


def _nearest_species(name: str) -> str:
    near = nearest(name, 4)
    plain = [one for one in near if "'" not in one][:2] or near[:1]  # a cultivar only if need be
    meant = f"did you mean {' or '.join(map(repr, plain))}? " if plain else ""
    add = 'add hardiness = "a class", such as "hardy broadleaf"; underbench species lists them'
    return f"({meant}If it is not in the table, {add})"


def _check_spot(
    key: Key, name: str, spots: Mapping[str, dict[str, Any]], problems: Problems
) -> None:
    if name and name not in spots:
        problems.add(key, f"no [[spot]] is named '{name}' {_near(name, list(spots))}".rstrip())


def _near(name: str, known: list[str]) -> str:
    near = get_close_matches(name.casefold(), [k.casefold() for k in known], n=1)
    if near:
        meant = next(k for k in known if k.casefold() == near[0])
        return f"(did you mean '{meant}'?)"
    return f"(there are: {', '.join(filter(None, known))})" if any(known) else ""


def _in_bed(tree: dict[str, Any], spots: Mapping[str, dict[str, Any]]) -> bool:
    """Whether roots are in the open ground, whose volume nobody can tell."""
    if "container" in tree:
        return _text(tree, "container") == ContainerKind.BED
    return _text(spots.get(_text(tree, "spot"), {}), "kind") == SpotKind.BED


def _text(table: Mapping[str, Any], key: str) -> str:
    value = table.get(key)
    return value.strip() if isinstance(value, str) else ""


def _tables(held: Mapping[str, Any], above: Key = ()) -> Iterator[tuple[Key, dict[str, Any]]]:
    """Yield every table below ``held``, those in lists too, with its key path."""
    for name, value in held.items():
        key = (*above, name)
        found = [((*key, n), v) for n, v in enumerate(value)] if isinstance(value, list) else []
        for place, entry in found or [(key, value)]:
            if isinstance(entry, dict):
                yield place, entry
                yield from _tables(entry, place)


def _entries(raw: Mapping[str, Any], section: str) -> Iterator[tuple[Key, dict[str, Any]]]:
    return ((key, table) for key, table in _tables(raw) if len(key) == 2 and key[0] == section)
