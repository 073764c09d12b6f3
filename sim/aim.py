"""What a search for a cadence is to reach, in which weeks, and what it may spend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from sim.cadence_answer import Target
from sim.ceilings import ImpossibleWeek
from sim.errors import ScenarioError, SeedbeatError
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.kind_year import KindYear
from sim.school_year import spoken
from sim.timetable import cycle_days

LEAST_BUDGET = 500  # simulated years


@dataclass(frozen=True)
class Aim:
    """What a search is to reach: shares in (0, 1], and simulated years all in all.

    `alpha` is the allowed chance of a wrong choice, `seed` that of all luck. A `thorough` search
    goes on to all that arithmetic does not settle, and varies the best. Raises SeedbeatError
    if one of these numbers cannot be used.
    """

    steadiness: float = 0.95
    weakest_week: float = 0.85
    budget: int = 6000
    seed: int = 1
    alpha: float = 0.05
    thorough: bool = False

    def __post_init__(self) -> None:
        for name in ("steadiness", "weakest_week"):
            share = getattr(self, name)
            if not 0.0 < share <= 1.0:
                raise SeedbeatError(
                    f"finding a cadence: {name} must be a share above 0 and at most 1, such as "
                    f"0.9; it was {share:g}"
                )
        if self.budget < LEAST_BUDGET:
            raise SeedbeatError(
                f"finding a cadence: budget must be at least {LEAST_BUDGET}; it was {self.budget}"
            )


def target_of(plan: Plan, impossible: Sequence[ImpossibleWeek], aim: Aim) -> Target:
    """The targets, and the weeks with something due that are not impossible."""
    table = plan.timetable
    due = {week_of(table, leaving.time) for leaving in plan.leavings} - {None}
    without = {week.monday for week in impossible}
    weeks = [
        w
        for w in range(first_open(plan), table.weeks)
        if w in due and table.week_monday(w) not in without
    ]
    if not weeks and not impossible:
        raise ScenarioError(
            f"Scenario {plan.scenario.name!r}: every week with something due hangs on what stands "
            "on the benches already. Look at them with seedbeat outlook, or let the window end "
            "later."
        )
    if not weeks:
        first = impossible[0]
        raise ScenarioError(
            f"Scenario {plan.scenario.name!r}: no week with something due can be met, whatever is "
            f"seeded (the first, of {spoken(first.monday, year=True)}: {first.cause}). Mend that, "
            "or the orders."
        )
    mondays = tuple(table.week_monday(week) for week in weeks)
    return Target(aim.steadiness, aim.weakest_week, tuple(weeks), mondays)


def open_impossible(plan: Plan) -> list[ImpossibleWeek]:
    """The weeks that no cadence can meet, but for those that hang on what stands there today."""
    first = plan.timetable.week_monday(first_open(plan))
    return [week for week in KindYear(plan).impossible() if week.monday >= first]


def first_open(plan: Plan) -> int:
    """The first week that no longer hangs on what stands on the benches today."""
    if not plan.scenario.benches:
        return 0
    table, store = plan.timetable, plan.scenario.cold_store.keep_days
    longest = max(
        cycle_days(crop) + (crop.stages[-1].keep_days or 0) for crop in plan.scenario.crops.values()
    )
    return max(0, ceil((longest + store - table.window_start) / 7.0))
