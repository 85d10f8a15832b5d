"""One small photograph of each tree, as a file beside the database. None is ever sent anywhere.

Only JPEG is taken. What a camera writes beside the picture (the place, the time, its number) is
left out: a garden's place is nobody else's business.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from underbench.daemon.faults import Fault

MOST_BYTES = 200_000
FOLDER = "photographs"
NO_JPEG = "That is no photograph in JPEG."
TOO_BIG = f"A photograph may have {MOST_BYTES // 1000} kB."
_START, _SCAN, _COMMENT = b"\xff\xd8", 0xDA, 0xFE
# Of what applications write (JPEG's markers APP0 to APP15) these two say how to show the colours.
_FIRST_APP, _LAST_APP, _JFIF, _ADOBE = 0xE0, 0xEF, 0xE0, 0xEE


class Photographs:
    """The photographs of one garden's trees, by name."""

    def __init__(self, database: Path) -> None:
        self._folder = database.parent / FOLDER / database.stem

    def of(self, tree: str) -> Path | None:
        """Return where a tree's photograph is; None without one."""
        path = self._path(tree)
        return path if path.is_file() else None

    def keep(self, tree: str, photograph: bytes) -> None:
        """Keep a photograph in place of the one before. Raises Fault if it is none, or too big."""
        bare = without_notes(photograph)
        if len(bare) > MOST_BYTES:
            raise Fault(TOO_BIG)
        path = self._path(tree)
        half = path.with_suffix(".half")
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as f:
                f.write(bare)
            half.replace(path)
        except OSError as error:
            raise Fault(f"the photograph of {tree} cannot be kept: {error.strerror}") from None

    def remove(self, tree: str) -> None:
        """Delete a tree's photograph, if there is one."""
        self._path(tree).unlink(missing_ok=True)

    def rename(self, old: str, new: str) -> None:
        """Keep a tree's photograph under its new name."""
        if (path := self.of(old)) is not None:
            path.replace(self._path(new))

    def _path(self, tree: str) -> Path:
        # Names may hold what no file may be called.
        return self._folder / f"{hashlib.sha256(tree.casefold().encode()).hexdigest()[:20]}.jpg"


def without_notes(photograph: bytes) -> bytes:
    """Return a JPEG without what was written beside the picture. Raises Fault if it is no JPEG.

    Segments are as in ITU-T T.81, annex B: a marker, then a length of two bytes that counts itself.
    """
    if not photograph.startswith(_START):
        raise Fault(NO_JPEG)
    kept, at = [_START], len(_START)
    while at + 4 <= len(photograph) and photograph[at] == 0xFF:
        marker, length = photograph[at + 1], int.from_bytes(photograph[at + 2 : at + 4])
        if marker == _SCAN:
            return b"".join([*kept, photograph[at:]])
        if length < 2:
            break
        tells = _FIRST_APP <= marker <= _LAST_APP and marker not in (_JFIF, _ADOBE)
        if not tells and marker != _COMMENT:
            kept.append(photograph[at : at + 2 + length])
        at += 2 + length
    raise Fault(NO_JPEG)
