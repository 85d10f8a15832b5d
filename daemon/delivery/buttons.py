"""Buttons under a message, for the services that show them: of Apprise's, ntfy alone.

Their format is that of ntfy's own documentation (docs.ntfy.sh/publish, action buttons, "short
format"): at most three, the phone itself asks the address of an ``http`` one by POST.
"""

from __future__ import annotations

import re
from urllib.parse import quote

from underbench.daemon.delivery.answer_links import PATH

_SERVICES = ("ntfy://", "ntfys://")
_GIVEN = re.compile(r"[?&]actions=", re.IGNORECASE)
# The link to answer a message. The signs that part buttons from one another cannot stand in it.
_LINK = re.compile(rf"https?://[^\s,;'\"]+{PATH}[\w-]{{22}}", re.ASCII)
_ANSWERS = "http, Done, {link}?answer=all, clear=true; view, Not all, {link}, clear=true; "
_ANSWERS += "http, Not tonight, {link}?answer=not+tonight, clear=true"


def with_buttons(address: str, body: str) -> str:
    """Return a service's ``address`` with the buttons that answer the message of this ``body``.

    The address stays as it is if the service shows no buttons, if the keeper gave it some, or if
    the message has no link to answer it.
    """
    link = _LINK.search(body)
    shows = address.casefold().startswith(_SERVICES) and not _GIVEN.search(address)
    if link is None or not link[0].isascii() or not shows:
        return address
    # Apprise decodes what stands in an address twice.
    answers = quote(quote(_ANSWERS.format(link=link[0]), safe=""), safe="")
    return f"{address}{'&' if '?' in address else '?'}actions={answers}"
