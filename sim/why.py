"""Why a week was short: how often it is, and in a typical such year the chain back to its cause."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from sim.batch_story import Stories, Story, ready_day
from sim.collisions import Change, changes, last_seeding_for
from sim.errors import SeedbeatError
from sim.flows import week_of
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import WORK
from sim.records import CAUSE, COUNT, CREW, CROP, CUSTOMER, KIND, MINUTES, TIME, Row
from sim.replications import Estimate, exact_interval
from sim.runs import Runs
from sim.scenario import Scenario
from sim.school_year import monday, spoken

_REACH = 60  # days around a week in which seedings are looked for beyond their mean stay [d]


@dataclass(frozen=True)
class ShortDelivery:
    """A delivery that was not complete: when it left [d], and what was missing, and why."""

    time: float
    crop: str
    customer: str
    ordered: int
    short: int
    cause: str


@dataclass(frozen=True)
class Hands:
    """The person-minutes of the days in which heads for the week could be cut [min].

    From `first` to `last`; `there` by crew, `worked` by kind of work.
    """

    first: date
    last: date
    there: dict[str, float]
    worked: dict[str, float]


@dataclass(frozen=True)
class Why:
    """Why a week is short.

    `met` is the share of years in which it was met, `causes` the heads short by cause, mean over
    the years. The rest is one typical year, the one whose heads short are nearest to the median
    of the years in which the week was short (of equals the first); None, or empty, if there is
    none. `skipped` are seedings that the break rule skipped and that would have been ready for
    this week. `act` is the last date on which a seeding still helps.
    """

    monday: date
    closures: tuple[str, ...]
    met: Estimate
    years_short: int
    median_short: float
    causes: dict[str, float]
    replication: int | None
    deliveries: tuple[ShortDelivery, ...]
    stories: tuple[Story, ...]
    skipped: tuple[Change, ...]
    hands: Hands | None
    act: date | None


def why(scenario: Scenario, day: date, runs: Runs, *, years: int = 200, seed: int = 1) -> Why:
    """Why the week that holds `day` is short.

    Raises SeedbeatError if the week is not measured, or nothing is due in it.
    """
    plan = Plan(scenario)
    week = _week(plan, day)
    runs.total = years
    found = runs.years(scenario, years, seed)
    met = int((found.met[:, week] == 1).sum())
    short = found.weekly["heads short"][:, week]
    low, high = exact_interval(met, years) if years > 1 else (np.nan, np.nan)
    table = plan.timetable
    start = table.window_start + 7 * week
    leavings = [x for x in plan.leavings if start <= x.time < start + 7]
    typical = _typical(short)
    rows = [] if typical is None else run_year(plan, seed, typical)
    late = _deliveries(rows, start)
    return Why(
        table.week_monday(week),
        _closures(plan, start),
        Estimate(met / years, low, high, np.nan, np.nan, years),
        years - met,
        float(np.median(short[short > 0])) if (short > 0).any() else 0.0,
        {c: n / years for (w, c), n in sorted(found.short.items(), key=_most) if w == week},
        typical,
        late,
        _stories(plan, rows, late),
        _skipped(plan, late),
        _hands(plan, rows, late),
        last_seeding_for(table, leavings[0].crop, table.date_of(leavings[0].time)),
    )


def _most(item: tuple[object, int]) -> int:
    return -item[1]


def _week(plan: Plan, day: date) -> int:
    """The measured week that holds a date."""
    table = plan.timetable
    week = week_of(table, float(table.day_of(day)))
    first, last = table.date_of(table.window_start), table.date_of(table.window_end - 1)
    if week is None:
        raise SeedbeatError(
            f"--week must be a date in the measured weeks, from {first} to {last}; it was {day}."
        )
    with_order = {week_of(table, leaving.time) for leaving in plan.leavings}
    due = [table.week_monday(w) for w in range(table.weeks) if w in with_order]
    if monday(day) not in due:
        near = min(due, key=lambda other: abs(other - day), default=None)
        hint = f"The nearest with one is the week of {spoken(near, year=True)}." if near else ""
        raise SeedbeatError(
            f"--week must be a week with a delivery due, but in the week of "
            f"{spoken(monday(day), year=True)} there is none. {hint}"
        )
    return week


def _typical(short: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> int | None:
    """The year nearest to the median of those that were short."""
    years = np.flatnonzero(short > 0)
    if not years.size:
        return None
    return int(years[np.argmin(np.abs(short[years] - np.median(short[years])))])


def _closures(plan: Plan, start: int) -> tuple[str, ...]:
    """Closures in the week and the week before it, each once."""
    table = plan.timetable
    days = (table.date_of(start - 7) + timedelta(days=n) for n in range(14))
    return tuple(dict.fromkeys(name for day in days if (name := table.school_year.closure(day))))


def _deliveries(rows: Sequence[Row], start: int) -> tuple[ShortDelivery, ...]:
    """The deliveries of the week that were short."""
    week = [row for row in rows if start <= row[TIME] < start + 7]
    due = {(row[TIME], row[CROP], row[CUSTOMER]): row[COUNT] for row in week if row[KIND] == "due"}
    return tuple(
        ShortDelivery(
            row[TIME], row[CROP], row[CUSTOMER], due[row[TIME], row[CROP], row[CUSTOMER]],
            row[COUNT], row[CAUSE],
        )
        for row in week if row[KIND] == "short"
    )  # fmt: skip


def _serving(plan: Plan, late: Sequence[ShortDelivery], crop: str, day: int) -> bool:
    """Whether a seeding of a day was meant to be ready for one of the short deliveries.

    At mean stays without waiting; a batch counts from the day it is ready until its heads would
    be over-mature and the cold store's limit is over.
    """
    grown, store = plan.scenario.crops[crop], plan.scenario.cold_store.keep_days
    times = [d.time for d in late if d.crop == crop]
    if not times:
        return False
    ready, keep = ready_day(plan.timetable, grown, day), grown.stages[-1].keep_days
    outlasts = min(times) - _REACH if keep is None else min(times) - keep - store
    return outlasts <= ready <= max(times)


def _stories(plan: Plan, rows: Sequence[Row], late: Sequence[ShortDelivery]) -> tuple[Story, ...]:
    """The batches that were meant for the short deliveries, and what became of their heads."""
    if not late:
        return ()
    stories = Stories(plan, rows)
    since, until = min(d.time for d in late), max(d.time for d in late) + 1e-9
    return tuple(
        stories.story(s, since, until) for s in plan.seedings if _serving(plan, late, s.crop, s.day)
    )


def _skipped(plan: Plan, late: Sequence[ShortDelivery]) -> tuple[Change, ...]:
    """Seedings for this week that the break rule skipped."""
    table = plan.timetable
    return tuple(
        change
        for change in changes(table, plan.leavings, plan.seedings)
        if change.what == "skipped"
        and _serving(plan, late, change.crop, table.day_of(change.planned))
    )


def _hands(plan: Plan, rows: Sequence[Row], late: Sequence[ShortDelivery]) -> Hands | None:
    """Who was there, and for what, in the days in which the short heads could have been cut."""
    if not late:
        return None
    table, keep = plan.timetable, plan.scenario.cold_store.keep_days
    first, last = int(min(d.time for d in late) - keep), int(max(d.time for d in late))
    there: defaultdict[str, float] = defaultdict(float)
    worked: defaultdict[str, float] = defaultdict(float)
    for row in rows:
        if first <= row[TIME] < last + 1:
            if row[KIND] == "shift":
                there[row[CREW]] += row[MINUTES]
            elif row[KIND] in WORK:
                worked[WORK[row[KIND]]] += row[MINUTES]
    return Hands(table.date_of(first), table.date_of(last), dict(there), dict(worked))
