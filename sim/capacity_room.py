"""How large the orders can be at most, by arithmetic alone: the end of a search for the largest."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sim.capacity_sizes import Size, Sizes
from sim.ceilings import ImpossibleWeek, ceilings, impossible_weeks
from sim.greenhouse.plan import Plan

MOST_TIMES = 10  # no size above so many times the present orders is looked at


@dataclass(frozen=True)
class Bound:
    """What a size needs more of than there is.

    `kind` and `name` are those of a `ceilings.Ceiling`; `times` is how often this size fits into
    it, below 1. Or `kind` is "weeks", and `weeks` are those that nobody could meet at this size
    but could at the present one (`times` is 1).
    """

    kind: str
    name: str
    times: float
    weeks: tuple[ImpossibleWeek, ...] = ()


def broken(size: Size, known: Collection[date]) -> Bound | None:
    """The first bound that a size breaks, if any.

    A place, the crews or the cold store must take the orders of a full week, week after week, at
    mean losses and stays (`ceilings`); and no week may be impossible but those whose Mondays are
    `known`: a week that larger orders make impossible is a week not met.
    """
    plan = Plan(size.scenario)
    for ceiling in ceilings(plan.timetable, plan.leavings)[:1]:
        if ceiling.times < 1.0 - 1e-9:
            return Bound(ceiling.kind, ceiling.name, ceiling.times)
    found = impossible_weeks(plan.timetable, plan.leavings)
    more = tuple(week for week in found if week.monday not in known)
    return Bound("weeks", more[0].cause, 1.0, more) if more else None


def largest(sizes: Sizes, known: Collection[date]) -> int:
    """The most cases that break no bound, at most `MOST_TIMES` those of the present orders.

    One less than `sizes.least` if every size breaks one. Any size above one that breaks a bound
    breaks it too, since no delivery gets smaller when the cases get more.
    """
    low, step = sizes.least - 1, 1
    most = max(sizes.least, MOST_TIMES * sizes.above)
    high = most + 1
    while low + step < high:  # far from the end in doubled steps: a few plans, however many cases
        if broken(sizes.of(low + step), known):
            high = low + step
            break
        low, step = low + step, 2 * step
    while high - low > 1:
        middle = (low + high) // 2
        if broken(sizes.of(middle), known):
            high = middle
        else:
            low = middle
    return low
