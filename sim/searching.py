"""The years that are simulated for a choice among cadences, and what they say of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from sim.aim import Aim
from sim.cadence_answer import (
    CandidateRow,
    Compared,
    Fresh,
    Target,
    differences,
    measured,
    met_of,
)
from sim.candidates import GIVEN, Candidate
from sim.greenhouse.plan import Plan
from sim.kind_year import seedings_of
from sim.parts import Cadence
from sim.runs import Runs
from sim.scenario import Scenario
from sim.selection import Choice, Limits, Outcome, Verdict, choose
from sim.trials import Trial
from sim.weeks import Floats

FRESH_FROM = 1_000_000  # the first replication of the years that have no part in the choice
REFINE_FROM = 2_000_000  # and of those in which the best is compared with what varies it
STEADINESS_TOLERANCE = 0.01  # a steadiness this much below its target is still acceptable
WEEK_TOLERANCE = 0.05  # and so is a week's share of years
FIRST_ROUND = 20  # years of every candidate
_NEAR, _NEAR_YEARS = 10, 60  # candidates that may come nearest, and years of each


def limits_of(target: Target) -> Limits:
    """The steadiness, then one yes/no limit for each week that counts."""
    weeks = len(target.weeks)
    return Limits(
        at_least=np.array([target.steadiness] + [target.weakest_week] * weeks),
        tolerance=np.array([STEADINESS_TOLERANCE] + [WEEK_TOLERANCE] * weeks),
        binary=np.array([False] + [True] * weeks),
    )


class Search:
    """The candidates that may be simulated, with the years that were simulated for the choice."""

    def __init__(self, plan: Plan, target: Target, aim: Aim, runs: Runs) -> None:
        self.candidates: list[Candidate] = []
        self.target, self.runs = target, 0
        self._plan, self._aim, self._all_runs = plan, aim, runs
        self._scenarios: list[Scenario] = []
        self._years: list[dict[int, Trial]] = []

    def add(self, candidates: Sequence[Candidate]) -> list[int]:
        """Let candidates take part; their numbers."""
        for candidate in candidates:
            cadence = candidate.cadence
            self._scenarios.append(self._plan.scenario.model_copy(update={"cadence": cadence}))
            self._years.append({})
        self.candidates += candidates
        return list(range(len(self.candidates) - len(candidates), len(self.candidates)))

    def choose(
        self,
        numbers: Sequence[int],
        *,
        indifference: float,
        alpha: float,
        budget: int,
        floors: Sequence[float] | None = None,
        at_first: int | None = None,
        reserve: int = 0,
        luck_from: int = 0,
    ) -> Choice:
        """Choose among candidates; `indifference` in wasted plants, `budget` in years.

        `floors`, `at_first` and `reserve` are those of `selection.choose`. Years begin with
        replication `luck_from`; those that were simulated before are not simulated again.
        """

        def evaluate(pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
            return self._outcomes([(numbers[c], luck_from + n) for c, n in pairs])

        self._say(len(numbers) if at_first is None else min(at_first, len(numbers)))
        return choose(
            len(numbers),
            limits_of(self.target),
            evaluate,
            indifference=indifference,
            alpha=alpha,
            first_round=FIRST_ROUND,
            budget=budget,
            floors=None if floors is None else np.array(floors),
            at_first=at_first,
            reserve=reserve,
            progress=lambda left, _: self._say(left),
        )

    def _say(self, left: int) -> None:
        self._all_runs.note = f"{left} {'candidate' if left == 1 else 'candidates'} left"
        self._all_runs.tell()

    def _outcomes(self, pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
        """Simulate a round: steadiness and weeks met, wasted plants, variance of the minutes."""
        new = [(c, n) for c, n in pairs if n not in self._years[c]]
        for (candidate, number), trial in zip(new, self._run(new), strict=True):
            self._years[candidate][number] = trial
        found = [self._years[c][n] for c, n in pairs]
        met = met_of(found, self.target)
        shares = np.concatenate([met.mean(axis=1, keepdims=True), met], axis=1)
        return [
            Outcome(share, trial.wasted_plants, float(np.var(trial.minutes)))
            for share, trial in zip(shares, found, strict=True)
        ]

    def _run(self, pairs: Sequence[tuple[int, int]]) -> list[Trial]:
        self.runs += len(pairs)
        asked = [(self._scenarios[number], replication) for number, replication in pairs]
        return self._all_runs.trials(asked, self._aim.seed)

    def tried(self) -> list[int]:
        """The candidates that have years, in the order in which they were added."""
        return [number for number, years in enumerate(self._years) if years]

    def nearest(self, years: int) -> int:
        """The tried one that comes nearest to the target, by years of its own.

        Those that met most weeks have up to `years` more, all alike, so that none looks near, or
        far, because it has few.
        """
        tried = self.tried()
        steady = {c: met_of(list(self._years[c].values()), self.target).mean() for c in tried}
        first = sorted(tried, key=lambda c: (-steady[c], c))[:_NEAR]
        each = min(_NEAR_YEARS, years // len(first))
        if each < FIRST_ROUND:
            first, each = tried, FIRST_ROUND // 2
        outcomes = self._outcomes([(c, n) for c in first for n in range(each)])
        shares = np.array([outcome.constraints for outcome in outcomes])
        wasted = np.array([outcome.objective for outcome in outcomes])
        means = shares.reshape(len(first), each, -1).mean(axis=1)
        return first[nearest(means, wasted.reshape(len(first), each).mean(axis=1), self.target)]

    def rows(self, verdicts: Mapping[int, Verdict]) -> dict[int, CandidateRow]:
        """What the years of the choice say of each candidate that has years."""
        return {number: self._row(number, verdicts[number]) for number in self.tried()}

    def _row(self, number: int, verdict: Verdict) -> CandidateRow:
        candidate, years = self.candidates[number], list(self._years[number].values())
        return CandidateRow(
            **vars(measured(candidate.name, years, self.target)),
            verdict=verdict,
            cells_per_head=self._cells_per_head(candidate.cadence),
        )

    def _cells_per_head(self, cadence: Cadence) -> float:
        heads, scenario = Counter[str](), self._plan.scenario
        for leaving in self._plan.leavings:
            heads[leaving.crop] += leaving.heads
        cells = sum(
            s.trays * scenario.places[scenario.crops[s.crop].stages[0].place].sites_each
            for s in seedings_of(cadence, self._plan)
            if s.crop in heads
        )
        return cells / heads.total()

    def fresh(self, subject: int, years: int) -> Fresh:
        """New years of the chosen, or the nearest, and of the cadences that are given."""
        quoted = list(dict.fromkeys((subject, *range(GIVEN))))
        trials = self._run([(c, FRESH_FROM + n) for c in quoted for n in range(years)])
        by = {c: trials[k * years : (k + 1) * years] for k, c in enumerate(quoted)}

        def of(number: int) -> Compared:
            name = self.candidates[number].name
            less = differences(by[subject], by[number], self.target) if number != subject else {}
            return Compared(measured(name, by[number], self.target), less)

        return Fresh(of(subject).measured, of(0), tuple(of(c) for c in range(1, GIVEN)))


def nearest(constraints: Floats, objective: Floats, target: Target) -> int:
    """The candidate with the smallest worst shortfall, then the smallest sum of all.

    `constraints` have shape (k, 1 + weeks), as the limits; `objective` has shape (k,).
    """
    short = np.maximum(limits_of(target).at_least - constraints, 0.0)
    return int(np.lexsort((objective, short.sum(axis=1), short.max(axis=1)))[0])
