"""``check --push``: what reached each phone and what was cut, and where a wrong address stands."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from commanding import HEAD, Garden, fails
from garden_toml import EMBER
from receiving import Receiver, receiving

from underbench.daemon.delivery import trial
from underbench.daemon.delivery.push_services import Services, Takes
from underbench.daemon.delivery.trial import LOOK, TRIED_TO, trial_message, try_out

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
AWAY = '\n[[stand_in]]\nname = "Robin"\ndays = ["2027-05-08 to 2027-05-12"]\n'


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as server:
        yield server


def keep(garden: Garden, **files: str) -> None:
    """Write files into the secrets folder, for nobody else to read."""
    folder = garden.folder / "secrets"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
        (folder / name).chmod(0o600)


def told(output: str) -> list[str]:
    return [line for line in output.splitlines() if "test message: " in line]


def test_every_address_gets_one_message_and_says_how_it_fared(
    garden: Garden, receiver: Receiver
) -> None:
    def url(path: str) -> str:
        return receiver.url(path).get_secret_value()

    receiver.refusing.add("/s3cond")
    garden.write(HEAD + EMBER + AWAY)
    keep(
        garden,
        telling_urls=f"{url('/s3cret')}\n",
        danger_urls=f"{url('/s3cond')}\n",
        stand_in_urls=f"Robin {url('/r0bin')}\n",
    )
    done = garden.do("check", "--push")
    assert done.exit_code == 2, done.output
    first, second, robin, look = told(done.output)
    assert first == "ok   test message: entry 1 (json://1***): taken, all 1000 characters, " + (
        "with a picture"
    )
    assert second == "BAD  test message: danger entry 1 (json://1***): refused it (HTTP 403)"
    assert robin.startswith("ok   test message: Robin's entry 1 (json://1***): taken")
    assert look == f"note test message: {LOOK}"
    assert receiver.titles("/s3cret") == receiver.titles("/r0bin") == ["Underbench: a test"]
    assert len(receiver.titles("/s3cond")) == 2  # with the picture, and without
    for secret in ("s3cret", "s3cond", "r0bin"):
        assert secret not in done.output


def test_without_the_option_nothing_is_sent(garden: Garden, receiver: Receiver) -> None:
    keep(garden, telling_urls=receiver.url("/s3cret").get_secret_value())
    assert told(garden.do("check").output) == []
    assert receiver.got == []


def test_a_number_on_the_phone_says_how_much_arrived() -> None:
    body = trial_message("Mill Yard", NOON).body
    assert len(body) == TRIED_TO
    assert body.endswith(" all arrived")
    for line in body.splitlines()[2:-1]:
        so_far = line.rpartition(" ")[2]
        assert len(body.partition(f" {so_far}\n")[0] + f" {so_far}\n") == int(so_far)


def test_what_a_short_service_leaves_out_is_said(
    monkeypatch: pytest.MonkeyPatch, receiver: Receiver
) -> None:
    """Africa's Talking, for one, takes 160 characters and no pictures, as Apprise has it."""
    monkeypatch.setattr(Services, "takes", lambda *_: Takes(160, pictures=False))
    (one,) = try_out(Services([receiver.url("/")]), "Mill Yard", NOON)
    assert one.taken
    assert one.words.endswith(
        "taken, but it takes 160 of 1000 characters: the rest is cut, "
        "words alone: this service takes no pictures"
    )


def test_a_service_that_will_not_have_the_picture_gets_the_words(
    monkeypatch: pytest.MonkeyPatch, receiver: Receiver
) -> None:
    real = Services.send

    def sulking(self: Services, due, deadline_s: float):  # type: ignore[no-untyped-def]
        for answer in real(self, due, deadline_s):
            yield answer._replace(reason=None if answer.due.attempts else "refused it (HTTP 413)")

    monkeypatch.setattr(Services, "send", sulking)
    (one,) = try_out(Services([receiver.url("/")]), "Mill Yard", NOON)
    assert (one.taken, one.words.rpartition(", ")[2]) == (True, trial.REFUSED_PICTURE)


@pytest.mark.parametrize(
    ("kept", "line"),
    [
        ({"telling_urls": "# mine\n\nnot-an-address\n"}, "secrets/telling_urls:3: telling.urls"),
        ({"danger_urls": "json://b\n\nntfyy://c\n"}, "secrets/danger_urls:3: telling.danger_urls"),
        ({"stand_in_urls": "\nRobin t0ken\n"}, "secrets/stand_in_urls:2: stand_in 'Robin' urls"),
    ],
)
def test_a_wrong_address_is_named_by_its_file_and_line(
    garden: Garden, kept: dict[str, str], line: str
) -> None:
    garden.write(HEAD + EMBER + AWAY)
    keep(garden, **{"telling_urls": "json://a\n", **kept})
    said = fails(garden.do("run"), line)
    assert "t0ken" not in said
    checked = garden.do("check", "--push")
    assert checked.exit_code == 2
    assert line in checked.output
    assert told(checked.output) == ["BAD  test message: none was sent; mend the addresses first"]


def test_an_address_of_the_file_or_the_environment_is_named_by_its_place(
    garden: Garden, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden.write('[telling]\nurls = ["not-an-address"]\n' + HEAD + EMBER)
    fails(garden.do("run"), "garden.toml:2: telling.urls entry 1 (***)")
    keep(garden, telling_urls="json://a\n")
    monkeypatch.setenv("UNDERBENCH_TELLING__URLS", "not-an-address")
    fails(garden.do("run"), "UNDERBENCH_TELLING__URLS: telling.urls entry 1 (***)")


def test_a_second_route_that_is_the_first_is_named_by_its_line(garden: Garden) -> None:
    keep(garden, telling_urls="json://a\n", danger_urls="\njson://b\njson://a\n")
    fails(garden.do("run"), "secrets/danger_urls:3: telling.danger_urls 2")
