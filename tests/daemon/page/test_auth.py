"""Who gets into the page: hosts, the password, guesses, sessions, forms, headers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import requests
from click.testing import CliRunner
from flask.testing import FlaskClient
from page_garden import DAY, EVENING, PASSWORD, PageGarden, served, token, written

from underbench.daemon.commands.cli import main
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.faults import Fault
from underbench.daemon.page.guess_limit import FREE, FREE_IN_ALL, Guesses
from underbench.daemon.page.serve import refuse_open_door
from underbench.daemon.store.store import Store
from underbench.rules.weather.hourly import Weather

SECOND = timedelta(seconds=1)
MEAN = "<i x>&'"
TREES = (("Ember", "Acer palmatum", 4, "top bench"), (MEAN, "Acer palmatum", 4, "top bench"))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, spring: Weather, sky: Any) -> PageGarden:
    folder = tmp_path_factory.mktemp("page")
    return PageGarden(folder, sky(spring), written(TREES, '\n[page]\nhosts = ["trees.example"]\n'))


@pytest.fixture
def open_page(made: PageGarden) -> Iterator[PageGarden]:
    """A page without a password."""
    with made.store() as store:
        store.db.execute("DELETE FROM page WHERE name = 'password'")
        store.db.conn.commit()
    made.now = EVENING
    made.app.extensions["guesses"] = Guesses()
    return made


@pytest.fixture
def locked(open_page: PageGarden) -> PageGarden:
    open_page.lock()
    return open_page


def enter(visitor: FlaskClient, password: str, address: str = "127.0.0.1", to: str = "/") -> Any:
    sent = {"csrf": token(visitor), "password": password, "to": to}
    return visitor.post("/enter", data=sent, environ_base={"REMOTE_ADDR": address})


def test_without_a_password_the_loopback_is_open_and_forms_are_still_checked(
    open_page: PageGarden,
) -> None:
    visitor = open_page.client()
    assert visitor.get("/").status_code == 200
    assert visitor.post("/leave").status_code == 400
    assert visitor.post("/leave", data={"csrf": token(visitor)}).status_code == 303


@pytest.mark.parametrize("path", ["/", "/trees", "/tree/Ember", "/chart/Ember.svg", "/told"])
def test_with_a_password_nothing_is_shown_before_it(locked: PageGarden, path: str) -> None:
    answer = locked.client().get(path)
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/enter")
    assert b"Ember" not in answer.data.replace(b"/tree/Ember", b"").replace(b"Ember.svg", b"")


def test_the_right_password_leads_to_where_one_was_going(locked: PageGarden) -> None:
    visitor = locked.client()
    assert enter(visitor, "a wrong guess").status_code == 403
    answer = enter(visitor, PASSWORD, to="/tree/Ember")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/tree/Ember")
    assert visitor.get("/tree/Ember").status_code == 200


@pytest.mark.parametrize("to", ["https://evil.example/", "//evil.example", "/\\evil.example", "x"])
def test_it_never_leads_to_another_site(locked: PageGarden, to: str) -> None:
    assert enter(locked.client(), PASSWORD, to=to).headers["Location"] == "/"


def test_a_session_ends_by_leaving_by_time_and_by_a_new_password(locked: PageGarden) -> None:
    visitor = locked.client()
    enter(visitor, PASSWORD)
    locked.now = EVENING + 29 * DAY
    assert visitor.get("/told").status_code == 200
    locked.now = EVENING + 31 * DAY
    assert visitor.get("/told").status_code == 303
    locked.now = EVENING
    assert visitor.get("/told").status_code == 200
    visitor.post("/leave", data={"csrf": token(visitor)})
    assert visitor.get("/told").status_code == 303
    enter(visitor, PASSWORD)
    locked.lock()  # the same password set anew has another salt
    assert visitor.get("/told").status_code == 303


def test_a_session_made_up_or_changed_is_none(locked: PageGarden) -> None:
    visitor = locked.client()
    enter(visitor, PASSWORD)
    cookie = visitor.get_cookie("underbench")
    assert cookie is not None
    other = locked.client()
    other.set_cookie("underbench", cookie.value[:-2] + "xx")
    assert other.get("/").status_code == 303
    other.set_cookie("underbench", cookie.value)
    assert other.get("/").status_code == 200


def test_the_cookie_is_out_of_reach_of_scripts_other_sites_and_plain_http(
    locked: PageGarden,
) -> None:
    plain = locked.client().get("/enter").headers["Set-Cookie"]
    assert "HttpOnly" in plain
    assert "SameSite=Strict" in plain
    assert "Secure" not in plain
    over_tls = locked.client().get("/enter", base_url="https://trees.example").headers["Set-Cookie"]
    assert "Secure" in over_tls


def test_guesses_are_few_and_the_right_password_waits_too(locked: PageGarden) -> None:
    visitor = locked.client()
    for _ in range(FREE):
        assert enter(visitor, "wrong wrong").status_code == 403
    answer = enter(visitor, PASSWORD)
    assert answer.status_code == 429
    wait_s = int(answer.headers["Retry-After"])
    assert wait_s > 0
    assert enter(visitor, PASSWORD, address="192.0.2.7").status_code == 303
    locked.now += wait_s * SECOND
    assert enter(visitor, PASSWORD).status_code == 303


def test_each_guess_beyond_costs_twice_the_wait() -> None:
    guesses, now, waits = Guesses(), EVENING, []
    for _ in range(FREE + 4):
        wait = guesses.wait("192.0.2.1", now)
        if wait:
            waits.append(wait)
            now += wait
            assert guesses.wait("192.0.2.1", now) == timedelta(0)
    assert all(later == 2 * earlier for earlier, later in pairwise(waits))


def test_many_addresses_together_are_limited_too() -> None:
    guesses = Guesses()
    let = sum(not guesses.wait(f"192.0.2.{n}", EVENING) for n in range(200))
    assert let == FREE_IN_ALL
    assert not guesses.wait("198.51.100.1", EVENING + timedelta(hours=1, seconds=1))


def test_guesses_from_elsewhere_make_a_known_device_wait_no_moment(locked: PageGarden) -> None:
    keeper, stranger = locked.client(), locked.client()
    assert enter(keeper, PASSWORD).status_code == 303
    keeper.post("/leave", data={"csrf": token(keeper)})
    for n in range(FREE_IN_ALL):
        assert enter(stranger, "wrong wrong", address=f"192.0.2.{n}").status_code == 403
    assert enter(stranger, PASSWORD, address="198.51.100.1").status_code == 429
    assert enter(keeper, "mistyped once").status_code == 403
    assert enter(keeper, PASSWORD).status_code == 303


def test_a_known_device_has_few_guesses_too_and_cannot_be_made_up(locked: PageGarden) -> None:
    keeper, stranger = locked.client(), locked.client()
    enter(keeper, PASSWORD)
    for _ in range(FREE):
        assert enter(keeper, "wrong wrong", address="192.0.2.9").status_code == 403
    assert enter(keeper, PASSWORD, address="192.0.2.10").status_code == 429
    stranger.set_cookie("underbench-known", "made up")
    for _ in range(FREE):
        enter(stranger, "wrong wrong")
    assert enter(stranger, PASSWORD).status_code == 429


def test_over_tls_the_browser_is_told_to_stay_there(locked: PageGarden) -> None:
    visitor = locked.client()
    assert "Strict-Transport-Security" not in visitor.get("/enter").headers
    over_tls = visitor.get("/enter", base_url="https://trees.example").headers
    assert over_tls["Strict-Transport-Security"] == "max-age=31536000"


def test_a_clock_set_back_locks_nobody_out() -> None:
    guesses = Guesses()
    for _ in range(FREE):
        guesses.wait("192.0.2.1", EVENING)
    assert not guesses.wait("192.0.2.1", EVENING - 400 * DAY)


@pytest.mark.parametrize("trusted", [False, True])
def test_only_of_the_proxy_named_is_it_believed_that_tls_was_used_and_who_asks(
    locked: PageGarden, trusted: bool
) -> None:
    table = PageTable(proxy="127.0.0.1") if trusted else PageTable()
    said = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.9", "Host": "trees.example"}
    locked.app.extensions["guesses"] = guesses = Guesses()
    with served(locked.app, table) as url, requests.Session() as visitor:
        shown = visitor.get(f"{url}/enter", headers=said)
        cookie = shown.headers["Set-Cookie"]
        assert ("Secure" in cookie) == trusted
        found = re.search(r'name="csrf" value="([^"]+)"', shown.text)
        assert found
        sent = {"csrf": found[1], "password": "wrong wrong"}
        said["Cookie"] = cookie.split(";")[0]
        for _ in range(FREE):
            assert visitor.post(f"{url}/enter", data=sent, headers=said).status_code == 403
    asked = "192.0.2.9" if trusted else "127.0.0.1"
    assert guesses.wait(asked, EVENING)
    assert not guesses.wait("198.51.100.3", EVENING)


@pytest.mark.parametrize(
    ("host", "code"),
    [
        ("localhost:8640", 200),
        ("127.0.0.1:8640", 200),
        ("[::1]:8640", 200),
        ("192.168.1.20:8640", 200),
        ("trees.example", 200),
        ("TREES.example", 200),
        ("evil.example", 421),
        ("localhost.evil.example", 421),
        ("127.0.0.1.evil.example", 421),
    ],
)
def test_only_names_of_its_own_are_answered(open_page: PageGarden, host: str, code: int) -> None:
    assert open_page.client().get("/", headers={"Host": host}).status_code == code


def test_a_form_needs_its_token_and_its_own_site(open_page: PageGarden) -> None:
    visitor = open_page.client()
    good = {"csrf": token(visitor)}
    for data, origin, code in (
        ({}, None, 400),
        ({"csrf": ""}, None, 400),
        ({"csrf": "guessed"}, None, 400),
        ({"csrf": "ungültig"}, None, 400),
        (good, "https://evil.example", 400),
        (good, "null", 400),
        (good, "http://localhost", 303),
    ):
        headers = {} if origin is None else {"Origin": origin}
        assert visitor.post("/leave", data=data, headers=headers).status_code == code, (
            data,
            origin,
        )
        good = {"csrf": token(visitor)}
    other = open_page.client()
    token(other)
    assert other.post("/leave", data=good).status_code == 400  # somebody else's token


def test_what_every_answer_says_to_the_browser(open_page: PageGarden) -> None:
    visitor = open_page.client()
    for path in ("/", "/tree/Ember", "/nothing", "/static/page.css"):
        with visitor.get(path) as answer:
            headers = answer.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert re.findall(r"(?:script|connect)-src ([^;]+)", policy) == ["'self'"] * 2
        assert "unsafe" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"
    assert visitor.get("/").headers["Cache-Control"] == "no-store"


def test_an_error_of_ours_tells_the_log_where_and_nobody_what(
    open_page: PageGarden, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("tokens and all")

    monkeypatch.setattr("underbench.daemon.page.look.standing", fail)
    answer = open_page.client().get("/")
    assert answer.status_code == 500
    said = answer.get_data(as_text=True) + caplog.text
    assert "RuntimeError in test_auth.py" in caplog.text
    assert "tokens" not in said
    assert "Traceback" not in said


def test_pages_hold_nothing_that_the_policy_forbids(open_page: PageGarden) -> None:
    visitor = open_page.client()
    for path in ("/", "/trees", "/tree/Ember", "/told", "/enter"):
        page = visitor.get(path, follow_redirects=True).get_data(as_text=True)
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", page), path
        assert re.findall(r"<script.*?</script>", page) == [
            '<script src="/static/page.js" defer></script>'
        ]


def test_names_are_written_as_text(open_page: PageGarden) -> None:
    visitor = open_page.client()
    for path in ("/", "/trees", "/tree/%3Ci%20x%3E&'"):
        answer = visitor.get(path)
        assert answer.status_code == 200
        assert "&lt;i x" in answer.text
        assert "<i x" not in answer.text


@pytest.mark.parametrize(
    ("page", "key"),
    [
        (PageTable(listen="0.0.0.0:8640"), "listen"),
        (PageTable(listen="[::]:8640"), "listen"),
        (PageTable(listen="127.0.0.1:8640", proxy="127.0.0.1"), "proxy"),
        (PageTable(listen="127.0.0.1:8640", address="https://trees.example"), "address"),
        (PageTable(listen="127.0.0.1:8640", hosts=("trees.example",)), "hosts"),
    ],
)
def test_no_page_is_open_to_the_network_without_a_password(
    open_page: PageGarden, page: PageTable, key: str
) -> None:
    with open_page.store() as store:
        with pytest.raises(Fault, match=f"page.{key}: .*page-password"):
            refuse_open_door(page.listen or "", page, store)
        open_page.lock()
        refuse_open_door(page.listen or "", page, store)


def test_the_loopback_alone_needs_none(open_page: PageGarden) -> None:
    with open_page.store() as store:
        for listen in ("127.0.0.1:8640", "[::1]:8640", "localhost:8640"):
            refuse_open_door(listen, PageTable(listen=listen), store)


def test_the_command_sets_a_password_and_keeps_no_more_than_its_hash(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config = tmp_path / "garden.toml"
    config.write_text(written(TREES), encoding="utf-8")

    def typed(*words: str) -> Any:
        lines = "".join(f"{word}\n" for word in words)
        return CliRunner().invoke(main, ["--config", str(config), "page-password"], input=lines)

    short = typed("moss", "moss")
    assert short.exit_code == 2
    assert "10 to 200 characters" in short.stderr
    done = typed(PASSWORD, PASSWORD)
    assert done.exit_code == 0, done.output
    assert PASSWORD not in done.output
    with Store.open(tmp_path / "underbench.db") as store:
        kept = store.pages.kept("password")
    assert kept is not None
    assert kept[0].startswith("scrypt:")
    assert not any(PASSWORD.encode() in one.read_bytes() for one in tmp_path.iterdir())


@pytest.mark.parametrize(
    ("line", "wrong"),
    [
        ('listen = "8640"', "expected an address and a port"),
        ('listen = "garden.example:80"', "expected an address and a port"),
        ('listen = "127.0.0.1"', "expected an address and a port"),
        ('listen = "127.0.0.1:99999"', "expected an address and a port"),
        ('hosts = ["https://garden.example"]', "expected a name"),
        ('proxy = "router"', "expected the proxy's address"),
        ('address = "garden.example"', "expected an address such as"),
        ('listne = "127.0.0.1:8640"', "listen"),
    ],
)
def test_a_slip_in_the_section_gets_one_clear_line(tmp_path: Path, line: str, wrong: str) -> None:
    config = tmp_path / "garden.toml"
    config.write_text(written(TREES, f"\n[page]\n{line}\n"), encoding="utf-8")
    done = CliRunner().invoke(main, ["--config", str(config), "trees"])
    assert done.exit_code == 2
    (told,) = done.stderr.splitlines()
    assert wrong in told
