"""What a justification needs of single years' rows: hours of people present, and the cold store."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.agreement import COLD_STORE
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import Frame
from sim.records import COUNT, CREW, KIND, PLACE, TIME, Row
from sim.timetable import Timetable
from sim.weeks import Floats

_IN_STORE = {"harvested": 1, "delivered": -1, "surplus": -1}  # wherever the heads grew


@dataclass(frozen=True)
class Looks:
    """What rows of some years show, over the measured weeks.

    `hours` by crew are people present x length of the shift [person-hours], shape [years]; `store`
    is the most heads in the cold store at one time in each week [heads], shape [years, weeks].
    """

    hours: dict[str, Floats]
    store: Floats

    @property
    def years(self) -> int:
        """How many years were looked at."""
        return len(self.store)


def look(plan: Plan, seed: int, years: int) -> Looks:
    """Simulate replications 0 ... `years` - 1 and keep what is needed of their rows."""
    frame, hours = Frame.of(plan.timetable), defaultdict[str, list[float]](list)
    lengths = shift_hours(plan.timetable)
    store = []
    for number in range(years):
        rows = run_year(plan, seed, number)
        store.append(store_peaks(rows, frame))
        present = _hours(rows, frame, lengths)
        for crew in plan.scenario.crews:
            hours[crew].append(present[crew])
    return Looks({crew: np.array(each) for crew, each in hours.items()}, np.array(store))


def shift_hours(timetable: Timetable) -> dict[tuple[str, float], float]:
    """The clock length of each shift by crew and end [h]."""
    return {(s.crew, round(s.end, 6)): 24.0 * (s.end - s.start) for s in timetable.shifts}


def expected_hours(timetable: Timetable, first: float, last: float) -> dict[str, float]:
    """Person-hours present by crew in shifts that start in [first, last) [d], by arithmetic.

    People x (1 - absent) x length: the mean of a binomial attendance (rule W2).
    """
    found = dict.fromkeys(timetable.scenario.crews, 0.0)
    for s in timetable.shifts:
        if first <= s.start < last:
            found[s.crew] += s.people * (1.0 - s.absent) * 24.0 * (s.end - s.start)
    return found


def _hours(
    rows: Sequence[Row], frame: Frame, lengths: dict[tuple[str, float], float]
) -> dict[str, float]:
    """Person-hours present in the window by crew."""
    found: dict[str, float] = defaultdict(float)
    for row in rows:
        if row[KIND] == "shift" and frame.start < row[TIME] <= frame.end:
            found[row[CREW]] += row[COUNT] * lengths[row[CREW], round(row[TIME], 6)]
    return found


def store_peaks(rows: Sequence[Row], frame: Frame) -> Floats:
    """The most heads in the cold store at one time in each week of the window [heads], [weeks].

    Rows of one moment are taken together; a week begins with what is left of the one before.
    """
    changes: dict[float, int] = defaultdict(int)
    for row in rows:
        sign = _IN_STORE.get(row[KIND], 0)
        if row[PLACE] == COLD_STORE:
            sign = {"standing": 1, "dumped": -1}.get(row[KIND], sign)
        changes[row[TIME]] += sign * row[COUNT]
    peaks, level, week = np.zeros(frame.weeks), 0, -1
    for time in sorted(changes):
        now = int((time - frame.start) // 7)
        for entered in range(max(week + 1, 0), min(now, frame.weeks - 1) + 1):
            peaks[entered] = level
        week = max(week, now)
        level += changes[time]
        if 0 <= now < frame.weeks:
            peaks[now] = max(peaks[now], level)
    return peaks
