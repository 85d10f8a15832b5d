"""What is said when something in a keeper's file is wrong."""

import pytest
from settings_toml import PLAIN, SECRET, SPOTS, TREE, loaded, problems

from underbench.daemon.config.problems import ConfigProblems
from underbench.daemon.config.settings import load


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("litres", "litrs", "13: tree 1 \"Asa\": litrs: unknown key (did you mean 'litres'?)"),
        ("litres = 4", "litres = 0", '13: tree 1 "Asa": litres: expected more than 0, not 0'),
        ("litres = 4", "litres = 'a'", "13: tree 1 \"Asa\": litres: expected a number, not 'a'"),
        (
            "litres = 4",
            "litres = 4\ngallons = 1",
            '14: tree 1 "Asa": gallons: give litres or gallons, only one of them',
        ),
        (
            "litres = 4\n",
            "",
            '10: tree 1 "Asa": missing: give litres, gallons, size_cm or size_in',
        ),
        (
            "litres = 4",
            "size_cm = [30, 20]",
            '13: tree 1 "Asa": size_cm: expected 3 or more values, found 2',
        ),
        (
            "litres = 4",
            "size_cm = [2000, 2000, 2000]",
            '10: tree 1 "Asa": litres: expected 5000 or less, not 7200000',
        ),
        (
            'spot = "top bench"',
            'spot = "Top bensh"',
            "14: tree 1 \"Asa\": spot: no [[spot]] is named 'Top bensh' "
            "(did you mean 'top bench'?)",
        ),
        (
            "Acer palmatum",
            "Acer palmatm",
            "12: tree 1 \"Asa\": species: unknown species (did you mean 'Acer palmatum' "
            "or 'Acer opalus'? "
            'If it is not in the table, add hardiness = "a class", such as "hardy broadleaf"; '
            "underbench species lists them)",
        ),
        (
            "Europe/London",
            "Europe/Londn",
            "6: garden.timezone: 'Europe/Londn': no such timezone (did you mean 'Europe/London'?)",
        ),
        ("Europe/London", "Europe", "6: garden.timezone: 'Europe': no such timezone "),
        ("latitude = 52", "latitude = 152", "3: garden.latitude: expected 90 or less, not 152"),
        ("latitude = 52", "latitude = nan", "3: garden.latitude: expected a number"),
        ("latitude = 52\n", "", "1: garden.latitude: missing"),
        (
            "elevation_m",
            "elevatoin_m",
            "5: garden.elevatoin_m: unknown key (did you mean 'elevation_m'?)",
        ),
        ("elevation_m = 120\n", "", "1: garden: missing: give elevation_m or elevation_ft"),
        (
            '"bench"',
            '"bench"\nsun = "8-18"',
            "10: spot 1 \"top bench\": sun: '8-18': expected two times of one day, the earlier "
            'first, such as "08:00-18:00", or "none"',
        ),
        (
            '"bench"',
            '"cold frame"\noverhead = "roof"',
            "10: spot 1 \"top bench\": overhead: 'roof': a cold frame has a cover of its own; "
            "leave overhead out",
        ),
        (
            '"bench"',
            '"bench"\noverhead = "thatch"',
            "10: spot 1 \"top bench\": overhead: expected 'open sky', 'lath' or 'roof'",
        ),
        ('"bench"', '"perch"', "9: spot 1 \"top bench\": kind: expected 'bench', 'shelf', "),
        ('name = "Asa"', 'name = " "', '11: tree 1 " ": name: must not be empty'),
        ("[[tree]]", "[tree]", "10: tree: expected sections headed [[tree]], with two brackets"),
        (TREE, "", "garden.toml: tree: missing: write at least one [[tree]] section"),
        ("latitude = 52", "latitude = ", "3: latitude: a value is missing behind the ="),
    ],
)
def test_one_mistake_is_one_line_that_says_where_and_what(file, old, new, said):
    (line,) = problems(file, PLAIN.replace(old, new, 1))
    assert line.removeprefix("garden.toml:").startswith(said) or line == said


