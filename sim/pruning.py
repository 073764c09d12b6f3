"""Arithmetic that takes candidates out before anything is simulated. No luck is drawn.

What is taken out seeds as another candidate does; cannot be carried out week after week as it is
listed (containers, person-minutes); or leaves orders short in a kind year. In a kind year every
stage lasts as long as it does in the middle of many years, batches come through as in the middle
of many years and without rare events, and nobody waits for a container or for free minutes. A
week that lacks heads even then is met in at most half of the years: batches are as often late or
thin as early or full.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from math import floor, inf

from sim.candidates import Candidate
from sim.ceilings import ImpossibleWeek, impossible_weeks
from sim.flows import loads, ordered, week_of
from sim.greenhouse.plan import Plan
from sim.order_book import Leaving
from sim.parts import Cadence
from sim.school_year import monday
from sim.seeding import PlannedSeeding, seeding_list
from sim.workload import (
    CropNeeds,
    check_days,
    crop_needs,
    mean_minutes,
    ordinary_weeks,
    tightest,
    weekly_staffing,
    weekly_work,
)

ENOUGH = 0.95  # share of a week's heads below which it lacks heads; a little more may come by luck
HALF = 0.5  # a week that lacks heads is met in at most this share of years

Why = tuple[str, str]  # the reason in a word or two, the bound in words


@dataclass(frozen=True)
class Pruned:
    """How many candidates one bound took out before any run, and that bound in words."""

    reason: str
    bound: str
    count: int


@dataclass(frozen=True)
class Pruning:
    """The candidates left, and what took out the others."""

    left: tuple[Candidate, ...]
    pruned: tuple[Pruned, ...]


def prune(
    candidates: Iterable[Candidate],
    plan: Plan,
    *,
    steadiness: float,
    weakest_week: float,
    without: Collection[int],
    most: int,
) -> Pruning:
    """Take out what arithmetic rules out, then all but `most`, spread over all sizes.

    `without` are the weeks of the window that do not count. Given candidates always stay.
    """
    bounds, year = Bounds(plan), KindYear(plan)
    given: list[Candidate] = []
    left: list[tuple[Candidate, float]] = []
    removed: Counter[Why] = Counter()
    seen: set[tuple[PlannedSeeding, ...]] = set()
    for candidate in candidates:
        seedings = seedings_of(candidate.cadence, plan)
        if candidate.given:
            seen.add(seedings)
            given.append(candidate)
            continue
        cover = None
        why = _repeated(seedings, seen) or bounds.broken(candidate.cadence)
        if why is None:
            cover = year.cover(seedings, without)
            why = cover.too_low(steadiness, weakest_week)
        if why is None and cover is not None:
            left.append((candidate, cover.reserve))
        elif why is not None:
            removed[why] += 1
    kept = _spread(left, max(0, most - len(given)))
    if len(kept) < len(left):
        removed[
            "not tried",
            f"the runs allow {most} candidates; of every number of trays those were tried that "
            "have the most heads to spare when they have the least",
        ] = len(left) - len(kept)
    told = tuple(Pruned(*why, count) for why, count in removed.items())
    return Pruning((*given, *kept), told)


def seedings_of(cadence: Cadence, plan: Plan) -> tuple[PlannedSeeding, ...]:
    """The dated seeding list of another cadence in a plan's scenario."""
    table = copy(plan.timetable)
    table.scenario = plan.scenario.model_copy(update={"cadence": cadence})
    return tuple(seeding_list(table, plan.leavings))


def _repeated(
    seedings: tuple[PlannedSeeding, ...], seen: set[tuple[PlannedSeeding, ...]]
) -> Why | None:
    if seedings in seen:
        return "same seedings", "seeds the same trays on the same dates as one listed before"
    seen.add(seedings)
    return None


def trays_per_week(cadence: Cadence) -> dict[str, float]:
    """Trays that the lines seed per week before any break, by crop."""
    trays: dict[str, float] = defaultdict(float)
    for line in cadence.lines:
        trays[line.crop] += sum(line.trays.values()) / line.every_weeks
    return trays


