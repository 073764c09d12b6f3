"""One step of a search for the largest orders: a size, and whether some cadence meets it.

A search for a cadence comes first, with half of the step's allowed error. If it ends undecided,
the most promising cadences are looked at in years of their own, each alone, with the other half:
what is picked in other years needs no share of the error for those that were not picked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sim.aim import LEAST_BUDGET, Aim
from sim.cadence import FIRST_ROUND, FRESH_FROM, STEADINESS_TOLERANCE, WEEK_TOLERANCE, search
from sim.cadence_answer import CadenceAnswer, CandidateRow, Measured, Target, measured, met_of
from sim.candidates import Candidate
from sim.capacity_room import Bound
from sim.capacity_sizes import Size
from sim.runs import Asked, Runs
from sim.scenario import Scenario
from sim.selection import Limits, Outcome, choose
from sim.trials import Trial

SEARCH_SHARE = 0.6  # of a step's years
ALONE_FROM = 3_000_000  # the first replication of the years in which cadences are looked at alone
MOST_ALONE = 2  # cadences looked at alone, one after the other until one is shown to meet

SizeVerdict = Literal["meets", "not confirmed", "not met", "too close to call", "beyond arithmetic"]

_ROUNDING = 1e-9
_OWN = "own cadence ("  # how a search names the cadences that it is given
_COUNTED = "counted from mean orders, breaks ignored: "
_COUNTED_BACK = "counted back "


@dataclass(frozen=True)
class Tried:
    """One size that was tried.

    "meets": some cadence was shown to meet the target, and fresh years say the same; "not
    confirmed": they do not; "not met": each cadence simulated was shown to miss the target;
    "beyond arithmetic": it breaks `bound`, and nothing was simulated. `scenario` has the cadence
    that the search begins with, `found` is its answer (None beyond arithmetic). `fresh` years are
    those of the cadence shown to meet, or the nearest; `alone` is that cadence if it was shown to
    meet in years of its own. `years` are all of the step.
    """

    size: Size
    verdict: SizeVerdict
    scenario: Scenario
    found: CadenceAnswer | None = None
    fresh: Measured | None = None
    alone: Candidate | None = None
    bound: Bound | None = None
    years: int = 0


class _StepRuns(Runs):
    """Years from the runs of the whole search, told with the size that they are for."""

    def __init__(self, whole: Runs, words: str) -> None:
        super().__init__()
        self._whole, self._words = whole, words

    def trials(self, asked: Sequence[Asked], seed: int = 1) -> list[Trial]:
        """Years from the whole."""
        found = self._whole.trials(asked, seed)
        self.done += len(found)
        return found

    def tell(self) -> None:
        """Let the whole tell the size and what is left of it."""
        self._whole.note = f"{self._words}, {self.note}" if self.note else self._words
        self._whole.tell()


def try_size(size: Size, scenario: Scenario, aim: Aim, runs: Runs) -> Tried:
    """Search a cadence for a size; `scenario` has its orders and a cadence to begin with."""
    step = _StepRuns(runs, f"size {size.cases:,.6g} case{'' if size.cases == 1 else 's'} a week")
    half = replace(aim, alpha=aim.alpha / 2.0)
    years = max(LEAST_BUDGET, int(SEARCH_SHARE * aim.budget))
    found = search(scenario, replace(half, budget=years), step)
    tried = Tried(size, "not met", scenario, found, found.fresh.chosen)
    if found.verdict == "meets":
        tried = replace(tried, verdict=_confirmed(found.fresh.chosen, found.target))
    elif found.verdict == "too close to call":
        tried = replace(tried, verdict="too close to call")
        tried = _looked_at_alone(tried, found, half, step)
    return replace(tried, years=step.done)


def _confirmed(fresh: Measured, target: Target) -> SizeVerdict:
    """Whether fresh years are within the tolerances of the target."""
    steady = fresh.steadiness.mean >= target.steadiness - STEADINESS_TOLERANCE - _ROUNDING
    weekly = fresh.weakest.met.mean >= target.weakest_week - WEEK_TOLERANCE - _ROUNDING
    return "meets" if steady and weekly else "not confirmed"


def _looked_at_alone(tried: Tried, found: CadenceAnswer, aim: Aim, runs: Runs) -> Tried:
    """The undecided cadences with most to spare in the search, in years of their own.

    Nothing changes if none is shown to meet the target, for another cadence might be.
    """
    fresh_years = found.fresh.chosen.years
    spare = sorted(found.pending, key=lambda row: -_to_spare(row, found.target))
    for row in spare[:MOST_ALONE]:
        years = aim.budget - runs.done - fresh_years
        if years < FIRST_ROUND:
            break
        runs.note = "the most promising cadences alone"
        runs.tell()
        candidate = _named(row.name, found)
        scenario = tried.scenario.model_copy(update={"cadence": candidate.cadence})
        if _meets_alone(scenario, found.target, aim, runs, years):
            trials = runs.trials([(scenario, FRESH_FROM + n) for n in range(fresh_years)], aim.seed)
            fresh = measured(candidate.name, trials, found.target)
            verdict = _confirmed(fresh, found.target)
            return replace(tried, verdict=verdict, fresh=fresh, alone=candidate)
    return tried


def _to_spare(row: CandidateRow, target: Target) -> float:
    """How far the worst of both measures lies above its target."""
    weakest = row.weakest.met.mean - target.weakest_week
    return min(row.steadiness.mean - target.steadiness, weakest)


def _meets_alone(scenario: Scenario, target: Target, aim: Aim, runs: Runs, years: int) -> bool:
    """Whether a cadence is shown to meet the target in at most `years`, tested as in a search."""
    weeks = len(target.weeks)
    limits = Limits(
        at_least=np.array([target.steadiness] + [target.weakest_week] * weeks),
        tolerance=np.array([STEADINESS_TOLERANCE] + [WEEK_TOLERANCE] * weeks),
        binary=np.array([False] + [True] * weeks),
    )

    def evaluate(pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
        trials = runs.trials([(scenario, ALONE_FROM + n) for _, n in pairs], aim.seed)
        met = met_of(trials, target)
        shares = np.concatenate([met.mean(axis=1, keepdims=True), met], axis=1)
        return [Outcome(share, t.wasted_plants) for share, t in zip(shares, trials, strict=True)]

    choice = choose(
        1, limits, evaluate,
        indifference=1.0, alpha=aim.alpha / MOST_ALONE, first_round=FIRST_ROUND, budget=years,
    )  # fmt: skip
    return choice.chosen is not None


def best_of(tried: Tried) -> Candidate:
    """The cadence shown to meet, or the nearest; beyond arithmetic the one to begin with."""
    found = tried.found
    if found is None:
        return Candidate("", tried.scenario.cadence)
    return tried.alone or found.chosen or _named(found.fresh.chosen.name, found)


def _named(name: str, found: CadenceAnswer) -> Candidate:
    """The candidate of a search by its name."""
    return next(candidate for candidate in found.tried if candidate.name == name)


def plain_name(name: str) -> str:
    """A cadence's name as it reads after "with": what is seeded, not how it came to be tried."""
    if name.startswith(_OWN):
        return name.removeprefix(_OWN).removesuffix(")")
    if name.startswith(_COUNTED_BACK):
        return f"seedings {name}"
    return name.removeprefix(_COUNTED)
