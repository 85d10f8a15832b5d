"""Settings: what a keeper writes, what is worked out, and where a value comes from."""

import json
from datetime import date, time
from pathlib import Path

import pytest
from settings_toml import GARDEN, PLAIN, SECRET, SPOTS, TREE, loaded, problems

from underbench.daemon.config.defaults import FILL, MAKES, SPOT_DEFAULTS
from underbench.daemon.config.settings import load
from underbench.rules.garden.inventory import (
    Away,
    Colour,
    ContainerKind,
    Hours,
    Overhead,
    Routine,
    Shape,
    SpotKind,
    Standing,
    Wall,
)
from underbench.rules.physics.cover import COVERS, CoverKind
from underbench.rules.physics.places import place_of

# --- what a right file gives


def test_the_first_garden_of_the_examples_loads():
    example = Path(__file__).parents[3] / "config_examples" / "first_garden.toml"
    settings = load(example, {})
    assert len(settings.trees) == 5
    assert all(tree.spot in settings.spots for tree in settings.trees)
    assert settings.routines == (Routine(times=(time(7),), first=(4, 1), last=(9, 30)),)
    assert "height_cm" in settings.derived["Ember"]


def test_what_is_overhead_is_of_the_spot_and_the_open_sky_unless_told(file):
    assert loaded(file, PLAIN).spots["top bench"].overhead is Overhead.OPEN_SKY
    lath = PLAIN.replace('kind = "bench"', 'kind = "bench"\noverhead = "lath"')
    spot = loaded(file, lath).spots["top bench"]
    assert (spot.overhead, place_of(spot).covers) == (Overhead.LATH, COVERS[CoverKind.LATH])


def test_little_is_needed_and_the_rest_is_worked_out_with_a_reason(file):
    settings = loaded(file, PLAIN)
    (asa,) = settings.trees
    assert asa.container.kind is ContainerKind.POT
    assert (asa.container.wall, asa.container.colour) == (Wall.UNGLAZED, Colour.BROWN)
    assert set(settings.derived["Asa"]) == {
        *("container", "wall", "colour", "shape", "height_cm", "crown_cm"),
    }
    assert settings.spots["top bench"].standing is Standing.BENCH
    assert "sky_view" in settings.derived_spots["top bench"]
    assert settings.units == "metric"
    assert settings.routines == ()
    assert settings.telling.urls == ()
    assert settings.hands_on.weekdays == (
        Hours(start=time(7), end=time(8)),
        Hours(start=time(18), end=time(21)),
    )
    assert settings.hands_on.weekends == (Hours(start=time(8), end=time(20)),)


def test_what_is_written_is_not_derived(file):
    tree = TREE + 'wall = "glazed"\ncolour = "pale"\nshape = "oval"\ncontainer = "pot"\n'
    settings = loaded(file, GARDEN + SPOTS + tree + "height_cm = 50\ncrown_cm = 45\n")
    assert settings.derived["Asa"] == {}
    container = settings.trees[0].container
    assert (container.wall, container.colour, container.shape) == ("glazed", "pale", "oval")


def test_a_rule_of_thumb_gives_a_likely_height(file):
    # Common practice, no source: 4 litres carry a tree of about knee height.
    assert 30 < loaded(file, PLAIN).trees[0].height_cm < 60
    small = loaded(file, PLAIN.replace("litres = 4", "litres = 0.4")).trees[0]
    large = loaded(file, PLAIN.replace("litres = 4", "litres = 40")).trees[0]
    assert small.height_cm < 25
    assert large.height_cm > 80


def test_us_units_give_the_same_garden_as_metric(file):
    metric = loaded(
        file,
        PLAIN.replace("elevation_m = 120", "elevation_m = 121.92")
        .replace("litres = 4", "litres = 3.785411784")
        .replace('kind = "bench"', 'kind = "bench"\nheight_cm = 76.2\nmax_litres = 37.85411784')
        + "height_cm = 45.72\ncrown_cm = 38.1\n[tree.limits]\nleaf_frost_c = -2\nroot_hot_c = 40\n"
        "gust_ms = 8.9408\n[means]\nlift_litres = 11.356235352\n",
    )
    us = loaded(
        file,
        PLAIN.replace("elevation_m = 120", "elevation_ft = 400")
        .replace("litres = 4", "gallons = 1")
        .replace('kind = "bench"', 'kind = "bench"\nheight_in = 30\nmax_gallons = 10')
        + "height_in = 18\ncrown_in = 15\n[tree.limits]\nleaf_frost_f = 28.4\nroot_hot_f = 104\n"
        "gust_mph = 20\n[means]\nlift_gallons = 3\n",
    )
    assert us.garden.elevation_m == pytest.approx(metric.garden.elevation_m)
    assert us.means.lift_litres == pytest.approx(metric.means.lift_litres)
    for ours, theirs in (
        (us.trees[0].container, metric.trees[0].container),
        (us.trees[0].limits, metric.trees[0].limits),
        (us.spots["top bench"], metric.spots["top bench"]),
    ):
        for name in type(ours).model_fields:
            value, expected = getattr(ours, name), getattr(theirs, name)
            assert value == (pytest.approx(expected) if isinstance(value, float) else expected)
    assert us.trees[0].height_cm == pytest.approx(metric.trees[0].height_cm)


