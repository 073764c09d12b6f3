"""Futures: simulated runs from today's benches, up to the end of the last week looked at.

A future is a replication of the scenario that holds the benches; futures of one number have the
same luck in every variant of it. Every variant seeds one dated list, that of the scenario itself,
so that a variant changes what it names and nothing else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from sim.breaks_seedings import dated
from sim.collisions import Change, changes
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import WORK
from sim.order_book import leavings
from sim.parts import Dates, Seeding
from sim.records import CAUSE, COUNT, CROP, CUSTOMER, KIND, MINUTES, TIME, Row
from sim.scenario import Scenario
from sim.school_year import MINUTES_PER_DAY, monday, spoken
from sim.seeding import PlannedSeeding, seeding_list
from sim.timetable import Timetable
from sim.weeks import Floats

Heard = Callable[[int], None]  # hears how many futures were added
Key = tuple[float, str, str]  # when it leaves [d], crop, customer

_WEEK = timedelta(days=7)


@dataclass(frozen=True)
class Due:
    """A delivery to come: heads ordered, and the number of its week."""

    leaves: datetime
    customer: str
    crop: str
    heads: int
    week: int


@dataclass(frozen=True)
class Futures:
    """What happens in so many futures.

    `short` heads by delivery, shape [futures, deliveries]; `causes` are heads short by (delivery,
    cause), sum of all futures. `worked` and `there` are person-minutes by day, mean of the
    futures, shape [days].
    """

    short: Floats
    causes: Counter[tuple[int, str]]
    worked: Floats
    there: Floats

    @property
    def count(self) -> int:
        """How many futures there are."""
        return len(self.short)


def skipped(scenario: Scenario) -> list[Seeding]:
    """The seedings of days to come that are skipped with nobody there to seed, in order of day."""
    table = Timetable(scenario.model_copy(update={"benches": None}))
    due = leavings(table.scenario, table)
    return [
        Seeding(day=change.planned, crop=change.crop, trays=change.trays)
        for change in changes(table, due, seeding_list(table, due))
        if change.what == "skipped" and change.planned >= scenario.start
        and not _somebody(table, change)
    ]  # fmt: skip


def _somebody(table: Timetable, change: Change) -> bool:
    task = table.scenario.crops[change.crop].stages[0].moved_in_by
    return table.staffed(task, table.day_of(change.planned))


def fixed(scenario: Scenario, weeks: int) -> Scenario:
    """The scenario with its own seedings as a dated list, measured over the weeks ahead.

    The list is that of the scenario from its beginning: batches that stand on the benches keep
    their names.
    """
    end = monday(scenario.start) + weeks * _WEEK
    window = Dates(first_day=scenario.start, last_day=end + timedelta(days=6))
    return dated(scenario, _whole_list(scenario)).model_copy(update={"window": window})


def _whole_list(scenario: Scenario) -> list[PlannedSeeding]:
    """The seedings of the scenario's lines from its beginning on; before today days are below 0."""
    lines = scenario.cadence.model_copy(update={"added": ()})
    whole = scenario.model_copy(update={"benches": None, "cadence": lines})
    table = Timetable(whole)
    before = (scenario.start - table.start).days
    listed = seeding_list(table, leavings(whole, table))
    return [_earlier(s, before) for s in listed]


def _earlier(s: PlannedSeeding, days: int) -> PlannedSeeding:
    return PlannedSeeding(s.day - days, s.crop, s.trays, s.week, s.entry, s.batch)


class Ahead:
    """The days from the benches on, this week included, with the deliveries due in them.

    `scenario` is one that `fixed` made, or a variant of it.
    """

    def __init__(self, scenario: Scenario, weeks: int) -> None:
        self.plan = Plan(scenario)
        self.table = self.plan.timetable
        first = monday(self.table.start)
        self.mondays = [first + n * _WEEK for n in range(weeks)]
        self.days = self.table.day_of(first + weeks * _WEEK)
        ahead = [stop for stop in self.plan.timeline if stop[0] <= self.days]
        self.plan.timeline = ahead  # what comes later cannot reach back
        self._at: dict[Key, int] = {}
        self.due = self._deliveries()

    def _deliveries(self) -> tuple[Due, ...]:
        """The deliveries in order of leaving; several lines of one customer are one."""
        heads: Counter[Key] = Counter()
        for leaving in self.plan.leavings:
            if leaving.time < self.days:
                for delivery in leaving.deliveries:
                    heads[leaving.time, leaving.crop, delivery.customer] += delivery.heads
        due = []
        for number, ((at, crop, customer), ordered) in enumerate(heads.items()):
            self._at[at, crop, customer] = number
            week = (monday(self.table.date_of(at)) - self.mondays[0]).days // 7
            due.append(Due(self._moment(at), customer, crop, ordered, week))
        return tuple(due)

    def _moment(self, at: float) -> datetime:
        """A simulated time [d] as a date and clock time, to the minute."""
        midnight = datetime.combine(self.table.start, time.min)
        return midnight + timedelta(minutes=round(at * MINUTES_PER_DAY))

    def futures(self, count: int, seed: int, heard: Heard | None = None) -> Futures:
        """Futures 0 ... `count` - 1."""
        short = np.zeros((count, len(self.due)))
        causes: Counter[tuple[int, str]] = Counter()
        worked, there = np.zeros(self.days), np.zeros(self.days)
        for number in range(count):
            for row in run_year(self.plan, seed, number):
                if row[TIME] >= self.days:
                    break
                if row[KIND] == "short":
                    at = self._at[row[TIME], row[CROP], row[CUSTOMER]]
                    short[number, at] += row[COUNT]
                    causes[at, row[CAUSE]] += row[COUNT]
                elif row[KIND] == "shift":
                    there[_day(row)] += row[MINUTES]
                elif row[KIND] in WORK:
                    worked[_day(row)] += row[MINUTES]
            if heard:
                heard(1)
        return Futures(short, causes, worked / count, there / count)

    def by_week(self, short: Floats) -> Floats:
        """Heads short by week, from those by delivery; shape [futures, weeks]."""
        weeks = np.array([due.week for due in self.due], dtype=int)
        of_week = weeks[:, None] == np.arange(len(self.mondays))
        return np.asarray(short @ of_week.astype(float))


def _day(row: Row) -> int:
    return int(row[TIME])


def refuse_nothing_due(ahead: Ahead) -> None:
    """Raise SeedbeatError if nothing is ordered in the weeks ahead."""
    if not ahead.due:
        last: date = ahead.mondays[-1] + timedelta(days=6)
        raise SeedbeatError(
            f"outlook: nothing is ordered from {spoken(ahead.table.start, year=True)} to "
            f"{spoken(last, year=True)}, so nothing can be short; choose another --on, or more "
            "--weeks."
        )
