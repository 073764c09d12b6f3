"""One scenario with and without a closure, its cover, or its orders: everything else alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta
from typing import TypeVar

from sim.breaks_calendar import Closure
from sim.order_book import due_dates
from sim.parts import Dates, Order, Shift
from sim.scenario import Scenario
from sim.timetable import Timetable

_DAY = timedelta(days=1)

T = TypeVar("T", bound=Dates)


def stretches(days: Iterable[date]) -> tuple[Dates, ...]:
    """Dates in order as stretches of days that follow each other."""
    found: list[Dates] = []
    for day in days:
        if found and day - found[-1].last_day == _DAY:
            found[-1] = Dates(first_day=found[-1].first_day, last_day=day)
        else:
            found.append(Dates(first_day=day, last_day=day))
    return tuple(found)


def without(given: Iterable[T], first: date, last: date) -> Iterator[T]:
    """Stretches of days, less the days from `first` to `last`."""
    for s in given:
        if s.last_day < first or last < s.first_day:
            yield s
            continue
        if s.first_day < first:
            yield s.model_copy(update={"last_day": first - _DAY})
        if last < s.last_day:
            yield s.model_copy(update={"first_day": last + _DAY})


def frozen(scenario: Scenario, table: Timetable) -> Scenario:
    """The same scenario whose orders and measured weeks do not hang on the calendar any more.

    Orders that pause when school is closed pause on the dates on which they do now.
    """
    window = Dates(
        first_day=table.date_of(table.window_start), last_day=table.date_of(table.window_end - 1)
    )
    orders = tuple(_frozen(order, scenario, table) for order in scenario.orders)
    return scenario.model_copy(update={"orders": orders, "window": window})


def _frozen(order: Order, scenario: Scenario, table: Timetable) -> Order:
    school = scenario.school
    span = {"first_day": order.first_day or school.first_day,
            "last_day": order.last_day or school.last_day}  # fmt: skip
    always = order.model_copy(update={**span, "school_closed": "deliver"})
    now = set(due_dates(order, scenario, table.school_year))
    pauses = stretches(d for d in due_dates(always, scenario, table.school_year) if d not in now)
    return always.model_copy(update={"paused": (*order.paused, *pauses)})


def opened(scenario: Scenario, closure: Closure) -> Scenario:
    """The scenario with class as on regular days throughout a closure."""
    school, first, last = scenario.school, closure.first_day, closure.last_day
    change = {
        "first_day": min(school.first_day, first),
        "last_day": max(school.last_day, last),
        "closed": tuple(without(school.closed, first, last)),
        "special": tuple(without(school.special, first, last)),
    }
    return scenario.model_copy(update={"school": school.model_copy(update=change)})


def closed(scenario: Scenario, closure: Closure) -> Scenario:
    """The scenario with a closure more, and nobody at all there on its days."""
    day = Dates(first_day=closure.first_day, last_day=closure.last_day, name=closure.name)
    school = scenario.school.model_copy(update={"closed": (*scenario.school.closed, day)})
    nobody = shifts_off(scenario, closure, lambda _crew, _number: True)
    return nobody.model_copy(update={"school": school})


def paused(scenario: Scenario, closure: Closure) -> Scenario:
    """The scenario whose orders all pause in a closure."""
    pause = Dates(first_day=closure.first_day, last_day=closure.last_day, name=closure.name)
    orders = tuple(o.model_copy(update={"paused": (*o.paused, pause)}) for o in scenario.orders)
    return scenario.model_copy(update={"orders": orders})


def shifts_off(scenario: Scenario, closure: Closure, which: Callable[[str, int], bool]) -> Scenario:
    """The scenario in which some shifts are not held from a closure's first day to its last.

    `which` is asked with a crew's name and a shift's number in the crew; the numbers stay.
    """

    def off(shift: Shift) -> Shift:
        always = Dates(first_day=date(1900, 1, 1), last_day=date(8999, 12, 31))
        only = tuple(without(shift.only or (always,), closure.first_day, closure.last_day))
        return shift.model_copy(update={"only": only} if only else {"on": ()})

    crews = {}
    for name, crew in scenario.crews.items():
        shifts = [off(s) if which(name, number) else s for number, s in enumerate(crew.shifts)]
        crews[name] = crew.model_copy(update={"shifts": tuple(shifts)})
    return scenario.model_copy(update={"crews": crews})
