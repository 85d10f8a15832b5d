"""Trees that works make and containers that works change, from the command to the judging."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from commanding import EVENING, Garden, fails, stamp

from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Work, fold, inventory
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import care_of

START = datetime(2024, 3, 1, tzinfo=UTC)
DAY = timedelta(days=1)


def test_a_layer_severed_is_a_tree_of_its_own(garden: Garden) -> None:
    said = garden.do(
        "did", "sever-layer", "Ember", "--as", "Spark", "--into", "pot", "--litres", "1.5",
        "--on", "2024-04-10",
    )  # fmt: skip
    assert said.exit_code == 0, said.output
    assert "Spark is a tree of its own now, from Ember: 1.5 L pot" in said.stdout
    listed = garden.do("trees").stdout
    assert "Spark (from Ember)" in listed
    found = {f["tree"]: f for f in garden.seen_at()["findings"] if f["hazard"] == "root-frost"}
    assert "Spark" in found  # −2.5 °C on a clear night, eight weeks before its roots have taken
    shown = garden.do("why", "spark", "--at", stamp(EVENING)).stdout
    assert "Roots open since sever layer on 10 April" in shown
    # The parent has lost nothing of its roots.
    assert "Roots open" not in garden.do("why", "Ember", "--at", stamp(EVENING)).stdout
    assert garden.do("moved", "Spark", "shed", "--on", "2024-04-11").exit_code == 0


def test_a_repot_changes_the_container_and_nothing_else(garden: Garden) -> None:
    said = garden.do(
        "did", "repot", "Ember", "--roots", "40%", "--into", "pond-basket", "--litres", "8",
        "--on", "2024-04-10",
    )  # fmt: skip
    assert said.exit_code == 0, said.output
    line = next(one for one in garden.do("trees").stdout.splitlines() if one.startswith("Ember"))
    assert "8.0 L" in line
    assert "pond basket: dark mesh round" in line


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["sever-layer", "Ember", "Heath", "--as", "Spark"], "name one tree"),
        (["sever-layer", "Ember", "--as", "heath"], "there is a tree of that name already"),
        (["chop", "Ember", "--as", "Spark"], "goes with sever-layer and divide"),
        (["chop", "Ember", "--litres", "3"], "go with work on roots"),
        (["repot", "Ember", "--into", "pond-baskett"], "did you mean"),
        (["divide", "Ember", "--as", " "], "expected a name of 1 to 40 characters"),
        (["divide", "Ember", "--as", "Top Bench"], "that is the name of a spot"),
        (["sever-layer", "Ember", "--litres", "1"], "with --as"),
        (["unbag", "Ember"], "Ember had no bag on 10 April 2024"),
    ],
)
def test_what_does_not_go_together_is_one_line(garden: Garden, words: list[str], said: str) -> None:
    assert said in fails(garden.do("did", *words, "--on", "2024-04-10"))


def test_a_work_out_of_season_gets_one_caution_and_more_care(garden: Garden) -> None:
    said = garden.do("did", "divide", "Heath", "--as", "Moor", "--on", "2023-11-20").stdout
    assert "Moor bears root work badly at this time of its year" in said
    assert "no colder than 0.0 °C" in said
    summer = garden.do("did", "start-layer", "Ember", "--on", "2023-06-20").stdout
    first, care, *_ = summer.splitlines()  # and no caution
    assert first == "Noted for Ember: start layer on 20 June 2023."
    assert care.startswith("Support the stem it is on. Look at the moss")


def test_moss_is_watered_only_where_there_is_a_layer(garden: Garden) -> None:
    fails(garden.do("watered", "Ember", "--moss"), "Ember has no layer on it")
    garden.do("did", "start-layer", "Ember", "--on", "2024-04-20")
    assert garden.do("watered", "Ember", "--moss").stdout == "Noted: moss on Ember watered.\n"


def test_care_grows_with_the_share_of_roots_cut() -> None:
    """40 % counts as heavy, a tenth as a slip; common practice, no source."""

    def asked(pct: float | None) -> Any:
        return care_of(Work(tree="Ember", at=START, work=WorkKind.REPOT, roots_pct=pct))

    floors = [asked(pct).root_floor_c for pct in (0, 10, 25, 30, 40, 80)]
    weeks = [asked(pct).root_weeks for pct in (0, 10, 25, 30, 40, 80)]
    assert floors == sorted(floors)
    assert weeks == sorted(weeks)
    assert (floors[0], floors[2], floors[4], floors[-1]) == (-3.0, -1.0, 0.0, 0.0)
    assert floors[3] < 0.0 < weeks[4] - weeks[3]
    assert asked(25) == asked(None)


def test_a_tree_made_is_there_from_its_day_and_the_file_wins(make: Any) -> None:
    ember = make.tree()
    spark = ember.model_copy(update={"name": "Spark", "parent": "Ember"})
    work = Work(tree="Ember", at=START, work=WorkKind.SEVER_LAYER, makes=spark)
    assert inventory([ember], [work], START - DAY) == (ember,)
    assert inventory([ember], [work], START) == (ember, spark)
    written = spark.model_copy(update={"name": "spark", "height_cm": 9.0})
    assert inventory([ember, written], [work], START) == (ember, written)


def test_a_pot_holds_what_the_journal_says_it_does(make: Any) -> None:
    """A bigger pot of the same make moves less for one step in air temperature."""
    big = make.container(litres=40.0, kind=ContainerKind.TRAINING_BOX)
    work = Work(tree="Ember", at=START + 6 * DAY, work=WorkKind.REPOT, into=big)
    assert fold(make.tree(), [work], START + 6 * DAY).tree.container == big
    warm = make.weather(START, hours=24 * 7, mean_c=10.0, swing_k=0.0, global_wm2=0.0, cloud=1.0)
    cold = make.weather(
        START + 7 * DAY, hours=12, mean_c=2.0, swing_k=0.0, global_wm2=0.0, cloud=1.0
    )

    def core_c(*journal: Work) -> float:
        before = make.follow([make.tree()], warm, journal)
        after = make.follow([make.tree()], cold, journal, start=before.end)
        return float(after.exposure.core_c[0, 0, -1])

    assert core_c(work) > core_c() + 1.0


def test_a_course_through_a_repot_may_be_cut_anywhere(make: Any) -> None:
    big = make.container(litres=40.0)
    work = Work(
        tree="Ember", at=START + 2 * DAY + timedelta(hours=9), work=WorkKind.REPOT, into=big
    )
    whole = make.weather(START, hours=96, mean_c=4.0)
    once = make.follow([make.tree()], whole, [work])
    for cut in (24, 57, 58, 70):
        first = make.follow([make.tree()], whole.hours_at(slice(0, cut)), [work])
        rest = whole.hours_at(slice(cut, 96))
        then = make.follow([make.tree()], rest, [work], start=first.end)
        assert (then.end.ball_c == once.end.ball_c).all()
        assert (then.end.water_l == once.end.water_l).all()


@pytest.mark.parametrize("option", ["--litres", "--gallons"])
@pytest.mark.parametrize("volume", ["nan", "inf", "0", "-1", "much"])
def test_what_is_no_volume_leaves_the_journal_readable(
    garden: Garden, option: str, volume: str
) -> None:
    said = garden.do("did", "repot", "Ember", option, volume, "--on", "2024-04-10")
    assert said.exit_code == 2
    assert "expected more than 0" in said.stderr
    assert garden.do("trees").exit_code == 0


def test_an_entry_that_would_not_read_back_is_never_written(garden: Garden, make: Any) -> None:
    bad = make.container().model_copy(update={"litres": float("nan")})
    with Store.open(garden.database) as store:
        with pytest.raises(ValueError, match="valid number"):
            store.journal.add([Work(tree="Ember", at=START, work=WorkKind.REPOT, into=bad)])
        assert store.journal.entries() == []


def sever(garden: Garden) -> None:
    done = garden.do("did", "sever-layer", "Ember", "--as", "Spark", "--on", "2024-04-10")
    assert done.exit_code == 0, done.output


def test_a_made_tree_outlives_its_spot_and_its_parent(garden: Garden) -> None:
    sever(garden)
    text = garden.config.read_text(encoding="utf-8")
    garden.config.write_text(text.replace('"top bench"', '"main bench"'), encoding="utf-8")
    assert "Spark" in {f["tree"] for f in garden.seen_at()["findings"]}
    text = garden.config.read_text(encoding="utf-8").replace('"Ember"', '"Glow"')
    garden.config.write_text(text, encoding="utf-8")
    assert "Spark" in {f["tree"] for f in garden.seen_at()["findings"]}


def test_a_made_tree_written_into_the_file_keeps_its_aftercare_however_spelt(
    garden: Garden,
) -> None:
    sever(garden)
    text = garden.config.read_text(encoding="utf-8")
    mine = '\n[[tree]]\nname = "SPARK"\nspecies = "Acer palmatum"\nlitres = 2\nspot = "top bench"\n'
    garden.config.write_text(text + mine, encoding="utf-8")
    shown = garden.do("why", "spark", "--at", stamp(EVENING)).stdout
    assert "Roots open since sever layer on 10 April" in shown


def test_a_severed_layer_is_at_the_stage_its_parent_was_seen_at(garden: Garden) -> None:
    garden.do("seen", "leafing-out", "Ember", "--on", "2024-04-08")
    sever(garden)
    for name in ("Ember", "Spark"):
        assert "leafing out" in garden.do("why", name, "--at", stamp(EVENING)).stdout


def test_a_bed_is_as_big_as_beds_are_and_out_of_one_needs_its_litres(garden: Garden) -> None:
    garden.do("did", "repot", "Heath", "--into", "bed", "--on", "2024-04-10")
    line = next(one for one in garden.do("trees").stdout.splitlines() if one.startswith("Heath"))
    assert "200 L" in line
    fails(garden.do("did", "collect", "Heath", "--into", "pot", "--on", "2024-04-11"), "--litres")