@pytest.mark.parametrize(
    ("section", "said"),
    [
        (
            "[tree.limits]\nleaf_frost_c = 28\n",
            '16: tree 1 "Asa": limits.leaf_frost_c: expected 5 or less',
        ),
        (
            "[tree.limits]\nact_from = 0.2\n",
            '16: tree 1 "Asa": limits.act_from: unknown key here; it belongs above the line '
            "[tree.limits]",
        ),
        ('[[watering]]\ntimes = ["25:00"]\n', "16: watering 1: times 1: '25:00': expected a time"),
        ("[[watering]]\ntimes = []\n", "16: watering 1: times: expected 1 or more values, found 0"),
        (
            '[[watering]]\ntimes = ["07:00"]\nfrom = "02-30"\n',
            "17: watering 1: from: '02-30': expected month-day",
        ),
        ('[hands_on]\nweekdays = ["21:00-06:00"]\n', "16: hands_on.weekdays 1: '21:00-06:00': "),
        ('[hands_on]\naway = ["2027-04-31 to 2027-05-01"]\n', "16: hands_on.away 1: "),
        (
            '[hands_on]\naway = ["2027-04-20 to 2027-04-01"]\n',
            "16: hands_on.away 1: '2027-04-20 to 2027-04-01': the first day comes after the last",
        ),
        ("[chance]\nact_from = 30\n", "16: chance.act_from: expected 1 or less, not 30"),
        ('[weather]\nbase_url = "api.example"\n', "16: weather.base_url: expected an address that"),
        ("[means]\nfleece = 1\n", "16: means.fleece: unknown key (did you mean 'fleece_layers'?)"),
        ("[[means]]\n", "15: means: expected one section headed [means], with one bracket"),
        (TREE.replace("Asa", "asa"), '16: tree 2 "asa": name: tree 1 has this name already'),
        (SPOTS, '16: spot 2 "top bench": name: spot 1 has this name already'),
    ],
)
def test_a_mistake_in_another_section(file, section, said):
    (line,) = problems(file, PLAIN + section)
    assert line.startswith(f"garden.toml:{said}")


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("self", "unknown key"),
        ("_env_file", "unknown key"),
        ("tre", "unknown key (did you mean 'tree'?)"),
    ],
)
def test_an_unknown_key_outside_any_section(file, key, said):
    assert problems(file, f"{key} = 1\n{PLAIN}") == [f"garden.toml:1: {key}: {said}"]


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(file):
    text = PLAIN.replace("latitude", "latitud").replace("litres = 4", "litres = -1")
    found = problems(file, text.replace('"top bench"', '"bench"', 1), UNDERBENCH_TYPO="1")
    assert [line.split(": ")[0] for line in found] == [
        "garden.toml:3",
        "garden.toml:13",
        "garden.toml:14",
        "UNDERBENCH_TYPO",
    ]


@pytest.mark.parametrize(
    ("variable", "value", "said"),
    [
        (
            "UNDERBENCH_GARDEN__LATITUED",
            "52",
            "UNDERBENCH_GARDEN__LATITUED: no such setting "
            "(did you mean UNDERBENCH_GARDEN__LATITUDE?)",
        ),
        (
            "UNDERBENCH_GARDEN__LATITUDE",
            "north",
            "UNDERBENCH_GARDEN__LATITUDE: garden.latitude: expected a number, not 'north'",
        ),
        (
            "UNDERBENCH_HANDS_ON__WEEKDAYS",
            "07:00-08:00",
            "UNDERBENCH_HANDS_ON__WEEKDAYS: expected JSON, a list in [ ] or a table in { }",
        ),
        (
            "UNDERBENCH_GARDEN__ELEVATION_FT",
            "400",
            "UNDERBENCH_GARDEN__ELEVATION_FT: garden.elevation_ft: "
            "give elevation_m or elevation_ft, only one of them",
        ),
    ],
)
def test_a_wrong_variable_is_named(file, variable, value, said):
    assert problems(file, PLAIN, **{variable: value}) == [said]


@pytest.mark.parametrize(
    "section",
    [
        f'[telling]\nurl = ["{SECRET}"]\n',
        f'[telling]\nurls = [["{SECRET}"]]\n',
        f'telling = "{SECRET}"\n',
        f'[weather]\nbase_url = "{SECRET}"\n',
        f'[weather]\napi_kye = "{SECRET}"\n',
        f'[weather]\ntimeout_s = "{SECRET}"\n',
        f'[telling]\nurls = ["{SECRET}]\n',
        f'[telling]\nurls = "[{SECRET}"\n',
    ],
)
def test_a_secret_is_never_repeated(file, section):
    top_level = section.startswith("telling")
    found = problems(file, section + PLAIN if top_level else PLAIN + section)
    assert "hunter2" not in "\n".join(found)


@pytest.mark.parametrize(
    "variable",
    [
        "UNDERBENCH_TELLING",
        "UNDERBENCH_TELLING__URL",
        "UNDERBENCH_WEATHER__BASE_URL",
        "UNDERBENCH_WEATHER",
        "UNDERBENCH_SECRET",
    ],
)
def test_a_secret_in_a_wrong_variable_is_never_repeated(file, variable):
    (line,) = problems(file, PLAIN, **{variable: f'["{SECRET}'})
    assert line.startswith(f"{variable}: ")
    assert "hunter2" not in line


def test_secrets_that_cannot_be_read_or_are_misspelt(file, tmp_path):
    (line,) = problems(file, PLAIN, UNDERBENCH_SECRETS_DIR=str(tmp_path / "none"))
    assert line == "none: secrets directory cannot be read: No such file or directory"
    secrets = tmp_path / "secrets"
    secrets.mkdir()
    (secrets / "somebody_elses").write_text(SECRET, encoding="utf-8")
    assert loaded(file, PLAIN, CREDENTIALS_DIRECTORY=str(secrets)).telling.urls == ()
    (secrets / "telling_url").write_text(SECRET, encoding="utf-8")
    (secrets / "weather_api_key").write_bytes(b"\xff")
    assert problems(file, PLAIN, CREDENTIALS_DIRECTORY=str(secrets)) == [
        "secrets/telling_url: not read (did you mean 'telling_urls'?)",
        "secrets/weather_api_key: cannot be read as text",
    ]


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(ConfigProblems, match="no such file"):
        load(tmp_path / "none.toml", {})
