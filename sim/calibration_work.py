"""Minutes for each unit of work, and people absent, from the rows of a season.

Minutes are person-minutes as the rows give them; a crew's own pace is not measured. A task's set-up
minutes are taken off once for each crew and shift, as the scenario says them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import nan, sqrt

import numpy as np
from scipy import stats

from sim.calibration_shares import LEVEL
from sim.records import CONTAINERS, COUNT, CREW, CROP, KIND, MINUTES, PLACE, SINCE, TIME, TO, Row
from sim.scenario import Scenario
from sim.timetable import Timetable

_EDGE = 1e-6  # days by which a row may lie beyond its shift's end


@dataclass(frozen=True)
class Sessions:
    """Work on one task, a number for each crew's shift: units done, person-minutes taken [min]."""

    units: tuple[int, ...]
    minutes: tuple[float, ...]


@dataclass(frozen=True)
class Ratio:
    """Minutes for each unit, with the interval [min]."""

    each: float
    low: float
    high: float


def sessions_of(rows: Iterable[Row], timetable: Timetable) -> dict[str, Sessions]:
    """Timed work by task; rows without minutes tell nothing.

    Work of one crew in one shift is one session, because it is one class with one watch.
    """
    scenario, shifts = timetable.scenario, _Shifts(timetable)
    units: defaultdict[str, dict[tuple[str, int, int], int]] = defaultdict(dict)
    minutes: defaultdict[str, dict[tuple[str, int, int], float]] = defaultdict(dict)
    for row in rows:
        task, number = task_of(row, scenario)
        if task is None or not row[MINUTES] or not number:
            continue
        session = (row[CREW], int(row[TIME]), shifts.number(row))
        units[task][session] = units[task].get(session, 0) + number
        minutes[task][session] = minutes[task].get(session, 0.0) + row[MINUTES]
    return {
        task: Sessions(tuple(units[task].values()), tuple(minutes[task].values())) for task in units
    }


def task_of(row: Row, scenario: Scenario) -> tuple[str | None, int]:
    """The task of a row and its units: trays, plants, heads, containers or checks."""
    kind, crop, place = row[KIND], scenario.crops.get(row[CROP]), scenario.places.get(row[PLACE])
    if kind == "checked":
        return scenario.daily_checks_by, row[COUNT]
    if kind in ("washed", "cleared") and place:
        return place.washed_by if kind == "washed" else place.cleared_by, row[CONTAINERS]
    if kind == "harvested" and crop:
        return crop.harvested_by, row[COUNT]
    if kind == "seeded" and crop:
        return crop.stages[0].moved_in_by, row[CONTAINERS]
    if kind == "moved" and crop:
        into = [stage.moved_in_by for stage in crop.stages if stage.place == row[TO]]
        return (into[0] if into else None), row[COUNT]
    return None, 0


class _Shifts:
    """Which shift of the day a row belongs to."""

    def __init__(self, timetable: Timetable) -> None:
        self._by_day: defaultdict[tuple[str, int], list[tuple[float, float]]] = defaultdict(list)
        for shift in timetable.shifts:
            self._by_day[shift.crew, shift.day].append((shift.start, shift.end))

    def number(self, row: Row) -> int:
        """The shift's number among its crew's of that day, -1 if it is none of them."""
        held = self._by_day.get((row[CREW], int(row[TIME])), ())
        for number, (start, end) in enumerate(held):
            if start - _EDGE <= row[TIME] <= end + _EDGE:
                return number
        return -1


def minutes_each(sessions: Sessions, setup: float) -> Ratio:
    """Minutes of all sessions, less their set-up, over their units.

    The interval is that of a ratio estimate (Cochran, Sampling Techniques, 1977, section 2.11,
    from memory) with Student's t over sessions.
    """
    units = np.asarray(sessions.units, dtype=float)
    minutes = np.maximum(np.asarray(sessions.minutes) - setup, 0.0)
    number = len(units)
    each = float(minutes.sum() / units.sum())
    if number < 2:
        return Ratio(each, nan, nan)
    off = minutes - each * units
    error = sqrt(float((off**2).sum()) * number / (number - 1)) / float(units.sum())
    half = float(stats.t.ppf((1.0 + LEVEL) / 2.0, number - 1)) * error
    return Ratio(each, max(each - half, 0.0), each + half)


@dataclass(frozen=True)
class Attendance:
    """People of a crew by shift: how many should be there, how many were absent.

    `over` shifts had more people than the crew has; nobody is taken as absent from them.
    """

    people: tuple[int, ...]
    absent: tuple[int, ...]
    over: int


def attendance_of(rows: Iterable[Row], scenario: Scenario) -> Mapping[str, Attendance]:
    """Attendance by crew, from rows of shifts; a shift told twice counts once."""
    present: dict[tuple[str, float], int] = {}
    for row in rows:
        if row[KIND] == "shift" and row[CREW] in scenario.crews:
            present[row[CREW], row[SINCE] or row[TIME]] = row[COUNT]
    found = {}
    for name, crew in scenario.crews.items():
        there = [count for (who, _), count in present.items() if who == name]
        if there:
            found[name] = Attendance(
                (crew.people,) * len(there),
                tuple(max(crew.people - count, 0) for count in there),
                sum(count > crew.people for count in there),
            )
    return found


def days_of(rows: Sequence[Row]) -> tuple[int, int]:
    """First and last day of the records [days since the first day]."""
    days = [int(row[TIME]) for row in rows] or [0]
    return min(days), max(days)
