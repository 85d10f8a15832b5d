"""The forms of a page, filled in and sent as a browser would, for tests that look at no pixel."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from flask.testing import FlaskClient

TICKED = ("checkbox", "radio")


@dataclass
class Form:
    """What a browser would send of a form as it stands, and what each of its buttons adds."""

    path: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    buttons: dict[str, dict[str, str]] = field(default_factory=dict)


class _Forms(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[Form] = []
        self._select, self._last, self._words = "", dict[str, str](), ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {key: value or "" for key, value in attrs}
        if tag == "form":
            self.found.append(Form(given["action"], given.get("method", "get")))
        elif tag == "select":
            self._select = given["name"]
        elif tag in ("option", "button"):
            self._last, self._words = given, ""
        elif tag == "input" and ("checked" in given or given.get("type") not in TICKED):
            self.found[-1].fields[given["name"]] = given.get("value", "")

    def handle_data(self, data: str) -> None:
        self._words += data

    def handle_endtag(self, tag: str) -> None:
        given, said = self._last, " ".join(self._words.split())
        if tag == "button":
            added = {given["name"]: given["value"]} if "name" in given else {}
            self.found[-1].buttons[said] = added
        elif tag == "option" and ("selected" in given or self._select not in self.found[-1].fields):
            self.found[-1].fields[self._select] = given.get("value", said)


def pressed(client: FlaskClient, page: str, button: str, **typed: str) -> Any:
    """Send the form of a page that has this button, with what is typed into its fields; return the
    page that it leads to."""
    form = next(one for one in _Forms(page).found if button in one.buttons)
    assert typed.keys() <= form.fields.keys()
    sent = form.fields | form.buttons[button] | typed
    if form.method == "get":
        return client.get(form.path, query_string=sent)
    return client.post(form.path, data=sent, follow_redirects=True)
