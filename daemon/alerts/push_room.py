"""How long a message may be: as long as the tightest of the services it goes to takes."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable
from functools import lru_cache

from apprise.manager_plugins import NotificationManager
from pydantic import SecretStr

from underbench.daemon.config.settings import Settings
from underbench.daemon.store.message_queue import LINK_GROWS, LONGEST_BODY

LEAST = 800  # services of text messages join shorter ones by themselves
TITLE = 160  # services without titles put ours above the body
_SCHEME = re.compile(r"\s*([a-z][a-z0-9+.-]{0,19})://", re.IGNORECASE)


def room_of(settings: Settings, to: Iterable[str], *, danger: bool = False) -> int:
    """Return how long the body of a message to some people may be. Danger may take the second
    route."""
    telling = settings.telling
    urls = [url for one in to for url in settings.stand_in_urls.get(one, telling.urls)]
    return room_for([*urls, *(telling.danger_urls if danger else ())]) - LINK_GROWS


def room_for(urls: Iterable[SecretStr]) -> int:
    """Return how long a body may be in bytes (UTF-8): some services count bytes. Source: what
    Apprise says of each service."""
    schemes = {found[1].lower() for url in urls if (found := _SCHEME.match(url.get_secret_value()))}
    return max(LEAST, min((_room_of(scheme) for scheme in schemes), default=LONGEST_BODY))


@lru_cache
def _room_of(scheme: str) -> int:
    with warnings.catch_warnings():
        # One of Apprise's plugins imports imghdr, which is deprecated in Python 3.11 and 3.12.
        warnings.simplefilter("ignore", DeprecationWarning)
        services = NotificationManager()  # type: ignore[no-untyped-call]
        if scheme not in services:
            return LONGEST_BODY
        service = services[scheme]
    longest = service.body_maxlen
    if not isinstance(longest, int):  # it depends on the address
        return LEAST
    return min(LONGEST_BODY, longest if service.title_maxlen else longest - TITLE)
