"""A kind year: the heads that there are when nothing is late or lost beyond the ordinary.

In a kind year every stage lasts as long as it does in the middle of many years, and batches come
through as in the middle of many years and without rare events. Plants wait for a day with somebody
there; for a container or for free minutes they do not wait, or, in the kindest of all years, they
wait as long as they may, and only where it helps. A week that lacks heads even then is met in at
most half of the years: batches are as often late or thin as early or full.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from copy import copy
from dataclasses import dataclass
from math import floor, inf
from statistics import fmean
from typing import NamedTuple

from sim.ceilings import ImpossibleWeek, impossible_weeks
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.order_book import Leaving
from sim.parts import Cadence
from sim.school_year import monday
from sim.seeding import PlannedSeeding, seeding_list

ENOUGH = 0.95  # share of a week's heads below which it lacks heads; a little more may come by luck
HALF = 0.5  # the middle of many years; and a week that lacks heads is met in at most this share
_RARELY = 0.02  # once in 50 years


@dataclass(frozen=True)
class Cover:
    """How far the heads of a kind year cover the orders.

    `shares` of the heads due that there are, by week that counts. `reserves`: the heads to spare at
    a leaving if its largest batch were missing, in shares of those due and at most 1; the mean of
    the leavings, by crop and week.
    """

    shares: tuple[float, ...]
    reserves: Mapping[str, Mapping[int, float]]

    @property
    def reserve(self) -> float:
        """The mean reserve of all crops and weeks."""
        return fmean(r for weeks in self.reserves.values() for r in weeks.values())

    def allows(self, steadiness: float, weakest_week: float) -> bool:
        """Whether these targets are still possible."""
        met = [1.0 if share >= ENOUGH else min(HALF, share) for share in self.shares]
        return min(met) >= weakest_week and sum(met) / len(met) >= steadiness

    @property
    def lacking(self) -> int:
        """Number of weeks that lack heads."""
        return sum(share < ENOUGH for share in self.shares)


def seedings_of(cadence: Cadence, plan: Plan) -> tuple[PlannedSeeding, ...]:
    """The dated seeding list of another cadence in a plan's scenario."""
    table = copy(plan.timetable)
    table.scenario = plan.scenario.model_copy(update={"cadence": cadence})
    return tuple(seeding_list(table, plan.leavings))


