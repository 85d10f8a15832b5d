"""The page in Debian's Chromium on a phone's screen: by day and in the dark, by keyboard, without
scripts. It is checked by axe-core (WCAG 2.2) if that is installed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from browsing import NARROW, SCREEN, as_phone, misfits, press, show, shows, words
from page_garden import EVENING, PASSWORD, PageGarden
from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from underbench.rules.garden.journal import Move

PAGES = (
    "/",
    "/trees",
    "/tree/Ember",
    "/tree/Old%20Stump",
    "/told",
    "/tree/Nobody",
    "/do/",
    "/bench/top%20bench",
    "/do/tree/Ember",
    "/do/handled",
    "/do/reading",
    "/edit/tree/Ember",
    "/edit/spot/",
    "/more",
    "/sheet",
    "/tune/limits/Ember",
    "/tune/limits/",
    "/tune/stand_in/",
    "/tune/hands_on",
    "/tune/links",
    "/tune/pushes",
    "/parting/Ember",
    "/photograph/Ember",
    "/plan/windows/Ember",
    "/plan/whatif/Ember?work=chop",
    "/plan/winter",
    "/plan/seasons",
    "/species?name=Acer%20palmatum",
)


def by_keyboard(phone: Chrome, least: str) -> None:
    """Go by the tab key to the link or button with these words, and press enter."""
    for _ in range(60):
        ActionChains(phone).send_keys(Keys.TAB).perform()
        here = "const e = document.activeElement; return e.matches('a, button') ? e.innerText : ''"
        if least in phone.execute_script(here):
            phone.switch_to.active_element.send_keys(Keys.ENTER)
            return
    raise AssertionError(f"{least} is not reached by the keyboard")


def test_no_script_runs_in_that_browser(phone: Chrome) -> None:
    phone.get("data:text/html,<p>as sent<script>document.body.textContent = 'run'</script>")
    assert words(phone) == "as sent"


@pytest.mark.usefixtures("own")
def test_a_tree_is_reached_and_a_job_is_done_by_the_keyboard_alone(
    phone: Chrome, garden_url: str
) -> None:
    phone.get(f"{garden_url}/trees")
    by_keyboard(phone, "Needle")
    assert shows(phone, "Juniperus chinensis, 5.0 L pot, south wall")
    assert phone.current_url == f"{garden_url}/tree/Needle"
    phone.get(garden_url)
    by_keyboard(phone, "BRING")
    assert shows(phone, "Into the shed")
    by_keyboard(phone, "Done: all but")
    assert shows(phone, "Noted:")


def test_trees_of_a_filtered_list_are_ticked_and_moved_together(
    phone: Chrome, own: PageGarden, garden_url: str
) -> None:
    phone.get(f"{garden_url}/trees")
    Select(phone.find_element(By.NAME, "spot")).select_by_visible_text("south wall")
    press(phone, "Show")
    assert shows(phone, "2 of 7 trees")
    for name in ("Needle", "Wisp & Co"):
        phone.find_element(By.CSS_SELECTOR, f"input[value='{name}']").send_keys(Keys.SPACE)
    press(phone, "Note something for those ticked")
    press(phone, "shed")
    assert shows(phone, "Wisp & Co and Needle moved to shed.")
    with own.store() as store:
        moves = [entry for entry in store.journal.entries() if isinstance(entry, Move)]
    assert {(move.tree, move.spot) for move in moves} == {("Needle", "shed"), ("Wisp & Co", "shed")}


def test_the_gate_wrong_then_right(phone: Chrome, own: PageGarden, garden_url: str) -> None:
    own.lock()
    phone.get(f"{garden_url}/tree/Ember")
    for password, shown in (("not this one", "That is not the password."), (PASSWORD, "Ember")):
        phone.find_element(By.NAME, "password").send_keys(password, Keys.ENTER)
        assert shows(phone, shown)
    assert phone.current_url == f"{garden_url}/tree/Ember"


def test_a_link_from_another_site_lets_a_guest_in_to_look(
    phone: Chrome, own: PageGarden, garden_url: str
) -> None:
    own.lock()
    with own.store() as store:
        key = store.guests.invite("Robin", EVENING)
    phone.get(f"data:text/html,<a href='{garden_url}/come-in/{key}'>from Orchard End</a>")
    phone.find_element(By.TAG_NAME, "a").click()
    assert shows(phone, "Tonight")
    assert phone.current_url == f"{garden_url}/"
    buttons = phone.find_elements(By.TAG_NAME, "button")
    assert [one.text for one in buttons] == ["Leave"]


def test_the_charts_picture_and_the_trees_are_drawn(scripted: Chrome, garden_url: str) -> None:
    scripted.get(f"{garden_url}/tree/Ember")
    drawn = scripted.execute_async_script(
        "const done = arguments[0], i = document.querySelector('.chart img');"
        "i.decode().then(() => done(i.naturalWidth), () => done(0));"
    )
    assert drawn > 0
    assert not [one for one in scripted.get_log("browser") if "Content Security" in one["message"]]


def test_every_page_fits_a_narrow_phone_and_is_for_everybody(
    scripted: Chrome, own: PageGarden, garden_url: str
) -> None:
    scripted.get(garden_url)
    with_axe(scripted)
    client, faults = own.client(), {}
    for path in PAGES:
        page = client.get(path).text
        assert "Something went wrong" not in page
        show(scripted, page)
        found = []
        for dark in (False, True):
            as_phone(scripted, dark=dark, width=NARROW, height=SCREEN)
            found += misfits(scripted, *[0] * (path == "/sheet"))  # the sheet is for paper
            # Of what axe-core looks for, darkness changes colours only.
            found += broken(scripted, *["color-contrast"] * dark)
        if found:
            faults[path] = found
    assert faults == {}


def with_axe(scripted: Chrome) -> None:
    """Bring axe-core into the page if it is installed."""
    if axe := os.environ.get("AXE_CORE"):
        scripted.execute_script(Path(axe).read_text(encoding="utf-8"))


def broken(scripted: Chrome, *rules: str) -> list[str]:
    """What breaks axe-core's rules (all, if none is named); nothing if it is not in the page."""
    found = scripted.execute_async_script(
        "const [rules, done] = arguments; if (!window.axe) return done([]);"
        "axe.run(rules.length ? {runOnly: rules} : {}).then(r => done(r.violations.map("
        "v => v.id + ': ' + v.nodes.map(n => n.html + n.failureSummary).join(' | '))));",
        rules,
    )
    return [str(one) for one in found]


@pytest.mark.skipif("AXE_CORE" not in os.environ, reason="no axe-core here (npm gets it)")
def test_axe_finds_what_is_wrong_in_a_page_shown_in_place_of_another(scripted: Chrome) -> None:
    scripted.get("data:text/html,before")
    with_axe(scripted)
    style = "<link rel=stylesheet href='data:text/css,p{color:%23ddd;background:white}'>"
    show(scripted, f"{style}<img src=x><p>faint</p>")
    found = " ".join(broken(scripted))
    assert "image-alt" in found
    assert "color-contrast" in found
    (only,) = broken(scripted, "color-contrast")
    assert only.startswith("color-contrast")
