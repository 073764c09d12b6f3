"""Finding a seeding cadence: propose, prune by arithmetic, compare under the same luck, choose.

Wanted is the cadence with the fewest wasted plants among those that meet the target: a steadiness
(mean share of weeks met), and every calendar week with something due met in a share of the years.
The weakest week is the lowest of many estimates and looks too weak where it is picked from the
data; so each calendar week is a yes/no limit of its own. Of cadences that waste about the same
and were found to meet the target, the one with the steadier work is taken: the lowest variance of
the weeks' person-minutes. A thorough search goes on to all that arithmetic does not settle, and
varies the best (`settling`).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from typing import TYPE_CHECKING

from sim.aim import Aim, first_open, open_impossible, target_of
from sim.cadence_answer import CadenceAnswer, Found, Fresh, Target, sentence
from sim.cadence_bounds import Taken
from sim.candidates import GIVEN, Candidate, list_candidates
from sim.ceilings import ImpossibleWeek
from sim.errors import SeedbeatError
from sim.greenhouse.plan import Plan
from sim.kind_year import seedings_of
from sim.parts import Seeding
from sim.pruning import Pruning
from sim.runs import Progress, Runs
from sim.scenario import Scenario
from sim.school_year import spoken
from sim.searching import FIRST_ROUND, FRESH_FROM, STEADINESS_TOLERANCE, WEEK_TOLERANCE, Search
from sim.settling import INDIFFERENCE, YEARS_EACH, Settled, Settling, indifference

if TYPE_CHECKING:
    from sim.kept import Kept

__all__ = [
    "FIRST_ROUND", "FRESH_FROM", "FRESH_YEARS", "INDIFFERENCE", "STEADINESS_TOLERANCE",
    "WEEK_TOLERANCE", "YEARS_EACH", "Aim", "CadenceAnswer", "find_cadence", "indifference",
    "search",
]  # fmt: skip

FRESH_YEARS = 200  # such years of each cadence that is quoted, fewer if the budget is small


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
    aim = Aim(steadiness, weakest_week, budget, seed, thorough=True)
    with Runs(workers=workers, executor=executor, kept=kept, progress=progress) as runs:
        return search(scenario, aim, runs)


def search(scenario: Scenario, aim: Aim, runs: Runs) -> CadenceAnswer:
    """`find_cadence` with years from `runs`, so that several searches share workers and file."""
    plan = Plan(scenario)
    listed = list_candidates(plan.timetable, plan.leavings)
    impossible = open_impossible(plan)
    target = target_of(plan, impossible, aim)
    fresh_years = min(FRESH_YEARS, aim.budget // (5 * (GIVEN + 1)))
    runs.total = runs.done + aim.budget
    found = Search(plan, target, aim, runs)
    settling = Settling(plan, found, aim, aim.budget - (GIVEN + 1) * fresh_years)
    settled, pruning = settling(listed)
    fresh = found.fresh(settled.subject, fresh_years)
    runs.total, runs.note = runs.done, ""
    runs.tell()
    subject = found.candidates[settled.subject].cadence
    return _answer(
        plan, found, settled, pruning,
        fresh=fresh,
        impossible=impossible,
        ceilings=settling.judge.bounds.taken(subject),
        least_waste=settling.judge.least_waste(seedings_of(subject, plan)),
    )  # fmt: skip


def _answer(
    plan: Plan,
    found: Search,
    settled: Settled,
    pruning: Pruning,
    *,
    fresh: Fresh,
    impossible: Sequence[ImpossibleWeek],
    ceilings: Sequence[Taken],
    least_waste: float,
) -> CadenceAnswer:
    rows = found.rows(settled.verdicts)
    chosen = None if settled.chosen is None else found.candidates[settled.chosen]
    return CadenceAnswer(
        verdict=_verdict(settled),
        sentence=sentence(
            _verdict(settled), fresh.chosen, found.target, impossible,
            pending=len(settled.pending), untried=pruning.untried,
            none_passed=pruning.none_passed,
        ),
        chosen=chosen,
        seedings=_dated(chosen, plan) if chosen else (),
        fresh=fresh,
        own=rows[0],
        nearest=rows[settled.subject] if chosen is None else None,
        ties=tuple(rows[n] for n in settled.ties),
        pending=tuple(rows[n] for n in settled.pending),
        impossible=tuple(impossible),
        reachable=not impossible,
        candidates=pruning.listed,
        pruned=pruning.pruned,
        untried=pruning.untried,
        ceilings=tuple(ceilings),
        least_waste=least_waste,
        rows=tuple(rows.values()),
        tried=tuple(found.candidates[number] for number in rows),
        runs=found.runs,
        target=found.target,
        allowance=_allowance(settled, found.target, plan),
    )  # fmt: skip


def _verdict(settled: Settled) -> Found:
    if settled.chosen is not None:
        return "meets"
    return "too close to call" if settled.pending else "none meets"


def _dated(candidate: Candidate, plan: Plan) -> tuple[Seeding, ...]:
    return tuple(
        Seeding(day=plan.timetable.date_of(s.day), crop=s.crop, trays=s.trays)
        for s in seedings_of(candidate.cadence, plan)
    )


def _allowance(settled: Settled, target: Target, plan: Plan) -> str:
    first = spoken(plan.timetable.week_monday(first_open(plan)))
    today = f" Weeks before {first} hang on today's benches and do not count."
    return (
        f"{settled.allowance} The limits are the steadiness and each of {len(target.weeks)} weeks "
        "by itself, since the weakest week is the lowest of so many estimates; the tolerance is "
        f"{100 * STEADINESS_TOLERANCE:g} point of steadiness and {100 * WEEK_TOLERANCE:g} points "
        "of a week's share of years. Published numbers come from fresh years, not from the search."
        + (today if plan.scenario.benches else "")
    )
