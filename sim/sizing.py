"""How large a place, a crew or the cold store must be for the present orders.

Three separate sets of simulated years. In the first, few years choose a cadence for every size
(`sizing_cadences`). In the second, the present size is tested, then smaller or larger ones
(`sizing_tests`). In the third, a fixed number of years gives the numbers that are told: the service
at each size, with the cadence chosen for it and with the scenario's own, and what a bit more of
each thing adds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from sim.aim import Aim, open_impossible, target_of
from sim.cadence import FRESH_FROM
from sim.cadence_answer import Measured, Target, measured
from sim.candidates import list_candidates
from sim.ceilings import Ceiling, ImpossibleWeek
from sim.errors import SeedbeatError
from sim.greenhouse.plan import Plan
from sim.replications import Estimate, mean_estimate
from sim.runs import Runs
from sim.scenario import Scenario
from sim.sizing_cadences import Suited, most_years, screened, suited, with_cadence
from sim.sizing_more import Gain, More, check_costs, gains, heads_ordered, more_of_each
from sim.sizing_tests import LEAST_YEARS, Decided, decide, most_tests
from sim.sizing_things import Thing, between, grid, needed, thing_named
from sim.trials import Trial

CASE = 24  # heads of a case of the cold store, unless another number is given
YEARS = 120  # of each size and each cadence that is told, unless another number is given
BEND = (0.01, 0.05)  # steadiness and weakest week that a size beyond the bend may have more
_MORE_SIZES = 8  # between those looked at first, where the service rises


@dataclass(frozen=True)
class Service:
    """What fresh years say of one size with one cadence; `cadence` is its number."""

    cadence: int
    measured: Measured
    heads_per_week: Estimate


@dataclass(frozen=True)
class Tested:
    """A size with the verdict on it, and the number of the cadence that suits it."""

    size: int
    cadence: int
    decided: Decided


@dataclass(frozen=True)
class Row:
    """One size that is told: its verdict, its service and its ceilings, the lowest first.

    `best` is the service with the cadence that suits the size, `own` with the scenario's own.
    """

    tested: Tested
    best: Service
    own: Service
    ceilings: tuple[Ceiling, ...]

    @property
    def size(self) -> int:
        """The size."""
        return self.tested.size


@dataclass(frozen=True)
class Sizing:
    """What `size_of` found.

    `least` is the size that arithmetic needs at least, None if no size would do. `enough` is the
    smallest size that was shown to reach the target, None if none was. `bend` is the smallest of
    `rows` than which no larger one gains more than `BEND`. `cadences` are those tried at every
    size, the scenario's own first. `gains` are those of the present size with its cadence.
    `impossible` weeks do not count: at no size looked at can they be met. `runs` are all years;
    `tests` were planned, and each has its share of `alpha`.
    """

    thing: Thing
    least: int | None
    enough: int | None
    bend: int
    tested: tuple[Tested, ...]
    rows: tuple[Row, ...]
    cadences: tuple[str, ...]
    gains: tuple[Gain, ...]
    target: Target
    impossible: tuple[ImpossibleWeek, ...]
    heads_ordered: float
    years: int
    runs: int
    tests: int
    alpha: float

    def row(self, size: int) -> Row:
        """The row of a size that is told."""
        return next(row for row in self.rows if row.size == size)


def size_of(
    scenario: Scenario,
    name: str,
    aim: Aim,
    runs: Runs,
    *,
    years: int = YEARS,
    case: int = CASE,
    costs: Mapping[str, float] | None = None,
) -> Sizing:
    """How large the place, the crew or the cold store of this name must be.

    `aim.budget` are the years of all parts together, `years` those of each size and cadence that
    is told, `case` the heads of a case; `costs` are in dollars a year for one more, by the names of
    `sizing_more.More`. A size is for the years to come: what stands on the benches today is left
    out, and the greenhouse starts empty.

    Raises SeedbeatError for an unknown name or too few years, ScenarioError if the thing has no
    limit or no use, nothing is ordered, nobody may seed, or no week can be met.
    """
    scenario = scenario.model_copy(update={"benches": None})
    thing = thing_named(scenario, name, case)
    mores = more_of_each(scenario, case)
    check_costs(costs or {}, mores)
    if years < 2:
        raise SeedbeatError(f"finding a size: --years must be at least 2; it was {years}")
    return _Search(thing, aim, runs, years).answer(mores, costs or {})


class _Search:
    """The sizes looked at, the cadence for each, and the years that are told."""

    def __init__(self, thing: Thing, aim: Aim, runs: Runs, years: int) -> None:
        self._thing, self._aim, self._runs, self._years = thing, aim, runs, years
        self._started = runs.done
        self._least = needed(thing)
        self._sizes = grid(thing, self._least)
        plan = Plan(thing.at(self._sizes[-1]))
        listed = list_candidates(plan.timetable, plan.leavings)
        self._impossible = open_impossible(plan)
        self._target = target_of(plan, self._impossible, aim)
        self._candidates = screened(plan, listed, self._target, aim)
        self._ordered = heads_ordered(thing.scenario)
        self._found: Suited
        self._told: dict[tuple[int, int], list[Trial]]

    def answer(self, mores: Sequence[More], costs: Mapping[str, float]) -> Sizing:
        """Choose cadences, decide, then simulate what is told."""
        thing, runs = self._thing, self._runs
        deciding = self._years_to_decide(len(mores))
        runs.total = self._started + self._aim.budget
        self._found = suited(
            thing, self._sizes, self._candidates, target=self._target, runs=runs,
            seed=self._aim.seed,
        )  # fmt: skip
        tested = self._tested(deciding)
        enough = next((t.size for t in tested if t.decided.verdict == "enough"), None)
        rows = self._rows(tested, enough)
        gained = self._gains(next(row for row in rows if row.size == thing.present), mores, costs)
        runs.total = runs.done
        self._say("")
        return Sizing(
            thing=thing,
            least=self._least,
            enough=enough,
            bend=bend_of(rows),
            tested=tuple(tested),
            rows=tuple(rows),
            cadences=tuple(candidate.name for candidate in self._found.cadences),
            gains=tuple(gained),
            target=self._target,
            impossible=tuple(self._impossible),
            heads_ordered=self._ordered,
            years=self._years,
            runs=runs.done - self._started,
            tests=most_tests(len(tested)),
            alpha=self._aim.alpha,
        )

    def _years_to_decide(self, mores: int) -> int:
        """What is left of the budget for tests; SeedbeatError if that is too little."""
        sizes = len(self._sizes)
        planned = most_years(len(self._candidates), sizes)
        planned += self._years * (2 * (sizes + 2) + mores)
        least = planned + LEAST_YEARS * most_tests(sizes + _MORE_SIZES)
        if self._aim.budget < least:
            raise SeedbeatError(
                f"finding a size: --runs must be at least {least:,} for this scenario with --years "
                f"{self._years}; it was {self._aim.budget:,}. Give more --runs or fewer --years."
            )
        return self._aim.budget - planned

    def _say(self, note: str) -> None:
        self._runs.note = note
        self._runs.tell()

    def _scenario(self, size: int, cadence: int) -> Scenario:
        return with_cadence(self._thing.at(size), self._found.cadences[cadence])

    def _tested(self, budget: int) -> list[Tested]:
        """The verdicts on all sizes, those between where the service rises included."""
        thing, found = self._thing, self._found
        more = between(thing, found.steadiness, self._target.steadiness, _MORE_SIZES)
        sizes = sorted({*self._sizes, *more})
        decided = decide(
            [self._scenario(size, found.nearest(size)) for size in sizes],
            sizes.index(thing.present), self._target, replace(self._aim, budget=budget),
            self._runs,
        )  # fmt: skip
        return [
            Tested(size, found.nearest(size), one) for size, one in zip(sizes, decided, strict=True)
        ]

    def _rows(self, tested: Sequence[Tested], enough: int | None) -> list[Row]:
        """What is told: the sizes looked at first, the one that is enough, and the next below."""
        below = [t.size for t in tested if enough is not None and t.size < enough]
        sizes = {*self._sizes, *below[-1:], *([] if enough is None else [enough])}
        told = [t for t in tested if t.size in sizes]
        pairs = list(dict.fromkeys((t.size, c) for t in told for c in (t.cadence, 0)))
        self._say("the service at each size")
        scenarios = [self._scenario(*pair) for pair in pairs]
        asked = [(s, FRESH_FROM + year) for s in scenarios for year in range(self._years)]
        trials = iter(self._runs.trials(asked, self._aim.seed))
        self._told = {pair: list(islice(trials, self._years)) for pair in pairs}
        return [
            Row(
                t, self._service(t.size, t.cadence), self._service(t.size, 0),
                self._thing.ceilings(t.size),
            )
            for t in told
        ]  # fmt: skip

    def _service(self, size: int, cadence: int) -> Service:
        trials = self._told[size, cadence]
        filled = np.array([trial.unit_fill_rate for trial in trials])
        name = self._found.cadences[cadence].name
        heads = mean_estimate(filled * self._ordered)
        return Service(cadence, measured(name, trials, self._target), heads)

    def _gains(self, row: Row, mores: Sequence[More], costs: Mapping[str, float]) -> list[Gain]:
        """What more of each thing adds to the present size with the cadence that suits it."""
        self._say("a bit more of each")
        cadence = self._found.cadences[row.best.cadence]
        return gains(
            with_cadence(self._thing.scenario, cadence), self._told[row.size, row.best.cadence],
            [replace(more, scenario=with_cadence(more.scenario, cadence)) for more in mores],
            self._target, self._runs, costs=costs, seed=self._aim.seed, first=FRESH_FROM,
        )  # fmt: skip


def bend_of(rows: Sequence[Row]) -> int:
    """The smallest size than which no larger one gains more than `BEND`."""
    steady = [row.best.measured.steadiness.mean for row in rows]
    weakest = [row.best.measured.weakest.met.mean for row in rows]
    return next(
        row.size
        for n, row in enumerate(rows)
        if max(steady[n:]) - steady[n] <= BEND[0] + 1e-9
        and max(weakest[n:]) - weakest[n] <= BEND[1] + 1e-9
    )
