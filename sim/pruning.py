"""Arithmetic that takes candidates out before anything is simulated. No luck is drawn.

What is taken out seeds as another candidate does; cannot be carried out week after week as it is
listed (containers, person-minutes); or leaves orders short even in the kindest year.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import floor, inf
from typing import NamedTuple

from sim.candidates import Candidate, told
from sim.flows import loads, ordered
from sim.greenhouse.plan import Plan
from sim.kind_year import ENOUGH, Cover, KindYear, seedings_of
from sim.parts import Cadence
from sim.seeding import PlannedSeeding
from sim.thin_weeks import topped_up
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

Why = tuple[str, str]  # the reason in a word or two, the bound in words

_LACKS_HEADS: Why = (
    "heads",
    f"lacks more than {1 - ENOUGH:.0%} of a week's heads, or of those of too many weeks, even with "
    "ordinary stays and losses and where plants wait for containers or minutes only if it helps",
)
_REPEATED: Why = ("same seedings", "seeds the same trays on the same dates as one listed before")
_NOT_TRIED: Why = (
    "fewer to spare",
    "breaks no bound, but the runs are too few to try all; of every number of trays those were "
    "tried that lack heads in the fewest weeks without any waiting, and then have most to spare",
)
_TOO_MANY = 1e6


@dataclass(frozen=True)
class Pruned:
    """How many candidates one bound took out before any run, and that bound in words."""

    reason: str
    bound: str
    count: int


@dataclass(frozen=True)
class Pruning:
    """The candidates left, and what took out the others.

    `listed` candidates there were. `none_passed`: arithmetic ruled out the whole grid, and those
    that it rules out by the least are left.
    """

    left: tuple[Candidate, ...]
    pruned: tuple[Pruned, ...]
    listed: int
    none_passed: bool


class _Judged(NamedTuple):
    """A candidate and why it is taken out, if it is.

    `cover` is that of its kind year without waiting, `size` its trays per week. `badness` orders
    those taken out: weeks that lack heads in the kindest year, or, far above, trays too many.
    """

    candidate: Candidate
    why: Why | None
    size: float
    cover: Cover | None = None
    badness: float = inf


class _Judge:
    """Judges one candidate after the other; of two that seed alike the first one stays."""

    def __init__(
        self, plan: Plan, counting: Collection[int], steadiness: float, weakest_week: float
    ) -> None:
        self._plan, self._counting = plan, counting
        self._targets = steadiness, weakest_week
        self._bounds = Bounds(plan)
        self._seen: set[tuple[PlannedSeeding, ...]] = set()
        self.year = KindYear(plan)

    def note(self, given: Candidate) -> None:
        """What seeds like this one is taken out."""
        self._seen.add(seedings_of(given.cadence, self._plan))

    def __call__(self, candidate: Candidate) -> _Judged:
        size = sum(trays_per_week(candidate.cadence).values())
        if why := self._bounds.broken(candidate.cadence):
            return _Judged(candidate, why, size, badness=_TOO_MANY + size)
        seedings = seedings_of(candidate.cadence, self._plan)
        if seedings in self._seen:
            return _Judged(candidate, _REPEATED, size)
        self._seen.add(seedings)
        cover = self.year.cover(seedings, self._counting)
        if cover.allows(*self._targets):
            return _Judged(candidate, None, size, cover)
        kindest = self.year.cover(seedings, self._counting, waiting=True)
        why = None if kindest.allows(*self._targets) else _LACKS_HEADS
        return _Judged(candidate, why, size, cover, kindest.lacking)

    def topped_up(self, one: _Judged) -> _Judged | None:
        """The same with more trays for its thin weeks, as large as without them.

        None if no week is thin, or if weeks lack heads even without more to spare.
        """
        if one.cover is None or one.cover.lacking:
            return None
        more = topped_up(one.candidate.cadence, one.cover, self.year, self._plan.timetable)
        if more is None:
            return None
        return self(Candidate(told(more, list(one.cover.reserves)), more))._replace(size=one.size)


def prune(
    candidates: Sequence[Candidate],
    plan: Plan,
    *,
    steadiness: float,
    weakest_week: float,
    counting: Collection[int],
    most: int,
) -> Pruning:
    """Take out what arithmetic rules out, then all but `most`, spread over all sizes.

    `counting` are the weeks of the window that count. Given candidates always stay. What passes
    is listed once more with more trays for its thin weeks. If nothing passes, those stay that are
    ruled out by the least: the fewest weeks that lack heads, or the fewest trays.
    """
    judge = _Judge(plan, counting, steadiness, weakest_week)
    given = [candidate for candidate in candidates if candidate.given]
    for candidate in given:
        judge.note(candidate)
    judged = [judge(candidate) for candidate in candidates if not candidate.given]
    none_passed = bool(judged) and all(one.why for one in judged)
    least = min(one.badness for one in judged) if none_passed else 0.0
    for one in [one for one in judged if _passes(one, least)]:
        more = judge.topped_up(one)
        if more is not None:
            judged.append(more)
    left = [one for one in judged if _passes(one, least)]
    kept = _spread(left, max(0, most - len(given)))
    return Pruning(
        left=(*given, *(one.candidate for one in kept)),
        pruned=_counted(judged, left, kept),
        listed=len(given) + len(judged),
        none_passed=none_passed,
    )


def _passes(one: _Judged, least: float) -> bool:
    return one.why is None or one.badness <= least


def _counted(
    judged: Sequence[_Judged], left: Sequence[_Judged], kept: Sequence[_Judged]
) -> tuple[Pruned, ...]:
    stayed = {id(one) for one in left}
    counts = Counter(one.why for one in judged if one.why and id(one) not in stayed)
    if len(kept) < len(left):
        counts[_NOT_TRIED] = len(left) - len(kept)
    return tuple(Pruned(*why, count) for why, count in counts.items() if why)


def _spread(left: Sequence[_Judged], most: int) -> list[_Judged]:
    """As many of each number of trays per week as there is room for, the best first."""
    sizes: dict[int, list[int]] = defaultdict(list)
    for number, one in enumerate(left):
        sizes[floor(one.size + 0.5)].append(number)
    ranks = [
        (rank, size, number)
        for size, numbers in sizes.items()
        for rank, number in enumerate(sorted(numbers, key=lambda n: (_rank(left[n]), n)))
    ]
    return [left[number] for number in sorted(number for _, _, number in sorted(ranks)[:most])]


def trays_per_week(cadence: Cadence) -> dict[str, float]:
    """Trays that the lines seed per week before any break, by crop."""
    trays: dict[str, float] = defaultdict(float)
    for line in cadence.lines:
        trays[line.crop] += sum(line.trays.values()) / line.every_weeks
    return trays


def _rank(one: _Judged) -> tuple[float, float]:
    return (one.cover.lacking, -one.cover.reserve) if one.cover else (inf, 0.0)


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
