"""Rows to weekly tables over the measuring window; the rows are given in order of time.

Numbers are added up in the order of the rows, so that sums are the same to the last bit.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, repeat
from operator import itemgetter
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from sim.measures import WORK, Frame, within
from sim.records import CAUSE, CONTAINERS, COUNT, CREW, MINUTES, PLACE, TIME, TO, Number, Row
from sim.timetable import Timetable

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Kinds = dict[str, list[Row]]
CrewsWork = dict[tuple[str, str], Floats]  # by (crew, kind of work)

COUNTS: dict[str, tuple[str, Number]] = {
    "heads ordered": ("due", COUNT),
    "heads short": ("short", COUNT),
    "cells seeded": ("seeded", COUNT),
    "trays seeded": ("seeded", CONTAINERS),
    "trays missed": ("missed", CONTAINERS),
    "plants moved": ("moved", COUNT),
    "heads harvested": ("harvested", COUNT),
    "surplus heads": ("surplus", COUNT),
    "plants lost": ("lost", COUNT),
    "plants dumped": ("dumped", COUNT),
}
_WITH_PLACE = (*WORK, "standing", "lost", "dumped", "freed")
_ENTRIES = (*_WITH_PLACE, "due", "short", "missed", "surplus")
_PLANTS_LEAVE = ("moved", "lost", "harvested", "dumped")


def _numbers(rows: Sequence[Row], column: Literal[0, 8, 9, 10]) -> Floats:
    return np.fromiter(map(itemgetter(column), rows), np.float64, len(rows))


def _codes(rows: Sequence[Row], column: Literal[4, 5, 6], names: Sequence[str]) -> Ints:
    """A column of names as their numbers among `names`, `len(names)` for any other."""
    known = {name: number for number, name in enumerate(names)}
    found = map(known.get, map(itemgetter(column), rows), repeat(len(names)))
    return np.fromiter(found, np.int64, len(rows))


def _weeks(times: Floats, frame: Frame) -> Ints:
    """Weeks of the window by number from 1 on; 0 is before them, `frame.weeks` + 1 after them."""
    edges = frame.start + 7.0 * np.arange(frame.weeks + 1)
    return np.searchsorted(edges, times, side="right").astype(np.int64, copy=False)


def _sums(groups: Ints, weeks: Ints, numbers: Floats, count: int, frame: Frame) -> Floats:
    """Sums by group and week, those before and after the window too, shape [count, 1 + weeks + 1].

    Each is added up in the order of the numbers.
    """
    width = frame.weeks + 2
    sums = np.bincount(groups * width + weeks, numbers, count * width)
    return np.asarray(sums, dtype=np.float64).reshape(count, width)


class Ledger:
    """One year's rows as columns, from which its weekly tables are added up."""

    def __init__(self, kinds: Kinds, frame: Frame) -> None:
        self._kinds, self._frame = kinds, frame
        self._rows = list(chain.from_iterable([kinds[kind] for kind in _ENTRIES]))
        self._at: dict[str, slice] = {}  # where the rows of a kind are
        first = 0
        for kind in _ENTRIES:
            self._at[kind] = slice(first, first := first + len(kinds[kind]))
        times = _numbers(self._rows, TIME)
        self._week = _weeks(times, frame)
        self._days_left = 7.0 * self._week - (times - frame.start)  # of the week
        self._count, self._containers = (_numbers(self._rows, c) for c in (COUNT, CONTAINERS))

    def counts(self) -> dict[str, Floats]:
        """What happened in each week, by name of the count, each of shape [weeks]."""
        table, width = {}, self._frame.weeks + 2
        for name, (kind, column) in COUNTS.items():
            at, numbers = self._at[kind], self._count if column == COUNT else self._containers
            sums = np.bincount(self._week[at], numbers[at], width)
            table[name] = np.asarray(sums, dtype=np.float64)[1:-1]
        table["heads delivered"] = table["heads ordered"] - table["heads short"]
        return table

    def work(self) -> CrewsWork:
        """Person-minutes worked by (crew, kind of work) [min], each of shape [weeks]."""
        last = self._at["standing"].start
        rows, weeks, frame = self._rows[:last], self._week[:last], self._frame
        crews = list(dict.fromkeys(map(itemgetter(CREW), rows)))
        counts = [len(self._kinds[kind]) for kind in WORK]
        groups = np.repeat(np.arange(len(WORK)) * len(crews), counts) + _codes(rows, CREW, crews)
        pairs = [(crew, work) for work in WORK.values() for crew in crews]
        sums = _sums(groups, weeks, _numbers(rows, MINUTES), len(pairs), frame)
        seen = groups[(weeks > 0) & (weeks <= frame.weeks)].tolist()
        return {pairs[group]: sums[group, 1:-1] for group in dict.fromkeys(seen)}

    def levels(self, places: Sequence[str]) -> tuple[Floats, Floats]:
        """Mean numbers of plants standing in each place, and of containers not free there (holding
        plants, to be cleaned or resting), each of shape [places, weeks].
        """  # noqa: D205 - one sentence
        moves, rows = self._kinds["moved"], self._rows[: self._at["due"].start]
        place, to = _codes(rows, PLACE, places), _codes(moves, TO, places)
        plants = self._means(_PLANTS_LEAVE, self._count, place, to, len(places))
        return plants, self._means(("freed",), self._containers, place, to, len(places))

    def _means(
        self, leaving: Sequence[str], numbers: Floats, place: Ints, to: Ints, places: int
    ) -> Floats:
        """Weekly means of a level that moves, seedings and what stood there at first raise."""
        at = [self._at[kind] for kind in ("moved", "seeded", "standing", *leaving)]
        groups = np.concatenate([to, *[place[one] for one in at[1:]]])
        weeks = np.concatenate([self._week[one] for one in at])
        changes = np.concatenate([numbers[one] for one in at])
        changes[sum(one.stop - one.start for one in at[:3]) :] *= -1.0
        added = changes * np.concatenate([self._days_left[one] for one in at])
        steps = _sums(groups, weeks, changes, places + 1, self._frame)[:-1]
        areas = _sums(groups, weeks, added, places + 1, self._frame)[:-1]
        return np.asarray(np.cumsum(steps, axis=1)[:, :-2] + areas[:, 1:-1] / 7.0)


