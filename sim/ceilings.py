"""What a scenario can do at most, by arithmetic alone: no simulation, no luck.

Two kinds of ceiling: heads per week, by what is full first (a place, the crews' minutes, the
cold store), and the share of weeks that the calendar lets anybody meet. What crops need, and the
minutes there are, come from `flows` and `workload`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import inf, nan
from typing import Literal

from sim.flows import loads, ordered, week_of
from sim.order_book import Leaving
from sim.parts import Month
from sim.scenario import Scenario
from sim.school_year import monday
from sim.timetable import DatedShift, Timetable
from sim.workload import (
    CropNeeds,
    check_days,
    crop_needs,
    mean_minutes,
    ordinary_weeks,
    tightest,
    weekly_staffing,
    weekly_work,
)

Kind = Literal["place", "crews", "cold store"]


@dataclass(frozen=True, slots=True)
class Ceiling:
    """The most heads per week that one thing allows.

    `times` is how often the present heads per week fit: below 1 they do not. `name` is the place,
    the crews (with commas between) or "cold store".
    """

    kind: Kind
    name: str
    times: float
    heads_per_week: float


def ceilings(
    timetable: Timetable,
    leavings: Sequence[Leaving],
    *,
    month: Month | None = None,
    bad_events: bool = True,
) -> list[Ceiling]:
    """The ceilings of heads per week, the lowest first: that one binds. Empty without any limit.

    Several crops share places and crews: the present mix, the heads ordered of each crop in a
    full week (without orders, the heads that come of the cadence), is scaled by one factor until
    something is full.

    Place: sites / (plants set per week x stay with turnaround / 7), all crops and stages in the
    place together; the stay at a pace of 100 percent or in the given month. Crews: the minutes
    of an ordinary week, less the daily checks, / the minutes of harvest, moving, washing and
    the trays needed. Cold store: it is emptied at each leaving and everything that leaves at one
    moment is in it together, so it holds the largest leaving; heads kept for a later leaving
    would only lower this.
    """
    orders = ordered(timetable, leavings)
    needs = _present_mix(crop_needs(timetable, orders, month=month, bad_events=bad_events))
    heads = sum(need.heads_per_week for need in needs)
    if not heads:
        return []
    found = [
        *_by_place(timetable.scenario, needs),
        _by_labor(timetable, needs),
        _by_store(timetable, leavings),
    ]
    limits = [Ceiling(kind, name, t, t * heads) for kind, name, t in found if t < inf]
    return sorted(limits, key=lambda ceiling: ceiling.times)


def _present_mix(needs: list[CropNeeds]) -> list[CropNeeds]:
    """The crops that are ordered; without orders, with the heads that come of the cadence."""
    if any(need.heads_per_week for need in needs):
        return [need for need in needs if need.heads_per_week]
    return [
        replace(n, heads_per_week=n.trays_seeded * n.cells_per_tray * n.chain.heads_per_cell)
        for n in needs
    ]


def _by_place(scenario: Scenario, needs: Sequence[CropNeeds]) -> Iterator[tuple[Kind, str, float]]:
    taken: dict[str, float] = defaultdict(float)
    for need in needs:
        for load in loads(scenario, need.chain, need.cells_per_week):
            taken[load.step.place] += load.containers
    for name, containers in taken.items():
        count = scenario.places[name].count
        if count is not None and containers:
            yield "place", name, count / containers


def _by_labor(timetable: Timetable, needs: Sequence[CropNeeds]) -> tuple[Kind, str, float]:
    scenario, weeks = timetable.scenario, ordinary_weeks(weekly_staffing(timetable))
    work = weekly_work(
        scenario,
        needs,
        trays={need.chain.crop: need.trays_per_week for need in needs},
        harvested={need.chain.crop: need.heads_per_week for need in needs},
        check_days=sum(check_days(timetable, week) for week in weeks) / len(weeks),
    )
    least = tightest(scenario, mean_minutes(weeks), work)
    return "crews", ", ".join(least.crews), least.times


def _by_store(timetable: Timetable, leavings: Iterable[Leaving]) -> tuple[Kind, str, float]:
    holds = timetable.scenario.cold_store.holds_heads
    heads = Counter[float]()
    for leaving in leavings:
        if week_of(timetable, leaving.time) is not None:
            heads[leaving.time] += leaving.heads
    return "cold store", "cold store", holds / max(heads.values()) if holds and heads else inf


@dataclass(frozen=True, slots=True)
class ImpossibleWeek:
    """A week that cannot be met, with the first delivery that shows it.

    `cause` is "nobody there", "not enough minutes" or "cold store full"; `closure` is the name of
    the closure on the day of the delivery, or "".
    """

    monday: date
    day: date
    crop: str
    customers: tuple[str, ...]
    cause: str
    closure: str


def impossible_weeks(timetable: Timetable, leavings: Iterable[Leaving]) -> list[ImpossibleWeek]:
    """The weeks with something due that nobody can meet, whatever grows.

    Nobody there: no shift that may harvest lies inside the keep limit before a leaving. Cold
    store full: it holds less than what leaves at one moment. Not enough minutes: with everybody
    present and nothing else to do, the harvesting minutes between the first leaving's keep
    limit and the last leaving are too few for some leavings of the week that follow each other.
    """
    found = []
    for due in _by_week(timetable, leavings).values():
        shifts = _shifts_near(timetable, due)
        for number, leaving in enumerate(due):
            if cause := _cause(timetable.scenario, shifts, due, number):
                day = timetable.date_of(leaving.time)
                customers = tuple(delivery.customer for delivery in leaving.deliveries)
                closure = timetable.school_year.closure(day)
                found.append(
                    ImpossibleWeek(monday(day), day, leaving.crop, customers, cause, closure)
                )
                break
    return found


def highest_steadiness(timetable: Timetable, leavings: Sequence[Leaving]) -> float:
    """The share of weeks with something due that are not impossible; nan if nothing is due."""
    weeks = len(_by_week(timetable, leavings))
    return 1.0 - len(impossible_weeks(timetable, leavings)) / weeks if weeks else nan


def _by_week(timetable: Timetable, leavings: Iterable[Leaving]) -> dict[int, list[Leaving]]:
    weeks: dict[int, list[Leaving]] = defaultdict(list)
    for leaving in leavings:
        if (week := week_of(timetable, leaving.time)) is not None:
            weeks[week].append(leaving)
    return weeks


def _shifts_near(timetable: Timetable, due: Sequence[Leaving]) -> list[DatedShift]:
    """The shifts between the first leaving's keep limit and the last leaving."""
    first = due[0].time - timetable.scenario.cold_store.keep_days
    return [s for s in timetable.shifts if s.end > first and s.start < due[-1].time]


