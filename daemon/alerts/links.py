"""Links of messages into the page, to where the keeper notes what they ask. They hold no secret."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from underbench.daemon.alerts.message_kinds import Kind

MOST_TREES = 8  # a link names so many; with more, the page asks which
_WORDS = {
    Kind.ADVICE: ("The list to tick", "/do/handled"),
    Kind.REMINDER: ("The list to tick", "/do/handled"),
    Kind.BACK: ("Carried", "/do/"),
    Kind.OUTCOME: ("Say", "/do/"),
    Kind.ROUND_UP: ("More", "/"),
}


def link(address: str | None, kind: Kind, trees: Sequence[str] = ()) -> str:
    """Return the line with the link for a message about ``trees``. It is empty without an
    ``address`` of the page, or if the message asks for nothing."""
    if address is None or kind not in _WORDS:
        return ""
    word, path = _WORDS[kind]
    query = urlencode([("tree", tree) for tree in trees[:MOST_TREES]])
    asked = f"?{query}" if query and path == "/do/" and len(trees) <= MOST_TREES else ""
    return f"{word}: {address}{path}{asked}"
