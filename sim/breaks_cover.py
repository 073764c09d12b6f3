"""Staff cover in a closure: what a scenario has, and a crew of adults that comes on some days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

from sim.breaks_calendar import Closure
from sim.breaks_variants import shifts_off, stretches
from sim.order_book import Leaving
from sim.parts import WEEKDAYS, Crew, Shift, Task
from sim.scenario import Scenario
from sim.school_year import clock
from sim.seeding import PlannedSeeding
from sim.timetable import DatedShift, Timetable

PEOPLE = 2  # adults, where the scenario has no cover crew
HOURS = (2, 3, 4, 5, 6)  # of one day of cover
MOST_DAYS = 3  # of cover in a week
_STARTS = time(8)
_NAME = "added cover"


@dataclass(frozen=True)
class Visit:
    """Cover on some days: so many people, from `starts` on, for so many hours."""

    days: tuple[date, ...]
    people: int
    starts: time
    hours: int

    @property
    def person_hours(self) -> float:
        """People times hours, over all days [h]."""
        return float(self.people * self.hours * len(self.days))


class OwnCover:
    """The cover that a scenario has: shifts that are held on no regular day of the run."""

    def __init__(self, scenario: Scenario, table: Timetable) -> None:
        self._scenario, self._table = scenario, table
        held: dict[tuple[str, int], list[DatedShift]] = {}
        for shift in table.shifts:
            held.setdefault((shift.crew, shift.number), []).append(shift)
        self._held = {key: shifts for key, shifts in held.items() if not self._regular(shifts)}

    def _regular(self, shifts: Sequence[DatedShift]) -> bool:
        kinds = {self._table.school_year.kind(self._table.date_of(s.day)) for s in shifts}
        return bool(kinds & {"regular", "early release"})

    def _keys(self, closure: Closure) -> set[tuple[str, int]]:
        """Crew and number of the shifts that cover some school day of a closure."""
        dates = set(closure.days)
        return {
            key
            for key, shifts in self._held.items()
            if any(self._table.date_of(s.day) in dates for s in shifts)
        }

    def taken_from(self, scenario: Scenario, closure: Closure) -> Scenario:
        """The scenario without its cover in this closure."""
        keys = self._keys(closure)
        if not keys:
            return scenario
        return shifts_off(scenario, closure, lambda crew, number: (crew, number) in keys)

    def person_hours(self, closure: Closure) -> float:
        """People times hours of the cover in this closure [h]."""
        hours = sum(
            24.0 * (s.end - s.start) * s.people
            for key in sorted(self._keys(closure))
            for s in self._held[key]
            if closure.holds(self._table.date_of(s.day))
        )
        return round(hours, 6)  # clock times are sums of floats

    def crew(self) -> tuple[str | None, Crew, time]:
        """The crew that covers breaks, the first in the file, its people, and when they begin.

        Two adults from 8:00 am if there is none.
        """
        for name, number in sorted(self._held, key=self._place):
            crew = self._scenario.crews[name]
            on = crew.shifts[number].on
            if not crew.students and "closed" in on:
                starts = crew.shifts[number].starts
                early = starts.hour + HOURS[-1] < 24
                return name, crew, starts if early else _STARTS
        return None, Crew(people=PEOPLE), _STARTS

    def _place(self, key: tuple[str, int]) -> tuple[int, int]:
        return list(self._scenario.crews).index(key[0]), key[1]

    def visit(self, days: Sequence[date], hours: int) -> Visit:
        """Cover on these days by as many people as the cover crew has."""
        _, crew, starts = self.crew()
        return Visit(tuple(days), crew.people, starts, hours)

    def added_to(self, scenario: Scenario, visit: Visit) -> Scenario:
        """The scenario with one crew more, like the cover crew, that comes for a visit.

        It may do what the cover crew may; without a cover crew it may do everything.
        """
        like, crew, _ = self.crew()
        name = _NAME
        while name in scenario.crews:
            name += "*"
        ends = visit.starts.replace(hour=visit.starts.hour + visit.hours)
        shift = Shift(
            name=name, weekdays=WEEKDAYS, starts=visit.starts, ends=ends, on=("closed", "exam"),
            only=stretches(visit.days),
        )  # fmt: skip
        new = crew.model_copy(update={"people": visit.people, "shifts": (shift,)})
        tasks = {task: _may(t, like, name) for task, t in scenario.tasks.items()}
        return scenario.model_copy(update={"crews": {**scenario.crews, name: new}, "tasks": tasks})


def _may(task: Task, like: str | None, name: str) -> Task:
    if not task.who or (like is not None and like not in task.who):
        return task
    return task.model_copy(update={"who": (*task.who, name)})


class CoverDays:
    """The days of a closure on which cover that begins at `starts` does most, by arithmetic.

    `unserved` are deliveries that nobody else can harvest for.
    """

    def __init__(
        self,
        table: Timetable,
        unserved: Sequence[Leaving],
        seedings: Sequence[PlannedSeeding],
        starts: time,
    ) -> None:
        self._table, self._unserved, self._starts = table, unserved, clock(starts)
        self._trays = Counter[date]()
        for s in seedings:
            self._trays[table.date_of(s.day)] += s.trays

    def of(self, closure: Closure, per_week: int) -> tuple[date, ...]:
        """So many days of each week, or all, in order.

        Taken one by one: the day that reaches most heads of deliveries not yet reached, of equals
        that with most trays to seed, then that farthest from those taken, then the middle one.
        """
        chosen: list[date] = []
        left = list(self._unserved)
        for week in closure.weeks:
            taken: list[date] = []
            for _ in range(min(per_week, len(week))):
                free = [day for day in week if day not in taken]
                best = max(free, key=lambda day: self._worth(day, left, taken, week))
                left = [x for x in left if not self._reaches(best, x)]
                taken.append(best)
            chosen += taken
        return tuple(sorted(chosen))

    def _worth(
        self, day: date, left: Sequence[Leaving], taken: Sequence[date], week: Sequence[date]
    ) -> tuple[int, int, int, int]:
        heads = sum(x.heads for x in left if self._reaches(day, x))
        apart = min((abs(day - other).days for other in taken), default=0)
        middle = week[(len(week) - 1) // 2]
        return heads, self._trays[day], apart, -abs(day - middle).days

    def _reaches(self, day: date, leaving: Leaving) -> bool:
        """Whether heads cut when the cover begins are fresh enough for a delivery."""
        keep = self._table.scenario.cold_store.keep_days
        return leaving.time - keep < self._table.day_of(day) + self._starts < leaving.time
