"""When somebody looked, and whether what was ready could have been moved that day.

Where people write down what is ready, they are taken to look at a place only on the weekdays on
which some row says so: on the others they may have been there for other work. That widens the
limits of a length, and makes none wrong.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta
from math import inf

import numpy as np

from sim.parts import MONTHS, Stage
from sim.records import CONTAINERS, COUNT, CREW, KIND, MINUTES, PLACE, TIME, TO, Row
from sim.timetable import Timetable

_BY_NOBODY = frozenset(
    ("standing", "emptied", "freed", "due", "short", "missed", "delivered", "surplus")
)
_SPARE = 0.05  # share of a day's minutes that must be left over for a move to have been possible
_BEYOND = 400  # days after the records that a pace is known for


class Visits:
    """The days on which people were there, with the room and the minutes that they left over."""

    def __init__(self, rows: Sequence[Row], timetable: Timetable) -> None:
        self._table = timetable
        self.days = sorted({int(row[TIME]) for row in rows if _by_people(row)})
        self._visited = {self._weekday(day) for day in self.days}
        self._taken: dict[str, list[int]] = {}
        self._had: defaultdict[int, dict[str, float]] = defaultdict(dict)
        self._worked: defaultdict[int, dict[str, float]] = defaultdict(dict)
        self._looked: defaultdict[str, set[int]] = defaultdict(set)  # weekdays, by place
        length = max((int(row[TIME]) for row in rows), default=0) + 1
        self.last = self.days[-1] if self.days else length - 1
        for row in rows:
            self._note(row, length)
        for taken in self._taken.values():
            for day in range(1, length):
                taken[day] += taken[day - 1]

    def _note(self, row: Row, length: int) -> None:
        kind, day = row[KIND], int(row[TIME])
        if kind in ("seeded", "moved", "freed", "standing"):
            place = row[TO] if kind == "moved" else row[PLACE]
            taken = self._taken.setdefault(place, [0] * length)
            taken[day] += -row[CONTAINERS] if kind == "freed" else row[CONTAINERS]
        if kind == "finished" or (kind == "checked" and row[PLACE]):
            everyday = row[TIME] == day  # at 00:00 nobody walks round: it is known of each day
            self._looked[row[PLACE]] |= set(range(7)) if everyday else {self._weekday(day)}
        if row[MINUTES]:
            minutes = self._had if kind == "shift" else self._worked
            minutes[day][row[CREW]] = minutes[day].get(row[CREW], 0.0) + row[MINUTES]

    def _weekday(self, day: int) -> int:
        return self._table.date_of(day).weekday()

    def weekdays(self, place: str) -> list[int]:
        """The weekdays of visits on which a place is looked at, 0 for Monday."""
        visited = self._visited
        return sorted(visited & self._looked[place] if place in self._looked else visited)

    def before(self, day: int, place: str) -> int | None:
        """The last visit before a day on which a place was looked at, None if there is none."""
        looked, earlier = self.weekdays(place), self.days[: bisect_left(self.days, day)]
        return next((d for d in reversed(earlier) if self._weekday(d) in looked), None)

    def last_chance(self, day: int, task: str | None, place: str) -> int | None:
        """The last visit before a day on which a move into `place` was possible.

        A move without a task needs nobody, so that every day is one.
        """
        looked = range(day) if task is None else self.days[: bisect_left(self.days, day)]
        possible = (d for d in reversed(looked) if self._room(d, place) and self._time(d, task))
        return next(possible, None)

    def _room(self, day: int, place: str) -> bool:
        """Whether a container was free at the end of a day; "" for a step that needs none."""
        count = self._table.scenario.places[place].count if place else None
        taken = self._taken.get(place)
        return count is None or taken is None or taken[min(day, len(taken) - 1)] < count

    def _time(self, day: int, task: str | None) -> bool:
        """Whether minutes were left over that day; where none are written, it is taken so."""
        if task is None:
            return True
        who = self._table.scenario.tasks[task].who
        had, worked = (
            sum(minutes for crew, minutes in of[day].items() if not who or crew in (*who, ""))
            for of in (self._had, self._worked)
        )
        each = self._table.scenario.tasks[task].minutes_each
        return not had or had - worked >= max(_SPARE * had, each)


def _by_people(row: Row) -> bool:
    """Whether a row shows that somebody was there; at 00:00 exactly nobody is."""
    if row[KIND] in _BY_NOBODY or row[TIME] == int(row[TIME]):
        return False
    return row[KIND] != "shift" or row[COUNT] > 0


class Pace:
    """How far a stage has come by a moment, in days of a pace of 100 % (rule C4)."""

    def __init__(self, stage: Stage, timetable: Timetable, days: int) -> None:
        paces = [stage.pace_percent.get(month, 100.0) / 100.0 for month in MONTHS]
        self._before = timetable.before
        numbers = range(-self._before, days + _BEYOND)
        dates = (timetable.start + timedelta(days=n) for n in numbers)
        self._grown = np.concatenate([[0.0], np.cumsum([paces[d.month - 1] for d in dates])])

    def limits(self, placed: int, seen_not: int, seen: float) -> tuple[float, float]:
        """Limits of a length whose part was not ready on day `seen_not`, and was on day `seen`.

        A part placed on day p is finished at 00:00 on p + max(1, floor(length + 1/2)) (rule C3);
        `seen` is inf if it still grows [days].
        """
        low = -inf if seen_not <= placed else self._grown_by(seen_not + 0.5, placed)
        return low, self._grown_by(max(seen, placed + 1) + 0.5, placed) if seen < inf else inf

    def _grown_by(self, time: float, placed: int) -> float:
        first, moment = placed + self._before, time + self._before
        whole = min(int(moment), len(self._grown) - 2)
        here = self._grown[whole] + (moment - whole) * (self._grown[whole + 1] - self._grown[whole])
        return float(here - self._grown[first])
