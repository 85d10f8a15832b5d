"""Looking further from the page: the same as the commands say, with pictures."""

from __future__ import annotations

import re
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest
from page_forms import pressed
from page_garden import EVENING, PageGarden

from underbench.daemon.page import pictures
from underbench.rules.garden.journal import Fate, Outcome, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.past_years import DateRange
from underbench.rules.plants.species import catalogue

DAY = timedelta(days=1)


def test_the_days_for_works_are_those_of_the_command(own: PageGarden) -> None:
    client = own.client()
    whole, of_ember = (client.get(f"/plan/windows{to}").text for to in ("", "/Ember"))
    assert "Start layer" in whole
    assert "Tue 23" in of_ember
    assert "recovering from the repot of 3 April" in of_ember
    assert of_ember.count("<h2>") == 12  # all works that can be planned
    assert 'class="s-x"><span class="hidden">leave it' in of_ember
    assert client.get("/plan/windows/Nobody").status_code == 404


def test_a_work_is_tried_on_paper_and_nothing_is_noted(own: PageGarden) -> None:
    client = own.client()
    assert '<a href="/plan/whatif/Lane">A work on paper</a>' in client.get("/tree/Lane").text
    blank = client.get("/plan/whatif/Lane").text
    assert "What would follow from" in blank
    typed = {"work": "repot", "roots": "40 %", "day": "2024-04-26"}
    page = pressed(client, blank, "Try it on paper", **typed).text
    assert "Nothing is noted." in page
    assert 'class="deed">Repot: ' in page
    assert "root ball no colder than" in page
    assert 'data-head="today, Tue 23 Apr"' in page
    with own.store() as store:
        assert store.notes.last() is None


def test_what_comes_anyway_does_not_stand_among_what_follows(own: PageGarden) -> None:
    page = own.client().get("/plan/whatif/Ember?work=repot").text
    assert "Alerts that come as they are, whatever you do, are left out." in page
    rows = re.findall(r"<tr>(.*?)</tr>", page.partition("<tbody>")[2])
    ways = [re.findall(r"<td[^>]*>([^<]*)<", row) for row in rows]
    assert ways
    assert all(len(set(row)) > 1 for row in ways)


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("work=repot&roots=140", "Roots 140: expected a number from 0 to 100"),
        ("work=repot&day=2024-04-01", "Day 2024-04-01: expected a day after today"),
        ("work=check+bag", "it changes no limit"),
        ("work=knit", "no work called"),
    ],
)
def test_what_cannot_be_tried_is_said(own: PageGarden, query: str, words: str) -> None:
    refused = own.client().get(f"/plan/whatif/Lane?{query}")
    assert refused.status_code == 422
    assert words in refused.text


def test_the_winter_and_the_years_are_told_tree_by_tree(own: PageGarden) -> None:
    noted = Work(tree="Lane", at=EVENING - 400 * DAY, work=WorkKind.REPOT)
    lost = Outcome(tree="Lane", at=EVENING - 300 * DAY, fate=Fate.LOST, night=date(2023, 6, 1))
    with own.store() as store:
        store.journal.add([noted, lost])
    client = own.client()
    winter, seasons, skill = (
        client.get(f"/plan/{one}").text for one in ("winter", "seasons", "skill")
    )
    assert '<th scope="row">Heath</th>' in winter
    assert "Lane" not in winter.partition("<main")[2]
    assert "0 of 1; too few to say" in seasons
    assert "note it under More" in skill


def test_a_species_is_shown_with_the_source_of_every_number(own: PageGarden) -> None:
    client = own.client()
    assert "Acer palmatum" in client.get("/species").text
    page = client.get("/species?name=japanese maple").text
    assert "Also called Japanese maple, smooth Japanese maple, momiji" in page
    assert "Hardiness class: Japanese maple, broadleaf deciduous" in page
    assert "harm −2.5 °C, death −4.5 °C <i>[1]</i>" in page
    first = catalogue().species["Acer palmatum"].limits.facts["leaf_frost"].source
    assert f"<b>[1]</b><span>{first}, " in page
    unknown = client.get("/species?name=Acer palmatun")
    assert unknown.status_code == 422
    assert "did you mean" in unknown.text


def boxes(drawn: str, name: str) -> list[tuple[float, float]]:
    found = (one for one in ElementTree.fromstring(drawn) if one.get("class") == name)
    return [(float(one.attrib["x"]), float(one.attrib["width"])) for one in found]


def test_a_picture_of_what_is_borne_begins_where_harm_does() -> None:
    """Along 320 units from -45 to 55 °C, so 3.2 a degree."""
    cold, hot = pictures.bears(-5.0, -15.0, "cold"), pictures.bears(35.0, 45.0, "hot")
    assert (boxes(cold, "p-d"), boxes(cold, "p-a")) == ([(0.0, 96.0)], [(96.0, 32.0)])
    assert (boxes(hot, "p-a"), boxes(hot, "p-d")) == ([(256.0, 32.0)], [(288.0, 32.0)])


def test_a_picture_of_a_winter_is_pale_where_years_differ() -> None:
    begins = date(2023, 9, 1)
    first, last = (
        DateRange(begins + n * DAY, begins + m * DAY, 4) for n, m in ((50, 60), (200, 240))
    )
    drawn = pictures.winter((first, last), begins, begins, "cold & long")
    ((pale, wide),), ((dark, narrow),) = boxes(drawn, "p-n"), boxes(drawn, "p-d")
    assert pale < dark < dark + narrow < pale + wide
    assert 'aria-label="cold &amp; long"' in drawn
    assert not boxes(pictures.winter((None, None), begins, begins, "never"), "p-d")


def test_pictures_of_shares_and_nights_hold_what_was_counted() -> None:
    assert boxes(pictures.share(3, 4, (0.3, 0.95), "3 of 4"), "p-g") == [(0.0, 240.0)]
    drawn = pictures.nights([(-3.0, 1.0, -1.0, -2.0), (0.0, 4.0, 2.0, 1.0)], [(0.0, "0 °C")], "two")
    dots = [one for one in ElementTree.fromstring(drawn) if one.get("class") == "p-s"]
    assert len(dots) == 2
    assert float(dots[0].attrib["cy"]) > float(dots[1].attrib["cy"])  # colder is lower
