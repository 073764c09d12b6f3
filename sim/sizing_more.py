"""A bit more of each thing by itself: what it would add under the same luck, and at what cost.

More is one container of each place (of a large place 5 percent), one person on each shift of a
crew, a class period more a day for students, an hour more a day for others, and one case of the
cold store. The cadence stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import time

import numpy as np

from sim.agreement import COLD_STORE, advice
from sim.cadence_answer import Target, met_of
from sim.comparing import ERROR, Change, mean_change
from sim.errors import SeedbeatError
from sim.greenhouse.plan import Plan
from sim.measures import Frame
from sim.parts import Crew, Shift
from sim.runs import Runs
from sim.scenario import Scenario
from sim.sizing_things import MOST, Thing
from sim.trials import Trial

LARGE_SHARE = 0.05  # of a place's containers, if that is more than one
HOUR = 60  # minutes
_DAY = 24 * HOUR


@dataclass(frozen=True)
class More:
    """More of one thing: `amount` of `unit`; `name` is what a cost is given for, by one unit."""

    name: str
    unit: str
    amount: int
    scenario: Scenario


@dataclass(frozen=True)
class Gain:
    """What more of one thing adds, year by year under the same luck.

    `heads` delivered per week and `weeks` met per year; `cost` is in dollars a year for all of it,
    and `cost_per_head` for each head gained: mean, and the ends of its interval (None where no
    gain is shown, or no cost is given).
    """

    more: More
    heads: Change
    weeks: Change
    cost: float | None
    cost_per_head: tuple[float, float, float] | None


def more_of_each(scenario: Scenario, case: int) -> list[More]:
    """More of everything that has a limit and a use, in the file's order."""
    return [*_places(scenario), *_crews(scenario), *_store(scenario, case)]


def _places(scenario: Scenario) -> Iterator[More]:
    used = {stage.place for crop in scenario.crops.values() for stage in crop.stages}
    for name, place in scenario.places.items():
        if name in used and place.count is not None:
            amount = max(1, round(LARGE_SHARE * place.count))
            if place.count + amount <= MOST:
                thing = Thing(scenario, "place", name, place.container, place.count)
                yield More(name, place.container, amount, thing.at(place.count + amount))


def _crews(scenario: Scenario) -> Iterator[More]:
    for name, crew in scenario.crews.items():
        if crew.shifts:
            thing = Thing(scenario, "crew", name, "person", crew.people)
            yield More(name, "person", 1, thing.at(crew.people + 1))
            word = "period" if crew.students else "hour"
            longer = _with_a_period(crew) if crew.students else _with_an_hour(crew)
            if longer != crew.shifts:
                crews = {**scenario.crews, name: crew.model_copy(update={"shifts": longer})}
                changed = scenario.model_copy(update={"crews": crews})
                yield More(f"{name} {word}", word, 1, changed)


def _store(scenario: Scenario, case: int) -> Iterator[More]:
    holds = scenario.cold_store.holds_heads
    if holds is not None and holds + case <= MOST:
        thing = Thing(scenario, "cold store", COLD_STORE, "head", holds)
        yield More(COLD_STORE, "head", case, thing.at(holds + case))


def _with_a_period(crew: Crew) -> tuple[Shift, ...]:
    """The last shift of each day once more, right after it."""
    more = [_moved(s, _minutes(s.ends), 0) for s in _last_of_a_day(crew.shifts)]
    return (*crew.shifts, *(shift for shift in more if shift))


def _with_an_hour(crew: Crew) -> tuple[Shift, ...]:
    """The last shift of each day an hour longer."""
    last = _last_of_a_day(crew.shifts)
    return tuple((s in last and _moved(s, _minutes(s.starts), HOUR)) or s for s in crew.shifts)


def _last_of_a_day(shifts: Sequence[Shift]) -> list[Shift]:
    """The shifts that no other shift of the crew follows on the same day."""
    return [
        s
        for s in shifts
        if not any(
            o.starts >= s.ends and set(o.weekdays) & set(s.weekdays) and set(o.on) & set(s.on)
            for o in shifts
        )
    ]


def _moved(shift: Shift, starts: int, longer: int) -> Shift | None:
    """The shift from another minute of the day on, and longer [min]; None past midnight."""
    ends = starts + round(shift.length_minutes) + longer
    if ends >= _DAY:
        return None
    working = shift.working_minutes
    return shift.model_copy(
        update={
            "starts": _clock(starts),
            "ends": _clock(ends),
            "working_minutes": None if working is None else working + longer,
            "minutes_on": {kind: minutes + longer for kind, minutes in shift.minutes_on.items()},
        }
    )


def _minutes(clock: time) -> int:
    return HOUR * clock.hour + clock.minute


def _clock(minutes: int) -> time:
    return time(*divmod(minutes, HOUR))


def check_costs(costs: Mapping[str, float], mores: Sequence[More]) -> None:
    """Raise SeedbeatError if a cost is given for something that there is no more of."""
    names = [more.name for more in mores]
    for name in costs:
        if name not in names:
            raise SeedbeatError(
                f'--cost: must name something of which more is tried, but it was "{name[:80]}"; '
                f"{advice(name, names)}"
            )


def gains(
    scenario: Scenario,
    base: Sequence[Trial],
    mores: Sequence[More],
    target: Target,
    runs: Runs,
    *,
    costs: Mapping[str, float],
    seed: int,
    first: int,
) -> list[Gain]:
    """What more of each thing adds to the years `base` of a scenario, which begin at `first`.

    A verdict on any of them goes wrong with a chance of about 5 percent in all (Bonferroni).
    """
    years = range(first, first + len(base))
    heads_per_week = heads_ordered(scenario)
    error = ERROR / max(1, 2 * len(mores))
    trials = runs.trials([(more.scenario, year) for more in mores for year in years], seed)
    found = []
    for number, more in enumerate(mores):
        then = trials[number * len(base) : (number + 1) * len(base)]
        filled = [np.array([trial.unit_fill_rate for trial in some]) for some in (then, base)]
        met = [met_of(some, target).sum(axis=1) for some in (then, base)]
        heads = mean_change((filled[0] - filled[1]) * heads_per_week, error)
        weeks = mean_change(met[0] - met[1], error)
        cost = more.amount * costs[more.name] if more.name in costs else None
        each = _cost_per_head(cost, heads, Frame.of(Plan(scenario).timetable).weeks)
        found.append(Gain(more, heads, weeks, cost, each))
    return found


def heads_ordered(scenario: Scenario) -> float:
    """Heads ordered per week of the measuring window, mean."""
    plan = Plan(scenario)
    frame = Frame.of(plan.timetable)
    return sum(x.heads for x in plan.leavings if frame.start <= x.time < frame.end) / frame.weeks


def _cost_per_head(
    cost: float | None, heads: Change, weeks: int
) -> tuple[float, float, float] | None:
    """Dollars for each head gained in the measured weeks, if a gain is shown."""
    if cost is None or heads.verdict != "real" or heads.mean <= 0.0 or heads.low <= 0.0:
        return None
    return (cost / (weeks * heads.mean), cost / (weeks * heads.high), cost / (weeks * heads.low))