def test_litres_from_the_size_of_the_pot(file):
    settings = loaded(file, PLAIN.replace("litres = 4", "size_cm = [30, 20, 10]"))
    box = 30 * 20 * 10 / 1000
    assert 0.8 * box < settings.trees[0].container.litres < box
    assert "litres" in settings.derived["Asa"]
    inches = loaded(file, PLAIN.replace("litres = 4", "size_in = [10, 10, 4]\nshape = 'round'"))
    cylinder = 3.14159 / 4 * 25.4**2 * 10.16 / 1000  # geometry: an upper bound
    assert 0.8 * cylinder < inches.trees[0].container.litres < cylinder


def test_a_tree_in_a_bed_needs_no_litres(file):
    bed = '[[spot]]\nname = "bed"\nkind = "bed"\n'
    tree = TREE.replace("litres = 4\n", "").replace("top bench", "bed")
    settings = loaded(file, GARDEN + bed + tree)
    assert settings.trees[0].container.kind is ContainerKind.BED
    assert "litres" in settings.derived["Asa"]
    assert problems(file, GARDEN + bed + tree + "container = 'pot'\n") == [
        'garden.toml:10: tree 1 "Asa": missing: give litres, gallons, size_cm or size_in'
    ]


def test_every_kind_of_spot_and_container_has_its_defaults():
    assert set(SPOT_DEFAULTS) == set(SpotKind)
    assert set(MAKES) == set(ContainerKind)
    assert set(FILL) == set(Shape)


@pytest.mark.parametrize("kind", list(SpotKind))
def test_a_spot_of_each_kind_may_be_given_by_kind_alone(file, kind):
    spot = loaded(file, PLAIN.replace('kind = "bench"', f'kind = "{kind}"')).spots["top bench"]
    assert spot.kind is kind


def test_shelters_are_more_sheltered_than_a_bench():
    # Common practice, no source.
    bench = SPOT_DEFAULTS[SpotKind.BENCH]
    for kind in (SpotKind.UNDER_BENCH, SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED):
        assert SPOT_DEFAULTS[kind].wind_factor < bench.wind_factor
        assert SPOT_DEFAULTS[kind].sky_view < bench.sky_view
        assert SPOT_DEFAULTS[kind].room is not None
    assert bench.room is None


def test_hours_sun_and_days_away(file):
    text = PLAIN.replace('kind = "bench"', 'kind = "bench"\nsun = "08:30 – 24:00"') + (
        '[hands_on]\nweekdays = ["06:45-07:15"]\nweekends = ["08:00-24:00"]\n'
        'away = ["2027-04-20 to 2027-04-24"]\n'
        '[[watering]]\ntimes = ["07:00", "19:30"]\nevery_days = 2\n'
        'from = "11-01"\nuntil = "02-29"\n'
    )
    settings = loaded(file, text)
    spot = settings.spots["top bench"]
    assert (spot.sun_from, spot.sun_until) == (8.5, 24.0)
    assert settings.hands_on.weekdays == (Hours(start=time(6, 45), end=time(7, 15)),)
    assert settings.hands_on.weekends == (Hours(start=time(8), end=time(23, 59)),)
    assert settings.hands_on.away == (Away(first=date(2027, 4, 20), last=date(2027, 4, 24)),)
    assert settings.routines == (
        Routine(times=(time(7), time(19, 30)), every_days=2, first=(11, 1), last=(2, 29)),
    )


def test_a_spot_without_sun(file):
    text = PLAIN.replace('kind = "bench"', 'kind = "bench"\nsun = "none"')
    spot = loaded(file, text).spots["top bench"]
    assert spot.sun_from == spot.sun_until