def _spread(left: Sequence[tuple[Candidate, float]], most: int) -> list[Candidate]:
    """As many of each number of trays per week as there is room for, by most heads to spare."""
    if len(left) <= most:
        return [candidate for candidate, _ in left]
    sizes: dict[int, list[int]] = defaultdict(list)
    for number, (candidate, _) in enumerate(left):
        sizes[floor(sum(trays_per_week(candidate.cadence).values()) + 0.5)].append(number)
    ranks = [
        (rank, size, number)
        for size, numbers in sizes.items()
        for rank, number in enumerate(sorted(numbers, key=lambda n: (-left[n][1], n)))
    ]
    kept = sorted(number for _, _, number in sorted(ranks)[:most])
    return [left[number][0] for number in kept]


class Bounds:
    """What a cadence takes week after week, against the containers and minutes that there are.

    The seedings of the ordered crops alone are counted, set-up minutes are not, and places and
    minutes are those of an ordinary week at mean stays: the least there can be.
    """

    def __init__(self, plan: Plan) -> None:
        table = plan.timetable
        self._scenario = plan.scenario
        found = crop_needs(table, ordered(table, plan.leavings))
        self._needs = [need for need in found if need.heads_per_week > 0]
        weeks = ordinary_weeks(weekly_staffing(table))
        self._minutes = mean_minutes(weeks)
        self._check_days = sum(check_days(table, week) for week in weeks) / len(weeks)
        self._known: dict[tuple[tuple[float, ...], tuple[float, ...]], Why | None] = {}

    def broken(self, cadence: Cadence) -> Why | None:
        """The first bound that the cadence breaks, if any."""
        weekly, most = trays_per_week(cadence), Counter[str]()
        for line in cadence.lines:
            most[line.crop] = max(most[line.crop], *line.trays.values())
        key = (
            tuple(weekly[need.chain.crop] for need in self._needs),
            tuple(float(most[need.chain.crop]) for need in self._needs),
        )
        if key not in self._known:
            self._known[key] = self._at_once(most) or self._places(key[0]) or self._hands(key[0])
        return self._known[key]

    def _at_once(self, most: Counter[str]) -> Why | None:
        for need in self._needs:
            place = need.chain.steps[0].place
            count = self._scenario.places[place].count
            if count is not None and most[need.chain.crop] > count:
                return "places", f"seeds more than the {count} containers of {place} in one day"
        return None

    def _places(self, trays: Sequence[float]) -> Why | None:
        taken: dict[str, float] = defaultdict(float)
        for need, seeded in zip(self._needs, trays, strict=True):
            for load in loads(self._scenario, need.chain, seeded * need.cells_per_tray):
                taken[load.step.place] += load.containers
        for name, containers in taken.items():
            place = self._scenario.places[name]
            if place.count is not None and containers > place.count:
                word = f"the {place.count} containers ({place.container}) of {name}"
                return "places", f"takes more than {word}, week after week"
        return None

    def _hands(self, trays: Sequence[float]) -> Why | None:
        needs = [_growing(need, n) for need, n in zip(self._needs, trays, strict=True)]
        work = weekly_work(
            self._scenario,
            needs,
            trays={need.chain.crop: n for need, n in zip(needs, trays, strict=True)},
            harvested={need.chain.crop: need.heads_per_week for need in self._needs},
            check_days=self._check_days,
        )
        least = tightest(self._scenario, self._minutes, work)
        if not least.exceeds:
            return None
        crews = ", ".join(least.crews)
        return "hands", f"takes more than the {least.staffed:,.0f} person-minutes a week of {crews}"


def _growing(need: CropNeeds, trays: float) -> CropNeeds:
    """The needs of a crop of which so many trays a week are seeded and moved on."""
    heads = trays * need.cells_per_tray * need.chain.heads_per_cell
    return replace(need, heads_per_week=heads)


@dataclass(frozen=True)
class Cover:
    """How far the heads of a kind year cover the orders.

    `shares` of the heads due that there are, by week that counts; `reserve`: heads to spare, as a
    multiple of those due, at the leaving where it is smallest.
    """

    shares: tuple[float, ...]
    reserve: float

    def too_low(self, steadiness: float, weakest_week: float) -> Why | None:
        """Why these targets cannot be met, or None."""
        met = [1.0 if share >= ENOUGH else min(HALF, share) for share in self.shares]
        if met and (min(met) < weakest_week or sum(met) / len(met) < steadiness):
            lacks = f"less than {ENOUGH:.0%} of a week's heads are there even in a year with"
            return "heads", f"{lacks} ordinary stays and losses and without any waiting"
        return None


