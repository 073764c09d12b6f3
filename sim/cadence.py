"""Finding a seeding cadence: propose, prune by arithmetic, compare under the same luck, choose.

Wanted is the cadence with the fewest wasted plants among those that meet the target: a steadiness
(mean share of weeks met), and every calendar week with something due met in a share of the years.
The weakest week is the lowest of many estimates and looks too weak where it is picked from the
data; so each calendar week is a yes/no limit of its own. Of cadences that waste about the same,
the one with the steadier work is taken: the lowest variance of the weeks' person-minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from typing import TYPE_CHECKING

import numpy as np

from sim.aim import Aim, first_open, open_impossible, target_of
from sim.cadence_answer import (
    CadenceAnswer,
    CandidateRow,
    Compared,
    Found,
    Fresh,
    Target,
    differences,
    measured,
    met_of,
    sentence,
)
from sim.candidates import GIVEN, Candidate, list_candidates
from sim.ceilings import ImpossibleWeek
from sim.errors import SeedbeatError
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.kind_year import seedings_of
from sim.parts import Seeding
from sim.pruning import Pruning, prune
from sim.runs import Progress, Runs
from sim.scenario import Scenario
from sim.school_year import spoken
from sim.selection import Choice, Limits, Outcome, Verdict, choose
from sim.trials import Trial

if TYPE_CHECKING:
    from sim.kept import Kept

FRESH_FROM = 1_000_000  # the first replication of the years that have no part in the choice
FRESH_YEARS = 200  # such years of each cadence that is quoted, fewer if the budget is small
STEADINESS_TOLERANCE = 0.01  # a steadiness this much below its target is still acceptable
WEEK_TOLERANCE = 0.05  # and so is a week's share of years
INDIFFERENCE = 0.01  # wasted plants that do not matter, as a share of a year's heads ordered
FIRST_ROUND = 20  # years of every candidate
YEARS_EACH = 80  # years there must be, on average, for every candidate that is tried


def find_cadence(
    scenario: Scenario,
    *,
    seed: int = 1,
    steadiness: float = 0.95,
    weakest_week: float = 0.85,
    budget: int = 6000,
    workers: int = 1,
    executor: Executor | None = None,
    kept: Kept | None = None,
    progress: Progress | None = None,
) -> CadenceAnswer:
    """Find the cadence with the fewest wasted plants among those that meet the target.

    `seed`, `steadiness`, `weakest_week` and `budget` are those of `Aim`, the others those of
    `runs.Runs`. The answer is the same for any workers. Weeks that no cadence can meet are found
    by arithmetic first and do not count.

    Raises SeedbeatError if one of these numbers cannot be used, ScenarioError if nothing is
    ordered, nobody may seed, or no week can be met.
    """
    if workers < 1:
        raise SeedbeatError(f"finding a cadence: workers must be at least 1; it was {workers}")
    aim = Aim(steadiness, weakest_week, budget, seed)
    with Runs(workers=workers, executor=executor, kept=kept, progress=progress) as runs:
        return search(scenario, aim, runs)


def search(scenario: Scenario, aim: Aim, runs: Runs) -> CadenceAnswer:
    """`find_cadence` with years from `runs`, so that several searches share workers and file."""
    plan = Plan(scenario)
    listed = list_candidates(plan.timetable, plan.leavings)
    impossible = open_impossible(plan)
    target = target_of(plan, impossible, aim)
    fresh_years = min(FRESH_YEARS, aim.budget // (5 * (GIVEN + 1)))
    for_choice = aim.budget - (GIVEN + 1) * fresh_years
    pruning = prune(
        listed,
        plan,
        steadiness=aim.steadiness,
        weakest_week=aim.weakest_week,
        counting=target.weeks,
        most=for_choice // YEARS_EACH,
    )
    runs.total = runs.done + aim.budget
    found = _Search(plan, pruning.left, target, aim, runs)
    choice = found.choose(indifference(plan, target), for_choice)
    fresh = found.fresh(choice, fresh_years)
    runs.total, runs.note = runs.done, ""
    runs.tell()
    return _answer(plan, found, choice, fresh=fresh, pruning=pruning, impossible=impossible)


def _limits(target: Target) -> Limits:
    """The steadiness, then one yes/no limit for each week that counts."""
    weeks = len(target.weeks)
    return Limits(
        at_least=np.array([target.steadiness] + [target.weakest_week] * weeks),
        tolerance=np.array([STEADINESS_TOLERANCE] + [WEEK_TOLERANCE] * weeks),
        binary=np.array([False] + [True] * weeks),
    )


def _nearest(choice: Choice, target: Target) -> int:
    """The candidate with the smallest worst shortfall, then the smallest sum of all."""
    seen = choice.estimates
    short = np.maximum(_limits(target).at_least - seen.constraints, 0.0)
    return int(np.lexsort((seen.objective, short.sum(axis=1), short.max(axis=1)))[0])


def indifference(plan: Plan, target: Target) -> float:
    """The difference in wasted plants that does not matter, at least one plant."""
    weeks = set(target.weeks)
    heads = sum(x.heads for x in plan.leavings if week_of(plan.timetable, x.time) in weeks)
    return max(1.0, INDIFFERENCE * heads)


class _Search:
    """The candidates that are simulated, with the years that were simulated for the choice."""

    def __init__(
        self, plan: Plan, candidates: Sequence[Candidate], target: Target, aim: Aim, runs: Runs
    ) -> None:
        self.candidates, self.target, self.runs = candidates, target, 0
        self._aim, self._all_runs = aim, runs
        self._scenarios = [
            plan.scenario.model_copy(update={"cadence": candidate.cadence})
            for candidate in candidates
        ]
        self._years: list[list[Trial]] = [[] for _ in candidates]

    def choose(self, indifference: float, budget: int) -> Choice:
        """Choose among the candidates; `indifference` in wasted plants, `budget` in years."""
        self._say(len(self.candidates))
        return choose(
            len(self.candidates),
            _limits(self.target),
            self._evaluate,
            indifference=indifference,
            alpha=self._aim.alpha,
            first_round=FIRST_ROUND,
            budget=budget,
            progress=lambda left, _: self._say(left),
        )

    def _say(self, left: int) -> None:
        self._all_runs.note = f"{left} {'candidate' if left == 1 else 'candidates'} left"
        self._all_runs.tell()

    def _evaluate(self, pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
        """Simulate a round: steadiness and weeks met, wasted plants, variance of the minutes."""
        found = self._run(pairs)
        for (candidate, _), trial in zip(pairs, found, strict=True):
            self._years[candidate].append(trial)
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

    def row(self, number: int, verdict: Verdict) -> CandidateRow:
        """What the years of the choice say of one candidate."""
        name = self.candidates[number].name
        return CandidateRow(
            **vars(measured(name, self._years[number], self.target)), verdict=verdict
        )

    def fresh(self, choice: Choice, years: int) -> Fresh:
        """New years of the chosen, or the nearest, and of the cadences that are given."""
        subject = _nearest(choice, self.target) if choice.chosen is None else choice.chosen
        quoted = list(dict.fromkeys((subject, *range(GIVEN))))
        trials = self._run([(c, FRESH_FROM + n) for c in quoted for n in range(years)])
        by = {c: trials[k * years : (k + 1) * years] for k, c in enumerate(quoted)}

        def of(number: int) -> Compared:
            name = self.candidates[number].name
            less = differences(by[subject], by[number], self.target) if number != subject else {}
            return Compared(measured(name, by[number], self.target), less)

        return Fresh(of(subject).measured, of(0), tuple(of(c) for c in range(1, GIVEN)))


def _answer(
    plan: Plan,
    search: _Search,
    choice: Choice,
    *,
    fresh: Fresh,
    pruning: Pruning,
    impossible: Sequence[ImpossibleWeek],
) -> CadenceAnswer:
    rows = [search.row(number, verdict) for number, verdict in enumerate(choice.verdicts)]
    chosen = None if choice.chosen is None else search.candidates[choice.chosen]
    verdict: Found = "too close to call" if choice.pending else "none meets"
    if chosen:
        verdict = "meets"
    return CadenceAnswer(
        verdict=verdict,
        sentence=sentence(
            verdict, fresh.chosen, search.target, impossible,
            pending=len(choice.pending), none_passed=pruning.none_passed,
        ),
        chosen=chosen,
        seedings=_dated(chosen, plan) if chosen else (),
        fresh=fresh,
        own=rows[0],
        nearest=rows[_nearest(choice, search.target)] if chosen is None else None,
        ties=tuple(rows[n] for n in choice.ties),
        pending=tuple(rows[n] for n in choice.pending),
        impossible=tuple(impossible),
        reachable=not impossible,
        candidates=pruning.listed,
        pruned=pruning.pruned,
        rows=tuple(rows),
        tried=tuple(search.candidates),
        runs=search.runs,
        target=search.target,
        allowance=_allowance(choice, search.target, plan),
    )  # fmt: skip


def _dated(candidate: Candidate, plan: Plan) -> tuple[Seeding, ...]:
    return tuple(
        Seeding(day=plan.timetable.date_of(s.day), crop=s.crop, trays=s.trays)
        for s in seedings_of(candidate.cadence, plan)
    )


def _allowance(choice: Choice, target: Target, plan: Plan) -> str:
    first = spoken(plan.timetable.week_monday(first_open(plan)))
    today = f" Weeks before {first} hang on today's benches and do not count."
    return (
        f"{choice.allowance} The limits are the steadiness and each of {len(target.weeks)} weeks "
        "by itself, since the weakest week is the lowest of so many estimates; the tolerance is "
        f"{100 * STEADINESS_TOLERANCE:g} point of steadiness and {100 * WEEK_TOLERANCE:g} points "
        "of a week's share of years. Published numbers come from fresh years, not from the search."
        + (today if plan.scenario.benches else "")
    )
