"""Random greenhouses: small, odd, and allowed by the scenario's rules.

A greenhouse is read from a string of bytes, each of which picks one value of a list whose first
entry is the plainest. Hypothesis makes the bytes, and shrinks them to zero: a greenhouse in which
a law fails shrinks to the plainest one.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time, timedelta
from functools import cached_property, lru_cache
from itertools import chain, repeat
from typing import Any, TypeVar, get_args

from hypothesis import strategies as st

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.parts import (
    IN_SESSION,
    WEEKDAYS,
    BadEvent,
    BreakRule,
    Cadence,
    CadenceLine,
    ColdStore,
    Crew,
    Crop,
    Dates,
    DayKind,
    DaysShape,
    Order,
    Place,
    School,
    Seeding,
    Shift,
    SpecialDay,
    Stage,
    Surplus,
    Task,
    Weekday,
)
from sim.records import KIND, Row
from sim.scenario import Scenario

T = TypeVar("T")

MONDAY = date(2026, 8, 31)
SCHOOL_DAYS = 90
ANY_DAY: tuple[DayKind, ...] = (*IN_SESSION, "closed")
PLACES = ("nursery", "table", "bench")
CROPS = ("bibb", "romaine", "basil")
CREWS = ("class", "staff", "cover")
CUSTOMERS = ("kitchen", "cafe", "market", "pantry")
TASKS = ("seeding", "moving", "spacing", "harvest", "washing", "clearing", "checks")
# shifts that follow each other, overlap those of the other lists, or touch midnight
HOURS = (
    ((8, 0, 9, 0), (9, 0, 10, 0), (13, 0, 15, 0)),
    ((8, 30, 9, 30), (10, 30, 11, 20), (12, 0, 13, 30)),
    ((0, 0, 1, 0), (8, 0, 12, 0), (23, 0, 23, 59)),
)
LEAVING = (time(15), time(9), time(10), time(0), time(23, 59), time(11, 7))
ENOUGH_BYTES = 700  # for three crops of four stages, three crews and four orders


class Run:
    """One simulated year of a random greenhouse, with its plan and its rows."""

    def __init__(self, scenario: Scenario, seed: int = 1) -> None:
        self.scenario = scenario
        self.seed = seed
        self.plan = Plan(scenario)
        self.days = self.plan.timetable.days

    @cached_property
    def rows(self) -> list[Row]:
        """What happened, in order of time."""
        return run_year(self.plan, self.seed, 0)

    def of(self, *kinds: str) -> list[Row]:
        """The rows of these kinds, in order of time."""
        return [row for row in self.rows if row[KIND] in kinds]

    def __repr__(self) -> str:
        """What to copy to see the run again."""
        return f"Run({self.scenario!r}, seed={self.seed})"


class Picker:
    """Picks values, each by the next byte; byte 0, and no byte, picks the first value."""

    def __init__(self, data: bytes) -> None:
        self._bytes = chain(data, repeat(0))

    def one(self, *values: T) -> T:
        """One of the values."""
        return values[next(self._bytes) % len(values)]

    def number(self, least: int, most: int) -> int:
        """A whole number, both ends included."""
        return least + next(self._bytes) % (most - least + 1)

    def seldom(self, value: T, otherwise: T) -> T:
        """A value that is picked once in sixteen times."""
        return value if next(self._bytes) % 16 == 15 else otherwise

    def some(self, values: Sequence[T], least: int = 0) -> tuple[T, ...]:
        """Some of the values in their order, `least` or more."""
        chosen = [v for v in values if next(self._bytes) % 2]
        return tuple(chosen if len(chosen) >= least else values[:least])

    def by_weekday(self, most: int) -> dict[Weekday, int]:
        """Numbers from 0 by weekday, of one or two weekdays."""
        return {self.one(*WEEKDAYS): self.number(0, most) for _ in range(self.number(1, 2))}

    def day(self) -> date:
        """A day of the school year."""
        return MONDAY + timedelta(days=self.number(0, SCHOOL_DAYS))

    def stretch(self) -> Dates:
        """A stretch of at most 16 days."""
        first = self.day()
        return Dates(first_day=first, last_day=first + timedelta(days=self.number(0, 15)))


def school(pick: Picker) -> School:
    special = [(pick.day(), pick.one(*IN_SESSION[1:])) for _ in range(pick.number(0, 2))]
    return School(
        first_day=MONDAY,
        last_day=MONDAY + timedelta(days=SCHOOL_DAYS),
        closed=tuple(pick.stretch() for _ in range(pick.one(0, 0, 1, 2))),
        special=tuple(SpecialDay(first_day=d, last_day=d, kind=kind) for d, kind in special),
    )


def place(pick: Picker) -> Place:
    return Place(
        count=pick.one(None, 20, 10, 6, 3, pick.one(2, 1)),
        sites_each=pick.number(1, 9),
        washed_by=pick.one(None, "washing"),
        cleared_by=pick.one(None, "clearing"),
        rest_hours=pick.one(0.0, 0.0, 0.5, 36.0),
    )


def stage(pick: Picker, number: int) -> Stage:
    loss = pick.seldom(pick.one(100.0, 60.0), pick.one(0.0, 0.0, 10.0, 20.0))
    event = BadEvent(
        percent_of_batches=pick.one(30.0, 100.0), loss_percent=pick.seldom(100.0, 50.0)
    )
    task = pick.one("moving", "spacing") if number else "seeding"
    return Stage(
        name=f"stage {number + 1}",
        place=pick.one(*PLACES) if number else "nursery",
        days=pick.number(1, 10),
        days_sd=pick.one(0.0, 1.0, 3.0),
        days_shape=pick.one(*get_args(DaysShape)),
        loss_percent=loss,
        loss_sd_points=pick.one(0.0, 0.0, 0.0, 5.0) if 0 < loss < 100 else 0.0,
        bad_event=pick.one(None, None, None, None, None, event),
        moved_in_by=pick.one(None, task, task),
        move_loss_percent=pick.seldom(pick.one(100.0, 50.0), pick.one(0.0, 0.0, 10.0)),
        keep_days=pick.one(None, pick.number(1, 12), pick.seldom(0, 10)),
        pace_percent=pick.one({}, {}, {"Sep": 50, "Oct": 150}),
    )


def crop(pick: Picker) -> Crop:
    return Crop(
        stages=tuple(stage(pick, number) for number in range(pick.one(2, 2, 2, 3, 4))),
        harvest=pick.one("for orders", "for orders", "when ready"),
        harvested_by=pick.one(None, "harvest", "harvest"),
    )


def shift(pick: Picker, hours: tuple[int, int, int, int]) -> Shift:
    return Shift(
        weekdays=pick.one(WEEKDAYS, pick.some(WEEKDAYS, least=1)),
        starts=time(*hours[:2]),
        ends=time(*hours[2:]),
        working_minutes=pick.one(None, 50.0, pick.seldom(0.0, 7.5)),
        on=pick.one(ANY_DAY, ANY_DAY, IN_SESSION, pick.one(("regular",), ("closed",))),
        minutes_on=pick.one({}, {"exam": 10.0}),
        only=pick.seldom((pick.stretch(),), ()),
    )


def crew(pick: Picker) -> Crew:
    hours = pick.some(pick.one(*HOURS), least=1)
    return Crew(
        people=pick.number(1, 4),
        absent_percent=pick.seldom(100.0, pick.one(0.0, 20.0, 60.0)),
        pace_percent=pick.one(100.0, 70.0, 150.0),
        shifts=tuple(shift(pick, one) for one in hours),
    )


def task(pick: Picker, crews: tuple[str, ...]) -> Task:
    return Task(
        minutes_each=pick.one(1.0, 0.3, 4.0, pick.seldom(25.0, 7.0)),
        setup_minutes=pick.one(0.0, 0.0, 5.0),
        priority=pick.number(1, 5),
        who=pick.one((), (), (), pick.some(crews)),
    )


def order(pick: Picker, customer: str, crops: tuple[str, ...], market_day: Weekday) -> Order:
    span = pick.one(None, None, None, pick.stretch())
    return Order(
        customer=customer,
        crop=pick.one(*crops),
        heads={market_day: pick.number(1, 12)} | pick.by_weekday(12),
        leaves=pick.one(LEAVING[0], LEAVING[0], pick.one(*LEAVING)),
        first_day=span.first_day if span else None,
        last_day=span.last_day if span else None,
        school_closed=pick.one("deliver", "pause"),
        paused=pick.one((), (), (pick.stretch(),)),
        priority=pick.number(1, 3),
    )


def outlet(pick: Picker, crops: tuple[str, ...]) -> Surplus:
    return Surplus(
        outlet="soup kitchen",
        crop=pick.one(*crops),
        heads=pick.by_weekday(20),
        leaves=pick.one(*LEAVING),
        ripe_within_days=pick.one(3.0, 0.0, 1.5),
    )


def line(pick: Picker, crop_name: str) -> CadenceLine:
    numbers: dict[str, Any] = {pick.seldom("heads_wanted", "trays"): pick.by_weekday(6)}
    return CadenceLine(
        crop=crop_name,
        every_weeks=pick.one(1, 1, 2, 3),
        last_day=pick.one(None, None, None, pick.day()),
        **numbers,
    )


def cadence(pick: Picker, crops: tuple[str, ...]) -> Cadence:
    return Cadence(
        lines=tuple(line(pick, name) for name in crops if pick.seldom(False, True)),
        break_rule=pick.one(*get_args(BreakRule)),
        late_days=pick.number(0, 4),
        added=tuple(
            Seeding(day=pick.day(), crop=pick.one(*crops), trays=pick.number(1, 6))
            for _ in range(pick.number(0, 4))
        ),
        skipped=pick.one((), (), (pick.day(),)),
    )


def scenario(data: bytes) -> Scenario:
    """The greenhouse that these bytes pick: one to three crops over two to five months."""
    pick = Picker(data)
    crops, crews = CROPS[: pick.one(1, 1, 2, 3)], CREWS[: pick.seldom(0, pick.number(1, 3))]
    customers = CUSTOMERS[: pick.one(1, 2, 2, 3, 3, 4, 0)]
    market_day = pick.one(*WEEKDAYS)
    first, weeks = MONDAY + timedelta(days=7 * pick.number(0, 4)), pick.number(2, 7)
    return Scenario(
        school=school(pick),
        places={name: place(pick) for name in PLACES},
        crops={name: crop(pick) for name in crops},
        tasks={name: task(pick, crews) for name in TASKS},
        crews={name: crew(pick) for name in crews},
        daily_checks_by=pick.one(None, "checks"),
        orders=tuple(order(pick, name, crops, market_day) for name in customers),
        surplus=tuple(outlet(pick, crops) for _ in range(pick.one(0, 0, 1, 2))),
        cold_store=ColdStore(
            holds_heads=pick.one(None, pick.number(1, 16)),
            keep_days=pick.one(2.0, 6.0, 1.0, 0.5, pick.one(3.0, 0.0)),
        ),
        cadence=cadence(pick, crops),
        window=Dates(first_day=first, last_day=first + timedelta(days=7 * weeks - 1)),
        run_first_day=pick.one(None, MONDAY - timedelta(days=10)),
    )


@lru_cache(maxsize=256)
def run_of(data: bytes, seed: int) -> Run:
    """A run of the greenhouse that these bytes pick; laws tried on the same run share it."""
    return Run(scenario(data), seed)


def runs() -> st.SearchStrategy[Run]:
    """Runs of random greenhouses, each with a seed."""
    data = st.binary(min_size=ENOUGH_BYTES, max_size=ENOUGH_BYTES)
    return st.builds(run_of, data, st.integers(1, 50))