class KindYear:
    """The year in which nothing is late, lost or missed beyond what is ordinary."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._ready: dict[tuple[str, int], int | None] = {}
        self._per_tray = {name: self._heads_per_tray(name) for name in plan.crops}
        self._keep = {
            name: inf if crop.stages[-1].keep_days is None else crop.stages[-1].keep_days
            for name, crop in plan.crops.items()
        }
        self._leavings = [(leaving, self._harvest_days(leaving)) for leaving in plan.leavings]

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

    def ready(self, crop: str, day: int) -> int | None:
        """The day on which a seeding of this day is ready, None if it never is [d]."""
        if (crop, day) not in self._ready:
            self._ready[crop, day] = self._grown(crop, day)
        return self._ready[crop, day]

    def _grown(self, crop: str, day: int) -> int | None:
        stages = self._plan.crops[crop].stages
        done, waits = day, float(self._plan.scenario.cadence.late_days + 1)
        for stage in stages:
            placed = self._staffed(stage.task, done, waits)
            if placed is None:
                return None
            done = stage.finished(placed, stage.days.at(HALF))
            waits = inf if stage.keep_days is None else stage.keep_days
        return done

    def _serves(self, crop: str, ready: int, days: Collection[int]) -> bool:
        keep = self._keep[crop]
        return any(ready <= day < ready + keep for day in days)

    def cover(self, seedings: Iterable[PlannedSeeding], without: Collection[int] = ()) -> Cover:
        """Serve the leavings in order of time, each from the oldest heads that may be cut for it.

        Oldest first loses least, since all heads of a crop keep equally long.
        """
        heads: dict[str, dict[int, float]] = {crop: defaultdict(float) for crop in self._keep}
        for seeding in seedings:
            ready = self.ready(seeding.crop, seeding.day)
            if ready is not None:
                heads[seeding.crop][ready] += seeding.trays * self._per_tray[seeding.crop]
        due, short, reserve = Counter[tuple[int, str]](), Counter[tuple[int, str]](), inf
        for leaving, days in self._leavings:
            stock = heads[leaving.crop]
            usable = [r for r in sorted(stock) if self._serves(leaving.crop, r, days)]
            spare, wanted = sum(stock[r] for r in usable) - leaving.heads, float(leaving.heads)
            for r in usable:
                taken = min(wanted, stock[r])
                stock[r] -= taken
                wanted -= taken
            week = week_of(self._plan.timetable, leaving.time)
            if week is not None and week not in without:
                due[week, leaving.crop] += leaving.heads
                short[week, leaving.crop] += wanted
                reserve = min(reserve, spare / max(1, leaving.heads))
        lowest: dict[int, float] = {}
        for (week, crop), n in due.items():
            share = 1.0 - short[week, crop] / n if n else 1.0
            lowest[week] = min(share, lowest.get(week, 1.0))
        return Cover(tuple(lowest[week] for week in sorted(lowest)), reserve)

    def impossible(self) -> list[ImpossibleWeek]:
        """Weeks that no cadence can meet: those of the ceilings, and those nothing is ready for."""
        table = self._plan.timetable
        found = {w.monday: w for w in impossible_weeks(table, self._plan.leavings)}
        times = {
            crop: {self.ready(crop, day) for day in range(table.days)} - {None}
            for crop in {leaving.crop for leaving in self._plan.leavings}
        }
        for leaving, days in self._leavings:
            day = table.date_of(leaving.time)
            inside = week_of(table, leaving.time) is not None and monday(day) not in found
            crop = leaving.crop
            if inside and not any(self._serves(crop, r, days) for r in times[crop] if r is not None):
                customers = tuple(d.customer for d in leaving.deliveries)
                closure = table.school_year.closure(day)
                found[monday(day)] = ImpossibleWeek(
                    monday(day), day, crop, customers, "nothing can be ready", closure
                )
        return sorted(found.values(), key=lambda week: week.monday)
