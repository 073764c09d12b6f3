"""The largest steady order that some cadence meets: sizes by bisection, a search at each.

The present orders are tried first, then larger or smaller ones in whole cases, always the middle
of those still open, up to what arithmetic allows. That rests on an assumption: if some cadence
meets a size, some cadence meets any smaller one; with years left, one size more is tried above the
first that was not shown to be met. Claimed is only a size that was itself shown to
meet the target, and whose fresh years say the same. The allowed error is shared out evenly over
the steps, whose number is set beforehand (Bonferroni), and in each step over its cadences.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, log2

from sim.aim import Aim, open_impossible, target_of
from sim.cadence import FRESH_FROM
from sim.cadence_answer import Measured, Target, measured
from sim.candidates import Candidate
from sim.capacity_limits import Limits, limits_at, runs_for_limits, trials_of
from sim.capacity_room import Bound, broken, largest
from sim.capacity_sizes import Size, Sizes
from sim.capacity_steps import Tried, best_of, plain_name, try_size
from sim.ceilings import Ceiling, ceilings
from sim.errors import SeedbeatError
from sim.greenhouse.plan import Plan
from sim.parts import Seeding
from sim.replications import Estimate
from sim.runs import Runs
from sim.scenario import Scenario

_APART = 10**9  # between the seeds of two steps
CASE = 24  # heads of a case, unless another number is given
LEAST_STEP = 1000  # years below which a step is not worth while
PRESENT_SHARE = 0.25  # of the years of all steps, for the present orders
FRESH_YEARS = (50, 200)  # years of the claimed size, at least and at most
LIMIT_YEARS = (20, 60)  # years of each relief at the next larger size, at least and at most

SHOWN_NOT_MET = ("not met", "beyond arithmetic")


@dataclass(frozen=True)
class Claim:
    """The largest size that was shown to meet the target, with its cadence.

    `scenario` has both. `fresh`, `bench_fill` and `useful_bench_share` come from years that had no
    part in any choice.
    """

    tried: Tried
    scenario: Scenario
    cadence: Candidate
    seedings: tuple[Seeding, ...]
    fresh: Measured
    bench_fill: Estimate
    useful_bench_share: Estimate


@dataclass(frozen=True)
class Capacity:
    """What `largest_order` found.

    `present`: the orders as they are; `tried`: all sizes that were simulated, the smallest first.
    `claim` is None if no size was shown to meet the target. `next_larger`: the smallest size above
    the claim that was tried or is beyond arithmetic, None if none is; `not_met`: the same of those
    shown not to be met; `limits` is about `next_larger`. `most`: the largest size that is not
    beyond arithmetic, None if all are; `bound`: what the next one breaks, None if it was not looked
    for; `ceilings` are those of the present orders. `steps` were planned, and each has its share of
    `alpha`; `runs` are all years.
    """

    present: Tried
    tried: tuple[Tried, ...]
    claim: Claim | None
    next_larger: Tried | None
    not_met: Tried | None
    limits: Limits | None
    most: Size | None
    bound: Bound | None
    ceilings: tuple[Ceiling, ...]
    case: int
    crop: str | None
    target: Target
    steps: int
    alpha: float
    runs: int


def largest_order(
    scenario: Scenario, aim: Aim, runs: Runs, *, case: int = CASE, crop: str | None = None
) -> Capacity:
    """The largest orders, all scaled by one factor or those of one crop, that a cadence meets.

    `case` are the heads of a case; `aim.budget` are the years of all steps together, `aim.alpha`
    is the allowed chance that any verdict of any step is wrong.

    Raises SeedbeatError if the budget is too small, ScenarioError if nothing is ordered, the crop
    has no orders, nobody may seed, or no week can be met.
    """
    search = _Search(Sizes(scenario, case, crop), aim, runs)
    low, high = search.bracket()
    while high - low > 1 and search.steps_left:
        middle = (low + high) // 2
        if search.meets(search.sizes.of(middle), 1.0 / ceil(log2(high - low))):
            low = middle
        else:
            high = middle
    search.look_beyond(high)
    return search.answer(case, crop)


class _Search:
    """The sizes tried so far, the years left, and the cadence to begin the next step with."""

    def __init__(self, sizes: Sizes, aim: Aim, runs: Runs) -> None:
        self.sizes, self._aim, self._runs = sizes, aim, runs
        plan = Plan(sizes.present.scenario)
        impossible = open_impossible(plan)
        self._target = target_of(plan, impossible, aim)
        self._known = {week.monday for week in impossible}
        self._ceilings = tuple(ceilings(plan.timetable, plan.leavings))
        self._top = largest(sizes, self._known)
        first = max(sizes.above, sizes.least)
        self._larger = range(first, max(first, self._top + 1))
        first = sizes.least
        self._smaller = range(first, max(first, min(sizes.below, self._top) + 1))
        self._present = self._beyond(sizes.present)
        self._share_out_years(plan.scenario)
        self._tried: list[Tried] = []
        self._best = sizes.present, plan.scenario.cadence  # the size met last, and its cadence

    def _beyond(self, size: Size) -> Tried | None:
        """A size that is beyond arithmetic, None if it is not."""
        bound = broken(size, self._known)
        return Tried(size, "beyond arithmetic", self._begin(size), bound=bound) if bound else None

    def _share_out_years(self, scenario: Scenario) -> None:
        """Years for the claimed size and the next larger one; the others for steps."""
        budget, each = self._aim.budget, runs_for_limits(scenario)
        least = FRESH_YEARS[0] + LIMIT_YEARS[0] * each + 2 * LEAST_STEP
        if budget < least:
            raise SeedbeatError(
                f"finding the capacity: --runs must be at least {least:,} for this scenario; "
                f"it was {budget:,}. Give more."
            )
        self._fresh_years = _within(budget // 40, FRESH_YEARS)
        self._limit_years = _within(budget // (10 * each), LIMIT_YEARS)
        self._years_left = budget - self._fresh_years - each * self._limit_years
        most = max(len(self._smaller), 0 if self._present else len(self._larger))
        planned = ceil(log2(1 + most)) + (0 if self._present else 1)
        self.steps_left = self._steps = min(planned, self._years_left // LEAST_STEP)
        self._started = self._runs.done

    def bracket(self) -> tuple[int, int]:
        """Cases of which the lower number is met, or below all, and the upper not shown to be.

        The present orders are tried for it, unless arithmetic is enough.
        """
        if not self._present and self.meets(self.sizes.present, PRESENT_SHARE):
            return self._larger.start - 1, self._larger.stop
        return self._smaller.start - 1, self._smaller.stop

    def meets(self, size: Size, share: float) -> bool:
        """Try a size: one step, with a share of the years left, at least that of all steps."""
        years = int(self._years_left * max(share, 1.0 / self.steps_left))
        aim = replace(
            self._aim,
            budget=years,
            alpha=self._aim.alpha / self._steps,
            seed=self._aim.seed + _APART * len(self._tried),  # each step has luck of its own
        )
        self._runs.total = self._started + self._aim.budget
        tried = try_size(size, self._begin(size), aim, self._runs)
        self._tried.append(tried)
        self._years_left -= tried.years
        self.steps_left -= 1
        if size is self.sizes.present:
            self._present = tried
        if tried.verdict != "meets":
            return False
        self._best = size, best_of(tried).cadence
        return True

    def look_beyond(self, cases: int) -> None:
        """Try one size more than the first that was not shown to be met, if years are left.

        Whole trays fit some sizes better than smaller ones.
        """
        new = cases + 1 in self._smaller or cases + 1 in self._larger
        if new and self.steps_left and self._years_left >= LEAST_STEP:
            size = self.sizes.of(cases + 1)
            if size.total not in {_total(tried) for tried in self._tried}:
                self.meets(size, 1.0)

    def _begin(self, size: Size) -> Scenario:
        """A size's scenario, with the cadence met last and its trays in proportion."""
        if size is self.sizes.present:
            return size.scenario
        return self.sizes.with_cadence(size, *self._best)

    def answer(self, case: int, crop: str | None) -> Capacity:
        """What was found, with fresh years of the claimed size and what limits the next one."""
        assert self._present is not None
        met = [t for t in self._tried if t.verdict == "meets"]
        claimed = max(met, key=_total, default=None)
        beyond = self._beyond(self.sizes.of(self._top + 1))
        tried = [t for t in (*self._tried, self._present, beyond) if t]
        above = [t for t in tried if claimed is None or _total(t) > _total(claimed)]
        above.sort(key=_total)
        claim = self._claim(claimed) if claimed else None
        limits = self._limits(above[0]) if above else None
        self._runs.total, self._runs.note = self._runs.done, ""
        self._runs.tell()
        return Capacity(
            present=self._present,
            tried=tuple(sorted(self._tried, key=_total)),
            claim=claim,
            next_larger=above[0] if above else None,
            not_met=next((t for t in above if t.verdict in SHOWN_NOT_MET), None),
            limits=limits,
            most=self.sizes.of(self._top) if self._top >= self.sizes.least else None,
            bound=beyond.bound if beyond else None,
            ceilings=self._ceilings,
            case=case,
            crop=crop,
            target=self._target,
            steps=self._steps,
            alpha=self._aim.alpha,
            runs=self._runs.done - self._started,
        )  # fmt: skip

    def _claim(self, tried: Tried) -> Claim:
        assert tried.found is not None
        chosen = best_of(tried)
        scenario = tried.scenario.model_copy(update={"cadence": chosen.cadence})
        self._runs.note = f"fresh years of {tried.size.cases:,.6g} cases a week"
        years = self._runs.years(scenario, self._fresh_years, self._aim.seed, first=FRESH_FROM)
        measures = years.measures()
        return Claim(
            tried,
            scenario,
            chosen,
            _dated(years.plan),
            measured(plain_name(chosen.name), trials_of(years), tried.found.target),
            measures["bench_fill"],
            measures["useful_bench_share"],
        )

    def _limits(self, tried: Tried) -> Limits:
        nearest = best_of(tried)
        scenario = tried.scenario.model_copy(update={"cadence": nearest.cadence})
        self._runs.note = f"what limits {tried.size.cases:,.6g} cases a week"
        target = tried.found.target if tried.found else self._target
        return limits_at(
            scenario, plain_name(nearest.name), target, self._runs,
            years=self._limit_years, seed=self._aim.seed,
        )  # fmt: skip


def _dated(plan: Plan) -> tuple[Seeding, ...]:
    """The dated seeding list of a plan."""
    return tuple(
        Seeding(day=plan.timetable.date_of(s.day), crop=s.crop, trays=s.trays)
        for s in plan.seedings
    )


def _total(tried: Tried) -> int:
    return tried.size.total


def _within(number: int, least_and_most: tuple[int, int]) -> int:
    least, most = least_and_most
    return max(least, min(most, number))
