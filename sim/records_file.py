"""Rows to a CSV file that people and spreadsheets can read, and back.

The only module that knows how files spell the columns of `sim.records`. A moment takes three
columns: its date, its clock time to the second, and its exact number of days since 00:00 on the
first day. Only the last is exact; a log kept by hand may leave it empty. Cells without a value
are empty. Other columns in a file, such as notes, are passed over.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor, isfinite
from pathlib import Path
from typing import Final, TextIO, cast

from sim.agreement import advice
from sim.errors import OutputError, RecordsError
from sim.records import CONTAINERS, COUNT, CREW, KIND, KINDS, MINUTES, SINCE, TIME, Row
from sim.school_year import spoken
from sim.written import shown

Moment = tuple[str, str, str]  # the columns of a date, a clock time and a day number

HAPPENED: Final[Moment] = ("date [YYYY-MM-DD]", "time [HH:MM:SS]", "day number [days]")
CAME: Final[Moment] = (
    "since date [YYYY-MM-DD]", "since time [HH:MM:SS]", "since day number [days]",
)  # fmt: skip
TEXTS = ("kind", "batch", "crop", "place", "to", "crew", "customer")
NUMBERS = ("count [number]", "containers [number]", "minutes [min]")
HEADER: tuple[str, ...] = (*HAPPENED, *TEXTS, *NUMBERS, *CAME, "cause")

_CONTAINERS_ONLY = frozenset({"emptied", "cleared", "washed", "freed"})
_COUNTED = KINDS.keys() - _CONTAINERS_ONLY  # their count is written even when it is 0
_CONTAINED = _CONTAINERS_ONLY | {"seeded", "missed", "moved"}  # so are their containers
_SINCE = frozenset(
    {"finished", "lost", "moved", "harvested", "dumped", "delivered", "surplus", "shift"}
)

_SECONDS = 86_400  # in a day
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CLOCK = re.compile(r"([0-9]{1,2}):([0-5][0-9])(?::([0-5][0-9]))?")
_WHOLE = re.compile(r"[0-9]{1,30}")
_NUMBER = re.compile(r"-?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]+)?", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")


def write_rows(rows: Iterable[Row], start: date, target: str | Path | TextIO) -> None:
    """Write rows as CSV, to a file or an open text stream; `start` is the first day.

    `read_rows` gives back exactly these rows. Raises OutputError if the file cannot be written.
    """
    if not isinstance(target, (str, Path)):
        _write(rows, start, target)
        return
    try:
        with Path(target).open("w", newline="", encoding="utf-8") as stream:
            _write(rows, start, stream)
    except OSError as error:
        raise OutputError(
            f"{target}: cannot be written ({error.strerror}); choose a folder that exists and "
            "may be written to, or close the program that holds the file."
        ) from None


def read_rows(source: str | Path | TextIO, start: date) -> list[Row]:
    """The rows of a CSV file or an open text stream, in the file's order; `start` is the first day.

    Raises RecordsError, whose message says where, what it must be, what it was and what to do.
    """
    if not isinstance(source, (str, Path)):
        return list(_read(source, start, "the table"))
    name = Path(source).name
    try:
        with Path(source).open(newline="", encoding="utf-8-sig") as stream:
            return list(_read(stream, start, name))
    except OSError as error:
        raise RecordsError(
            f"{name}: cannot be read ({error.strerror}); check the path and the name."
        ) from None


def _write(rows: Iterable[Row], start: date, stream: TextIO) -> None:
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(_cells(row, start) for row in rows)


def _cells(row: Row, start: date) -> tuple[str, ...]:
    kind = row[KIND]
    count = str(row[COUNT]) if row[COUNT] or kind in _COUNTED else ""
    containers = str(row[CONTAINERS]) if row[CONTAINERS] or kind in _CONTAINED else ""
    minutes = repr(float(row[MINUTES])) if row[MINUTES] or row[CREW] else ""
    came = _moment(row[SINCE], start) if row[SINCE] or kind in _SINCE else ("", "", "")
    return (
        *_moment(row[TIME], start), *row[KIND:COUNT], count, containers, minutes, *came, row[-1],
    )  # fmt: skip


def _moment(days: float, start: date) -> Moment:
    """Date, clock time to the nearest second of that date, and exact day number."""
    day = floor(days)
    minute, second = divmod(min(round((days - day) * _SECONDS), _SECONDS - 1), 60)
    hour, minute = divmod(minute, 60)
    clock = f"{hour:02d}:{minute:02d}:{second:02d}"
    return (start + timedelta(days=day)).isoformat(), clock, repr(float(days))


def _read(stream: TextIO, start: date, name: str) -> Iterator[Row]:
    table = csv.reader(stream, strict=True)
    with _text_only(name):
        columns = _columns(next(table, []), name)
        for number, cells in enumerate(table, start=2):
            if any(cell.strip() for cell in cells):
                yield _row(_line(cells, columns, name, number), start)


@contextmanager
def _text_only(name: str) -> Iterator[None]:
    """Turn what cannot be read as text and cells into a message."""
    try:
        yield
    except UnicodeDecodeError:
        raise RecordsError(
            f"{name}: must be text in UTF-8, but it is not; save it as CSV (UTF-8)."
        ) from None
    except csv.Error as error:
        raise RecordsError(
            f"{name}: must be a table with commas between its cells, but {error}; "
            "close every quotation mark, or save it as CSV again."
        ) from None


def _columns(header: list[str], name: str) -> dict[str, int]:
    """Where each column stands, by its heading."""
    found = [cell.strip() for cell in header]
    if not any(found):
        raise RecordsError(f"{name}: is empty; its first row must be {','.join(HEADER)}.")
    for column in HEADER:
        if (times := found.count(column)) != 1:
            raise RecordsError(
                f'{name}, row 1: the column "{column}" must be there once, but it is there '
                f"{times} times; the first row must hold {','.join(HEADER)}."
            )
    return {column: found.index(column) for column in HEADER}


def _line(cells: list[str], columns: dict[str, int], name: str, number: int) -> _Line:
    """A row's cells by column."""
    if len(cells) <= max(columns.values()):
        raise RecordsError(
            f"{name}, row {number}: must have as many cells as the first row, but it has "
            f"{len(cells)}; complete it or take it out."
        )
    return _Line(name, number, {column: cells[at] for column, at in columns.items()})


