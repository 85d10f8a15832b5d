"""Links with which somebody else may look at the page: who has one, and until when.

Only the SHA-256 of a link's token is kept: nobody who reads the database can come in with it. The
token has 256 random bits, so no slow hash is needed (OWASP, Password Storage, from memory).
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import Any, NamedTuple

from underbench.daemon.faults import Fault
from underbench.daemon.store.database import Opened, moment, seconds

_TOKEN_BYTES = 32
_LONGEST_NAME = 40


class Guest(NamedTuple):
    """Who has a link, and since when; ``revoked_at`` is None while it is good."""

    id: int
    name: str
    made_at: datetime
    revoked_at: datetime | None


class Guests(Opened):
    """What the store knows about guests. All methods raise StoreError."""

    def invite(self, name: str, now: datetime) -> str:
        """Make a guest's link; return its token, which is kept nowhere.

        Raises Fault for a name that is empty, too long or has a good link already.
        """
        name = name.strip()
        if not 0 < len(name) <= _LONGEST_NAME:
            raise Fault(f"expected a name of 1 to {_LONGEST_NAME} characters")
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        with self.transaction():
            if any(_same(guest.name, name) for guest in self.all() if not guest.revoked_at):
                raise Fault(f"{name} has a link already; revoke it first, to make a new one")
            self._write(
                "INSERT INTO share (name, token_hash, made_at) VALUES (?, ?, ?)",
                [(name, _hash(token), seconds(now))],
            )
        return token

    def revoke(self, name: str, now: datetime) -> None:
        """End a guest's link and whatever was opened with it; raises Fault if there is none."""
        with self.transaction():
            good = [guest for guest in self.all() if not guest.revoked_at]
            ended = [guest for guest in good if _same(guest.name, name)]
            if not ended:
                have = ", ".join(guest.name for guest in good)
                raise Fault(f"{name} has no link" + (f"; these have: {have}" if have else ""))
            self._write(
                "UPDATE share SET revoked_at = ? WHERE id = ?",
                [(seconds(now), guest.id) for guest in ended],
            )

    def all(self) -> list[Guest]:
        """Return everybody who has or had a link, oldest first."""
        rows = self._rows("SELECT id, name, made_at, revoked_at FROM share ORDER BY id")
        return [_guest(row) for row in rows]

    def with_token(self, token: str) -> Guest | None:
        """Return the guest whose link has this token; None if there is none or it was revoked."""
        rows = self._rows(
            "SELECT id, name, made_at, revoked_at FROM share"
            " WHERE token_hash = ? AND revoked_at IS NULL",
            [_hash(token)],
        )
        return _guest(rows[0]) if rows else None

    def still_welcome(self, guest_id: int) -> Guest | None:
        """Return the guest with that number; None once their link is revoked."""
        good = (guest for guest in self.all() if not guest.revoked_at)
        return next((guest for guest in good if guest.id == guest_id), None)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.strip().casefold()


def _guest(row: dict[str, Any]) -> Guest:
    revoked = row["revoked_at"]
    return Guest(
        row["id"], row["name"], moment(row["made_at"]), None if revoked is None else moment(revoked)
    )
