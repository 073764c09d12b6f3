"""What is known before a reference run starts: shifts, seedings, deliveries, opening days.

Days are numbered from 0 on the scenario's first day; times are in
days [d] from 00:00 of that day.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from sim.parts import MONTHS, Order, Stage
from sim.scenario import Scenario
from sim.school_year import SchoolYear, clock, days_of, weekday


@dataclass(frozen=True)
class PlannedShift:
    """A crew's shift on a dated day: from and to [d], working minutes of one person [min]."""

    crew: str
    starts: float
    ends: float
    minutes: float

    def minutes_between(self, start: float, end: float) -> float:
        """Working minutes of one person between two times, spread evenly [min]."""
        shared = min(end, self.ends) - max(start, self.starts)
        return max(0.0, shared) / (self.ends - self.starts) * self.minutes


@dataclass
class Delivery:
    """All orders that leave at one moment: `asked` holds (customer priority, heads)."""

    leaves: float
    asked: list[tuple[int, int]]
    opens: float | None = None

    @property
    def heads(self) -> int:
        """Heads ordered in all [heads]."""
        return sum(heads for _, heads in self.asked)


class Plan:
    """A scenario of one crop, day by day."""

    def __init__(self, scenario: Scenario) -> None:
        assert scenario.window is not None, "the reference needs a measuring window"
        assert len(scenario.crops) == 1, "the reference grows one crop"
        assert not scenario.surplus, "the reference knows no surplus outlet"
        (self.crop,) = scenario.crops.values()
        assert all(stage.days_shape == "normal" for stage in self.crop.stages)
        assert self.crop.stages[0].move_loss_percent == 0, "nothing is moved into the first stage"
        self.scenario = scenario
        self.year = SchoolYear(scenario.school)
        first = (scenario.window.first_day - scenario.start).days
        beyond = (scenario.window.last_day - scenario.start).days + 1
        self.opens = first + -self.dated(first).weekday() % 7
        self.closes = beyond - self.dated(beyond).weekday()
        self.end = self.closes + self._one_cycle()
        self.shifts = [self._shifts_on(day) for day in range(self.end)]
        self.deliveries = self._deliveries()
        self._choose_opening_days()
        self.seedings = self._seedings()

    def dated(self, day: int) -> date:
        """The date of a numbered day."""
        return self.scenario.start + timedelta(days=day)

    def may(self, crew: str, task: str | None) -> bool:
        """Whether a crew may do a task."""
        return task is not None and crew in (self.scenario.tasks[task].who or (crew,))

    def staffed(self, day: int, task: str | None) -> bool:
        """Whether a crew that may do the task has a shift that day; no task needs nobody."""
        return task is None or any(self.may(shift.crew, task) for shift in self.shifts[day])

    def whole_days(self, stage: Stage, drawn: float, day: int) -> int:
        """Days until the pace, added up from a day on, reaches the drawn length (C3, C4)."""
        grown = days = 0.0
        while True:
            month = MONTHS[self.dated(day + int(days)).month - 1]
            pace = stage.pace_percent.get(month, 100.0) / 100
            if grown + pace >= drawn:
                return max(1, math.floor(days + (drawn - grown) / pace + 0.5))
            grown += pace
            days += 1

    def _one_cycle(self) -> int:
        """Days after the window by which every plant seeded in it has met its fate."""
        slowest = (
            stage.days / min([100.0, *stage.pace_percent.values()]) * 100
            + 4 * stage.days_sd
            + (stage.keep_days or 0)
            for stage in self.crop.stages
        )
        return math.ceil(
            sum(slowest) + self.scenario.cold_store.keep_days + self.scenario.cadence.late_days
        )

    def _shifts_on(self, day: int) -> list[PlannedShift]:
        today, kind = self.dated(day), self.year.kind(self.dated(day))
        return [
            PlannedShift(name, day + clock(s.starts), day + clock(s.ends), s.minutes(kind))
            for name, crew in self.scenario.crews.items()
            for s in crew.shifts
            if weekday(today) in s.weekdays
            and kind in s.on
            and (not s.only or any(o.first_day <= today <= o.last_day for o in s.only))
            and s.minutes(kind) > 0
        ]

    def _heads_on(self, order: Order, today: date) -> int:
        """Heads that a standing order asks for on a date (O1)."""
        paused = any(today in days_of(stretch) for stretch in order.paused)
        closed = order.school_closed == "pause" and not self.year.in_session(today)
        early = order.first_day is not None and today < order.first_day
        late = order.last_day is not None and today > order.last_day
        return 0 if paused or closed or early or late else order.heads.get(weekday(today), 0)

    def _deliveries(self) -> list[Delivery]:
        """Everything that leaves, by leaving time; orders that leave together share one."""
        by_time: dict[float, Delivery] = {}
        for day in range(self.end):
            for order in self.scenario.orders:
                heads = self._heads_on(order, self.dated(day))
                leaves = day + clock(order.leaves)
                if heads:
                    delivery = by_time.setdefault(leaves, Delivery(leaves, []))
                    delivery.asked.append((order.priority, heads))
        return [by_time[leaves] for leaves in sorted(by_time)]

    def _choose_opening_days(self) -> None:
        """O2: the latest staffed day from which the expected minutes suffice."""
        set_aside = dict.fromkeys(range(self.end), 0.0)
        task = self.crop.harvested_by
        for delivery in self.deliveries:
            earliest = max(0.0, delivery.leaves - self.scenario.cold_store.keep_days)
            if task is None:
                delivery.opens = max(math.floor(delivery.leaves), earliest)
                continue
            needed = delivery.heads * self.scenario.tasks[task].minutes_each
            for day in range(math.floor(delivery.leaves), math.floor(earliest) - 1, -1):
                minutes = self._expected_minutes(day, earliest, delivery.leaves)
                if minutes > 0:
                    delivery.opens = max(day, earliest)
                used = min(needed, max(0.0, minutes - set_aside[day]))
                set_aside[day] += used
                needed -= used
                if needed <= 0:
                    break

    def _expected_minutes(self, day: int, start: float, end: float) -> float:
        """Expected person-minutes of harvesting crews on a day between two times [min]."""
        minutes = 0.0
        for shift in self.shifts[day]:
            crew = self.scenario.crews[shift.crew]
            if self.may(shift.crew, self.crop.harvested_by):
                present = crew.people * (1 - crew.absent_percent / 100) * crew.pace_percent / 100
                minutes += present * shift.minutes_between(start, end)
        return minutes

    def _seedings(self) -> list[tuple[int, int]]:
        """The cadence as (day, trays), one entry per seeding (K1, K2: two of the rules)."""
        found = [
            ((seeding.day - self.scenario.start).days, seeding.trays)
            for seeding in self.scenario.cadence.added
        ]
        for line in self.scenario.cadence.lines:
            first = line.first_day or self.scenario.start
            from_monday = first - timedelta(days=first.weekday())
            for day in range(self.end):
                today = self.dated(day)
                in_turn = (today - from_monday).days // 7 % line.every_weeks == 0
                in_time = today <= line.last_day if line.last_day else self._ripens_in_time(day)
                if first <= today and in_turn and in_time and self._kept(day):
                    trays = line.trays.get(weekday(today), 0)
                    cells = line.heads_wanted.get(weekday(today), 0) * line.cells_per_head
                    trays += math.ceil(cells / self._cells_per_tray() - 1e-9)
                    found += [(day, trays)] if trays else []
        return sorted(found)

    def _cells_per_tray(self) -> int:
        return self.scenario.places[self.crop.stages[0].place].sites_each

    def _kept(self, day: int) -> bool:
        """Whether the break rule keeps a seeding on its day."""
        cadence = self.scenario.cadence
        assert cadence.break_rule in ("if staffed", "skip closed days"), cadence.break_rule
        if self.dated(day) in cadence.skipped:
            return False
        if cadence.break_rule == "skip closed days":
            return self.year.in_session(self.dated(day))
        return self.staffed(day, self.crop.stages[0].moved_in_by)

    def _ripens_in_time(self, day: int) -> bool:
        """K1: whether a seeding can be ready, at mean lengths, for the last delivery."""
        for stage in self.crop.stages:
            day += self.whole_days(stage, stage.days, day)
        return not self.deliveries or day <= self.deliveries[-1].leaves
