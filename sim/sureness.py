"""How sure is a cadence, with a school's own data: plausible numbers outside, the same luck inside.

Sets of numbers are drawn from what the records leave open (`sureness_draws`), and every set is
simulated in the same years. The dated seeding list is held still: what differs is how the
greenhouse turns out. Each set is judged as `swings_beside.standing` judges, with an error of its
own; the share of sets that meet the target is therefore told as a range: at least those that are
shown to meet it, at most those that are not shown to miss it, each with the exact bound for a
share of the sets drawn. All sets have the same years, so a run of bad luck is bad for all of them;
the range is for these years.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.aim import Aim, open_impossible, target_of
from sim.cadence import FRESH_FROM
from sim.cadence_answer import CadenceAnswer, Measured, Target, measured, met_of
from sim.calibration_numbers import LEAST_BATCHES, LEAST_SHIFTS, LEAST_TIMED, Number
from sim.candidates import told
from sim.errors import RecordsError, SeedbeatError
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.replications import exact_interval
from sim.runs import Runs
from sim.scenario import Scenario
from sim.sureness_counts import Ranking, rank
from sim.sureness_draws import Plausible, draws, plausible, with_numbers
from sim.sureness_split import Split, split
from sim.swings_beside import Standing, held, ordered_crops, rivals_of, standing
from sim.trials import Trial

SETS, YEARS = 100, 60  # of a study, unless said otherwise
LEAST_SETS, LEAST_YEARS = 20, 10
SELDOM = 0.10  # a share of sets below which the data say no, and yes above 1 less that

Verdict = Literal["meets", "misses", "open"]


@dataclass(frozen=True)
class Judged:
    """One set of numbers in its years: shares of weeks and years, heads a week, how it stands.

    `values` are its varying numbers in the order of `Sureness.varying`; `reached` says whether its
    estimates reach both targets as they stand.
    """

    values: tuple[float, ...]
    steadiness: float
    weakest_week: float
    heads_per_week: float
    standing: Standing
    reached: bool


@dataclass(frozen=True)
class Meeting:
    """How many of the sets meet the target, and the range of the share of plausible sets.

    `low` is the exact lower bound for the sets that are shown to meet it, `high` the upper one for
    those that are not shown to miss it. `reached` sets reach it as they stand.
    """

    sets: int
    meets: int
    misses: int
    too_close: int
    reached: int
    low: float
    high: float

    @property
    def verdict(self) -> Verdict:
        """What the data say: yes or no for nearly all plausible sets, or it is open."""
        if self.high <= SELDOM:
            return "misses"
        return "meets" if self.low >= 1.0 - SELDOM else "open"


@dataclass(frozen=True)
class Sureness:
    """How sure a cadence is.

    `as_measured` is the cadence under the numbers as measured, in the same years as all sets. The
    splits are of the steadiness and of the heads delivered a week; `left_out` weeks with something
    due do not count, since no cadence can meet them under the numbers as measured; `ranking` is
    about the steadiness, None if no number moves it beyond noise.
    """

    name: str
    target: Target
    left_out: int
    years: int
    first: int
    numbers: tuple[Plausible, ...]
    varying: tuple[Plausible, ...]
    as_measured: Measured
    stands: Standing
    sets: tuple[Judged, ...]
    meeting: Meeting
    steadiness: Split
    heads: Split
    ordered: float
    ranking: Ranking | None


def sureness(
    scenario: Scenario,
    numbers: Sequence[Number],
    target: Target,
    runs: Runs,
    seed: int = 1,
    *,
    sets: int | None = None,
    years: int = YEARS,
    first: int = 0,
) -> Sureness:
    """Draw sets of numbers and see what the scenario's cadence does with each.

    `scenario` has the numbers as measured (`sureness_draws.calibrated`), `numbers` are those of
    its calibration. Simulated are replications `first` ... `first + years - 1`, for all sets.
    Without `sets` there are `SETS`, or as many as the numbers need.

    Raises RecordsError if no number was counted often enough, SeedbeatError if there are too few
    sets or years.
    """
    every = plausible(numbers)
    _check_counted(numbers)
    varying = tuple(one for one in every if one.varies)
    sets = _enough(sets, years, len(varying))
    fixed, uniforms = held(scenario), draws(varying, seed, sets)
    values = [tuple(p.at(u) for p, u in zip(varying, row, strict=True)) for row in uniforms]
    paths = [one.number.path for one in varying]
    drawn = [
        with_numbers(fixed, dict(zip(paths, row, strict=True))) if row else fixed for row in values
    ]
    trials = _simulated(runs, [fixed, *drawn], range(first, first + years), seed)
    own, table = trials[0], trials[1:]
    ordered, due = _orders(Plan(fixed))
    judged = [_judged(v, t, target, ordered) for v, t in zip(values, table, strict=True)]
    weeks = np.array([met_of(t, target).mean(axis=1) for t in table])
    steadiness = split(weeks)
    ranking = rank(
        varying, uniforms, weeks, steadiness.parts, batch=_batches(scenario), scenario=scenario
    )
    name = told(scenario.cadence, ordered_crops(scenario))
    return Sureness(
        name, target, due - len(target.weeks), years, first, every, varying,
        measured(name, own, target), standing(own, target), tuple(judged), _meeting(judged),
        steadiness,
        split(np.array([[ordered * t.unit_fill_rate for t in one] for one in table])),
        ordered, ranking,
    )  # fmt: skip


def sureness_of_own(
    scenario: Scenario, numbers: Sequence[Number], aim: Aim, runs: Runs, *,
    sets: int | None = None, years: int = YEARS,
) -> Sureness:  # fmt: skip
    """How sure the scenario's own cadence is."""
    plan = Plan(scenario)
    target = target_of(plan, open_impossible(plan), aim)
    return sureness(scenario, numbers, target, runs, aim.seed, sets=sets, years=years)


