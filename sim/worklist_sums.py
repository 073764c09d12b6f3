"""Rows of simulated years summed by shift, task and batch, and by delivery."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Sequence

from sim.greenhouse.plan import Plan
from sim.measures import WORK
from sim.records import (
    BATCH,
    CAUSE,
    CONTAINERS,
    COUNT,
    CREW,
    CROP,
    CUSTOMER,
    KIND,
    MINUTES,
    PLACE,
    SINCE,
    TIME,
    TO,
    Row,
)

Spot = int  # the number of a shift in the timetable, or -1 - day for what needs nobody
Name = tuple[str, str, str, str, str]  # kind, crop, batch (not of a harvest), place, to
Leaving = tuple[float, str, str]  # time, customer, crop
_NO_MINUTES = "not enough minutes"


class Spots:
    """Where a row belongs: to a shift of the crew that did it, or to the day if nobody did."""

    def __init__(self, plan: Plan) -> None:
        self.shifts = plan.timetable.shifts
        self._crews: dict[str, list[Spot]] = defaultdict(list)
        self._tasks: dict[str, list[Spot]] = defaultdict(list)
        for number, shift in enumerate(self.shifts):
            self._crews[shift.crew].append(number)
            for task in shift.may_do:
                self._tasks[task].append(number)

    def _start(self, spot: Spot) -> float:
        return self.shifts[spot].start

    def of(self, crew: str, at: float) -> Spot:
        """The spot of work done at a time [d]; a crew has no two shifts at the same time."""
        if not crew:
            return -1 - int(at)
        spots = self._crews[crew]
        return spots[bisect_right(spots, at, key=self._start) - 1]

    def last_before(self, task: str | None, at: float) -> Spot | None:
        """The last shift that may do a task and starts before a time [d]; None without one."""
        spots = self._tasks[task] if task else []
        found = bisect_left(spots, at, key=self._start)
        return spots[found - 1] if found else None


class Sum:
    """What one task came to in one spot, summed over years; `last` is the latest year with it."""

    __slots__ = ("batches", "containers", "count", "last", "minutes", "orders", "years")

    def __init__(self) -> None:
        self.count = self.containers = self.years = self.last = 0
        self.minutes = 0.0
        self.batches: Counter[str] = Counter()
        self.orders: defaultdict[tuple[float, str], float] = defaultdict(float)


class Tally:
    """Rows of years, summed by spot and task, and by delivery."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.spots = plan, Spots(plan)
        self.years = 0
        self.work: dict[Spot, dict[Name, Sum]] = {}
        self.undone: defaultdict[Spot, float] = defaultdict(float)  # person-minutes [min]
        self.due: Counter[Leaving] = Counter()
        self.short: Counter[Leaving] = Counter()
        self.incomplete: Counter[Leaving] = Counter()  # years
        self.surplus: Counter[Leaving] = Counter()

    def add(self, rows: Sequence[Row]) -> None:
        """Add the rows of one year."""
        self.years += 1
        cut: list[tuple[Row, Sum]] = []
        gone: defaultdict[tuple[str, float], list[Row]] = defaultdict(list)
        for row in rows:
            kind = row[KIND]
            if kind in WORK:
                total = self._done(row)
                if kind == "harvested":
                    cut.append((row, total))
            elif kind in ("delivered", "surplus"):
                gone[row[BATCH], row[SINCE]].append(row)
        self._leave(rows)
        self._lack(rows)
        _share_out(cut, gone)

    def _done(self, row: Row) -> Sum:
        """Add a row of work."""
        kind = row[KIND]
        batch = "" if kind == "harvested" else row[BATCH]
        name = kind, row[CROP], batch, row[PLACE], row[TO]
        sums = self.work.setdefault(self.spots.of(row[CREW], row[TIME]), {})
        total = sums.get(name)
        if total is None:
            total = sums[name] = Sum()
        total.count += row[COUNT]
        total.containers += row[CONTAINERS]
        total.minutes += row[MINUTES]
        if total.last != self.years:
            total.last = self.years
            total.years += 1
        return total

    def _leave(self, rows: Sequence[Row]) -> None:
        """Add the deliveries of one year."""
        totals = {"due": self.due, "short": self.short, "surplus": self.surplus}
        short: set[Leaving] = set()
        for row in rows:
            if row[KIND] in totals:
                leaving = row[TIME], row[CUSTOMER], row[CROP]
                totals[row[KIND]][leaving] += row[COUNT]
                if row[KIND] == "short":
                    short.add(leaving)
        self.incomplete.update(short)

    def _lack(self, rows: Sequence[Row]) -> None:
        """Add what lacked minutes to the last shift that could have done it."""
        for row in rows:
            if row[CAUSE] == _NO_MINUTES and row[KIND] in ("short", "missed"):
                crop = self.plan.crops[row[CROP]]
                short = row[KIND] == "short"
                task = crop.harvest_task if short else crop.stages[0].task
                spot = self.spots.last_before(task, row[TIME])
                if task and spot is not None:
                    units = row[COUNT] if short else row[CONTAINERS]
                    self.undone[spot] += units * self.plan.scenario.tasks[task].minutes_each


def _share_out(cut: list[tuple[Row, Sum]], gone: defaultdict[tuple[str, float], list[Row]]) -> None:
    """Add to each harvest its batches, and for whom its heads later left.

    A lot is what is cut of one batch at one time; rows of one lot share by their heads.
    """
    lots: Counter[tuple[str, float]] = Counter()
    for row, _ in cut:
        lots[row[BATCH], row[TIME]] += row[COUNT]
    for row, total in cut:
        lot = row[BATCH], row[TIME]
        total.batches[row[BATCH]] += row[COUNT]
        for left in gone.get(lot, ()):
            total.orders[left[TIME], left[CUSTOMER]] += left[COUNT] * row[COUNT] / lots[lot]
