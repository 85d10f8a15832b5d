"""A tree is renamed, given away, or dead: the file and all that is kept of it agree."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient
from page_forms import pressed
from page_garden import EVENING, PageGarden, in_file, token

from underbench.daemon.journal import garden_edit
from underbench.daemon.store.photographs import Photographs
from underbench.rules.garden.journal import Outcome, Work
from underbench.rules.garden.works import WorkKind

TOPIC = """
[readings.mqtt]
host = "broker.example"

[[readings.mqtt.topics]]
topic = "garden/ember"
quantity = "root-ball"
tree = "Ember"

# The last tree has limits of its own.
[[tree]]
name = "Quill"
species = "Acer palmatum"
litres = 3
spot = "top bench"

[tree.limits]
leaf_frost_c = -2 # seen

# where it is kept
"""

JPEG = b"\xff\xd8\xff\xda\0\3\1\x12\xff\xd9"  # the shortest that is taken


@pytest.fixture(autouse=True)
def more(own: PageGarden) -> None:
    """A topic that names a tree, and a tree with limits of its own as the last in the file."""
    text = own.config.read_text(encoding="utf-8")
    own.config.write_text(text + TOPIC, encoding="utf-8")


def part(own: PageGarden, client: FlaskClient, tree: str, deed: str, name: str = "") -> Any:
    sent = {"csrf": token(client), "seen": garden_edit.seen(own.config)}
    return client.post(f"/parting/{tree}", data={**sent, "deed": deed, "name": name})


def take_back(client: FlaskClient) -> str:
    """Press the button that takes back what was noted last; return the page after it."""
    return client.post("/do/undo", data={"csrf": token(client)}, follow_redirects=True).text


def kept_under(own: PageGarden, name: str) -> list[int]:
    """How many rows of each table are of a tree."""
    with own.store() as store:
        tables = ("journal", "episode", "checkpoint")
        count = "SELECT count(*) AS n FROM {} WHERE tree = ?"
        return [next(store.db.query(count.format(one), [name]))["n"] for one in tables]


def test_another_name_goes_with_all_that_is_kept(own: PageGarden) -> None:
    client, before = own.client(), kept_under(own, "Ember")
    limits = client.get("/tree/Ember").text.partition('class="limits"')[2].partition("</table>")[0]
    assert all(before)
    done = part(own, client, "ember", "rename", "Lantern")
    assert (done.status_code, done.location) == (303, "/tree/Lantern")
    page = client.get("/tree/Lantern").text
    assert page.partition('class="limits"')[2].partition("</table>")[0] == limits
    assert "repot, 30 % of roots" in page
    assert (kept_under(own, "Ember"), kept_under(own, "Lantern")) == ([0, 0, 0], before)
    assert client.get("/tree/Ember").status_code == 404
    assert "Lantern" in client.get("/").text
    held = in_file(own)
    assert next(tree["name"] for tree in held["tree"]) == "Lantern"
    assert held["readings"]["mqtt"]["topics"][0]["tree"] == "Lantern"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Heath", "a tree of that name already"),
        ("home", "choose another name"),
        ("", "Give it a name"),
        ("Old Flame", "an earlier tree had that name"),
    ],
)
def test_a_name_that_cannot_be_changes_nothing(own: PageGarden, name: str, words: str) -> None:
    client, before = own.client(), in_file(own)
    with own.store() as store:
        store.journal.add([Work(tree="Old Flame", at=EVENING, work=WorkKind.WIRE)])
    kept = kept_under(own, "Ember")
    refused = part(own, client, "Ember", "rename", name)
    assert refused.status_code == 422
    assert words in refused.text
    assert (in_file(own), kept_under(own, "Ember")) == (before, kept)


def test_a_file_that_changed_meanwhile_keeps_the_old_name_everywhere(own: PageGarden) -> None:
    client, kept = own.client(), kept_under(own, "Ember")
    sent = {"csrf": token(client), "seen": "as it was", "deed": "rename", "name": "Lantern"}
    assert "has changed since" in client.post("/parting/Ember", data=sent).text
    assert kept_under(own, "Ember") == kept


def test_a_tree_given_away_leaves_its_name_free(own: PageGarden) -> None:
    client, kept = own.client(), kept_under(own, "Ember")
    done = part(own, client, "Ember", "left")
    assert (done.status_code, done.location) == (303, "/trees")
    assert client.get("/tree/Ember").status_code == 404
    assert "Ember" not in [tree["name"] for tree in in_file(own)["tree"]]
    assert kept_under(own, "Ember") == [0, 0, 0]
    assert kept_under(own, "Ember (out 2024-04-23)") == kept
    own.look_ahead()  # a pass without it


def test_the_last_tree_goes_with_its_own_limits_and_the_rest_stays(own: PageGarden) -> None:
    before = own.config.read_text(encoding="utf-8")
    client = own.client()
    assert part(own, client, "Quill", "dead").status_code == 303
    text = own.config.read_text(encoding="utf-8")
    assert "# where it is kept" in text
    assert "leaf_frost_c" not in text
    assert text.startswith(before.partition('[[tree]]\nname = "Quill"')[0])
    with own.store() as store:
        (fate,) = (one for one in store.journal.entries() if one.tree.startswith("Quill"))
    assert fate.model_dump()["fate"] == "lost"


def test_a_tree_that_a_work_made_does_not_come_back(own: PageGarden) -> None:
    ember = own.settings.trees[0]
    young = ember.model_copy(update={"name": "Cutting", "parent": "Ember"})
    with own.store() as store:
        severed = WorkKind.SEVER_LAYER
        store.journal.add([Work(tree="Ember", at=EVENING, work=severed, makes=young)])
    client = own.client()
    assert client.get("/tree/Cutting").status_code == 200
    assert part(own, client, "Cutting", "left").status_code == 303
    listed = client.get("/trees").text
    assert "Cutting" not in listed.partition("<main")[2].partition('class="list')[2]
    own.look_ahead()


@pytest.mark.parametrize(
    ("deed", "name", "path"),
    [
        ("rename", "Lantern", "/tree/Lantern"),
        ("left", "", "/trees"),
        ("dead", "", "/trees"),
    ],
)
def test_each_is_taken_back_with_one_press(
    own: PageGarden, deed: str, name: str, path: str
) -> None:
    photographs = Photographs(own.settings.store_path)
    photographs.keep("Ember", JPEG)
    client, before, kept = own.client(), own.config.read_bytes(), kept_under(own, "Ember")
    page = client.get("/tree/Ember").text
    with own.store() as store:
        open_jobs = store.episodes.since(EVENING)
    part(own, client, "Ember", deed, name)
    assert 'class="undo"' in client.get(path).text
    assert own.config.read_bytes() != before
    assert photographs.of("Ember") is None
    assert "Taken back: Ember " in take_back(client)
    assert own.config.read_bytes() == before
    assert client.get("/tree/Ember").text == page
    assert "photograph/of/Ember" in page
    assert "Ember" in client.get("/").text
    with own.store() as store:
        assert store.episodes.since(EVENING) == open_jobs
        assert not [one for one in store.journal.entries() if isinstance(one, Outcome)]
    assert kept_under(own, "Ember")[1:] == kept[1:]
    own.look_ahead()
    photographs.remove("Ember")  # other tests have the folder too


def test_what_was_noted_since_follows_the_tree_back(own: PageGarden) -> None:
    client = own.client()
    part(own, client, "Ember", "rename", "Lantern")
    with own.store() as store:
        store.journal.add([Work(tree="Lantern", at=EVENING, work=WorkKind.WIRE)])
    assert "Taken back: Ember called Lantern." in take_back(client)
    with own.store() as store:
        assert [one.tree for one in store.journal.entries()][-1] == "Ember"


def test_a_file_changed_since_keeps_what_was_done_and_says_so(own: PageGarden) -> None:
    client = own.client()
    part(own, client, "Ember", "left")
    text = own.config.read_text(encoding="utf-8").replace("litres = 9", "litres = 8")
    own.config.write_text(text, encoding="utf-8")
    said = take_back(client)
    assert "The garden&#39;s file: has been changed since, so nothing was taken back" in said
    assert own.config.read_text(encoding="utf-8") == text
    assert kept_under(own, "Ember") == [0, 0, 0]


def test_a_name_that_another_tree_has_by_now_is_not_given_back(own: PageGarden) -> None:
    client = own.client()
    part(own, client, "Ember", "rename", "Lantern")
    young = own.settings.trees[1].model_copy(update={"name": "Ember", "parent": "Lane"})
    with own.store() as store:
        severed = WorkKind.SEVER_LAYER
        store.journal.add([Work(tree="Lane", at=EVENING, work=severed, makes=young)])
    assert "another tree is called Ember now" in take_back(client)
    assert "Lantern" in [tree["name"] for tree in in_file(own)["tree"]]


def test_a_guest_parts_with_nothing(own: PageGarden) -> None:
    own.lock()
    with own.store() as store:
        key = store.guests.invite("Robin", EVENING)
    guest = own.client()
    guest.get(f"/come-in/{key}")
    assert guest.get("/parting/Ember").status_code == 403
    assert part(own, guest, "Ember", "left").status_code in (400, 403)
    assert "Ember" in [tree["name"] for tree in in_file(own)["tree"]]


@pytest.mark.parametrize(
    ("button", "typed", "path", "said", "lost"),
    [
        ("Call it so", {"name": "Thistle"}, "/tree/Thistle", "is now called Thistle", False),
        ("It was given away or sold", {}, "/trees", "Needle has left the garden", False),
        ("It is dead", {}, "/trees", "Needle has left the garden", True),
    ],
)
def test_each_is_a_form_that_its_page_links(
    own: PageGarden, button: str, typed: dict[str, str], path: str, said: str, lost: bool
) -> None:
    client = own.client()
    assert 'href="/parting/Needle"' in client.get("/tree/Needle").text
    shown = pressed(client, client.get("/parting/Needle").text, button, **typed)
    assert shown.request.path == path
    assert said in shown.text
    with own.store() as store:
        assert any(isinstance(one, Outcome) for one in store.journal.entries()) == lost
