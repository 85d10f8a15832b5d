"""A CSV file to which something appends readings: read on from where it was left."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from underbench.daemon.faults import Fault
from underbench.daemon.readings.parse import FIELDS, Known
from underbench.daemon.store.readings import FilePlace
from underbench.daemon.wording.reading_units import NoReading, shown
from underbench.rules.garden.readings import Reading

LONGEST_LINE = 4096
AT_ONCE = 1 << 20  # bytes of one reading; what is more waits for the next
TAIL = 200
MOST_COMPLAINTS = 5
NEEDED = ("at", "quantity", "value")


class Unreadable(Fault):
    """The file cannot be read, or has no header that can be understood."""


@dataclass(frozen=True, slots=True)
class Added:
    """What was added to a file: readings, a line for the log for each line that is none, and how
    far it is now read."""

    readings: list[Reading]
    complaints: list[str]
    place: FilePlace


def read_added(path: Path, place: FilePlace, known: Known, now: datetime) -> Added:
    """Return what was added since ``place``; a file that is another now is read from its start.

    The last line counts once it has its line end. Raises Unreadable.
    """
    header, chunk, place = _bytes_added(path, place)
    if not header.endswith(b"\n") and len(header) < LONGEST_LINE:
        return Added([], [], place)  # it is being begun just now
    columns = _columns(path, header)
    whole = chunk[: chunk.rfind(b"\n") + 1] or (chunk if len(chunk) == AT_ONCE else b"")
    readings, complaints, wrong = [], [], 0
    for number, line in enumerate(whole.split(b"\n"), start=place.lines + 1):
        if number == 1 or not line.strip():
            continue
        try:
            readings.append(_reading(line, columns, known, now))
        except NoReading as fault:
            wrong += 1
            if wrong <= MOST_COMPLAINTS:
                complaints.append(f"{path}:{number}: {fault}")
    if wrong > MOST_COMPLAINTS:
        complaints.append(f"{path}: {wrong - MOST_COMPLAINTS} more lines are no readings")
    tail = (place.tail + whole)[-TAIL:]
    lines = place.lines + whole.count(b"\n")
    return Added(readings, complaints, FilePlace(place.offset + len(whole), lines, tail))


def _bytes_added(path: Path, place: FilePlace) -> tuple[bytes, bytes, FilePlace]:
    """The first line, what comes after ``place``, and the place: the start, for another file."""
    try:
        if not path.is_file():  # a pipe would be waited for
            raise Unreadable(f"{path}: there is no such file")
        with path.open("rb") as file:
            header = file.readline(LONGEST_LINE)
            file.seek(place.offset - len(place.tail))
            # Bytes tell better than inode or time whether this is the file that was read before.
            if file.read(len(place.tail)) != place.tail:
                place = FilePlace(0, 0, b"")
            file.seek(place.offset)
            return header, file.read(AT_ONCE), place
    except OSError as error:
        raise Unreadable(f"{path}: cannot be read: {error.strerror or error}") from error


def _columns(path: Path, header: bytes) -> list[str]:
    text = header.decode("utf-8-sig", errors="replace").strip()
    try:
        columns = [name.strip().casefold() for name in _cells(text)]
    except csv.Error:
        columns = []
    missing = [name for name in NEEDED if name not in columns]
    strange = [name for name in columns if name not in FIELDS]
    if missing or strange or len(set(columns)) < len(columns):
        expected = "expected a header of at,quantity,spot,value (and tree, if you like)"
        raise Unreadable(f"{path}:1: {shown(text)}: {expected}")
    return columns


def _reading(line: bytes, columns: list[str], known: Known, now: datetime) -> Reading:
    try:
        if len(line) > LONGEST_LINE:
            raise NoReading("expected one reading a line, this is very long")
        cells = _cells(line.decode("utf-8").strip())
    except (UnicodeDecodeError, csv.Error):
        raise NoReading("expected text in UTF-8, with commas between") from None
    if len(cells) != len(columns):
        raise NoReading(f"expected {len(columns)} cells ({','.join(columns)}), found {len(cells)}")
    fields = dict(zip(columns, cells, strict=True))
    if not fields["at"].strip():
        raise NoReading("at: expected a moment such as 2027-01-15T06:30Z")
    return known.reading(fields, "file", now)


def _cells(line: str) -> list[str]:
    return next(csv.reader([line], strict=True), [])