@dataclass(frozen=True, slots=True)
class _Line:
    """One row of a file: its cells by column, and where it stands."""

    file: str
    row: int
    cells: dict[str, str]

    def wrong(self, column: str, must: str, remedy: str) -> RecordsError:
        """What is wrong with a cell, ready to be raised."""
        value = self.cells[column]
        was = f"it is {shown(value)}" if value.strip() else "the cell is empty"
        end = "" if remedy.endswith("?") else "."
        place = f'{self.file}, row {self.row}, column "{column}"'
        return RecordsError(f"{place}: must be {must}, but {was}; {remedy}{end}")

    def text(self, column: str) -> str:
        """Text as it stands."""
        if _CONTROL.search(self.cells[column]):
            raise self.wrong(column, "text on one line", "take the control characters out")
        return self.cells[column]

    def whole(self, column: str, needed: bool) -> int:
        """A whole number of at least 0; an empty cell is 0 unless it is needed."""
        cell = self.cells[column].strip()
        if not cell and not needed:
            return 0
        if not _WHOLE.fullmatch(cell):
            must = "a whole number of at least 0"
            raise self.wrong(column, must, "write the number alone, such as 12")
        return int(cell)

    def number(self, column: str) -> float | None:
        """A finite number, or None for an empty cell."""
        cell = self.cells[column].strip()
        if not cell:
            return None
        if not _NUMBER.fullmatch(cell) or not isfinite(float(cell)):
            raise self.wrong(column, "a number", "write the number alone, such as 7.5")
        return float(cell)

    def moment(self, columns: Moment, start: date) -> float | None:
        """Days since 00:00 on the first day, None if all three cells are empty [d]."""
        exact = self.number(columns[2])
        day, clock = (self.cells[column].strip() for column in columns[:2])
        if not day and not clock:
            return exact
        written = self._day(columns[0], start) + self._clock(columns[1])
        if exact is not None and abs(exact - written) > 1.5 / _SECONDS:
            must = f"the same moment as {day} {clock}, which is {written:.6f}"
            raise self.wrong(columns[2], must, "correct one of them, or empty this cell")
        return written if exact is None else exact

    def _day(self, column: str, start: date) -> int:
        cell = self.cells[column].strip()
        try:
            if _DATE.fullmatch(cell):
                return (date.fromisoformat(cell) - start).days
        except ValueError:
            pass  # no such day
        raise self.wrong(column, "a date", "write it as 2026-10-05")

    def _clock(self, column: str) -> float:
        match = _CLOCK.fullmatch(self.cells[column].strip())
        if not match or int(match[1]) > 23:
            raise self.wrong(column, "a clock time from 00:00 to 23:59:59", "write it as 13:05:00")
        return (int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3] or 0)) / _SECONDS


def _row(line: _Line, start: date) -> Row:
    kind = line.text("kind")
    if kind not in KINDS:
        raise line.wrong("kind", "a kind of row", advice(kind, KINDS))
    time = line.moment(HAPPENED, start)
    if time is None or time < 0:
        first = spoken(start, year=True)
        raise line.wrong(HAPPENED[0], f"{first} or later", "write when it happened")
    minutes = line.number(NUMBERS[2]) or 0.0
    if minutes < 0:
        raise line.wrong(NUMBERS[2], "at least 0", "write the person-minutes worked")
    texts = tuple(line.text(column) for column in TEXTS)
    count = line.whole(NUMBERS[0], kind in _COUNTED)
    containers = line.whole(NUMBERS[1], kind in _CONTAINED)
    since = line.moment(CAME, start) or 0.0
    return cast(Row, (time, *texts, count, containers, minutes, since, line.text("cause")))
