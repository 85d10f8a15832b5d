"""The page's forms: what they note, refuse and answer, and how notes are taken back."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from flask.testing import FlaskClient
from page_forms import pressed
from page_garden import DAY, PageGarden, token

from underbench.rules.garden.journal import Entry, Move, Outcome, Sighting, Watering, Work


@pytest.fixture
def garden(own: PageGarden) -> PageGarden:
    return own


def post(client: FlaskClient, path: str, **fields: Any) -> Any:
    return client.post(path, data={"csrf": token(client), **fields})


def journal(garden: PageGarden) -> list[Entry]:
    with garden.store() as store:
        return store.journal.entries()


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


@pytest.mark.parametrize(
    ("path", "fields", "kind", "said"),
    [
        ("watered", {}, Watering, "Noted: Ember watered."),
        ("moved", {"spot": "shed"}, Move, "Noted: Ember moved to shed."),
        ("seen", {"stage": "hardened"}, Sighting, "Noted: Ember seen hardened on 23 April 2024."),
        ("did", {"work": "wire", "day": "2024-04-20"}, Work, "for Ember: wire on 20 April 2024."),
        ("outcome", {"fate": "damaged", "night": "2024-04-20"}, Outcome, "20 April damaged."),
    ],
)
def test_each_form_notes_what_it_says_and_can_be_undone(
    garden: PageGarden, path: str, fields: dict[str, str], kind: type[Entry], said: str
) -> None:
    client, before = garden.client(), journal(garden)
    done = post(client, f"/do/{path}", tree="Ember", **fields)
    assert done.status_code == 303
    assert done.location == "/tree/Ember"
    (new,) = [entry for entry in journal(garden) if entry not in before]
    assert isinstance(new, kind)
    shown = client.get("/do/").text
    assert said in text_of(shown)
    note = re.search(r'name="note" value="(\d+)"', shown)
    assert note
    assert 'name="note"' not in client.get("/do/").text  # the bar is there once
    back = post(client, "/do/undo", note=note[1])
    assert back.status_code == 303
    assert "Taken back: " in text_of(client.get("/do/").text)
    assert journal(garden) == before


def test_many_trees_at_once(garden: PageGarden) -> None:
    client, names = garden.client(), ["Ember", "Lane", "Wisp & Co"]
    form = client.get("/do/", query_string={"tree": names}).text
    assert re.findall(r'name="tree" value="([^"]+)" checked', form) == [
        "Ember",
        "Lane",
        "Wisp &amp; Co",
    ]
    post(client, "/do/watered", tree=names)
    assert [e.tree for e in journal(garden) if isinstance(e, Watering)] == names


def jobs(client: FlaskClient) -> list[str]:
    """The keys of the jobs with something left to do, in order."""
    return re.findall(r'name="job" value="([^"]+)"', client.get("/do/handled").text)


def left(client: FlaskClient) -> list[str]:
    """The trees of jobs that are still to do."""
    found = re.findall(r'box" name="tree" value="([^"]+)"', client.get("/do/handled").text)
    return [unescape(name) for name in found]


def test_a_job_is_done_with_one_button_and_open_again_when_taken_back(garden: PageGarden) -> None:
    client = garden.client()
    (job,), trees = jobs(client), left(client)
    assert len(trees) == 4
    post(client, "/do/handled", job=job, which="others")
    gone = client.get("/do/handled").text
    assert "Nothing that was told is still to do" in gone
    assert ", ".join(trees) in unescape(gone.split("Done</h2>")[1])
    (number,) = set(re.findall(r'name="note" value="(\d+)"', gone.split("Done</h2>")[1]))
    assert post(client, "/do/undo", note=number, to="/do/handled").location == "/do/handled"
    assert (jobs(client), left(client)) == ([job], trees)


def test_all_but_the_ticked_the_ticked_or_a_bench_is_done(garden: PageGarden) -> None:
    client = garden.client()
    (job,), (first, second, third, fourth) = jobs(client), left(client)
    assert post(client, "/do/handled", job=job, which="others", tree=[first, second]).location == (
        "/do/handled"
    )
    assert left(client) == [first, second]
    post(client, "/do/handled", job=job, which="ticked", tree=second)
    assert left(client) == [first]
    moved = [entry.tree for entry in journal(garden) if isinstance(entry, Move)]
    assert sorted(moved) == sorted([second, third, fourth])
    post(client, "/do/undo")
    post(client, "/do/undo")
    (bench,) = re.findall(r'name="bench" value="([^"]+)"', client.get("/do/handled").text)
    post(client, "/do/handled", job=job, bench=bench)
    assert left(client) == ["Wisp & Co"]


def test_a_deadline_that_is_past_says_so(garden: PageGarden) -> None:
    client = garden.client()
    assert "late" not in client.get("/").text
    garden.now += timedelta(hours=4)
    for path in ("/", "/do/handled"):
        page = client.get(path).text
        assert "BRING 4 trees into the shed now, as it was due 20:00" in text_of(page)
        assert re.search(r'class="(?:line|carry) danger late"', page)


def test_what_follows_a_work_is_done_with_one_press(garden: PageGarden) -> None:
    client = garden.client()
    home = client.get("/").text
    assert "Look under the bag Old Stump" in text_of(home)
    done = pressed(client, home, "Done: look under the bag, Old Stump").text
    assert "Noted for Old Stump: check bag on 23 April 2024." in text_of(done)
    assert "Look under the bag" not in text_of(done)
    assert "Look under the bag Old Stump" in text_of(pressed(client, done, "Take it back").text)


def test_nothing_ticked_notes_nothing(garden: PageGarden) -> None:
    client = garden.client()
    (job,), before = jobs(client), journal(garden)
    asked = post(client, "/do/handled", job=job, which="ticked")
    assert asked.status_code == 422
    assert "Tick what is done" in asked.text
    assert journal(garden) == before


def test_what_a_push_says_the_page_says_too(garden: PageGarden) -> None:
    page = text_of(garden.client().get("/do/handled").text)
    with garden.store() as store:
        (told,) = [r.message for r in store.messages.records(garden.now - DAY)]
    deeds, _, about = told.body.partition("\nBy ")
    for line in f"By {about}".splitlines()[:-1]:  # the last one credits the forecast
        assert line in page
    assert deeds.split(" (")[0] in page
    assert told.title.removesuffix(" (danger)") in page


def test_a_repot_tells_what_it_asks_and_gives_the_roots_a_limit(garden: PageGarden) -> None:
    client = garden.client()
    before = client.get("/tree/Lane").text
    assert "no colder than" not in text_of(before)
    post(client, "/do/did", tree="Lane", work="repot", roots="40 %")
    shown = text_of(client.get("/tree/Lane").text)
    assert "Noted for Lane: repot" in shown
    assert "Root ball no colder than" in shown.split("Still open")[1]
    post(client, "/do/undo")
    client.get("/do/")  # where the bar says so, once
    assert client.get("/tree/Lane").text == before


@pytest.mark.parametrize(
    ("path", "fields", "said"),
    [
        ("watered", {}, "Choose a tree first"),
        ("watered", {"tree": "Embre"}, "did you mean 'Ember'?"),
        ("moved", {"tree": "Ember", "spot": "shet"}, "did you mean 'shed'?"),
        ("seen", {"tree": "Heath", "stage": "leafing out"}, "Heath is never leafing out"),
        ("did", {"tree": "Ember", "work": ""}, "Choose the work first."),
        ("did", {"tree": "Ember", "work": "repot", "roots": "140"}, "from 0 to 100"),
        ("did", {"tree": "Ember", "work": "repot", "roots": "nan"}, "Roots nan: expected"),
        ("did", {"tree": "Ember", "work": "wire", "litres": "4"}, "go with work on roots"),
        ("did", {"tree": "Ember", "work": "wire", "day": "2024-04-24"}, "has yet to come"),
        ("did", {"tree": "Ember", "work": "wire", "day": "soon"}, "expected a day like"),
        ("did", {"tree": "Ember", "work": "divide", "new_name": "Lane"}, "that name already"),
        ("outcome", {"tree": "Ember", "fate": "glad"}, "no outcome called"),
    ],
)
def test_a_slip_is_said_and_what_was_typed_is_kept(
    garden: PageGarden, path: str, fields: dict[str, str], said: str
) -> None:
    client, before = garden.client(), journal(garden)
    done = post(client, f"/do/{path}", **fields)
    assert done.status_code == 422
    fault = re.search(r'role="alert">([^<]+)', done.text)
    assert fault
    assert said in fault[1].replace("&#39;", "'")
    assert "--" not in fault[1]  # no option of the command line
    for name in ("roots", "day", "litres", "new_name"):
        assert f'name="{name}"' in done.text
        if name in fields:
            assert f'value="{fields[name]}"' in done.text
    assert journal(garden) == before


@pytest.mark.parametrize("path", ["handled", "watered", "moved", "seen", "did", "outcome", "undo"])
def test_a_form_without_its_token_does_nothing(garden: PageGarden, path: str) -> None:
    client, before = garden.client(), journal(garden)
    token(client)
    assert client.post(f"/do/{path}", data={"tree": "Ember", "spot": "shed"}).status_code == 400
    assert journal(garden) == before


def test_a_note_is_taken_back_while_nothing_else_was_noted_of_its_trees(
    garden: PageGarden,
) -> None:
    client, numbers = garden.client(), []
    for names in ("Ember", "Lane", "Lane"):
        post(client, "/do/watered", tree=names)
        with garden.store() as store:
            numbers.append(store.notes.latest()[0].id)
    post(client, "/do/undo", note=numbers[1])
    assert "Something else was noted of its trees since" in client.get("/do/").text
    post(client, "/do/undo", note=numbers[0])
    assert [e.tree for e in journal(garden) if isinstance(e, Watering)] == ["Lane", "Lane"]


def test_a_form_goes_back_to_where_it_came_from_and_nowhere_else(garden: PageGarden) -> None:
    client = garden.client()
    assert post(client, "/do/watered", tree="Ember", to="/trees?spot=shed").location == (
        "/trees?spot=shed"
    )
    assert post(client, "/do/watered", tree="Ember", to="//elsewhere.example/").location == "/"