def _cause(
    scenario: Scenario, shifts: Iterable[DatedShift], due: Sequence[Leaving], number: int
) -> str:
    """Why the leaving of this number cannot be complete together with those before it, or ""."""
    leaving, holds = due[number], scenario.cold_store.holds_heads
    if not leaving.staffed:
        return "nobody there"
    if holds is not None and holds < sum(x.heads for x in due if x.time == leaving.time):
        return "cold store full"
    tasks: set[str] = set()
    needed = 0.0
    for earlier in reversed(due[: number + 1]):
        if task := scenario.crops[earlier.crop].harvested_by:
            tasks.add(task)
            needed += earlier.heads * scenario.tasks[task].minutes_each
        first = earlier.time - scenario.cold_store.keep_days
        if needed > _full_minutes(shifts, tasks, first, leaving.time) + 1e-6:
            return "not enough minutes"
    return ""


def _full_minutes(
    shifts: Iterable[DatedShift], tasks: set[str], first: float, last: float
) -> float:
    """Person-minutes, everybody present, of the shifts that may do any of the tasks in a time."""
    total = 0.0
    for shift in shifts:
        usable = min(shift.end, last) - max(shift.start, first)
        if usable > 0.0 and tasks & shift.may_do:
            share = usable / (shift.end - shift.start)
            total += share * shift.people * shift.minutes_each
    return total