class Staffing:
    """Which shift counts for which crew and week: the same in every year of a scenario."""

    def __init__(self, shifts: list[Row], frame: Frame) -> None:
        self._frame = frame
        self._weeks = _weeks(_numbers(shifts, TIME), frame)
        self._crews = list(dict.fromkeys(row[CREW] for row in within(shifts, frame)))
        self._codes = _codes(shifts, CREW, self._crews)

    def work(self, shifts: Sequence[Row]) -> CrewsWork:
        """The person-minutes that there were by (crew, "staffed") [min], each of shape [weeks]."""
        count, minutes = len(self._crews), _numbers(shifts, MINUTES)
        sums = _sums(self._codes, self._weeks, minutes, count + 1, self._frame)
        return {(crew, "staffed"): sums[n, 1:-1] for n, crew in enumerate(self._crews)}


def weekly_counts(kinds: Kinds, frame: Frame) -> dict[str, Floats]:
    """What happened in each week, by name of the count, each of shape [weeks]."""
    return Ledger(kinds, frame).counts()


def crews_work(kinds: Kinds, frame: Frame) -> CrewsWork:
    """Person-minutes by (crew, kind of work), and "staffed" ones there were [min], by week."""
    shifts = kinds["shift"]
    return Ledger(kinds, frame).work() | Staffing(shifts, frame).work(shifts)


def together(work: CrewsWork, frame: Frame) -> dict[str, Floats]:
    """The work of all crews, by kind of work."""
    table = {name: np.zeros(frame.weeks) for name in (*WORK.values(), "staffed")}
    for (_, name), minutes in work.items():
        table[name] += minutes
    return table


def weekly_work(kinds: Kinds, frame: Frame) -> dict[str, Floats]:
    """Person-minutes worked by kind of work, and "staffed" ones there were [min], by week."""
    return together(crews_work(kinds, frame), frame)


def weekly_minutes(kinds: Kinds, frame: Frame) -> Floats:
    """Person-minutes worked by kind of work, in the order of `WORK`, shape [kinds, weeks]."""
    counts = [len(kinds[kind]) for kind in WORK]
    rows = list(chain.from_iterable([kinds[kind] for kind in WORK]))
    weeks = _weeks(_numbers(rows, TIME), frame)
    groups = np.repeat(np.arange(len(WORK)), counts)
    return _sums(groups, weeks, _numbers(rows, MINUTES), len(WORK), frame)[:, 1:-1]


def by_cause(rows: list[Row], frame: Frame) -> dict[tuple[str, str], int]:
    """Counts in the window by (place, cause)."""
    total: dict[tuple[str, str], int] = {}
    for row in within(rows, frame):
        key = row[PLACE], row[CAUSE]
        total[key] = total.get(key, 0) + row[COUNT]
    return total


def short_causes(kinds: Kinds, frame: Frame) -> dict[tuple[int, str], int]:
    """Heads short in the window by (week, cause)."""
    total: dict[tuple[int, str], int] = {}
    for row in within(kinds["short"], frame):
        key = int(row[TIME] - frame.start) // 7, row[CAUSE]
        total[key] = total.get(key, 0) + row[COUNT]
    return total


def weekly_plants(kinds: Kinds, frame: Frame, places: Sequence[str]) -> Floats:
    """Mean number of plants standing in each place, shape [places, weeks]."""
    return Ledger(kinds, frame).levels(places)[0]


def weekly_containers(kinds: Kinds, frame: Frame, places: Sequence[str]) -> Floats:
    """Mean number of containers not free (holding plants, to be cleaned or resting) in each
    place, shape [places, weeks].
    """  # noqa: D205 - one sentence
    return Ledger(kinds, frame).levels(places)[1]


def weeks_table(kinds: Kinds, timetable: Timetable) -> pd.DataFrame:
    """One year week by week: a row per week of the window, dated by its Monday."""
    import pandas as pd  # noqa: PLC0415 - slow to import, needed for tables only

    frame = Frame.of(timetable)
    mondays = [timetable.week_monday(week) for week in range(frame.weeks)]
    table = pd.DataFrame(weekly_counts(kinds, frame), index=pd.Index(mondays, name="week of"))
    for name, minutes in weekly_work(kinds, frame).items():
        table[f"{name} [person-min]"] = minutes
    places = list(timetable.scenario.places)
    for name, plants in zip(places, weekly_plants(kinds, frame, places), strict=True):
        table[f"plants in {name}"] = plants
    for name, held in zip(places, weekly_containers(kinds, frame, places), strict=True):
        table[f"containers taken in {name}"] = held
    return table
