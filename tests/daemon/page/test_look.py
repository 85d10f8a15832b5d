"""What the page shows: benches, jobs, one tree, the list, what was told. And its size."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from page_garden import DAY, EVENING, PASSWORD, TREES, PageGarden, written
from settings_toml import loaded

from underbench.daemon.journal.mark_done import note_handled
from underbench.daemon.journal.noting import keep
from underbench.daemon.page.benches import shown_trees
from underbench.daemon.page.tree_years import years_behind
from underbench.rules.garden.journal import Fate, Move, Outcome, Stage, Work, fold
from underbench.rules.garden.works import REPOTTED, WorkKind


@pytest.fixture
def page(own: PageGarden) -> PageGarden:
    return own


def read(page: PageGarden, path: str) -> str:
    """A page's words, with spaces for its tags."""
    answer = page.client().get(path)
    assert answer.status_code == 200, path
    body = answer.get_data(as_text=True)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", body)))


def limits(page: PageGarden, tree: str) -> dict[str, tuple[str, str]]:
    body = page.client().get(f"/tree/{tree}").get_data(as_text=True)
    rows = re.findall(r'<tr><th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?)</td></tr>', body)
    return {unescape(what): (harm, kill) for what, harm, kill in rows}


def test_home_says_what_to_do_by_when_and_what_comes_bench_by_bench(page: PageGarden) -> None:
    home = read(page, "/")
    assert "BRING 4 trees into the shed by 20:00 danger" in home
    top, wall, shed = (home.index(f" {spot} ") for spot in ("top bench", "south wall", "shed 1"))
    assert top < wall < shed
    assert re.search(r"Ember −\d° · · · · ", home[shed:])
    assert "top bench 4 −4 °C 2 in danger, 1 harmed, 1 nearly harmed, 01:00 to 09:00" in home
    assert "Nothing comes to Old Stump." in home


def test_a_calm_week_says_so_in_one_line(tmp_path: Any, make: Any, sky: Any) -> None:
    weather = make.weather(EVENING.replace(hour=0, minute=0) - 40 * DAY, 24 * 50, mean_c=12.0)
    page = PageGarden(tmp_path, sky(weather), written(TREES[1:4]))
    home = read(page, "/")
    assert "Nothing to do now" in home
    assert "Nothing comes to any tree in these days." in home
    assert "may die" not in home


def test_a_bench_shows_its_trees_and_what_comes_to_them(page: PageGarden) -> None:
    bench = read(page, "/bench/top bench")
    assert bench.index("Ember") < bench.index("Heath") < bench.index("What comes here")
    assert "tonight !! frost" in bench
    assert "Old Stump" not in bench
    assert page.client().get("/bench/nowhere").status_code == 404


def test_the_night_shown_is_the_night_of_the_frost(page: PageGarden) -> None:
    """Its coldest hour falls on the next local day."""
    with page.store() as store:
        kept = json.loads(store.pages.kept("ahead")[0])  # type: ignore[index]
    air = re.compile(r"[−\d]+")
    day, night = (int(air.search(one)[0].replace("−", "-")) for one in kept["air"][0])  # type: ignore[index]
    assert night < 0 < day


def test_what_is_done_is_asked_no_more(page: PageGarden) -> None:
    with page.store() as store:
        done = ["Ember", "Heath", "Lane", "Thorn", "Wisp & Co"]
        note_handled(store, page.settings, done, EVENING)
    assert "Nothing to do now" in read(page, "/")
    assert "Ember" in read(page, "/bench/shed")  # it stands there now


def test_a_tree_says_what_it_feels_bears_and_why(page: PageGarden) -> None:
    ember = read(page, "/tree/Ember")
    assert "PROTECT, danger: Frost" in ember
    assert "What helps: Into the shed" in ember
    assert "frost at the root ball's edge −0.7 °C" in ember
    assert "Out of strong sun and wind repot on 3 April 2024; ends" in ember
    assert re.search(r"The plan, night by night Tue .*later in all .*into the shed", ember)
    assert "What would turn the decision" not in ember  # nothing would: it says no more
    assert "3 Apr repot, 30 % of roots" in ember
    assert re.search(r"2023/24 coldest air in the garden −?\d °C 3 Apr repot", ember)
    assert page.client().get("/chart/Ember.svg").text.count(">kills −")


