"""Random greenhouses: small, odd, and allowed by the scenario's rules.

Every value is drawn by hypothesis, so that a greenhouse in which a law fails shrinks to the
simplest one: no losses, no people, unlimited places, nothing ordered.
"""

from __future__ import annotations

from datetime import date, time, timedelta
from functools import cached_property
from typing import get_args

from hypothesis import strategies as st

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.parts import (
    IN_SESSION,
    MONTHS,
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
)
from sim.scenario import Scenario

MONDAY = date(2026, 8, 31)
LAST_DAY = MONDAY + timedelta(days=90)
ANY_DAY: tuple[DayKind, ...] = (*IN_SESSION, "closed")
PLACES = ("nursery", "table", "bench")
CROPS = ("bibb", "romaine", "basil")
CREWS = ("class", "staff", "cover")
CUSTOMERS = ("kitchen", "cafe", "market", "pantry")
TASKS = ("seeding", "moving", "spacing", "harvest", "washing", "clearing", "checks")
# shifts that follow each other, overlap those of the other list, or touch midnight
HOURS = (
    ((8, 0, 9, 0), (9, 0, 10, 0), (10, 30, 11, 20), (13, 0, 15, 0)),
    ((0, 0, 1, 0), (8, 30, 9, 30), (12, 0, 13, 30), (23, 0, 23, 59)),
)
LEAVING = (time(15), time(9), time(10), time(0), time(23, 59), time(11, 7))


class Run:
    """One simulated year of a random greenhouse, with its plan and its rows."""

    def __init__(self, scenario: Scenario, seed: int = 1) -> None:
        self.scenario = scenario
        self.seed = seed
        self.plan = Plan(scenario)
        self.days = self.plan.timetable.days

    @cached_property
    def rows(self) -> list[tuple]:
        """What happened, in order of time."""
        return run_year(self.plan, self.seed, 0)

    def of(self, *kinds: str) -> list[tuple]:
        """The rows of these kinds, in order of time."""
        return [row for row in self.rows if row[1] in kinds]

    def __repr__(self) -> str:
        """What to copy into a test to see the run again."""
        return f"Run({self.scenario!r}, seed={self.seed})"


def one_in(n: int) -> st.SearchStrategy[bool]:
    """True once in n draws, and False when shrunk."""
    return st.integers(0, n - 1).map(lambda k: k == n - 1)


def often_none(values: st.SearchStrategy) -> st.SearchStrategy:
    """None half of the time, and when shrunk."""
    return st.none() | values


def some(values: tuple, least: int = 0, most: int | None = None) -> st.SearchStrategy[tuple]:
    """Some of the values, each once."""
    return st.lists(st.sampled_from(values), unique=True, min_size=least, max_size=most).map(tuple)


def by_weekday(least: int, most: int) -> st.SearchStrategy[dict]:
    """Numbers by weekday, of one to three weekdays."""
    return st.dictionaries(
        st.sampled_from(WEEKDAYS), st.integers(least, most), min_size=1, max_size=3
    )


def days() -> st.SearchStrategy[date]:
    """A day of the school year."""
    return st.integers(0, 90).map(lambda n: MONDAY + timedelta(days=n))


@st.composite
def stretches(draw: st.DrawFn) -> Dates:
    first = draw(days())
    return Dates(first_day=first, last_day=first + timedelta(days=draw(st.integers(0, 15))))


@st.composite
def schools(draw: st.DrawFn) -> School:
    special = draw(st.lists(st.tuples(days(), st.sampled_from(IN_SESSION[1:])), max_size=2))
    return School(
        first_day=MONDAY,
        last_day=LAST_DAY,
        closed=draw(st.lists(stretches(), max_size=2)),
        special=tuple(SpecialDay(first_day=d, last_day=d, kind=kind) for d, kind in special),
    )


def places() -> st.SearchStrategy[Place]:
    return st.builds(
        Place,
        count=often_none(st.integers(1, 12)),
        sites_each=st.integers(1, 8),
        washed_by=often_none(st.just("washing")),
        cleared_by=often_none(st.just("clearing")),
        rest_hours=st.sampled_from((0.0, 0.5, 36.0)),
    )


@st.composite
def stages(draw: st.DrawFn, number: int) -> Stage:
    loss = draw(st.sampled_from((0.0, 10.0, 50.0, 100.0)))
    event = st.builds(
        BadEvent,
        percent_of_batches=st.sampled_from((30.0, 100.0)),
        loss_percent=st.sampled_from((50.0, 100.0)),
    )
    task = "seeding" if number == 0 else draw(st.sampled_from(("moving", "spacing")))
    return Stage(
        name=f"stage {number + 1}",
        place=draw(st.sampled_from(PLACES)) if number else "nursery",
        days=draw(st.integers(1, 12)),
        days_sd=draw(st.sampled_from((0.0, 1.0, 3.0))),
        days_shape=draw(st.sampled_from(get_args(DaysShape))),
        loss_percent=loss,
        loss_sd_points=draw(st.sampled_from((0.0, 5.0))) if 0 < loss < 100 else 0.0,
        bad_event=draw(st.none() | st.none() | event),
        moved_in_by=draw(often_none(st.just(task))),
        move_loss_percent=draw(st.sampled_from((0.0, 0.0, 20.0, 100.0))),
        keep_days=draw(often_none(st.integers(0, 8))),
        pace_percent=draw(
            st.just({}) | st.dictionaries(st.sampled_from(MONTHS[8:11]), st.sampled_from((50, 150)))
        ),
    )


