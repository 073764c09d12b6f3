"""Arithmetic that takes candidates out before anything is simulated.

What is taken out seeds as another candidate does; cannot be carried out week after week as it is
listed (containers, person-minutes); leaves orders short even in the kindest year; or, in a
thorough search, is short too often in years in which nothing waits its turn (`kind_chances`).
Those that are left have a floor: the plants that they waste at least (`least_waste`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import floor, inf
from typing import NamedTuple

from sim.cadence_bounds import Bounds, Why
from sim.candidates import Candidate, told
from sim.greenhouse.plan import Plan
from sim.kind_chances import MARGIN, YEARS, KindChances
from sim.kind_year import ENOUGH, Cover, KindYear, seedings_of
from sim.least_waste import AS_LISTED, LeastWaste
from sim.seeding import PlannedSeeding
from sim.thin_weeks import topped_up

_LACKS_HEADS: Why = (
    "heads",
    f"lacks more than {1 - ENOUGH:.0%} of a week's heads, or of those of too many weeks, even with "
    "ordinary stays and losses and where plants wait for containers or minutes only if it helps",
)
_REPEATED: Why = ("same seedings", "seeds the same trays on the same dates as one listed before")
WASTES_MORE: Why = (
    "wastes more",
    "cannot waste as few plants as the chosen one: the heads that come of its trays, less all that "
    f"is ordered, are more, were {1 - AS_LISTED:.0%} of its trays missed",
)
NOT_TRIED: Why = (
    "fewer to spare",
    "breaks no bound, but the runs are too few to try all: a ranking. Of every number of trays "
    "those were tried first that lack heads in the fewest weeks without any waiting, and then have "
    "most to spare",
)
_BY_CHANCE = "heads by chance"
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

    Those left are in order of promise: the given ones, then the best of each number of trays per
    week, the second best, and so on. `floors` are the fewest plants that each can waste (-inf for
    those given). `seldom` are those kept out by chance alone, and their floors, in such an order.
    `listed` candidates there were. `none_passed`: arithmetic ruled out the whole
    grid, and those that it rules out by the least are left.
    """

    left: tuple[Candidate, ...]
    floors: tuple[float, ...]
    pruned: tuple[Pruned, ...]
    listed: int
    none_passed: bool
    seldom: tuple[tuple[Candidate, float], ...] = ()

    @property
    def untried(self) -> int:
        """How many break no bound and were not simulated."""
        return sum(p.count for p in self.pruned if p.reason == NOT_TRIED[0])

    def with_more(self, why: Why, count: int) -> Pruning:
        """The same with so many more taken out for another reason."""
        more = (Pruned(*why, count),) if count else ()
        return replace(self, pruned=(*self.pruned, *more))

    def letting_in(self, count: int) -> Pruning:
        """The same with the most promising of the `seldom` ones let in."""
        let_in = self.seldom[:count]
        pruned = (
            replace(p, count=p.count - len(let_in)) if p.reason == _BY_CHANCE else p
            for p in self.pruned
        )
        return replace(
            self,
            left=(*self.left, *(candidate for candidate, _ in let_in)),
            floors=(*self.floors, *(floor for _, floor in let_in)),
            pruned=tuple(p for p in pruned if p.count),
            seldom=self.seldom[count:],
        )

    def and_then(self, later: Pruning) -> Pruning:
        """The same with what was listed later; those left stay as they are."""
        counts = Counter({(p.reason, p.bound): p.count for p in self.pruned})
        counts.update({(p.reason, p.bound): p.count for p in later.pruned})
        both = tuple(Pruned(*why, count) for why, count in counts.items())
        return replace(self, pruned=both, listed=self.listed + later.listed)


class _Judged(NamedTuple):
    """A candidate and why it is taken out, if it is.

    `cover` is that of its kind year without waiting, `size` its trays per week. `badness` orders
    those taken out: weeks that lack heads in the kindest year, or, far above, trays too many.
    """

    candidate: Candidate
    why: Why | None
    size: float
    floor: float = 0.0
    cover: Cover | None = None
    badness: float = inf


