"""The configuration as it is written: one model a section, in the keeper's own units."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date, time
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin
from zoneinfo import ZoneInfo, available_timezones

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    Field,
    SecretStr,
    StringConstraints,
    ValidationInfo,
    field_validator,
)
from pydantic_settings import (
    BaseSettings,
    NoDecode,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from underbench.daemon.limits_table import KinsTable, LimitsTable, Table
from underbench.daemon.tomlfile import Key
from underbench.daemon.units import UnitSystem
from underbench.rules.garden import (
    Away,
    Chance,
    Colour,
    ContainerKind,
    Hours,
    Overhead,
    Shape,
    Share,
    SpotKind,
    Standing,
    Wall,
)

ENV_PREFIX = "UNDERBENCH_"
ENV_DELIMITER = "__"
COVERED_KINDS = (SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED, SpotKind.INDOORS)
VOLUME_KEYS = ("litres", "gallons", "size_cm", "size_in")

_CLOCK = re.compile(r"([01]?\d|2[0-4]):([0-5]\d)")
_SPAN = re.compile(rf"{_CLOCK.pattern}\s*[-–]\s*{_CLOCK.pattern}")


def _minutes(hour: str, minute: str) -> int:
    return int(hour) * 60 + int(minute)


def _span_minutes(value: Any) -> tuple[int, int]:
    found = _SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
    if found:
        start, end = _minutes(found[1], found[2]), _minutes(found[3], found[4])
        if start < end <= 24 * 60:
            return start, end
    raise ValueError('expected two times of one day, the earlier first, such as "08:00-18:00"')


def _sun(value: Any) -> tuple[float, float]:
    """Local clock hours of sun; no sun is a stretch of no length."""
    if value == "none":
        return (12.0, 12.0)
    try:
        start, end = _span_minutes(value)
    except ValueError as error:
        raise ValueError(f'{error}, or "none"') from None
    return start / 60, end / 60


def _hours(value: Any) -> Hours:
    start, end = _span_minutes(value)
    # A clock time cannot say 24:00; the last minute of a day is worth nothing to anyone.
    end = min(end, 24 * 60 - 1)
    return Hours(start=time(*divmod(start, 60)), end=time(*divmod(end, 60)))


def _clock(value: Any) -> time:
    found = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if found and int(found[1]) < 24:
        return time(int(found[1]), int(found[2]))
    raise ValueError('expected a time of day, such as "07:00"')


def _away(value: Any) -> Away:
    try:
        first, last = (date.fromisoformat(day.strip()) for day in value.split(" to "))
    except (AttributeError, ValueError):
        raise ValueError('expected two dates, such as "2027-04-20 to 2027-04-24"') from None
    if last < first:
        raise ValueError("the first day comes after the last")
    return Away(first=first, last=last)


def _day_of_year(value: Any) -> tuple[int, int]:
    try:
        month, day = (int(part) for part in value.split("-"))
        date(2000, month, day)  # a leap year: 29 February is a day
    except (AttributeError, ValueError):
        raise ValueError('expected month-day, such as "04-01"') from None
    return month, day


def _timezone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (LookupError, OSError, ValueError):
        near = get_close_matches(value, available_timezones(), n=1, cutoff=0.5)
        hint = f"did you mean '{near[0]}'?" if near else "expected one such as 'Europe/Dublin'"
        raise ValueError(f"no such timezone ({hint})") from None
    return value


def _web_address(value: str) -> str:
    if not value.startswith(("http://", "https://")):
        raise ValueError("expected an address that begins with http:// or https://")
    return value.rstrip("/")


def url_lines(value: Any) -> Any:
    """Split a text of one URL a line (or a JSON list); blank lines and # lines are passed over."""
    if not isinstance(value, str):
        return value
    if value.lstrip().startswith("["):
        try:
            return json.loads(value)
        except ValueError:
            raise ValueError("expected one URL a line, or a JSON list of URLs") from None
    lines = (line.strip() for line in value.splitlines())
    return [line for line in lines if line and not line.startswith("#")]


Name = Annotated[
    str,
    StringConstraints(
        strip_whitespace=True, min_length=1, max_length=40, pattern=r"^[^\x00-\x1f\x7f]*$"
    ),
]
Sun = Annotated[tuple[float, float], BeforeValidator(_sun)]
DayOfYear = Annotated[tuple[int, int], BeforeValidator(_day_of_year)]
HoursList = tuple[Annotated[Hours, BeforeValidator(_hours)], ...]
Centimetres = Annotated[float, Field(gt=0, le=2000)]
Inches = Annotated[float, Field(gt=0, le=787)]
Litres = Annotated[float, Field(gt=0, le=5000)]
Gallons = Annotated[float, Field(gt=0, le=1320)]