def test_the_years_behind_a_tree_run_from_summer_to_summer() -> None:
    journal = [
        Work(tree="Ember", at=datetime(2022, 3, 1, tzinfo=UTC), work=WorkKind.REPOT),
        Outcome(tree="Ember", at=EVENING, fate=Fate.DAMAGED, night=EVENING.date()),
        Work(tree="Lane", at=datetime(2020, 3, 1, tzinfo=UTC), work=WorkKind.REPOT),
    ]
    day = (datetime(2024, 1, 5) - datetime(1970, 1, 1)).days
    days = [(day - 365, 0.0, -8.0), (day, 1.0, -3.0), (day + 1, 1.0, -5.0)]
    north = years_behind(journal, "Ember", days, 46.0)
    assert [(one.name, one.low_c, len(one.noted)) for one in north] == [
        ("2023/24", -5.0, 1),
        ("2022/23", -8.0, 0),
        ("2021/22", None, 1),
    ]
    south = years_behind(journal, "Ember", days, -37.0)
    lows = [("2024", -5.0), ("2023", -8.0), ("2022", None)]
    assert [(one.name, one.low_c) for one in south] == lows
    assert years_behind(journal, "Heath", days, 46.0) == []


def test_a_repot_just_noted_changes_the_limits_at_once(page: PageGarden) -> None:
    before = limits(page, "Lane")["frost at the root ball's edge"]
    with page.store() as store:
        keep(store, [Work(tree="Lane", at=EVENING, work=WorkKind.REPOT)])
    harm, _ = limits(page, "Lane")["frost at the root ball's edge"]
    assert before[0] != harm
    assert harm == f"−{abs(REPOTTED.root_floor_c or 0):.1f} °C"
    assert "Root ball no colder than" in read(page, "/tree/Lane")
    assert "repot" in read(page, "/trees?work=repot")


def test_what_keeps_its_leaves_is_never_drawn_bare(file: Path) -> None:
    kinds = {"Olea europaea": "leafy", "Rhododendron indicum": "leafy", "Pinus mugo": "conifer"}
    kinds |= {"Acer palmatum": "bare", "Larix decidua": "bare"}
    garden = loaded(file, written([(k, k, 4, "top bench") for k in kinds]))
    standing = [fold(tree, (), EVENING) for tree in garden.trees]
    ahead = {"trees": {kind: {"stage": Stage.DORMANT} for kind in kinds}}
    assert {one.name: one.form for one in shown_trees(standing, ahead)} == kinds


def test_looking_writes_nothing(page: PageGarden) -> None:
    def all_rows() -> dict[str, list[tuple[Any, ...]]]:
        with page.store() as store:
            names = [n for n in store.db.table_names() if not n.startswith("_")]
            return {n: store.db.execute(f"SELECT * FROM [{n}]").fetchall() for n in names}

    before = all_rows()
    page.now += timedelta(minutes=50)
    for path in ("/", "/trees", "/tree/Ember", "/tree/Needle", "/chart/Lane.svg", "/told"):
        assert page.client().get(path).status_code == 200
    assert all_rows() == before


def test_the_list_is_filtered_by_spot_species_work_and_stage(page: PageGarden) -> None:
    for query, shown in (
        ("", 7),
        ("spot=south+wall", 2),
        ("species=Acer+palmatum", 2),
        ("species=Acer+palmatum&spot=top+bench", 1),
        ("work=repot", 1),
        ("stage=leafing+out&spot=south+wall", 1),
        ("spot=nowhere", 0),
    ):
        assert f"{shown} of 7 trees" in read(page, f"/trees?{query}"), query


