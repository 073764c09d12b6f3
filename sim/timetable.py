"""Which days are simulated, and which shifts happen on them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from math import ceil

from sim.errors import ScenarioError
from sim.parts import Crew, Crop, Shift
from sim.scenario import Scenario
from sim.school_year import SchoolYear, clock, monday, spoken, weekday


@dataclass(frozen=True, slots=True)
class DatedShift:
    """One shift of one crew on one date; times in days since the first day [d]."""

    crew: str
    crew_number: int
    day: int
    number: int
    start: float
    end: float
    people: int
    absent: float
    minutes_each: float
    students: bool
    may_do: frozenset[str]

    @property
    def expected_minutes(self) -> float:
        """Person-minutes to be expected, absence and pace included [min]."""
        return self.people * (1.0 - self.absent) * self.minutes_each


def cycle_days(crop: Crop, *, holds: bool = False) -> float:
    """Mean days from seeding to ready; with `holds` the longest, slow months and waits too [d]."""
    total = 0.0
    for stage in crop.stages:
        slowest = min([100.0, *stage.pace_percent.values()]) / 100.0
        longest = (stage.days + 4.0 * stage.days_sd) / slowest
        waits = 7.0 if stage.keep_days is None else stage.keep_days
        total += longest + waits if holds else stage.days
    return total


class Timetable:
    """The simulated days of a scenario, its measuring window and its dated shifts.

    Raises ScenarioError if no whole week can be measured.
    """

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.start = scenario.start
        self.school_year = SchoolYear(scenario.school)
        back = scenario.benches.date_range()[0] if scenario.benches else self.start
        self.before = (self.start - back).days  # days before the start that plants go back to
        first, last = self._window_dates()
        self.window_start = (first - self.start).days
        self.weeks = ((last - first).days + 1) // 7
        self.window_end = self.window_start + 7 * self.weeks
        if self.weeks < 1 or self.window_start < 0:
            raise ScenarioError(
                f"The measuring window holds no whole week from Monday to Sunday: it runs from "
                f"{spoken(first, year=True)} to {spoken(last, year=True)}, and the run starts on "
                f"{spoken(self.start, year=True)}. Give [window] a first_day and a last_day "
                "at least one week apart, after the start."
            )
        after = max((cycle_days(c, holds=True) for c in scenario.crops.values()), default=0.0)
        self.days = self.window_end + ceil(after + scenario.cold_store.keep_days) + 1

    def _window_dates(self) -> tuple[date, date]:
        """The window rounded inward to whole weeks; by default the weeks with deliveries."""
        given = self.scenario.window
        if given:
            first = monday(max(given.first_day, self.start) + timedelta(days=6))
            last = given.last_day
        else:
            first, last = self._order_dates()
        return first, monday(last + timedelta(days=1)) - timedelta(days=1)

    def _order_dates(self) -> tuple[date, date]:
        school, orders = self.scenario.school, self.scenario.orders
        first = min((o.first_day or school.first_day for o in orders), default=school.first_day)
        last = max((o.last_day or school.last_day for o in orders), default=school.last_day)
        ripe = min((cycle_days(c) for c in self.scenario.crops.values()), default=0.0)
        first = max(first, self.start if orders else self.start + timedelta(days=ceil(ripe)))
        if monday(first) < self.start:
            first = monday(first + timedelta(days=6))
        return monday(first), monday(last) + timedelta(days=6)

    def date_of(self, day: float) -> date:
        """The date of a simulated time [d]."""
        return self.start + timedelta(days=int(day // 1))

    def day_of(self, day: date) -> int:
        """The day number of a date [d]."""
        return (day - self.start).days

    def week_monday(self, week: int) -> date:
        """The Monday of measured week `week` (0 is the first)."""
        return self.date_of(self.window_start + 7 * week)

    @cached_property
    def shifts(self) -> list[DatedShift]:
        """All shifts with people and minutes, by start, then in the file's order of crews."""
        tasks = self.scenario.tasks
        found: list[DatedShift] = []
        for number, (name, crew) in enumerate(self.scenario.crews.items()):
            may = frozenset(t for t, task in tasks.items() if not task.who or name in task.who)
            found += self._shifts_of(number, name, crew, may)
        return sorted(found, key=lambda s: (s.start, s.crew_number))

    def _shifts_of(
        self, number: int, name: str, crew: Crew, may: frozenset[str]
    ) -> list[DatedShift]:
        pace = crew.pace_percent / 100.0
        dated = []
        for day in range(self.days):
            for index, shift in enumerate(crew.shifts):
                minutes = self._minutes(shift, self.date_of(day)) * pace
                if minutes > 0.0:
                    start, end = day + clock(shift.starts), day + clock(shift.ends)
                    dated.append(
                        DatedShift(
                            name, number, day, index, start, end, crew.people,
                            crew.absent_percent / 100.0, minutes, crew.students, may,
                        )
                    )  # fmt: skip
        return dated

    def _minutes(self, shift: Shift, day: date) -> float:
        kind = self.school_year.kind(day)
        if weekday(day) not in shift.weekdays or kind not in shift.on:
            return 0.0
        if shift.only and not any(s.first_day <= day <= s.last_day for s in shift.only):
            return 0.0
        return shift.minutes(kind)

    @cached_property
    def _days_by_task(self) -> dict[str, set[int]]:
        days: dict[str, set[int]] = defaultdict(set)
        for shift in self.shifts:
            for task in shift.may_do:
                days[task].add(shift.day)
        return days

    def staffed(self, task: str | None, day: int) -> bool:
        """Whether somebody who may do the task is there that day; no task needs nobody."""
        return task is None or day in self._days_by_task[task]

    def nearest_staffed(self, task: str | None, day: int, within: int = 7) -> int | None:
        """The staffed day nearest to `day`, the earlier of two; None if none is near."""
        for distance in range(within + 1):
            for near in (day - distance, day + distance):
                if 0 <= near < self.days and self.staffed(task, near):
                    return near
        return None
