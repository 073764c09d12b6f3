"""Standing orders of other sizes, in whole cases.

All deliveries are scaled by one factor and rounded to whole cases, at least one each. Rounding a
half up, with the factor chosen so that the cases add up, is the method of Webster and Sainte-Lague
(Balinski & Young 1982, Fair Representation; from memory): with one case more in all, one delivery
gets it and no other loses any. Dates, pauses, leaving times and priorities stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heapify, heapreplace
from math import floor

from sim.errors import ScenarioError
from sim.flows import ordered
from sim.greenhouse.plan import Plan
from sim.parts import Cadence, CadenceLine, Order, Weekday
from sim.scenario import Scenario


@dataclass(frozen=True)
class Size:
    """One size of the standing orders.

    `scenario` has orders of this size; `heads` are those of the scaled crops in a full week, in
    `cases` (not whole if the orders are as the file has them, or differ from week to week). Sizes
    are in the order of `total`, the heads of all scaled deliveries together.
    """

    scenario: Scenario
    heads: float
    cases: float
    total: int


def shared_out(weights: Sequence[int], total: int) -> list[int]:
    """Share out `total` whole units in proportion to positive weights, at least one each.

    `total` must be at least the number of weights. Ties go to the first.
    """
    spread, whole = total - len(weights), sum(weights)
    parts = [max(1, (2 * w * spread + whole) // (2 * whole)) for w in weights]
    waiting = [((2 * n + 1) / w, k) for k, (n, w) in enumerate(zip(parts, weights, strict=True))]
    heapify(waiting)
    for _ in range(total - sum(parts)):
        _, k = waiting[0]
        parts[k] += 1
        heapreplace(waiting, ((2 * parts[k] + 1) / weights[k], k))
    return parts


class Sizes:
    """The sizes that a scenario's orders can have, told apart by their cases.

    `case` are the heads of a case; `crop` names the crop whose orders are scaled, None all. Sizes
    go from `least` cases (one for each delivery of a week) upward; `present` are the orders as the
    scenario has them, between the sizes `below` and `above`, which have fewer and more heads.

    Raises ScenarioError if there is no such crop, or nothing is ordered.
    """

    def __init__(self, scenario: Scenario, case: int, crop: str | None = None) -> None:
        self._scenario, self._case = scenario, case
        self._crops = list(scenario.crops) if crop is None else [crop]
        self._lines = [
            (number, day, heads)
            for number, order in enumerate(scenario.orders)
            for day, heads in order.heads.items()
            if heads and order.crop in self._crops
        ]
        if not self._lines:
            some = "[[orders]] must hold an order"
            if crop is not None:
                ordered_crops = sorted({o.crop for o in scenario.orders if any(o.heads.values())})
                some = f"--crop must name a crop with orders ({', '.join(ordered_crops) or 'none'})"
                some = f"{some}; it was {crop!r}"
            raise ScenarioError(
                f"Scenario {scenario.name!r}: {some}, or there is nothing to make larger or "
                "smaller. Name another crop, or add an order."
            )
        heads = sum(heads for *_, heads in self._lines)
        self.least = len(self._lines)
        self.below, self.above = (heads - 1) // case, heads // case + 1
        self.present = self._size(scenario, heads)

    def of(self, cases: int) -> Size:
        """The orders with so many cases in all, at least `least`."""
        parts = shared_out([heads for *_, heads in self._lines], cases)
        new: dict[int, dict[Weekday, int]] = {}
        for (number, day, _), count in zip(self._lines, parts, strict=True):
            new.setdefault(number, {})[day] = count * self._case
        orders = tuple(
            _with_heads(order, new[number]) if number in new else order
            for number, order in enumerate(self._scenario.orders)
        )
        scenario = self._scenario.model_copy(update={"orders": orders})
        return self._size(scenario, cases * self._case)

    def _size(self, scenario: Scenario, total: int) -> Size:
        plan = Plan(scenario)
        found = ordered(plan.timetable, plan.leavings)
        heads = sum(o.heads_per_week for o in found if o.crop in self._crops)
        return Size(scenario, heads, heads / self._case, total)

    def with_cadence(self, size: Size, of: Size, cadence: Cadence) -> Scenario:
        """A size's scenario with a cadence that suits the size `of`, its trays in proportion."""
        scaled = scaled_cadence(cadence, size.total / of.total, self._crops)
        return size.scenario.model_copy(update={"cadence": scaled})


def _with_heads(order: Order, heads: dict[Weekday, int]) -> Order:
    return order.model_copy(update={"heads": heads})


def scaled_cadence(cadence: Cadence, ratio: float, crops: Sequence[str]) -> Cadence:
    """The cadence with `ratio` times the trays of these crops, in whole trays, at least one each.

    The weekdays of a line keep their shares of its trays.
    """
    lines = [_scaled(line, ratio) if line.crop in crops else line for line in cadence.lines]
    added = [
        s.model_copy(update={"trays": _times(s.trays, ratio)}) if s.crop in crops else s
        for s in cadence.added
    ]
    return cadence.model_copy(update={"lines": tuple(lines), "added": tuple(added)})


def _scaled(line: CadenceLine, ratio: float) -> CadenceLine:
    return line.model_copy(
        update={
            "trays": _scaled_days(line.trays, ratio),
            "heads_wanted": _scaled_days(line.heads_wanted, ratio),
        }
    )


def _scaled_days(amounts: dict[Weekday, int], ratio: float) -> dict[Weekday, int]:
    some = {day: n for day, n in amounts.items() if n}
    if not some:
        return amounts
    total = max(len(some), _times(sum(some.values()), ratio))
    return dict(zip(some, shared_out(list(some.values()), total), strict=True))


def _times(amount: int, ratio: float) -> int:
    return max(1, floor(amount * ratio + 0.5))
