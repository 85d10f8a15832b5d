"""The configuration as written: one model for each section, in the keeper's own units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, Literal, get_args, get_origin
from zoneinfo import ZoneInfo, available_timezones

from pydantic import (
    AfterValidator,
    BaseModel,
    Field,
    SecretStr,
    ValidationInfo,
    field_validator,
)
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from underbench.daemon.config.clock_times import Clock, DayOfYear, Sun
from underbench.daemon.config.limits_table import KinsTable, LimitsTable, Name, NameOfOne, Table
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.people_tables import HandsOnTable, StandInTable, Telling
from underbench.daemon.config.publish_table import PublishTable
from underbench.daemon.config.readings_table import ReadingsTable
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.wording.units import UnitSystem
from underbench.rules.garden.inventory import (
    HIGHEST_M,
    LOWEST_M,
    Chance,
    Colour,
    ContainerKind,
    Minutes,
    Overhead,
    Shape,
    Share,
    ShareOrNever,
    SpotKind,
    Standing,
    Surface,
    Wall,
)

ENV_PREFIX = "UNDERBENCH_"
ENV_DELIMITER = "__"
HEATED_KINDS = (
    *(SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED),
    *(SpotKind.GARAGE, SpotKind.CELLAR, SpotKind.COOL_ROOM),
)
COVERED_KINDS = (*HEATED_KINDS, SpotKind.INDOORS)
VOLUME_KEYS = ("litres", "gallons", "size_cm", "size_in")


def timezone_named(value: str) -> str:
    try:
        ZoneInfo(value)
    except (LookupError, OSError, ValueError):
        near = get_close_matches(value, available_timezones(), n=1, cutoff=0.5)
        hint = f"did you mean '{near[0]}'?" if near else "expected one such as 'Europe/Dublin'"
        raise ValueError(f"no such timezone ({hint})") from None
    return value


def _path(value: Path | None) -> Path | None:
    if value is not None and not str(value).isprintable():
        raise ValueError("expected a path without control characters")
    return value


def _web_address(value: str) -> str:
    if not value.startswith(("http://", "https://")):
        raise ValueError("expected an address that begins with http:// or https://")
    return value.rstrip("/")


Centimetres = Annotated[float, Field(gt=0, le=2000)]
Inches = Annotated[float, Field(gt=0, le=787)]
Litres = Annotated[float, Field(gt=0, le=5000)]
Gallons = Annotated[float, Field(gt=0, le=1320)]
MinutesATree = Annotated[float, Field(gt=0, le=240)]
_USUAL = Minutes()


class GardenTable(Table):
    """``[garden]``"""

    alternatives = (("elevation_m", "elevation_ft"),)

    name: Name
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=LOWEST_M, le=HIGHEST_M)] | None = None
    elevation_ft: Annotated[float, Field(ge=-1410, le=19685)] | None = None
    timezone: Annotated[str, AfterValidator(timezone_named)]
    units: UnitSystem = "metric"


class SpotTable(Table):
    """``[[spot]]``"""

    alternatives = (
        ("height_cm", "height_in"),
        ("max_litres", "max_gallons"),
        ("keeps_above_c", "keeps_above_f"),
    )

    name: NameOfOne
    kind: SpotKind
    overhead: Overhead | None = None
    sky_view: Share | None = None
    sun: Sun | None = None
    wind_factor: Share | None = None
    standing: Standing | None = None
    surface: Surface | None = None
    height_cm: Annotated[float, Field(ge=0, le=400)] | None = None
    height_in: Annotated[float, Field(ge=0, le=157)] | None = None
    room: Annotated[int, Field(ge=0)] | None = None
    max_litres: Litres | None = None
    max_gallons: Gallons | None = None
    minutes: MinutesATree | None = None
    keeps_above_c: Annotated[float, Field(ge=-30, le=25)] | None = None
    keeps_above_f: Annotated[float, Field(ge=-22, le=77)] | None = None
    dark: bool | None = None

    @field_validator("overhead")
    @classmethod
    def _none_under_a_cover(cls, value: Overhead | None, known: ValidationInfo) -> Overhead | None:
        kind = known.data.get("kind")
        if value is not None and kind in COVERED_KINDS:
            raise ValueError(f"a {kind} has a cover of its own; leave overhead out")
        return value

    @field_validator("keeps_above_c", "keeps_above_f")
    @classmethod
    def _only_where_air_is_held(cls, value: float | None, known: ValidationInfo) -> float | None:
        kind = known.data.get("kind")
        if value is not None and kind not in HEATED_KINDS:
            raise ValueError(f"the air of a {kind} cannot be kept warm; {', '.join(HEATED_KINDS)}")
        return value


class TreeTable(Table):
    """``[[tree]]``"""

    alternatives = (VOLUME_KEYS, ("height_cm", "height_in"), ("crown_cm", "crown_in"))

    name: NameOfOne
    species: Name
    cultivar: str = ""
    spot: Name
    litres: Litres | None = None
    gallons: Gallons | None = None
    size_cm: Annotated[tuple[Centimetres, ...], Field(min_length=3, max_length=3)] | None = None
    size_in: Annotated[tuple[Inches, ...], Field(min_length=3, max_length=3)] | None = None
    container: ContainerKind | None = None
    wall: Wall | None = None
    colour: Colour | None = None
    shape: Shape | None = None
    tied: bool = False
    height_cm: Centimetres | None = None
    height_in: Inches | None = None
    crown_cm: Centimetres | None = None
    crown_in: Inches | None = None
    hardiness: Name | None = None
    act_from: Share | None = None
    kill_from: Share | None = None
    flowers_from: ShareOrNever | None = None
    limits: LimitsTable = LimitsTable()


class WateringTable(Table):
    """``[[watering]]``"""

    times: Annotated[tuple[Clock, ...], Field(min_length=1)]
    every_days: Annotated[int, Field(ge=1, le=60)] = 1
    as_needed: bool = False
    first: DayOfYear = Field(default=(1, 1), alias="from")
    until: DayOfYear = (12, 31)


class MeansTable(Table):
    """``[means]``"""

    alternatives = (("lift_litres", "lift_gallons"),)

    fleece_layers: Annotated[int, Field(ge=0, le=2)] = 1
    shade_cloth: bool = False
    lift_litres: Litres | None = None
    lift_gallons: Gallons | None = None
    carry_minutes: MinutesATree = _USUAL.carry
    heavy_minutes: MinutesATree = _USUAL.heavy
    water_minutes: MinutesATree = _USUAL.water


# The archive that belongs to a forecast service; none is guessed for a keeper's own server.
ARCHIVES = {
    "https://api.open-meteo.com": "https://archive-api.open-meteo.com",
    "https://customer-api.open-meteo.com": "https://customer-archive-api.open-meteo.com",
}
# The same for the service of forecast ensembles.
ENSEMBLES = {
    "https://api.open-meteo.com": "https://ensemble-api.open-meteo.com",
    "https://customer-api.open-meteo.com": "https://customer-ensemble-api.open-meteo.com",
}
NO_ENSEMBLE = NO_SECOND = "none"
SECOND_URL = "https://api.met.no/weatherapi/locationforecast/2.0"


def _other_address(value: str | None) -> str | None:
    return value and _web_address(value)


def _model_names(value: str) -> str:
    names = [name.strip() for name in value.split(",")]
    if not all(re.fullmatch(r"[a-z0-9_]+", name) for name in names):
        raise ValueError(
            f"expected a model's name as the service spells it, like 'icon_eu_eps',"
            f" several with commas, or '{NO_ENSEMBLE}'"
        )
    return ",".join(names)


class WeatherSource(Table):
    """``[weather]``: where weather comes from.

    Forecasts come from ``base_url``, months gone by from ``archive_url``. Chances are counted over
    the members of ``ensemble``, from ``ensemble_url``. The ``second`` source, at ``second_url``,
    steps in when the first fails; it may not be asked without ``contact``.
    """

    base_url: Annotated[str, AfterValidator(_web_address)] = "https://api.open-meteo.com"
    api_key: SecretStr | None = None
    contact: str = ""
    timeout_s: Annotated[float, Field(gt=0, le=120)] = 20.0
    archive_url: Annotated[str | None, AfterValidator(_other_address)] = None
    ensemble_url: Annotated[str | None, AfterValidator(_other_address)] = None
    ensemble: Annotated[str, AfterValidator(_model_names)] = "ecmwf_ifs025_ensemble"
    second: Literal["MET Norway", "none"] = "MET Norway"
    second_url: Annotated[str | None, AfterValidator(_other_address)] = None

    @property
    def second_source(self) -> str | None:
        """Where the second source is asked, like the archive; None if none is wanted."""
        if self.second == NO_SECOND:
            return None
        known = self.base_url.rstrip("/") in ARCHIVES
        return self.second_url or (SECOND_URL if known else None)

    @property
    def archive(self) -> str | None:
        """Where months gone by are asked for: as set, else the archive of a known service."""
        return self.archive_url or ARCHIVES.get(self.base_url.rstrip("/"))

    @property
    def ensembles(self) -> str | None:
        """Where the ensemble is asked for, like the archive; None if none is wanted."""
        if self.ensemble == NO_ENSEMBLE:
            return None
        return self.ensemble_url or ENSEMBLES.get(self.base_url.rstrip("/"))


class StoreTable(Table):
    """``[store]``"""

    path: Annotated[Path | None, AfterValidator(_path)] = None


class ConfigFile(BaseSettings):
    """The whole file, with the environment and the secrets directory laid over it.

    ``settings.load`` reads the sources one after the other, so that each value keeps where it came
    from. This model only validates what is passed in.
    """

    model_config = SettingsConfigDict(
        env_prefix=ENV_PREFIX,
        env_nested_delimiter=ENV_DELIMITER,
        extra="forbid",
        frozen=True,
        hide_input_in_errors=True,
    )

    garden: GardenTable
    spot: Annotated[tuple[SpotTable, ...], Field(min_length=1)]
    tree: Annotated[tuple[TreeTable, ...], Field(min_length=1)]
    hands_on: HandsOnTable = HandsOnTable()
    stand_in: tuple[StandInTable, ...] = ()
    watering: tuple[WateringTable, ...] = ()
    means: MeansTable = MeansTable()
    chance: Chance = Chance()
    limits: KinsTable = KinsTable()
    telling: Telling = Telling()
    weather: WeatherSource = WeatherSource()
    readings: ReadingsTable = ReadingsTable()
    publish: PublishTable | None = None
    store: StoreTable = StoreTable()
    page: PageTable = PageTable()

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Take only what is passed in."""
        return (init_settings,)


def fields_of(table: type[BaseModel]) -> dict[str, Any]:
    """Return the keys that a table may hold, as written, with their types."""
    return {field.alias or name: field.annotation for name, field in table.model_fields.items()}


def table_at(key: Key) -> type[BaseModel] | None:
    """Return the model of the table at a key path; None when no table belongs there."""
    found: Any = ConfigFile
    for part in key:
        if isinstance(part, int):
            continue
        if get_origin(found) is dict:  # tables by names that the keeper chooses
            found = get_args(found)[1]
            continue
        if not (isinstance(found, type) and issubclass(found, BaseModel)):
            return None
        found = fields_of(found).get(part)
        if get_args(found) and get_origin(found) is not dict:
            found = get_args(found)[0]
    return found if isinstance(found, type) and issubclass(found, BaseModel) else None


def environment_keys() -> dict[str, Key]:
    """Return every environment variable that sets something, with the key path it sets."""
    keys: Iterator[Key] = (
        key
        for section, kind in fields_of(ConfigFile).items()
        for key in [(section,)]
        + ([] if get_args(kind) else [(section, k) for k in fields_of(kind)])
    )
    return {ENV_PREFIX + ENV_DELIMITER.join(map(str, key)).upper(): key for key in keys}
