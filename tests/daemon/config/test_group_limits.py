"""The keeper's own limits for a class, a species, a spot and a tree: which holds, and its trail."""

from __future__ import annotations

from pathlib import Path

import pytest
from commanding import EVENING, Garden, fails, stamp, strict_json
from garden_toml import BENCH, EMBER, HEATH, PLACE, SHED

from underbench.daemon.config.settings import Settings, load

CLASS = '\n[limits.class."japanese maple"]\nleaf_frost_c = -2.2\nact_from = 0.5\nkill_from = 0.3\n'
SPECIES = '\n[limits.species."Acer palmatum"]\nleaf_frost_c = -2.0\nact_from = 0.4\n'
SPOT = '\n[limits.spot."top bench"]\nleaf_frost_c = -1.8\n'
OWN = "[tree.limits]\nleaf_frost_c = -1.6\n"


def settings(file: Path, toml: str) -> Settings:
    file.write_text(PLACE + BENCH + SHED + toml, encoding="utf-8")
    return load(file, {"HOME": str(file.parent)})


def trail(garden: Garden, toml: str) -> tuple[list[str], list[float], list[str]]:
    garden.write(PLACE + BENCH + SHED + toml)
    done = garden.do("why", "Ember", "--json", "--at", stamp(EVENING))
    assert done.exit_code == 0, done.output
    steps = strict_json(done.stdout)["limits"]["leaf-frost"]["trail"]
    return tuple([step[key] for step in steps] for key in ("what", "harm", "source"))


def test_the_nearer_to_the_tree_the_later_in_the_trail(garden: Garden) -> None:
    what, harm, source = trail(garden, EMBER + OWN + CLASS + SPECIES + SPOT)
    assert what == [
        "class japanese maple",
        "your class japanese maple",
        "your species Acer palmatum",
        "your spot top bench",
        "own limit",
    ]
    assert harm == [-2.5, -2.2, -2.0, -1.8, -1.6]
    assert source[1:] == ["the keeper"] * 4


def test_a_spot_s_limits_hold_for_the_trees_that_stand_there_now(garden: Garden) -> None:
    toml = EMBER + SPOT + '\n[limits.spot."shed"]\nleaf_frost_c = -1.0\n'
    assert trail(garden, toml)[0][-1] == "your spot top bench"
    assert garden.do("moved", "Ember", "shed", "--on", "2024-04-22").exit_code == 0
    assert trail(garden, toml)[0][-1] == "your spot shed"


def test_a_figure_for_new_leaves_says_nothing_of_other_tissue(garden: Garden) -> None:
    """A figure of one kind is never compared with an exposure of another."""
    toml = EMBER + '\n[limits.species."Acer palmatum"]\ndormant_tops_c = -12\nbud_frost_c = -3\n'
    assert trail(garden, toml)[0] == ["class japanese maple"]  # its leaves are out
    garden.do("seen", "dormant", "Ember", "--on", "2024-04-23")
    what, harm, _ = trail(garden, toml)
    assert harm[what.index("your species Acer palmatum")] == -12


def test_chances_go_tree_then_species_then_class_then_garden(file: Path) -> None:
    chance = "\n[chance]\nact_from = 0.6\nkill_from = 0.2\n"
    own = EMBER + "act_from = 0.1\n"
    (tree,) = settings(file, own + CLASS + SPECIES + chance).trees
    assert (tree.act_from, tree.kill_from) == (0.1, 0.3)
    loaded = settings(file, EMBER + HEATH + CLASS + SPECIES + chance)
    assert [one.act_from for one in loaded.trees] == [0.4, None]
    assert (loaded.chance.act_from, loaded.chance.kill_from) == (0.6, 0.2)
    assert "your species Acer palmatum" in loaded.derived["Ember"]["act_from"]


def test_a_species_goes_by_any_of_its_names_and_a_cultivar_by_its_own(file: Path) -> None:
    katsura = EMBER + 'cultivar = "Katsura"\n'
    (tree,) = settings(file, katsura + '\n[limits.species."Japanese maple"]\ngust_mph = 20\n').trees
    (kin,) = tree.kin_limits
    assert kin.of == "your species Acer palmatum"
    assert kin.limits.gust_ms == pytest.approx(20 * 0.44704)  # NIST SP 811: exact
    one = '[[tree]]\nname = "One"\nspecies = "Invented tree"\nhardiness = "hornbeam"\nlitres = 3\n'
    own = one + 'spot = "top bench"\n[limits.species."invented Tree"]\nleaf_frost_f = 28.4\n'
    (tree,) = settings(file, own).trees
    assert tree.kin_limits[0].limits.leaf_frost_c == pytest.approx(-2.0)


@pytest.mark.parametrize(
    ("toml", "said"),
    [
        (
            '[limits.class."japanese mapel"]\nleaf_frost_c = -2\n',
            "limits.class.japanese mapel: no such hardiness class (did you mean 'japanese maple'?)",
        ),
        (
            '[limits.species."Acer palmatun"]\nleaf_frost_c = -2\n',
            "(did you mean 'Acer palmatum'?)",
        ),
        ('[limits.spot."top bnch"]\nleaf_frost_c = -2\n', "(did you mean 'top bench'?)"),
        ('[limits.species."Acer palmatum"]\nleaf_frst_c = -2\n', "(did you mean 'leaf_frost_c'?)"),
        ('[limits.spot."top bench"]\nact_from = 0.2\n', "unknown key"),
        ('[limits.spots."top bench"]\ngust_ms = 9\n', "limits.spots: unknown key"),
        ('[limits.spot."top bench"]\ngust_ms = "strong"\n', "expected a number"),
        (
            '[limits.spot."top bench"]\ngust_ms = 9\ngust_mph = 20\n',
            "give gust_ms or gust_mph, only one of them",
        ),
        (
            '[limits.species."Acer palmatum"]\ngust_ms = 9\n'
            '[limits.species."Japanese maple"]\ngust_ms = 8\n',
            "the same species as 'Acer palmatum'",
        ),
        ("limits = 3\n", "limits"),
        ('[limits.class."japanese maple"]\ndormant_tops_c = 40\n', "expected 5 or less, not 40"),
    ],
)
def test_a_slip_is_one_line_with_the_nearest_name(garden: Garden, toml: str, said: str) -> None:
    if toml.startswith("limits ="):
        garden.write(toml + PLACE + BENCH + EMBER)
    else:
        garden.write(PLACE + BENCH + EMBER + "\n" + toml)
    line = fails(garden.do("trees"), str(garden.config), said)
    number = int(line.removeprefix(f"{garden.config}:").split(":")[0])
    assert garden.config.read_text("utf-8").splitlines()[number - 1] in toml
