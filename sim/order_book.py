"""Standing orders as dated deliveries, and when their harvest may begin."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from datetime import date, timedelta
from operator import attrgetter

from sim.parts import Order
from sim.scenario import Scenario
from sim.school_year import SchoolYear, clock, weekday
from sim.timetable import DatedShift, Timetable

_start = attrgetter("start")
_EDGE = 1e-9  # clock times are sums of floats; closer than this is the same moment


@dataclass(frozen=True, slots=True)
class Delivery:
    """What one customer gets at one leaving; `line` is the order's place in the file."""

    customer: str
    heads: int
    priority: int
    line: int


@dataclass(slots=True)
class Leaving:
    """All deliveries of one crop that leave at the same moment.

    `time` [d]; `opens` is when the harvest request opens [d]; `staffed` says whether any shift
    that may harvest lies inside the keep limit; `heads` are ordered in all.
    """

    time: float
    crop: str
    deliveries: list[Delivery] = field(default_factory=list)
    opens: float = 0.0
    staffed: bool = True
    heads: int = 0


def due_dates(order: Order, scenario: Scenario, school_year: SchoolYear) -> list[date]:
    """The dates on which an order is delivered: its weekdays, less its pauses."""
    first = max(order.first_day or scenario.school.first_day, scenario.start)
    last = order.last_day or scenario.school.last_day
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [
        day
        for day in days
        if order.heads.get(weekday(day), 0) and not _paused(order, day, school_year)
    ]


def _paused(order: Order, day: date, school_year: SchoolYear) -> bool:
    if order.school_closed == "pause" and not school_year.in_session(day):
        return True
    return any(p.first_day <= day <= p.last_day for p in order.paused)


def leavings(scenario: Scenario, timetable: Timetable) -> list[Leaving]:
    """All leavings of the run in order of time, with their requests' opening times."""
    found: dict[tuple[float, str], Leaving] = {}
    for line, order in enumerate(scenario.orders):
        for day in due_dates(order, scenario, timetable.school_year):
            number = timetable.day_of(day)
            time = number + clock(order.leaves)
            if number < timetable.days and time > 0.0:
                leaving = found.setdefault((time, order.crop), Leaving(time, order.crop))
                heads = order.heads[weekday(day)]
                leaving.deliveries.append(Delivery(order.customer, heads, order.priority, line))
                leaving.heads += heads
    ordered = sorted(found.values(), key=lambda x: (x.time, x.crop))
    _set_openings(ordered, scenario, timetable)
    return ordered


def _set_openings(ordered: list[Leaving], scenario: Scenario, timetable: Timetable) -> None:
    """Walk back from each leaving until the expected minutes suffice (rule O2)."""
    spare = {id(shift): shift.expected_minutes for shift in timetable.shifts}
    able: dict[str, list[DatedShift]] = {
        name: [shift for shift in timetable.shifts if name in shift.may_do]
        for name in {crop.harvested_by for crop in scenario.crops.values()}
        if name is not None
    }
    for leaving in ordered:
        name = scenario.crops[leaving.crop].harvested_by
        earliest = leaving.time - scenario.cold_store.keep_days
        if name is None:
            leaving.opens = max(0.0, earliest)
            continue
        task = scenario.tasks[name]
        wanted = leaving.heads * task.minutes_each + task.setup_minutes
        within = _between(able[name], earliest + _EDGE, leaving.time - _EDGE)
        leaving.staffed = bool(within)
        day = _set_aside(within, wanted, spare, leaving.time, earliest)
        leaving.opens = max(0.0, earliest, float(day))


def _between(shifts: list[DatedShift], earliest: float, latest: float) -> list[DatedShift]:
    """Those of the shifts, given by start, that end after one time and start before another [d]."""
    first = bisect_left(shifts, earliest - 1.0, key=_start)  # no shift lasts a day
    last = bisect_left(shifts, latest, key=_start)
    return [shift for shift in shifts[first:last] if shift.end > earliest]


def _set_aside(
    shifts: list[DatedShift], wanted: float, spare: dict[int, float], latest: float, earliest: float
) -> int:
    """Take the wanted minutes from the latest shifts; the day of the earliest one touched."""
    day = int(latest)
    for shift in reversed(shifts):
        if wanted <= 0.0:
            break
        usable = min(shift.end, latest) - max(shift.start, earliest)
        share = usable / (shift.end - shift.start)
        taken = min(wanted, spare[id(shift)], share * shift.expected_minutes)
        spare[id(shift)] -= taken
        wanted -= taken
        day = shift.day
    return day


@dataclass(frozen=True, slots=True)
class SurplusDay:
    """One day on which an outlet takes up to `heads`; it asks at `opens`, takes at `time` [d].

    Ready heads that would be over-mature by `ripe_by` [d] are cut for it.
    """

    outlet: str
    crop: str
    heads: int
    opens: float
    time: float
    ripe_by: float


def surplus_days(scenario: Scenario, timetable: Timetable) -> list[SurplusDay]:
    """All days of the run on which a surplus outlet takes heads."""
    return [
        SurplusDay(
            outlet.outlet, outlet.crop, heads, float(day), day + clock(outlet.leaves),
            day + outlet.ripe_within_days,
        )
        for outlet in scenario.surplus
        for day in range(timetable.days)
        if (heads := outlet.heads.get(weekday(timetable.date_of(day)), 0))
    ]  # fmt: skip