class KindYear:
    """When seedings are ready, and which orders their heads can serve, in a kind year.

    `wanted` are all leavings with the days on which heads may be cut for them, in order of time.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._ready: dict[tuple[str, int], int | None] = {}
        self._per_tray = {name: self._heads_per_tray(name) for name in plan.crops}
        keeps = {
            name: [inf if s.keep_days is None else float(s.keep_days) for s in crop.stages]
            for name, crop in plan.crops.items()
        }
        late = plan.scenario.cadence.late_days
        self._waits = {name: late + sum(days[:-1]) for name, days in keeps.items()}
        self._keep = {name: days[-1] for name, days in keeps.items()}
        self.wanted = [Wanted(leaving, self._harvest_days(leaving)) for leaving in plan.leavings]

    def _heads_per_tray(self, crop: str) -> float:
        stages = self._plan.crops[crop].stages
        heads = float(self._plan.scenario.places[stages[0].place].sites_each)
        for number, stage in enumerate(stages):
            heads *= stage.stand.at(HALF) * (1.0 - stage.cull if number else 1.0)
        return heads

    def _harvest_days(self, leaving: Leaving) -> Collection[int]:
        """Days on which heads may be cut for a leaving."""
        earliest = leaving.time - self._plan.scenario.cold_store.keep_days
        task = self._plan.crops[leaving.crop].harvest_task
        if task is None:
            return range(floor(earliest), floor(leaving.time) + 1)
        return {
            s.day
            for s in self._plan.timetable.shifts
            if task in s.may_do and s.end > earliest and s.start < leaving.time
        }

    def _staffed(self, task: str | None, first: int, days: float) -> int | None:
        """The first day from `first` on, within so many days, with somebody there."""
        table = self._plan.timetable
        end = int(min(first + days, table.days))
        return next((day for day in range(first, end) if table.staffed(task, day)), None)

    def keep_days(self, crop: str) -> float:
        """How long ready heads of a crop keep [d]."""
        return self._keep[crop]

    def placed(self, crop: str, stage: int, done: int) -> int | None:
        """The day on which plants that wait from day `done` are moved into a stage; None: too late.

        The first stage's are the cells that are seeded. They wait for a day with somebody there.
        """
        stages = self._plan.crops[crop].stages
        waits: float | None = self._plan.scenario.cadence.late_days + 1
        if stage:
            waits = stages[stage - 1].keep_days
        return self._staffed(stages[stage].task, done, inf if waits is None else waits)

    def ready(self, crop: str, day: int) -> int | None:
        """The day on which a seeding of this day is ready, None if it never is [d]."""
        if (crop, day) not in self._ready:
            self._ready[crop, day] = self._grown(crop, day, HALF)
        return self._ready[crop, day]

    def _grown(self, crop: str, day: int, u: float) -> int | None:
        """The same with every stage as long as its quantile at `u`."""
        done = day
        for number, stage in enumerate(self._plan.crops[crop].stages):
            placed = self.placed(crop, number, done)
            if placed is None:
                return None
            done = stage.finished(placed, stage.days.at(u))
        return done

    def lasts(self, crop: str, day: int) -> bool:
        """Whether heads of a seeding of this day are still there at the crop's first harvest."""
        ready = self.ready(crop, day)
        days = (day for w in self.wanted if w.leaving.crop == crop for day in w.days)
        return ready is not None and ready + self._keep[crop] > min(days, default=0)

    def cover(
        self,
        seedings: Iterable[PlannedSeeding],
        counting: Collection[int],
        *,
        waiting: bool = False,
    ) -> Cover:
        """How far these seedings cover the weeks that count, all with something due.

        With `waiting`, heads are there from when they are ready until they are gone after all
        waits that are allowed on the way. The leavings are served in order of time, each from
        the oldest heads that may be cut. No other order leaves less short, since all heads of a
        crop keep equally long.
        """
        grown: dict[str, dict[int, float]] = {crop: defaultdict(float) for crop in self._keep}
        for s in seedings:
            ready = self.ready(s.crop, s.day)
            if ready is not None:
                grown[s.crop][ready] += s.trays * self._per_tray[s.crop]
        fields = {
            crop: _Heads(stock, self._keep[crop] + (self._waits[crop] if waiting else 0.0))
            for crop, stock in grown.items()
        }
        shares: dict[int, dict[str, list[float]]] = {week: {} for week in counting}
        reserves: dict[str, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
        for wanted in self.wanted:
            heads, crop = wanted.leaving.heads, wanted.leaving.crop
            there, spare = fields[crop].take(heads, wanted.days)
            week = week_of(self._plan.timetable, wanted.leaving.time)
            if week in shares:
                due = shares[week].setdefault(crop, [0.0, 0.0])
                due[0] += heads
                due[1] += there
                reserves[crop][week].append(min(1.0, spare / heads))
        return Cover(
            tuple(min(there / due for due, there in crops.values()) for crops in shares.values()),
            {c: {w: fmean(r) for w, r in weeks.items()} for c, weeks in reserves.items()},
        )

    def impossible(self) -> list[ImpossibleWeek]:
        """Weeks that no cadence can meet: those of the ceilings, and those nothing is ready for.

        Nothing is ready if no seeding from the first day on could have heads to cut for a leaving,
        were its stages as short or as long as they are once in 50 years, and moves put off as long
        as plants may wait.
        """
        table = self._plan.timetable
        found = {w.monday: w for w in impossible_weeks(table, self._plan.leavings)}
        spans = {crop: self._spans(crop) for crop in {x.leaving.crop for x in self.wanted}}
        for wanted in self.wanted:
            leaving, day = wanted.leaving, table.date_of(wanted.leaving.time)
            if week_of(table, leaving.time) is None or monday(day) in found:
                continue
            if not any(
                first <= cut < last for first, last in spans[leaving.crop] for cut in wanted.days
            ):
                found[monday(day)] = ImpossibleWeek(
                    monday=monday(day),
                    day=day,
                    crop=leaving.crop,
                    customers=tuple(delivery.customer for delivery in leaving.deliveries),
                    cause="nothing can be ready",
                    closure=table.school_year.closure(day),
                )
        return sorted(found.values(), key=lambda week: week.monday)

    def _spans(self, crop: str) -> list[tuple[int, float]]:
        """First and last day, the last not included, for heads of any one seeding day [d]."""
        table, spans = self._plan.timetable, []
        for day in range(table.days):
            first = self._grown(crop, day, _RARELY)
            if first is not None:
                spans.append((first, self._gone(crop, day)))
        return spans

    def _gone(self, crop: str, day: int) -> float:
        """When the heads of a slow seeding that waits before every step are gone [d]."""
        at = float(day + self._plan.scenario.cadence.late_days)
        for stage in self._plan.crops[crop].stages:
            if at >= self._plan.timetable.days:
                return inf
            at = float(stage.finished(int(at), stage.days.at(1.0 - _RARELY)))
            at += inf if stage.keep_days is None else stage.keep_days
        return at


class Wanted(NamedTuple):
    """A leaving, and the days on which heads may be cut for it."""

    leaving: Leaving
    days: Collection[int]


class _Heads:
    """The heads of one crop in a kind year, by the day on which they are ready."""

    def __init__(self, stock: dict[int, float], keep: float) -> None:
        self._stock, self._keep = stock, keep
        self._ready = sorted(stock, reverse=True)  # the latest first

    def take(self, heads: int, days: Collection[int]) -> tuple[float, float]:
        """Take heads, the oldest first.

        Returns how many could be taken, and how many there were to spare, the largest batch apart.
        """
        there, largest = 0.0, 0.0
        first, last = min(days, default=0), max(days, default=-1)
        while self._ready and self._ready[-1] + self._keep <= first:
            self._ready.pop()
        wanted = float(heads)
        for ready in reversed(self._ready):
            if ready > last:
                break
            if any(ready <= day < ready + self._keep for day in days):
                there += self._stock[ready]
                largest = max(largest, self._stock[ready])
                taken = min(wanted, self._stock[ready])
                self._stock[ready] -= taken
                wanted -= taken
        while self._ready and not self._stock[self._ready[-1]]:
            self._ready.pop()
        return heads - wanted, there - largest - heads
