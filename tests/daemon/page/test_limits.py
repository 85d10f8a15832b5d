"""The keeper's own limits from the page, and what other values would have brought."""

from __future__ import annotations

import threading
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from browsing import Finger, as_phone, shows
from page_garden import PageGarden, change, in_file, token
from selenium.webdriver import Chrome, Keys

from underbench.daemon.faults import Fault
from underbench.daemon.page import trials
from underbench.daemon.page.context import EXTENSION
from underbench.daemon.page.trials import tuned_apart
from underbench.daemon.rehearsal.tune import Outcome, Tuning
from underbench.daemon.rehearsal.tuned_names import Meant
from underbench.daemon.rehearsal.tuning_report import tuning_json

FIRST, LAST = datetime(2022, 11, 1, tzinfo=UTC), datetime(2024, 4, 1, tzinfo=UTC)
TRIED = Tuning(
    Meant("Ember", "tree", frozenset({"Ember"})),
    "leaf_frost_c",
    -2.5,
    (Outcome(-3.0, 2, 1, 3), Outcome(-2.5, 4, 1, 1), Outcome(-2.0, 6, 3, 1)),
)


@pytest.fixture(autouse=True)
def trying(own: PageGarden) -> Iterator[None]:
    """The page tries other values as told here, not in weather of the archive."""
    deps = own.app.extensions[EXTENSION]
    own.app.extensions[EXTENSION] = replace(deps, trial=tried)
    yield
    own.app.extensions[EXTENSION] = deps


def tried(name: str, limit: str) -> str:
    if limit == "gust_ms":
        raise Fault("the weather archive did not answer")
    planned = SimpleNamespace(moments=[FIRST, LAST], series=SimpleNamespace(name="known weather"))
    return tuning_json(TRIED, cast(Any, planned))


def waited() -> None:
    """Wait for the trials that run."""
    for thread in threading.enumerate():
        if thread.name == "trial":
            thread.join()


def test_a_limit_of_one_tree_is_written_below_it_and_holds_at_once(own: PageGarden) -> None:
    client = own.client()
    assert "frost on leaves</th><td>−1.8 °C" in client.get("/tree/Ember").text
    done = change(client, "/tune/limits/Ember", leaf_frost_c="-1,2")
    assert (done.status_code, done.location) == (303, "/tree/Ember")
    # The repot makes it 0.7 K tenderer, whoever set the limit (from −2.5 °C before).
    assert "frost on leaves</th><td>−0.5 °C" in client.get("/tree/Ember").text
    assert [tree.get("limits") for tree in in_file(own)["tree"][:2]] == [
        {"leaf_frost_c": -1.2},
        None,
    ]
    change(client, "/tune/limits/Ember", root_frost_c="-2", leaf_frost_c="")
    assert in_file(own)["tree"][0]["limits"] == {"root_frost_c": -2}


def test_a_limit_out_of_reach_is_refused_at_its_field(own: PageGarden) -> None:
    client, before = own.client(), own.config.read_text(encoding="utf-8")
    refused = change(client, "/tune/limits/Ember", leaf_frost_c="28")
    assert refused.status_code == 422
    assert "expected 5 or less" in refused.text.split('id="w-leaf_frost_c">')[1].split("<")[0]
    assert 'value="28"' in refused.text
    assert own.config.read_text(encoding="utf-8") == before


def test_limits_of_a_species_and_of_a_spot_hold_for_their_trees(own: PageGarden) -> None:
    client = own.client()
    listed = client.get("/tune/limits/").text
    assert "Acer palmatum" in listed
    assert "top bench" in listed
    of_species = change(client, "/tune/limits/Acer palmatum", leaf_frost_c="-1", act_from="0.2")
    assert (of_species.status_code, of_species.location) == (303, "/tune/limits/")
    assert change(client, "/tune/limits/top bench", root_frost_c="-4").status_code == 303
    assert in_file(own)["limits"] == {
        "species": {"Acer palmatum": {"leaf_frost_c": -1, "act_from": 0.2}},
        "spot": {"top bench": {"root_frost_c": -4}},
    }
    assert 'value="-1"' in client.get("/tune/limits/Acer palmatum").text
    # The repot makes it 0.7 K tenderer; the pine there has no such work.
    assert "frost on leaves</th><td>−0.3 °C" in client.get("/tree/Ember").text
    assert "−4.0 °C" in client.get("/tree/Heath").text


