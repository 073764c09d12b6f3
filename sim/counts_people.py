"""People present, to rows of shifts: how many were there, and the person-minutes they had."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from sim.counts_balance import when
from sim.counts_entries import Entry, Said
from sim.counts_shifts import Shifts
from sim.counts_values import WrongError
from sim.records import Row
from sim.timetable import Timetable

_NO_SHIFT = "People present were not used, as the row's time or period names no shift"
_LARGEST = "Rows of one shift tell different numbers of people: the largest was kept"
_MORE = "More people were present than the crew has in the scenario"


def has_shift(entry: Entry) -> None:
    """Raise WrongError if a row of people present cannot be used."""
    if entry.kind == "present" and entry.shift is None and not entry.minutes:
        must = "the time of a shift of that day"
        remedy = "write the time, the period or the crew, or the person-minutes there were"
        raise WrongError(must, remedy, "clock")


def shift_rows(entries: Iterable[Entry], timetable: Timetable, said: Said) -> list[Row]:
    """A row for each shift of which people present are written down."""
    dated = Shifts(timetable).dated
    by_shift: defaultdict[int, list[Entry]] = defaultdict(list)
    rows: list[Row] = []
    for entry in entries:
        if entry.people is None:
            continue
        if entry.shift is not None:
            by_shift[entry.shift].append(entry)
        elif entry.kind == "present":
            time = when(entry)
            rows.append(_row(time, time, entry.crew, (entry.people, entry.minutes)))
        else:
            said.assume(_NO_SHIFT, entry.row)
    for number, found in by_shift.items():
        shift, people = dated[number], max(e.people or 0 for e in found)
        for entry in found:
            if entry.people != people:
                said.assume(_LARGEST, entry.row)
            elif people > shift.people:
                said.assume(_MORE, entry.row)
        own = max((e.minutes for e in found if e.kind == "present"), default=0.0)
        there = own or people * shift.minutes_each
        rows.append(_row(shift.end, shift.start, shift.crew, (people, there)))
    return rows


def _row(end: float, start: float, crew: str, numbers: tuple[int, float]) -> Row:
    people, minutes = numbers
    return end, "shift", "", "", "", "", crew, "", people, 0, minutes, start, ""
