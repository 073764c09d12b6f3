"""How large a place, a crew or the cold store must be for the present orders.

Separate sets of simulated years. In the first, few years choose a cadence for every size
(`sizing_cadences`). In the second, the present size is tested, then smaller or larger ones
(`sizing_tests`). In the third, a fixed number of years gives the numbers that are told: the service
at each size, with the cadence chosen for it and with the scenario's own; what a bit more of each
thing adds; and, of the sizes that matter most, the largest orders that they deliver
(`sizing_orders`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import islice

import numpy as np

from sim.aim import Aim, open_impossible, target_of
from sim.cadence import FRESH_FROM
from sim.cadence_answer import measured
from sim.candidates import list_candidates
from sim.errors import SeedbeatError
from sim.greenhouse.plan import Plan
from sim.replications import mean_estimate
from sim.runs import Runs
from sim.scenario import Scenario
from sim.sizing_cadences import Suited, most_years, screened, suited, with_cadence
from sim.sizing_found import Gains, Row, Service, Sizing, Tested, bend_of, to_tell
from sim.sizing_more import check_costs, gains, heads_ordered, more_of_each
from sim.sizing_orders import LargestOrders, Tried, most_years_of_orders
from sim.sizing_tests import LEAST_YEARS, decide, most_tests
from sim.sizing_things import Thing, between, grid, needed, thing_named
from sim.trials import Trial

CASE = 24  # heads of a case, unless another number is given
YEARS = 100  # of each size and each cadence that is told, unless another number is given
ORDERS_SHARE = 0.5  # of these years, to judge orders of another size
_MORE_SIZES = 8  # between those looked at first, where the service rises
_ORDERS_AT = 5  # sizes of which the largest orders are looked for


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
    check_costs(costs or {}, more_of_each(scenario, case))
    if years < 2:
        raise SeedbeatError(f"finding a size: --years must be at least 2; it was {years}")
    return _Search(thing, aim, runs, years=years, case=case, costs=costs or {}).answer()


class _Search:
    """The sizes looked at, the cadence for each, and the years that are told."""

    def __init__(
        self, thing: Thing, aim: Aim, runs: Runs,
        *, years: int, case: int, costs: Mapping[str, float],
    ) -> None:  # fmt: skip
        self._thing, self._aim, self._runs = thing, aim, runs
        self._years, self._case, self._costs = years, case, costs
        self._orders_years = max(2, round(ORDERS_SHARE * years))
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

    def answer(self) -> Sizing:
        """Choose cadences, decide, then simulate what is told."""
        thing, runs = self._thing, self._runs
        deciding = self._years_to_decide()
        runs.total = self._started + self._aim.budget
        self._found = self._suited()
        tested = self._tested(deciding)
        enough = next((t.size for t in tested if t.decided.verdict == "enough"), None)
        rows = self._rows(tested, enough)
        gained = [self._gains_now(next(row for row in rows if row.size == thing.present))]
        orders = LargestOrders(
            thing, self._found.cadences, self._target, runs,
            years=self._orders_years, seed=self._aim.seed,
        )  # fmt: skip
        rows = self._with_largest(rows, enough, orders)
        now = next(row.largest for row in rows if row.size == thing.present)
        if now and (beyond := orders.beyond(thing.present, now)):
            gained.append(self._gains_beyond(beyond))
        runs.total = runs.done
        self._say("")
        return Sizing(
            thing=thing,
            least=self._least,
            enough=enough,
            bend=bend_of(rows),
            tested=tuple(tested),
            rows=tuple(rows),
            cadences=self._found.cadences,
            gains=tuple(gained),
            target=self._target,
            impossible=tuple(self._impossible),
            heads_ordered=self._ordered,
            heads_full_week=orders.present.heads,
            orders_step=orders.step,
            years=self._years,
            orders_years=self._orders_years,
            runs=runs.done - self._started,
            tests=most_tests(len(tested)),
            alpha=self._aim.alpha,
        )

    def _suited(self) -> Suited:
        """The cadences that suit the sizes."""
        return suited(
            self._thing, self._sizes, self._candidates, target=self._target, runs=self._runs,
            seed=self._aim.seed,
        )  # fmt: skip

    def _years_to_decide(self) -> int:
        """What is left of the budget for tests; SeedbeatError if that is too little."""
        sizes, mores = len(self._sizes), len(more_of_each(self._thing.scenario, self._case))
        planned = most_years(len(self._candidates), sizes)
        planned += self._years * (2 * (sizes + 3) + mores)
        planned += most_years_of_orders(_ORDERS_AT, self._orders_years)
        planned += self._orders_years * (mores + 1)
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
        """The service at the sizes that are told."""
        sizes = to_tell([t.size for t in tested], self._sizes, self._thing.present, enough)
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

    def _with_largest(
        self, rows: Sequence[Row], enough: int | None, orders: LargestOrders
    ) -> list[Row]:
        """The rows, those that matter most with the largest orders that they deliver."""
        at = [row.size for row in rows].index(enough or self._thing.present)
        numbers = [at, at - 1, at + 1, 0, len(rows) - 1]
        sizes = [rows[n].size for n in numbers if 0 <= n < len(rows)]
        sizes.insert(3, self._thing.present)
        found = {
            size: orders.at(size, next(row.ceiling for row in rows if row.size == size))
            for size in list(dict.fromkeys(sizes))[:_ORDERS_AT]
        }
        return [replace(row, largest=found.get(row.size)) for row in rows]

    def _gains_now(self, row: Row) -> Gains:
        """What more of each thing adds to the present size with the cadence that suits it."""
        self._say("a bit more of each")
        scenario = self._scenario(row.size, row.best.cadence)
        return self._gains(scenario, self._told[row.size, row.best.cadence], None)

    def _gains_beyond(self, tried: Tried) -> Gains:
        """The same with orders that the present size does not meet."""
        self._say("a bit more of each, with larger orders")
        scenario = with_cadence(tried.orders.scenario, tried.cadence)
        years = [(scenario, FRESH_FROM + year) for year in range(self._orders_years)]
        return self._gains(scenario, self._runs.trials(years, self._aim.seed), tried)

    def _gains(self, scenario: Scenario, base: Sequence[Trial], tried: Tried | None) -> Gains:
        found = gains(
            scenario, base, more_of_each(scenario, self._case), self._target, self._runs,
            costs=self._costs, seed=self._aim.seed, first=FRESH_FROM,
        )  # fmt: skip
        short = heads_ordered(scenario) * np.array([1.0 - trial.unit_fill_rate for trial in base])
        return Gains(tuple(found), mean_estimate(short), len(base), tried)