class GardenTable(Table):
    """``[garden]``"""

    alternatives = (("elevation_m", "elevation_ft"),)

    name: Name
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=-430, le=6000)] | None = None
    elevation_ft: Annotated[float, Field(ge=-1410, le=19685)] | None = None
    timezone: Annotated[str, AfterValidator(_timezone)]
    units: UnitSystem = "metric"


class SpotTable(Table):
    """``[[spot]]``"""

    alternatives = (("height_cm", "height_in"), ("max_litres", "max_gallons"))

    name: Name
    kind: SpotKind
    overhead: Overhead | None = None
    sky_view: Share | None = None
    sun: Sun | None = None
    wind_factor: Share | None = None
    standing: Standing | None = None
    height_cm: Annotated[float, Field(ge=0, le=400)] | None = None
    height_in: Annotated[float, Field(ge=0, le=157)] | None = None
    room: Annotated[int, Field(ge=0)] | None = None
    max_litres: Litres | None = None
    max_gallons: Gallons | None = None

    @field_validator("overhead")
    @classmethod
    def _none_under_a_cover(cls, value: Overhead | None, known: ValidationInfo) -> Overhead | None:
        kind = known.data.get("kind")
        if value is not None and kind in COVERED_KINDS:
            raise ValueError(f"a {kind} has a cover of its own; leave overhead out")
        return value


class TreeTable(Table):
    """``[[tree]]``"""

    alternatives = (VOLUME_KEYS, ("height_cm", "height_in"), ("crown_cm", "crown_in"))

    name: Name
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
    limits: LimitsTable = LimitsTable()


class HandsOnTable(Table):
    """``[hands_on]``; the defaults are those of somebody with a day's work."""

    weekdays: HoursList = (
        Hours(start=time(7), end=time(8)),
        Hours(start=time(18), end=time(21)),
    )
    weekends: HoursList = (Hours(start=time(8), end=time(20)),)
    away: tuple[Annotated[Away, BeforeValidator(_away)], ...] = ()


class WateringTable(Table):
    """``[[watering]]``"""

    times: Annotated[tuple[Annotated[time, BeforeValidator(_clock)], ...], Field(min_length=1)]
    every_days: Annotated[int, Field(ge=1, le=60)] = 1
    first: DayOfYear = Field(default=(1, 1), alias="from")
    until: DayOfYear = (12, 31)


class MeansTable(Table):
    """``[means]``"""

    alternatives = (("lift_litres", "lift_gallons"),)

    fleece_layers: Annotated[int, Field(ge=0, le=2)] = 0
    shade_cloth: bool = False
    lift_litres: Litres | None = None
    lift_gallons: Gallons | None = None


class TellingTable(Table):
    """``[telling]``"""

    urls: Annotated[tuple[SecretStr, ...], NoDecode, BeforeValidator(url_lines)] = ()


# The archive that belongs to a forecast service; of one's own server none is guessed.
ARCHIVES = {
    "https://api.open-meteo.com": "https://archive-api.open-meteo.com",
    "https://customer-api.open-meteo.com": "https://customer-archive-api.open-meteo.com",
}


def _archive_address(value: str | None) -> str | None:
    return value and _web_address(value)


class WeatherSource(Table):
    """``[weather]``: where forecasts come from, and the months gone by (``archive_url``);
    ``contact`` is for services that ask for one."""

    base_url: Annotated[str, AfterValidator(_web_address)] = "https://api.open-meteo.com"
    api_key: SecretStr | None = None
    contact: str = ""
    timeout_s: Annotated[float, Field(gt=0, le=120)] = 20.0
    archive_url: Annotated[str | None, AfterValidator(_archive_address)] = None

    @property
    def archive(self) -> str | None:
        """Where months gone by are asked for: the archive of a known service, else what is set."""
        return self.archive_url or ARCHIVES.get(self.base_url.rstrip("/"))


class StoreTable(Table):
    """``[store]``"""

    path: Path | None = None


class ConfigFile(BaseSettings):
    """The whole file, with what the environment and the secrets directory lay over it.

    The sources are read by ``settings.load``, one after the other, so that each value keeps where
    it came from; only what is passed in is validated here.
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
    watering: tuple[WateringTable, ...] = ()
    means: MeansTable = MeansTable()
    chance: Chance = Chance()
    limits: KinsTable = KinsTable()
    telling: TellingTable = TellingTable()
    weather: WeatherSource = WeatherSource()
    store: StoreTable = StoreTable()

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
    """Return the keys a table may hold, as they are written, with their types."""
    return {field.alias or name: field.annotation for name, field in table.model_fields.items()}


def table_at(key: Key) -> type[BaseModel] | None:
    """Return the model of the table at a key path; None when no table belongs there."""
    found: Any = ConfigFile
    for part in key:
        if isinstance(part, int):
            continue
        if get_origin(found) is dict:  # tables by a name the keeper chooses from
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