def test_a_species_keeps_the_name_that_it_has_in_the_file(own: PageGarden) -> None:
    text = own.config.read_text(encoding="utf-8")
    held = '[limits.species."Japanese maple"]\nleaf_frost_c = -2 # soft\n'
    own.config.write_text(text + held, encoding="utf-8")
    client = own.client()
    assert 'value="-2"' in client.get("/tune/limits/Acer palmatum").text
    assert change(client, "/tune/limits/Acer palmatum", leaf_frost_c="-1.5").status_code == 303
    assert in_file(own)["limits"]["species"] == {"Japanese maple": {"leaf_frost_c": -1.5}}
    assert "# soft" in own.config.read_text(encoding="utf-8")


def test_limits_written_in_one_line_are_left_to_the_keeper(own: PageGarden) -> None:
    text = own.config.read_text(encoding="utf-8")
    own.config.write_text(text + "[limits]\nspecies = {}\n", encoding="utf-8")
    refused = change(own.client(), "/tune/limits/Acer palmatum", leaf_frost_c="-1")
    assert refused.status_code == 422
    assert "change it by hand" in refused.text


def test_other_values_are_tried_beside_the_page_and_the_answer_stays(own: PageGarden) -> None:
    client, may_end = own.client(), threading.Event()

    def slowly(name: str, limit: str) -> str:
        may_end.wait()
        return tried(name, limit)

    deps = own.app.extensions[EXTENSION]
    own.app.extensions[EXTENSION] = replace(deps, trial=slowly)
    sent = {"csrf": token(client), "try": "yes", "limit": "leaf_frost_c"}
    assert client.post("/tune/limits/Ember", data=sent).status_code == 303
    assert "Tried since 17:10" in client.get("/tune/limits/Ember").text
    may_end.set()
    waited()
    page = client.get("/tune/limits/Ember").text
    assert "<b>−3 °C</b>: 2 messages fewer, 2 harmed nights more" in page
    assert "<b>−2 °C</b>: 2 messages more, 2 carries more" in page
    assert "carries: <b>−2.5 °C</b>" in page
    drawn = client.get("/tune/limits/chart/leaf_frost_c/Ember.svg")
    assert drawn.mimetype == "image/svg+xml"
    assert drawn.text.count('class="today"') == 3
    assert client.get("/tune/limits/chart/gust_ms/Ember.svg").status_code == 404
    assert "limits" not in in_file(own)["tree"][0]


def test_a_trial_that_fails_says_why(own: PageGarden) -> None:
    client = own.client()
    sent = {"csrf": token(client), "try": "yes", "limit": "gust_ms"}
    client.post("/tune/limits/Heath", data=sent)
    waited()
    assert "The last trial gave nothing: the weather archive" in (
        client.get("/tune/limits/Heath").text
    )
    assert client.post("/tune/limits/Heath", data={**sent, "limit": "x"}).status_code == 404


def test_a_trial_apart_runs_the_command_and_says_what_is_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not at the lowest priority: it would wait for all other tests."""
    monkeypatch.setattr(trials, "COMMAND", trials.COMMAND.replace("os.nice(19)", "os.nice(0)"))
    with pytest.raises(Fault, match="no such file"):
        tuned_apart(tmp_path / "garden.toml", "Ember", "")


def test_a_limit_is_tuned_in_six_taps(phone: Chrome, own: PageGarden, garden_url: str) -> None:
    """From the first screen; what it would bring is tried before."""
    as_phone(phone, width=360)
    phone.get(garden_url)
    finger = Finger(phone)
    finger.tap("nav a", "Trees")
    finger.tap(".list a[href$=Ember]")
    finger.tap(".ways a", "Limits of its own")
    finger.tap("button[name=try]")
    assert shows(phone, "are being tried")
    waited()
    phone.refresh()
    assert shows(phone, "2 messages fewer, 2 harmed nights more")
    assert phone.execute_script("return document.documentElement.scrollWidth") <= 360
    finger.tap("[name=leaf_frost_c]")
    phone.switch_to.active_element.send_keys("-3", Keys.ENTER)  # the keyboard's own key: no tap
    assert shows(phone, "The limits of Ember are changed.")
    assert finger.taps <= 6
    assert tomllib.loads(own.config.read_text("utf-8"))["tree"][0]["limits"] == {"leaf_frost_c": -3}
