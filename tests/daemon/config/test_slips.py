"""A slip in the garden's file is answered by how it is written, and a secret is not repeated."""

from __future__ import annotations

from pathlib import Path

import pytest
from commanding import HEAD, Garden, fails
from garden_toml import EMBER, HEATH

from underbench.daemon.config.slips import meant
from underbench.daemon.config.tomlfile import TomlFault, read_toml
from underbench.daemon.views.checkup import IN_A_BED

LITRES = "litres = 4"


@pytest.mark.parametrize(
    ("good", "bad", "said"),
    [
        (LITRES, "litres = 2,5", "litres: expected a number: write 2.5, with a point"),
        (LITRES, 'litres = "2,5"', "expected a number, not '2,5': write 2.5, with a point"),
        (LITRES, "litres = 3L", "litres: expected a number: write 3, the number alone"),
        (LITRES, 'litres = "3 l"', "expected a number, not '3 l': write 3, the number alone"),
        (LITRES, 'litres = "3 gal"', "the number alone, in the unit that the key names"),
        (LITRES, "litres: 4", "expected litres = and its value: an equals sign, not a colon"),
        (LITRES, "litres =", "litres: a value is missing behind the ="),
        (LITRES, f"{LITRES}\n{LITRES}", "litres stands twice in this section: leave one out"),
        (LITRES, "size_cm = 38x28x11", "size_cm: write [38, 28, 11]"),
        (LITRES, 'size_cm = "38 x 28 x 11"', "write [38, 28, 11]"),
        (LITRES, "size_cm = [38,5, 28, 11]", "decimals have a point, such as 38.5"),
        ("latitude = 46.05", 'latitude = "46.05 N"', "write 46.05, the number alone"),
        ("latitude = 46.05", 'latitude = "46,05S"', "write -46.05: south and west are below 0"),
        ('"Acer palmatum"', "Acer palmatum", 'the quotes are missing: write "Acer palmatum"'),
        ('"Acer palmatum"', '"Acer palmatum', 'the quotes are not closed: write "Acer palmatum"'),
        ('"Acer palmatum"', "“Acer palmatum”", 'straight quotes: write "Acer palmatum"'),
        ("tied = true", "tied = Yes", "tied: write true, in small letters and without quotes"),
        ("[garden]", "garden", "expected a key = value, or a section such as [garden]"),
    ],
)
def test_what_was_meant_is_said(garden: Garden, good: str, bad: str, said: str) -> None:
    text = (HEAD + EMBER + HEATH).replace(good, bad, 1)
    garden.write(text)
    line = fails(garden.do("trees"), said)
    number = text[: text.index(f"{bad}\n")].count("\n") + 1 + bad.count("\n")
    assert f"garden.toml:{number}: " in line


def test_a_tree_needs_two_brackets(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_text('[tree]\nname = "A"\n[tree]\nname = "B"\n', encoding="utf-8")
    with pytest.raises(TomlFault, match=r":3: write \[\[tree\]\], with two brackets"):
        read_toml(path)


def test_a_tree_has_its_limits_in_one_section(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_text("[[tree]]\n[tree.limits]\na = 1\n[tree.limits]  # more\n", encoding="utf-8")
    with pytest.raises(TomlFault, match=r":4: the section \[tree\.limits\] stands twice"):
        read_toml(path)


def test_a_volume_in_a_bed_is_asked_about(garden: Garden) -> None:
    """In the ground its litres mean nothing; in its pot the frost reaches them."""
    bed = HEAD.replace('kind = "bench"', 'kind = "bed"')
    garden.write(bed + EMBER + HEATH.replace("[[tree]]", '[[tree]]\ncontainer = "bed"'))
    asked = [line for line in garden.do("check").stdout.splitlines() if " bed: " in line]
    assert asked == [f"note bed: {IN_A_BED.format(tree='Ember')}"]


def test_degrees_of_the_other_scale_are_not_taken_for_the_number() -> None:
    said = meant("[tree.limits]\nleaf_frost_c = 28F\n", 2) or ""
    assert said.endswith("expected a number: the number alone, in the unit that the key names")


@pytest.mark.parametrize(
    "text",
    [
        "[telling]\nurls = t0ken\n",
        "[[stand_in]]\n\n\nurls = [t0ken]\n",
        "[publish]\npassword = t0ken\n",
        "telling.urls = t0ken\n",
        "[weather]\napi_key = 't0ken\n",
        "[garden]\nname = tgram://t0ken\n",
        "[garden]\nname: tgram://t0ken\n",
    ],
)
def test_what_may_be_a_secret_is_not_repeated(text: str, tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TomlFault) as fault:
        read_toml(path)
    assert "t0ken" not in str(fault.value)
