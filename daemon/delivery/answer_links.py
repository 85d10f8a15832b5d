"""The link in a message with which its jobs are answered, without the page's password.

A link is good for one message and for three days. Its token is made of a secret key and the
message's own key, and stands in no database, log or list of what was told: the outbox writes it
into a message as it goes out. Whoever has it can say of that message's jobs that they are done, and
see and change nothing else.
"""

from __future__ import annotations

import hmac
from base64 import urlsafe_b64encode
from dataclasses import replace
from datetime import datetime, timedelta
from hashlib import sha256

from underbench.daemon.store.message_queue import Message
from underbench.daemon.store.store import Store

GOOD_FOR = timedelta(days=3)  # a job is told two days ahead at most, and answered the morning after
ANSWER_KEY = "answer key"
PATH, LISTS = "/a/", "/do/handled"
_TOKEN_BYTES = 16


def signed(key: str, text: str) -> str:
    """Return the mark of a text that nobody without the key can make, fit for a link."""
    mark = hmac.new(key.encode(), text.encode(), sha256).digest()
    return urlsafe_b64encode(mark[:_TOKEN_BYTES]).rstrip(b"=").decode()


def is_signed(key: str, text: str, mark: str) -> bool:
    """Return whether a mark is that of the text."""
    return hmac.compare_digest(signed(key, text).encode(), mark.encode())


def with_answer_link(message: Message, address: str, key: str) -> Message:
    """Return a message whose link to the list of jobs leads to the answer for its own jobs."""
    link = f"{address}{PATH}{signed(key, message.key)}"
    return replace(message, body=message.body.replace(f"{address}{LISTS}", link))


def message_of(store: Store, token: str, now: datetime) -> Message | None:
    """Return the message whose link has this token; None if there is none, or it is too old."""
    kept = store.pages.kept(ANSWER_KEY)
    if kept is None:
        return None
    told = (record.message for record in store.messages.records(now - GOOD_FOR))
    return next((one for one in told if is_signed(kept[0], one.key, token)), None)