def test_an_unlisted_species_needs_a_hardiness_class(file):
    text = PLAIN.replace("Acer palmatum", "Xanthoria hortensis")
    (line,) = problems(file, text)
    assert line.startswith('garden.toml:12: tree 1 "Asa": species: unknown species')
    with_class = loaded(file, text + 'hardiness = "Japanese maple"\n')
    assert with_class.trees[0].hardiness == "Japanese maple"
    (line,) = problems(file, text + 'hardiness = "no such thing"\n')
    assert line.startswith('garden.toml:15: tree 1 "Asa": hardiness: no such class')
    assert "japanese maple" in line


# --- where a value comes from


def test_environment_over_secrets_over_file(file, tmp_path):
    secrets = tmp_path / "kept"
    secrets.mkdir()
    (secrets / "telling_urls").write_text(f"# phones\n{SECRET}\n\nntfy://two\n", encoding="utf-8")
    (secrets / "weather_api_key").write_text("from-secrets\n", encoding="utf-8")
    text = (
        PLAIN
        + '[telling]\nurls = ["ntfy://file"]\n[weather]\napi_key = "from-file"\ncontact = "k"\n'
    )
    assert [u.get_secret_value() for u in loaded(file, text).telling.urls] == ["ntfy://file"]
    for variable in ("CREDENTIALS_DIRECTORY", "UNDERBENCH_SECRETS_DIR"):
        settings = loaded(file, text, **{variable: str(secrets)})
        assert [u.get_secret_value() for u in settings.telling.urls] == [SECRET, "ntfy://two"]
        assert settings.weather.api_key is not None
        assert settings.weather.api_key.get_secret_value() == "from-secrets"
        assert settings.weather.contact == "k"
    settings = loaded(
        file,
        text,
        CREDENTIALS_DIRECTORY=str(secrets),
        UNDERBENCH_TELLING__URLS="ntfy://env\nntfy://env2",
        UNDERBENCH_GARDEN__LATITUDE="-41.25",
    )
    assert [u.get_secret_value() for u in settings.telling.urls] == ["ntfy://env", "ntfy://env2"]
    assert settings.garden.latitude == -41.25
    assert settings.garden.longitude == -1.5
    assert "env2" not in repr(settings)
    secrets.rename(tmp_path / "secrets")  # beside the garden's file they are found unasked
    assert [u.get_secret_value() for u in loaded(file, text).telling.urls] == [SECRET, "ntfy://two"]


def test_lists_from_the_environment_are_json_and_empty_variables_are_unset(file):
    settings = loaded(
        file,
        PLAIN,
        UNDERBENCH_TELLING__URLS=json.dumps([SECRET]),
        UNDERBENCH_HANDS_ON__WEEKDAYS='["05:00-06:00"]',
        UNDERBENCH_GARDEN__NAME="",
        UNDERBENCH_CONFIG="elsewhere.toml",
        PATH="/bin",
    )
    assert settings.telling.urls[0].get_secret_value() == SECRET
    assert settings.hands_on.weekdays == (Hours(start=time(5), end=time(6)),)
    assert settings.garden.name == "Reed End"


def test_only_the_given_environment_counts(file, monkeypatch):
    monkeypatch.setenv("UNDERBENCH_GARDEN__NAME", "Elsewhere")
    assert loaded(file, PLAIN).garden.name == "Reed End"
    assert load(file).garden.name == "Elsewhere"


@pytest.mark.parametrize(
    ("env", "path"),
    [
        # XDG Base Directory Specification 0.8: $HOME/.local/state; a relative path is ignored.
        ({}, "/home/keeper/.local/state/underbench/*.db"),
        ({"XDG_STATE_HOME": "/state"}, "/state/underbench/*.db"),
        ({"XDG_STATE_HOME": "state"}, "/home/keeper/.local/state/underbench/*.db"),
        # systemd.exec(5): several directories are separated by colons.
        ({"STATE_DIRECTORY": "/var/lib/a:/var/lib/b"}, "/var/lib/a/underbench.db"),
        ({"STATE_DIRECTORY": "/x", "UNDERBENCH_STORE__PATH": "/srv/u.db"}, "/srv/u.db"),
    ],
)
def test_where_the_store_is(file, env, path):
    assert loaded(file, PLAIN, **env).store_path.match(path)


def test_a_relative_store_lies_beside_the_file(file):
    assert loaded(file, PLAIN + "[store]\npath = 'u.db'\n").store_path == file.parent / "u.db"