@st.composite
def crops(draw: st.DrawFn) -> Crop:
    return Crop(
        stages=tuple(draw(stages(number)) for number in range(draw(st.integers(2, 4)))),
        harvest=draw(st.sampled_from(("for orders", "when ready"))),
        harvested_by=draw(often_none(st.just("harvest"))),
    )


@st.composite
def shifts(draw: st.DrawFn, hours: tuple[int, int, int, int]) -> Shift:
    starts, ends = time(*hours[:2]), time(*hours[2:])
    return Shift(
        weekdays=draw(st.just(WEEKDAYS) | some(WEEKDAYS, least=1)),
        starts=starts,
        ends=ends,
        working_minutes=draw(often_none(st.sampled_from((50.0, 7.5, 0.0)))),
        on=draw(st.sampled_from((ANY_DAY, IN_SESSION, ("regular",), ("closed",)))),
        minutes_on=draw(st.sampled_from(({}, {"exam": 10.0}))),
        only=draw(st.just(()) | st.just(()) | st.tuples(stretches())),
    )


@st.composite
def crews(draw: st.DrawFn) -> Crew:
    hours = draw(some(draw(st.sampled_from(HOURS)), least=1, most=2))
    return Crew(
        people=draw(st.integers(1, 4)),
        students=draw(st.booleans()),
        absent_percent=draw(st.sampled_from((0.0, 20.0, 60.0, 100.0))),
        pace_percent=draw(st.sampled_from((100.0, 70.0, 150.0))),
        shifts=tuple(draw(shifts(one)) for one in sorted(hours)),
    )


@st.composite
def tasks(draw: st.DrawFn, crew_names: tuple[str, ...]) -> Task:
    return Task(
        minutes_each=draw(st.sampled_from((1.0, 0.3, 4.0, 25.0))),
        setup_minutes=draw(st.sampled_from((0.0, 0.0, 5.0))),
        priority=draw(st.integers(1, 5)),
        who=draw(some(crew_names, most=2)) if crew_names else (),
    )


@st.composite
def orders(draw: st.DrawFn, customer: str, crop_names: tuple[str, ...]) -> Order:
    span = draw(st.none() | st.none() | stretches())
    return Order(
        customer=customer,
        crop=draw(st.sampled_from(crop_names)),
        heads=draw(by_weekday(0, 20)),
        leaves=draw(st.sampled_from(LEAVING)),
        first_day=span.first_day if span else None,
        last_day=span.last_day if span else None,
        school_closed=draw(st.sampled_from(("deliver", "pause"))),
        paused=tuple(draw(st.lists(stretches(), max_size=1))),
        priority=draw(st.integers(1, 3)),
    )


@st.composite
def outlets(draw: st.DrawFn, crop_names: tuple[str, ...]) -> Surplus:
    return Surplus(
        outlet="soup kitchen",
        crop=draw(st.sampled_from(crop_names)),
        heads=draw(by_weekday(1, 20)),
        leaves=draw(st.sampled_from(LEAVING)),
        ripe_within_days=draw(st.sampled_from((3.0, 0.0, 1.5))),
    )


@st.composite
def cadences(draw: st.DrawFn, crop_names: tuple[str, ...]) -> Cadence:
    lines = [
        CadenceLine(
            crop=crop,
            every_weeks=draw(st.integers(1, 3)),
            last_day=draw(often_none(days())),
            **(
                {"heads_wanted": draw(by_weekday(0, 12))}
                if draw(one_in(5))
                else {"trays": draw(by_weekday(0, 5))}
            ),
        )
        for crop in crop_names
        if draw(st.booleans())
    ]
    added = st.builds(
        Seeding, day=days(), crop=st.sampled_from(crop_names), trays=st.integers(1, 6)
    )
    return Cadence(
        lines=tuple(lines),
        break_rule=draw(st.sampled_from(get_args(BreakRule))),
        late_days=draw(st.integers(0, 4)),
        added=tuple(draw(st.lists(added, max_size=3))),
        skipped=tuple(draw(st.lists(days(), max_size=2))),
    )


@st.composite
def scenarios(draw: st.DrawFn) -> Scenario:
    """A random greenhouse of one to three crops over two to five months."""
    crop_names = CROPS[: draw(st.integers(1, 3))]
    crew_names = CREWS[: draw(st.integers(0, 3))]
    first_week, weeks = draw(st.integers(0, 4)), draw(st.integers(2, 7))
    window = MONDAY + timedelta(days=7 * first_week)
    return Scenario(
        school=draw(schools()),
        places={name: draw(places()) for name in PLACES},
        crops={name: draw(crops()) for name in crop_names},
        tasks={name: draw(tasks(crew_names)) for name in TASKS},
        crews={name: draw(crews()) for name in crew_names},
        daily_checks_by=draw(often_none(st.just("checks"))),
        orders=tuple(
            draw(orders(name, crop_names)) for name in CUSTOMERS[: draw(st.integers(0, 4))]
        ),
        surplus=tuple(draw(st.lists(outlets(crop_names), max_size=1))),
        cold_store=ColdStore(
            holds_heads=draw(often_none(st.integers(1, 30))),
            keep_days=draw(st.sampled_from((2.0, 0.0, 0.5, 1.0, 6.0))),
        ),
        cadence=draw(cadences(crop_names)),
        window=Dates(first_day=window, last_day=window + timedelta(days=7 * weeks - 1)),
        run_first_day=draw(st.none() | st.just(MONDAY - timedelta(days=10))),
    )


def runs() -> st.SearchStrategy[Run]:
    """Runs of random greenhouses, each with a seed."""
    return st.builds(Run, scenarios(), st.integers(1, 50))