def test_a_tree_moved_or_lost_is_shown_so(page: PageGarden) -> None:
    with page.store() as store:
        lost = Outcome(tree="Thorn", at=EVENING, fate=Fate.LOST, night=EVENING.date())
        keep(store, [Move(tree="Heath", at=EVENING, spot="shed"), lost])
    assert "Thorn" not in read(page, "/trees")
    assert "Noted as lost" in read(page, "/tree/Thorn")
    assert "shed (home: top bench)" in read(page, "/tree/Heath")


def test_what_was_told_is_read_whole(page: PageGarden) -> None:
    told = read(page, "/told")
    assert "BRING 4 trees into" in told
    assert "given up: no service was there to take it" in told


def test_an_old_look_ahead_says_so(page: PageGarden) -> None:
    assert "is the daemon running" not in read(page, "/")
    page.now += timedelta(hours=4)
    home = read(page, "/")
    assert "is the daemon running? Watch the weather yourself" in home
    assert "4 h old" in home


def test_a_look_ahead_that_the_version_before_kept_is_shown(page: PageGarden) -> None:
    with page.store() as store:
        kept = json.loads(store.pages.kept("ahead")[0])  # type: ignore[index]
        del kept["about"]
        for tree in kept["trees"].values():
            del tree["hours"], tree["spot"]
            for day in filter(None, tree["days"]):
                del day["mark"]
        store.pages.keep("ahead", json.dumps(kept), EVENING)
    assert "Ember −5.3 °C" in read(page, "/")
    assert "Frost; frost in the root balls." in read(page, "/do/handled")


def test_without_weather_the_garden_is_there_and_the_lack_is_said(page: PageGarden) -> None:
    with page.store() as store:
        store.db.execute("DELETE FROM forecast")
        store.db.execute("DELETE FROM page WHERE name = 'ahead'")
        store.db.conn.commit()
    assert "Nothing is known of the coming days yet" in read(page, "/")
    assert "no forecast is kept" in read(page, "/tree/Ember")
    assert "7 of 7 trees" in read(page, "/trees")


@pytest.mark.parametrize("path", ["/tree/Nobody", "/chart/Nobody.svg", "/nothing", "/tree/"])
def test_what_is_not_there_is_said_plainly(page: PageGarden, path: str) -> None:
    answer = page.client().get(path)
    assert answer.status_code == 404
    assert "There is no such page." in answer.get_data(as_text=True)


def test_the_chart_is_a_picture_of_its_own(page: PageGarden) -> None:
    answer = page.client().get("/chart/Ember.svg")
    assert answer.mimetype == "image/svg+xml"
    assert ET.fromstring(answer.get_data(as_text=True)).tag == "{http://www.w3.org/2000/svg}svg"
    assert "script" not in answer.headers["Content-Security-Policy"]


def test_it_can_be_put_on_the_home_screen(page: PageGarden) -> None:
    """Web App Manifest (W3C): name, start_url, display and an icon that is there."""
    visitor = page.client()
    manifest = json.loads(visitor.get("/manifest.webmanifest").data)
    assert manifest["name"] == "Underbench, Orchard End"
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    for icon in manifest["icons"]:
        with visitor.get(icon["src"]) as answer:
            assert answer.mimetype == icon["type"]


def test_nothing_secret_is_on_any_page(page: PageGarden) -> None:
    secret = (
        '\n[telling]\nurls = ["json://127.0.0.1/hush-hush"]\n[weather]\napi_key = "hush-hush"\n'
    )
    page.config.write_text(written(more=secret), encoding="utf-8")
    assert page.settings.telling.urls
    for path in ("/", "/trees", "/tree/Ember", "/told", "/manifest.webmanifest"):
        body = page.client().get(path).get_data(as_text=True)
        assert "hush-hush" not in body
        assert PASSWORD not in body


def test_a_day_later_the_tree_is_looked_at_anew(page: PageGarden) -> None:
    first = limits(page, "Ember")
    page.now += DAY
    assert "PROTECT, danger: Frost −5.1" not in read(page, "/tree/Ember")
    assert first.keys() == limits(page, "Ember").keys()
