"""Links of messages into the page: to where what they ask is noted. Never a secret in one."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.store.message_queue import LONGEST_BODY

MOST_TREES = 8  # named in a link; of more the page asks which
_WORDS = {
    Kind.ADVICE: ("Done", "/do/handled"),
    Kind.REMINDER: ("Done", "/do/handled"),
    Kind.BACK: ("Carried", "/do/"),
    Kind.OUTCOME: ("Say", "/do/"),
    Kind.ROUND_UP: ("More", "/"),
}


def link(address: str | None, kind: Kind, trees: Sequence[str] = ()) -> str:
    """Return the line with the link that goes with a message about ``trees``; empty without an
    ``address`` of the page, or where nothing is to be said."""
    if address is None or kind not in _WORDS:
        return ""
    word, path = _WORDS[kind]
    query = urlencode([("tree", tree) for tree in trees[:MOST_TREES]])
    asked = f"?{query}" if query and path == "/do/" and len(trees) <= MOST_TREES else ""
    return f"{word}: {address}{path}{asked}"


def with_link(body: str, line: str) -> str:
    """Return the body with the line under it, where there is room for all of it."""
    whole = f"{body}\n{line}" if line else body
    return whole if len(whole) <= LONGEST_BODY else body
