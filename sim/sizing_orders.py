"""The largest orders that a size delivers: all customers' scaled together, in even steps.

For each size, orders are tried by halving what is open, all in years of the same luck. The cadences
are those tried at every size, with their trays in proportion to the orders or a tenth more; few
years choose one for each size of the orders, others judge it. Orders are met if those years reach
the target less the tolerances of `cadence`. They are shown to be met if the lower bounds of the
steadiness and of each week do, and shown to be missed if one of the upper bounds does not: orders
between are left open, and make up the interval.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np

from sim.cadence import FRESH_FROM, STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.cadence_answer import Target, met_of
from sim.candidates import Candidate, told
from sim.capacity_room import MOST_TIMES
from sim.capacity_sizes import Size, Sizes, scaled_cadence
from sim.runs import Runs
from sim.scenario import Scenario
from sim.selection_bounds import Floats, exact_interval, t_half_width
from sim.sizing_cadences import lacking, with_cadence
from sim.sizing_things import Thing
from sim.trials import Trial

ERROR = 0.025  # at each end of an interval
MOST_TRIED = (12, 10)  # orders tried at the first size, and at each other, which begins near
VARIANTS = 8  # cadences tried with orders
AGAIN = 2  # of them, and their equals, tried with the same orders at another size
CHOOSING_YEARS = 8  # of each of them
MORE_TRAYS = (1.0, 1.1, 1.25)  # trays, in shares of those in proportion to the orders
STEP = 0.025  # between two orders that are told apart at most, as a share of the present ones
_FIRST_LOOK = 20  # years after which orders may be shown to be missed, and after all of them
_OUTWARD = 1  # of them, at least, for each end of the interval
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Judged:
    """Whether years met the limits, were shown to, or were shown not to."""

    met: bool
    shown: bool
    missed: bool


@dataclass(frozen=True)
class Tried:
    """Orders at one size, the cadence chosen for them, and the verdict of so many years."""

    orders: Size
    cadence: Candidate
    years: int
    judged: Judged


@dataclass(frozen=True)
class Largest:
    """The largest orders that a size delivers.

    `met` are the largest of those `tried` (the smallest first) that were met, None if none was.
    `low` to `high` [heads a full week] are the ends of a 95 % interval: the largest that were shown
    to be met (0 if none was), and those a step below the smallest that were shown to be missed, or
    the most that arithmetic lets through.
    """

    tried: tuple[Tried, ...]
    met: Tried | None
    low: float
    high: float


def most_years_of_orders(sizes: int, years: int) -> int:
    """Years that so many sizes take at most, with `years` to judge each of the orders."""
    tried = MOST_TRIED[0] + (sizes - 1) * MOST_TRIED[1]
    return tried * (VARIANTS * CHOOSING_YEARS + years)


class LargestOrders:
    """Finds the largest orders that sizes of a thing deliver.

    `cadences` are tried, the first of them the scenario's own; `years` judge the orders.
    """

    def __init__(
        self, thing: Thing, cadences: Sequence[Candidate], target: Target, runs: Runs,
        *, years: int, seed: int,
    ) -> None:  # fmt: skip
        self._thing, self._cadences, self._target, self._runs = thing, cadences, target, runs
        self._years, self._seed = years, seed
        unit, self._stride = steps_of(thing.scenario)
        self.step = unit * self._stride  # heads from one size of the orders to the next
        self._unit, self._sizes = unit, Sizes(thing.scenario, unit)
        self._first = self._sizes.present.total // unit
        self._begin = 0  # steps from the first, at the size looked at last
        self._orders: dict[int, Size] = {}
        self._ranked: dict[int, list[Candidate]] = {}

    @property
    def present(self) -> Size:
        """The orders as they are."""
        return self._sizes.present

    def at(self, size: int, ceiling: float | None) -> Largest:
        """The largest orders at a size; `ceiling` is what arithmetic allows [heads a full week]."""
        most = self._most(ceiling)
        lowest = -((self._first - self._sizes.least) // self._stride)
        highest = (most - self._first) // self._stride
        found: dict[int, Tried] = {}

        def judged(steps: int) -> Judged:
            if steps not in found:
                found[steps] = self._tried(size, self._first + steps * self._stride)
            return found[steps].judged

        if lowest <= highest:
            begin = min(max(self._begin, lowest), highest)
            most_tried = MOST_TRIED[bool(self._orders)]
            look_for_ends(begin, lowest, highest, judged, found, most=most_tried)
        met = max((n for n, t in found.items() if t.judged.met), default=None)
        self._begin = self._begin if met is None else met
        return self._largest(found, met, most)

    def beyond(self, size: int, found: Largest) -> Tried | None:
        """The smallest orders above those met that were shown to be missed, or just missed.

        Where all were met up to what arithmetic allows, those a step above it. None if these are
        no larger than the present orders.
        """
        met = found.met.orders.total if found.met else 0
        above = [t for t in found.tried if t.orders.total > met]
        above = [t for t in above if t.judged.missed] or above
        larger = max(met // self._unit, self._first) + self._stride
        tried = above[0] if above else self._tried(size, larger)
        return tried if tried.orders.total > self.present.total else None

    def _largest(self, found: dict[int, Tried], met: int | None, most: int) -> Largest:
        shown = [n for n, tried in found.items() if tried.judged.shown]
        missed = [n for n, t in found.items() if t.judged.missed and (met is None or n > met)]
        high = min([most, *(self._first + n * self._stride - 1 for n in missed)])
        return Largest(
            tuple(found[n] for n in sorted(found)),
            None if met is None else found[met],
            found[max(shown)].orders.heads if shown else 0.0,
            self._of(high).heads if high >= self._sizes.least else 0.0,
        )

    def _most(self, ceiling: float | None) -> int:
        """The most units that arithmetic lets through, fewer than the least if it does not."""
        now, most = self._sizes.present, MOST_TIMES * self._sizes.above
        if ceiling is None or not now.heads:
            return most
        return min(most, floor(ceiling / now.heads * now.total / self._unit + _ROUNDING))

    def _of(self, units: int) -> Size:
        if units not in self._orders:
            self._orders[units] = self._sizes.of(units)
        return self._orders[units]

    def _tried(self, size: int, units: int) -> Tried:
        """Choose a cadence for orders at a size, then judge it in other years."""
        orders = self._of(units)
        scenario = replace(self._thing, scenario=orders.scenario).at(size)
        self._runs.note = f"the largest orders: size {size:,}, {orders.heads:,.0f} heads a week"
        self._runs.tell()
        chosen = self._chosen(scenario, orders)
        scenario, trials, judged = with_cadence(scenario, chosen), list[Trial](), None
        for years in sorted({min(_FIRST_LOOK, self._years), self._years}):
            asked = [(scenario, FRESH_FROM + n) for n in range(len(trials), years)]
            trials += self._runs.trials(asked, self._seed)
            judged = judge(trials, self._target, looks=2)
            if judged.missed:
                break
        assert judged is not None
        return Tried(orders, chosen, len(trials), judged)

    def _chosen(self, scenario: Scenario, orders: Size) -> Candidate:
        """The cadence that lacks least, in few years that judge nothing; of equals the fullest."""
        cadences = self._ranked.get(orders.total) or self.variants(orders)
        scenarios = [with_cadence(scenario, cadence) for cadence in cadences]
        asked = [(s, n) for s in scenarios for n in range(CHOOSING_YEARS)]
        found = self._runs.trials(asked, self._seed)
        years = [found[n * CHOOSING_YEARS :][:CHOOSING_YEARS] for n in range(len(cadences))]
        lack = [lacking(some, self._target) for some in years]
        order = sorted(range(len(cadences)), key=lambda n: (*lack[n][:2], -lack[n][2], n))
        worst = lack[order[:AGAIN][-1]][:2]
        self._ranked[orders.total] = [cadences[n] for n in order if lack[n][:2] <= worst]
        return cadences[order[0]]

    def variants(self, orders: Size) -> list[Candidate]:
        """The cadences for orders: trays in proportion, then some more, each cadence once."""
        ratio, crops = orders.total / self._sizes.present.total, list(self._thing.scenario.crops)
        ordered = [crop for crop in crops if any(o.crop == crop for o in orders.scenario.orders)]
        found: list[Candidate] = []
        for more in MORE_TRAYS:
            for one in self._cadences:
                cadence = one.cadence
                if ratio * more != 1.0:
                    cadence = scaled_cadence(cadence, ratio * more, crops)
                if all(cadence != other.cadence for other in found):
                    found.append(Candidate(told(cadence, ordered), cadence))
        return found[:VARIANTS]


def steps_of(scenario: Scenario) -> tuple[int, int]:
    """Heads that divide every delivery, and how many times that is a step between two orders.

    So the present orders are whole. A step is at most `STEP` of a week's heads, if one head is.
    """
    heads = [n for order in scenario.orders for n in order.heads.values() if n]
    most = max(1, int(STEP * sum(heads)))
    unit = max(n for n in range(1, most + 1) if all(one % n == 0 for one in heads))
    return unit, most // unit


def judge(trials: Sequence[Trial], target: Target, looks: int) -> Judged:
    """What years say of one scenario against the target less the tolerances.

    The bounds are one-sided, with a chance of `ERROR` that any is wrong where it counts: to be
    shown, all limits must be, so each has all of it (intersection-union test, Berger 1982,
    Technometrics 24:295-300); to be missed, one is enough, so it is shared out over the limits and
    over so many `looks` (Bonferroni). Weeks are tested exactly (Clopper & Pearson 1934, Biometrika
    26:404-413), the steadiness as if normally distributed.
    """
    met, n = met_of(trials, target).astype(float), float(len(trials))
    yearly, weeks = met.mean(axis=1), met.sum(axis=0)
    wanted = np.array([target.steadiness] + [target.weakest_week] * weeks.size)
    tolerance = np.array([STEADINESS_TOLERANCE] + [WEEK_TOLERANCE] * weeks.size)
    least = np.maximum(wanted - tolerance, wanted / 2.0) - _ROUNDING

    def bounds(error: float) -> tuple[Floats, Floats]:
        half = t_half_width(yearly.var(ddof=1), n, 2.0 * error) if n > 1 else np.inf
        weekly = exact_interval(weeks, np.full(weeks.size, n), 2.0 * error)
        steady = yearly.mean()
        return (
            np.concatenate([[steady - half], weekly.lower]),
            np.concatenate([[steady + half], weekly.upper]),
        )

    mean = np.concatenate([[yearly.mean()], weeks / n])
    return Judged(
        met=bool((mean >= least).all()),
        shown=bool((bounds(ERROR)[0] >= least).all()),
        missed=bool((bounds(ERROR / (looks * wanted.size))[1] < least).any()),
    )


def look_for_ends(
    begin: int,
    lowest: int,
    highest: int,
    judged: Callable[[int], Judged],
    tried: Mapping[int, object],
    *,
    most: int,
) -> None:
    """Judge numbers from `lowest` to `highest` around the largest that is met.

    First in doubled steps from `begin`, then halving what is open; then outward in doubled steps
    to one that is shown to be missed and to one that is shown to be met. At most `most` are
    judged; `tried` holds them.
    """
    low, high, number, stride = lowest - 1, highest + 1, begin, 1
    while high - low > 1 and len(tried) < most - 2 * _OUTWARD:
        low, high = (number, high) if judged(number).met else (low, number)
        if low < lowest:
            number = max(high - stride, lowest)
        elif high > highest:
            number = min(low + stride, highest)
        else:
            number = (low + high) // 2
        stride *= 2
    outward = [2**n - 1 for n in range(most)]
    for number in dict.fromkeys(min(high + n, highest) for n in outward if high <= highest):
        if len(tried) >= most - _OUTWARD and number not in tried:
            break
        if judged(number).missed:
            break
    for number in dict.fromkeys(max(low - n, lowest) for n in outward if low >= lowest):
        if len(tried) >= most and number not in tried:
            break
        if judged(number).shown:
            break
