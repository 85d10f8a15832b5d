"""What is shared: a stand-in's link, the sheet, the data. And the file changed by form."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from commanding import Garden, fails
from flask.testing import FlaskClient
from page_garden import EVENING, PASSWORD, PageGarden, token

from underbench.daemon.alerts.links import link
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.wording.json_form import SCHEMA
from underbench.rules.garden.journal import Watering
from underbench.rules.plants.likeness import LIKENESSES

ADDRESS = "https://orchard-end.example"
PAGE = f'\n[page]\naddress = "{ADDRESS}"\n'


@pytest.fixture
def garden_page(own: PageGarden) -> PageGarden:
    return own


# A link for the stand-in


def invited(garden: PageGarden, name: str = "Robin") -> tuple[FlaskClient, str]:
    with garden.store() as store:
        key = store.guests.invite(name, EVENING)
    client = garden.client()
    assert client.get(f"/come-in/{key}").status_code == 200
    return client, key


def test_a_guest_looks_at_everything_and_changes_nothing(garden_page: PageGarden) -> None:
    garden_page.lock()
    assert garden_page.client().get("/").status_code == 303
    guest, _ = invited(garden_page)
    for path in ("/", "/trees", "/tree/Ember", "/told", "/do/handled", "/sheet", "/more"):
        shown = guest.get(path)
        assert shown.status_code == 200, path
        assert 'action="/do/' not in shown.text
        assert "/edit/" not in shown.text
    for path in ("/do/", "/do/tree/Ember", "/edit/tree/Ember", "/export.json"):
        assert guest.get(path).status_code == 403, path
    for path in ("/do/watered", "/do/undo", "/edit/tree/", "/do/handled"):
        asked = guest.post(path, data={"csrf": token(guest), "tree": "Ember"})
        assert asked.status_code == 403, path
    with garden_page.store() as store:
        assert not [entry for entry in store.journal.entries() if isinstance(entry, Watering)]


def test_the_token_stays_neither_in_the_address_nor_in_the_store(garden_page: PageGarden) -> None:
    garden_page.lock()
    with garden_page.store() as store:
        key = store.guests.invite("Robin", EVENING)
        kept = [tuple(row.values()) for row in store.db.query("SELECT * FROM share")]
    assert key not in str(kept)
    client = garden_page.client()
    came = client.get(f"/come-in/{key}")
    assert re.search(r'http-equiv="refresh" content="0; url=/"', came.text)
    assert key not in came.text
    assert key not in str(came.headers)
    assert client.get("/").status_code == 200


def test_a_revoked_link_ends_what_was_opened_by_it(garden_page: PageGarden) -> None:
    garden_page.lock()
    robin, key = invited(garden_page)
    hale, _ = invited(garden_page, "Mrs Hale")
    with garden_page.store() as store:
        store.guests.revoke("robin", EVENING)
    assert robin.get("/").status_code == 303
    assert garden_page.client().get(f"/come-in/{key}").status_code == 404
    assert garden_page.client().get("/come-in/made-up").status_code == 404
    assert hale.get("/").status_code == 200


def test_the_keeper_who_opens_a_link_stays_the_keeper(garden_page: PageGarden) -> None:
    garden_page.lock()
    client = garden_page.client()
    client.post("/enter", data={"csrf": token(client), "password": PASSWORD})
    with garden_page.store() as store:
        key = store.guests.invite("Robin", EVENING)
    client.get(f"/come-in/{key}")
    done = client.post("/do/watered", data={"csrf": token(client), "tree": "Ember"})
    assert done.location == "/tree/Ember"


def test_a_guest_with_the_password_is_the_keeper(garden_page: PageGarden) -> None:
    garden_page.lock()
    client, _ = invited(garden_page)
    assert "You look as Robin" in client.get("/").text
    entered = client.post("/enter", data={"csrf": token(client), "password": PASSWORD})
    assert entered.status_code == 303
    done = client.post("/do/watered", data={"csrf": token(client), "tree": "Ember"})
    assert done.location == "/tree/Ember"


@pytest.mark.parametrize("locked", [False, True])
def test_a_guest_leaves(garden_page: PageGarden, locked: bool) -> None:
    if locked:
        garden_page.lock()
    guest, _ = invited(garden_page)
    assert guest.post("/leave", data={"csrf": token(guest)}).status_code == 303
    assert guest.get("/").status_code == (303 if locked else 200)
    done = guest.post("/do/watered", data={"csrf": token(guest), "tree": "Ember"})
    assert done.location == ("/enter" if locked else "/tree/Ember")


def test_a_guest_of_a_garden_without_a_password_changes_nothing_either(
    garden_page: PageGarden,
) -> None:
    guest, _ = invited(garden_page)
    asked = guest.post("/do/watered", data={"csrf": token(guest), "tree": "Ember"})
    assert asked.status_code == 403


def test_the_command_gives_lists_and_ends_links(garden: Garden) -> None:
    fails(garden.do("share", "Robin"), "page.address is not set")
    garden.write(garden.config.read_text(encoding="utf-8").split("\n[weather]")[0] + PAGE)
    fails(garden.do("share", "Robin"), "the page has no password")
    set_it = garden.do("page-password", typed=f"{PASSWORD}\n{PASSWORD}\n")
    assert set_it.exit_code == 0, set_it.output
    assert garden.do("share", "Robin").stdout.startswith(f"{ADDRESS}/come-in/")
    fails(garden.do("share", "robin"), "robin has a link already")
    fails(garden.do("share", "--revoke", "Wren"), "Wren has no link; these have: Robin")
    assert garden.do("share", "--revoke", "Robin").exit_code == 0
    assert garden.do("share", "Robin").exit_code == 0
    assert re.fullmatch(
        r"Robin: since [\d-]+, ended [\d-]+\nRobin: since [\d-]+\n",
        garden.do("share", "--list").stdout,
    )


# The file changed by form


def fields_of(page: str) -> dict[str, str]:
    """What a browser would send of an untouched form."""
    found = dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', page))
    for name, inside in re.findall(r'<select [^>]*name="(\w+)"[^>]*>(.*?)</select>', page):
        chosen = re.search(r"<option selected>([^<]+)", inside)
        found[name] = chosen[1] if chosen else ""
    for tick in ("tied", "dark"):
        if f'name="{tick}" value="yes" checked' not in page:
            found.pop(tick, None)
    return found


def test_a_form_sent_as_it_stands_changes_nothing(garden_page: PageGarden) -> None:
    client, before = garden_page.client(), garden_page.config.read_text(encoding="utf-8")
    for path in ("/edit/tree/Ember", "/edit/spot/top bench"):
        sent = client.post(path, data=fields_of(client.get(path).text))
        assert sent.status_code == 303, path
        assert garden_page.config.read_text(encoding="utf-8") == before


def test_a_tree_is_added_and_changed_by_form(garden_page: PageGarden) -> None:
    client = garden_page.client()
    fields = fields_of(client.get("/edit/tree/").text)
    fields |= {"name": "Quill", "species": "acer palmatum", "spot": "south wall", "litres": "2,5"}
    added = client.post("/edit/tree/", data=fields)
    assert added.location == "/tree/Quill"
    assert "2.5 L" in client.get("/tree/Quill").text
    fields = fields_of(client.get("/edit/tree/Quill").text) | {"litres": "4", "tied": "yes"}
    assert client.post("/edit/tree/Quill", data=fields).status_code == 303
    assert garden_page.config.read_text(encoding="utf-8").endswith(
        '[[tree]]\nname = "Quill"\nspecies = "acer palmatum"\nspot = "south wall"\nlitres = 4\n'
        "tied = true\n"
    )
    assert "Quill" in client.get("/trees").text


def test_a_species_that_is_not_known_is_likened_to_one_that_is(garden_page: PageGarden) -> None:
    """The choices are those of ``init``."""
    client = garden_page.client()
    blank = client.get("/edit/tree/").text
    for one in LIKENESSES:
        assert f'<option value="{one.hardiness}">{one.words}</option>' in blank
    fields = fields_of(blank)
    fields |= {"name": "Quill", "species": "Invented tree", "spot": "south wall", "litres": "4"}
    refused = client.post("/edit/tree/", data=fields)
    assert "hardiness" in refused.text.split('id="w-species">')[1].split("<")[0]
    added = client.post("/edit/tree/", data=fields | {"hardiness": LIKENESSES[0].hardiness})
    assert added.location == "/tree/Quill"


def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_stays(
    garden_page: PageGarden,
) -> None:
    client, before = garden_page.client(), garden_page.config.read_text(encoding="utf-8")
    fields = fields_of(client.get("/edit/tree/").text)
    fields |= {"name": "Quill", "species": "Acer palmatun", "spot": "shed", "litres": "a lot"}
    refused = client.post("/edit/tree/", data=fields)
    assert refused.status_code == 422
    assert "expected a number" in refused.text.split('id="w-litres">')[1].split("<")[0]
    assert "Acer palmatum" in refused.text.split('id="w-species">')[1].split("<")[0]
    assert fields_of(refused.text) == fields | {"csrf": fields_of(refused.text)["csrf"]}
    assert garden_page.config.read_text(encoding="utf-8") == before


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"litres": ""}, "litres", "give litres"),
        ({"species": ""}, "species", "missing"),
        ({"name": "Home"}, "name", "a meaning of its own"),
        ({"name": "all"}, "name", "a meaning of its own"),
        ({"name": "Em\u202ereb"}, "name", "U+202E"),
    ],
)
def test_a_slip_is_said_at_its_field_and_not_at_a_line(
    garden_page: PageGarden, typed: dict[str, str], field: str, said: str
) -> None:
    client = garden_page.client()
    fields = fields_of(client.get("/edit/tree/").text)
    fields |= {"name": "Quill", "species": "Acer palmatum", "spot": "shed", "litres": "4"} | typed
    refused = client.post("/edit/tree/", data=fields)
    assert refused.status_code == 422
    assert said in refused.text.split(f'id="w-{field}">')[1].split("<")[0]
    assert str(garden_page.config) not in refused.text


def test_a_form_shown_before_another_change_is_refused(garden_page: PageGarden) -> None:
    client = garden_page.client()
    fields = fields_of(client.get("/edit/tree/Ember").text)
    with garden_page.config.open("a", encoding="utf-8") as file:
        file.write("# by hand\n")
    refused = client.post("/edit/tree/Ember", data=fields | {"litres": "5"})
    assert refused.status_code == 422
    assert "has changed since it was shown" in refused.text


# The sheet and the data


def test_the_sheet_says_what_stands_where_and_what_is_tender(garden_page: PageGarden) -> None:
    page = garden_page.client().get("/sheet").text
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    for words in (
        "Ember, Lane, Heath, Thorn.",
        "Repot on 3 April 2024, root ball no colder than −0.7 °C, out of strong sun and wind: E",
        "In a dark bag, never in hot sun: Old Stump",
        "shed, room for 6",
        "PROTECT",
        "Call or write to:",
    ):
        assert words in text, words
    assert len(page) < 50_000


def test_the_sheet_is_written_as_one_file(garden: Garden, tmp_path: Path) -> None:
    done = garden.do("sheet", str(tmp_path / "sheet.html"))
    assert done.exit_code == 0, done.output
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "@page { size: A4" in page
    assert not re.search(r'(src|href)="', page)  # nothing else is needed to print it
    fails(garden.do("sheet", str(tmp_path / "nowhere" / "sheet.html")), "cannot be written")


def test_everything_is_exported_and_says_which_schema(garden: Garden) -> None:
    garden.do("watered", "Ember", "--on", "2024-04-13")
    held = json.loads(garden.do("export", "--json").stdout)
    assert held["schema"] == SCHEMA
    assert [tree["name"] for tree in held["trees"]] == ["Ember", "Heath"]
    assert [(e["tree"], e["kind"]) for e in held["journal"]] == [("Ember", "watering")]
    garden.do("undo")
    assert json.loads(garden.do("export", "--json").stdout)["journal"] == []
    assert garden.do("export").exit_code == 2


def test_whoever_asks_for_csv_is_told_what_there_is(garden: Garden) -> None:
    fails(garden.do("export", "--csv", "trees"), "underbench export --json has trees too")
    assert "--csv" not in garden.do("export", "--help").stdout


# Links in messages


@pytest.mark.parametrize(
    ("kind", "trees", "line"),
    [
        (Kind.ADVICE, (), f"The list to tick: {ADDRESS}/do/handled"),
        (Kind.REMINDER, ("Ember",), f"The list to tick: {ADDRESS}/do/handled"),
        (Kind.BACK, ("Wisp & Co",), f"Carried: {ADDRESS}/do/?tree=Wisp+%26+Co"),
        (Kind.OUTCOME, ("Ember",) * 9, f"Say: {ADDRESS}/do/"),
        (Kind.BLIND, (), ""),
    ],
)
def test_a_message_leads_to_where_it_is_answered(
    kind: Kind, trees: tuple[str, ...], line: str
) -> None:
    assert link(ADDRESS, kind, trees) == line
    assert link(None, kind, trees) == ""


def test_advice_carries_the_link_where_the_page_has_an_address(garden: Garden) -> None:
    assert "to tick: " not in str(garden.seen_at())
    garden.write(garden.config.read_text(encoding="utf-8").split("\n[weather]")[0] + PAGE)
    assert f"The list to tick: {ADDRESS}/do/handled" in str(garden.seen_at())