class Judge:
    """Judges one candidate after the other; of two that seed alike the first one stays.

    With `chances`, also by years without waiting, which take some milliseconds for each.
    """

    def __init__(
        self,
        plan: Plan,
        counting: Collection[int],
        steadiness: float,
        weakest_week: float,
        *,
        chances: bool = False,
    ) -> None:
        self._plan, self._counting = plan, counting
        self._targets = steadiness, weakest_week
        self.bounds = Bounds(plan)
        self.least_waste = LeastWaste(plan)
        self._seen: set[tuple[PlannedSeeding, ...]] = set()
        self.year = KindYear(plan)
        self._chances = KindChances(plan, self.year) if chances else None

    def note(self, given: Candidate) -> None:
        """What seeds like this one is taken out."""
        self._seen.add(seedings_of(given.cadence, self._plan))

    def __call__(self, candidate: Candidate) -> _Judged:
        """Why a candidate is taken out, if it is, and what it has to spare."""
        size = sum(self.bounds.trays_per_week(candidate.cadence).values())
        if why := self.bounds.broken(candidate.cadence):
            return _Judged(candidate, why, size, badness=_TOO_MANY + size)
        seedings = seedings_of(candidate.cadence, self._plan)
        floor = self.least_waste(seedings)
        if seedings in self._seen:
            return _Judged(candidate, _REPEATED, size, floor)
        self._seen.add(seedings)
        cover = self.year.cover(seedings, self._counting)
        if not cover.allows(*self._targets):
            kindest = self.year.cover(seedings, self._counting, waiting=True)
            if not kindest.allows(*self._targets):
                return _Judged(candidate, _LACKS_HEADS, size, floor, cover, kindest.lacking)
        if self._chances:
            least = self._targets[0] - MARGIN
            if self._chances.steadiness(seedings, self._counting, least) < least:
                return _Judged(candidate, self._seldom(), size, floor, cover, badness=0.0)
        return _Judged(candidate, None, size, floor, cover)

    def _seldom(self) -> Why:
        least = self._targets[0] - MARGIN
        return (
            _BY_CHANCE,
            f"meets fewer than {least:.0%} of the weeks, in the mean of {YEARS} years, even with "
            "containers, minutes and space without limit (seen, not proved: waiting for them makes "
            f"at most {100 * MARGIN:.0f} points more)",
        )

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

    def passing(self, candidates: Sequence[Candidate]) -> Pruning:
        """Those that break no bound and seed unlike all judged before.

        Each is listed once more with more trays for its thin weeks.
        """
        judged = [self(candidate) for candidate in candidates]
        more = [self.topped_up(one) for one in judged if not one.why]
        judged += [one for one in more if one]
        return _pruning([], judged, [one for one in judged if not one.why], none_passed=False)


def prune(
    candidates: Sequence[Candidate],
    plan: Plan,
    *,
    steadiness: float,
    weakest_week: float,
    counting: Collection[int],
    most: int | None,
) -> Pruning:
    """`pruned` with a judge of its own."""
    return pruned(candidates, Judge(plan, counting, steadiness, weakest_week), most)


def pruned(candidates: Sequence[Candidate], judge: Judge, most: int | None) -> Pruning:
    """Take out what arithmetic rules out, and with `most` all but so many of all sizes.

    Given candidates always stay. What passes, or is kept out by chance alone, is listed once more
    with more trays for its thin weeks. If nothing passes, those stay that are ruled out by the
    least: by chance alone, by the fewest weeks that lack heads, or by the fewest trays.
    """
    given = [candidate for candidate in candidates if candidate.given]
    for candidate in given:
        judge.note(candidate)
    judged = [judge(candidate) for candidate in candidates if not candidate.given]
    none_passed = bool(judged) and all(one.why for one in judged)
    least = min(one.badness for one in judged) if none_passed else -1.0
    for one in [one for one in judged if _passes(one, max(least, 0.0))]:
        more = judge.topped_up(one)
        if more is not None:
            judged.append(more)
    left = _by_promise([one for one in judged if _passes(one, least)])
    kept = left if most is None else left[: max(0, most - len(given))]
    found = _pruning(given, judged, left, none_passed=none_passed)
    seldom = _by_promise([one for one in judged if one.why and least < one.badness <= 0.0])
    found = replace(found, seldom=tuple((one.candidate, one.floor) for one in seldom))
    few = slice(len(given) + len(kept))
    found = replace(found, left=found.left[few], floors=found.floors[few])
    return found.with_more(NOT_TRIED, len(left) - len(kept))


def _pruning(
    given: Sequence[Candidate], judged: Sequence[_Judged], left: Sequence[_Judged], *,
    none_passed: bool,
) -> Pruning:  # fmt: skip
    stayed = {id(one) for one in left}
    counts = Counter(one.why for one in judged if one.why and id(one) not in stayed)
    return Pruning(
        left=(*given, *(one.candidate for one in left)),
        floors=(*(-inf for _ in given), *(one.floor for one in left)),
        pruned=tuple(Pruned(*why, count) for why, count in counts.items()),
        listed=len(given) + len(judged),
        none_passed=none_passed,
    )


def _passes(one: _Judged, least: float) -> bool:
    return one.why is None or one.badness <= least


def _by_promise(left: Sequence[_Judged]) -> list[_Judged]:
    """The best of each number of trays per week, then the second best of each, and so on."""
    sizes: dict[int, list[_Judged]] = defaultdict(list)
    for one in left:
        sizes[floor(one.size + 0.5)].append(one)
    ranked = [
        (rank, size, one)
        for size, some in sizes.items()
        for rank, one in enumerate(sorted(some, key=_rank))
    ]
    return [one for _, _, one in sorted(ranked, key=lambda item: item[:2])]


def _rank(one: _Judged) -> tuple[float, float]:
    return (one.cover.lacking, -one.cover.reserve) if one.cover else (inf, 0.0)