def sureness_of_found(
    scenario: Scenario, numbers: Sequence[Number], found: CadenceAnswer, runs: Runs,
    seed: int = 1, *, sets: int | None = None, years: int = YEARS,
) -> Sureness:  # fmt: skip
    """How sure the cadence is that a search chose, or else came nearest, in fresh years."""
    chosen, _ = rivals_of(scenario, found)
    return sureness(
        chosen, numbers, found.target, runs, seed, sets=sets, years=years, first=FRESH_FROM
    )


def _check_counted(numbers: Sequence[Number]) -> None:
    if any(number.measured and not number.kept for number in numbers):
        return
    raise RecordsError(
        f"The records tell too little: none of the scenario's {len(numbers)} numbers was counted "
        f"often enough (a mean needs {LEAST_BATCHES} batches, minutes {LEAST_TIMED} shifts, people "
        f"absent {LEAST_SHIFTS} shifts). Write down more, or see what guesses may do: seedbeat "
        "swings."
    )


def _enough(sets: int | None, years: int, numbers: int) -> int:
    """How many sets there are to be; a straight fit needs more of them than there are numbers."""
    least = max(LEAST_SETS, 2 * (numbers + 1))
    if sets is None:
        sets = max(SETS, least)
    if sets < least:
        raise SeedbeatError(
            f"--sets must be at least {least}, since {numbers} numbers vary, but it was {sets}; "
            "give more."
        )
    if years < LEAST_YEARS:
        raise SeedbeatError(
            f"--years must be at least {LEAST_YEARS}, but it was {years}; give more."
        )
    return sets


def _simulated(
    runs: Runs, scenarios: Sequence[Scenario], years: range, seed: int
) -> list[list[Trial]]:
    """The years of each scenario."""
    runs.total = runs.done + len(scenarios) * len(years)
    runs.note = "sets of numbers"
    trials = runs.trials([(s, n) for s in scenarios for n in years], seed)
    runs.note = ""
    runs.tell()
    size = len(years)
    return [trials[k * size : (k + 1) * size] for k in range(len(scenarios))]


def _judged(
    values: tuple[float, ...], trials: Sequence[Trial], target: Target, ordered: float
) -> Judged:
    met = met_of(trials, target)
    steady, weakest = float(met.mean()), float(met.mean(axis=0).min())
    heads = ordered * float(np.mean([t.unit_fill_rate for t in trials]))
    reached = steady >= target.steadiness - 1e-9 and weakest >= target.weakest_week - 1e-9
    return Judged(values, steady, weakest, heads, standing(trials, target), reached)


def _meeting(judged: Sequence[Judged]) -> Meeting:
    sets = len(judged)
    count = {s: sum(one.standing == s for one in judged) for s in ("meets", "misses", "too close")}
    return Meeting(
        sets, count["meets"], count["misses"], count["too close"],
        sum(one.reached for one in judged), exact_interval(count["meets"], sets)[0],
        exact_interval(sets - count["misses"], sets)[1],
    )  # fmt: skip


def _orders(plan: Plan) -> tuple[float, int]:
    """Heads ordered a week of the window, and how many of its weeks have something due."""
    table = plan.timetable
    due = [(week_of(table, x.time), x.heads) for x in plan.leavings]
    inside = [(week, heads) for week, heads in due if week is not None]
    return sum(heads for _, heads in inside) / table.weeks, len({week for week, _ in inside})


def _batches(scenario: Scenario) -> Mapping[str, float]:
    """The mean number of cells in a batch, by crop."""
    cells: dict[str, list[int]] = {}
    for seeding in Plan(scenario).seedings:
        each = scenario.places[scenario.crops[seeding.crop].stages[0].place].sites_each
        cells.setdefault(seeding.crop, []).append(seeding.trays * each)
    one_tray = {
        name: float(scenario.places[crop.stages[0].place].sites_each)
        for name, crop in scenario.crops.items()
    }
    return one_tray | {name: float(np.mean(of)) for name, of in cells.items()}
