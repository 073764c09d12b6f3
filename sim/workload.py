"""The trays and minutes that a week's orders take, and the minutes there are. No luck.

Minutes are those to be expected: absence and pace included. Set-up minutes are left out, since
they depend on how the work falls into shifts; so the work is the least there can be.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf

from sim.flows import Chain, Ordered, chains, heads_by_crop, loads, plants_set, week_of
from sim.order_book import Leaving
from sim.parts import CadenceLine, Month
from sim.scenario import Scenario
from sim.school_year import weekday
from sim.seeding import trays_by_weekday
from sim.timetable import Timetable


def trays_seeded(timetable: Timetable) -> dict[str, float]:
    """Trays that the cadence's lines seed per week before any break, by crop.

    Lines that follow each other count for as long as each is in force, up to the window's end. A
    crop without a line has the mean of its dated seedings, from the first week to the last.
    """
    cadence, trays = timetable.scenario.cadence, {}
    for crop in timetable.scenario.crops:
        lines = [line for line in cadence.lines if line.crop == crop]
        dated = [s for s in cadence.added if s.crop == crop]
        if lines:
            days = (timetable.date_of(n) for n in range(timetable.window_end))
            rates = [rate for day in days if (rate := _rate(lines, day, timetable))]
            trays[crop] = sum(rates) / max(1, len(rates))
        elif dated:
            weeks = [s.day.toordinal() // 7 for s in dated]
            trays[crop] = sum(s.trays for s in dated) / (max(weeks) - min(weeks) + 1)
        else:
            trays[crop] = 0.0
    return trays


def _rate(lines: Iterable[CadenceLine], day: date, timetable: Timetable) -> float:
    """Trays per week of the lines in force on a day."""
    return sum(
        sum(trays_by_weekday(line, timetable).values()) / line.every_weeks
        for line in lines
        if (line.first_day or date.min) <= day <= (line.last_day or date.max)
    )


@dataclass(frozen=True, slots=True)
class CropNeeds:
    """What a crop's orders need in a full week, and the trays that the cadence seeds."""

    chain: Chain
    heads_per_week: float
    cells_per_tray: int
    trays_seeded: float

    @property
    def cells_per_week(self) -> float:
        """Cells to seed."""
        return self.chain.cells_for(self.heads_per_week)

    @property
    def trays_per_week(self) -> float:
        """Trays to seed."""
        return self.cells_per_week / self.cells_per_tray

    @property
    def transplants_per_week(self) -> float:
        """Plants to set in the finishing place."""
        return plants_set(self.cells_per_week, self.chain.steps[-1])


def crop_needs(
    timetable: Timetable,
    orders: Iterable[Ordered],
    *,
    month: Month | None = None,
    bad_events: bool = True,
) -> list[CropNeeds]:
    """What the orders of each crop need in a full week, in the file's order of crops."""
    scenario, heads, seeded = timetable.scenario, heads_by_crop(orders), trays_seeded(timetable)
    return [
        CropNeeds(
            of_crop,
            heads.get(crop, 0.0),
            scenario.places[of_crop.steps[0].place].sites_each,
            seeded[crop],
        )
        for crop, of_crop in chains(scenario, month=month, bad_events=bad_events).items()
    ]


@dataclass(frozen=True, slots=True)
class Work:
    """The work of one task in a week: units (trays, plants, heads, containers, days), minutes."""

    task: str
    kind: str
    units: float
    minutes: float


def weekly_work(
    scenario: Scenario,
    needs: Iterable[CropNeeds],
    *,
    trays: Mapping[str, float],
    harvested: Mapping[str, float],
    check_days: float,
) -> list[Work]:
    """The person-minutes of a week, by task.

    `trays` seeded (and washed) and heads `harvested` are given by crop; plants are moved, and
    their containers washed, as the orders of a full week need it.
    """
    units: dict[tuple[str | None, str], float] = defaultdict(float)
    for need in needs:
        crop = scenario.crops[need.chain.crop]
        units[crop.harvested_by, "harvest"] += harvested.get(need.chain.crop, 0.0)
        of_stages = loads(scenario, need.chain, need.cells_per_week)
        for number, (stage, load) in enumerate(zip(crop.stages, of_stages, strict=True)):
            containers = load.containers_per_week if number else trays[need.chain.crop]
            kind, count = ("moving", load.plants_per_week) if number else ("seeding", containers)
            units[stage.moved_in_by, kind] += count
            units[scenario.places[stage.place].washed_by, "washing"] += containers
    units[scenario.daily_checks_by, "daily checks"] += check_days
    return [
        Work(task, kind, count, count * scenario.tasks[task].minutes_each)
        for (task, kind), count in units.items()
        if task is not None
    ]


@dataclass(frozen=True, slots=True)
class WeekStaffing:
    """The person-minutes of one week by crew, and what makes the week special.

    `special` names the closures and the special days on weekdays with school; `special_days` is
    how many of those weekdays they cover.
    """

    monday: date
    minutes: dict[str, float]
    special: tuple[str, ...]
    special_days: int


def weekly_staffing(timetable: Timetable) -> list[WeekStaffing]:
    """The person-minutes of each week of the window."""
    crews = timetable.scenario.crews
    minutes = [dict.fromkeys(crews, 0.0) for _ in range(timetable.weeks)]
    for shift in timetable.shifts:
        if (week := week_of(timetable, shift.day)) is not None:
            minutes[week][shift.crew] += shift.expected_minutes
    found = []
    for week in range(timetable.weeks):
        monday = timetable.week_monday(week)
        names = [_special(timetable, monday + timedelta(days=n)) for n in range(7)]
        named = [name for name in names if name]
        found.append(WeekStaffing(monday, minutes[week], tuple(dict.fromkeys(named)), len(named)))
    return found


def _special(timetable: Timetable, day: date) -> str:
    """Why a weekday with school is not a regular day, or ""."""
    year, school = timetable.school_year, timetable.scenario.school
    kind = year.kind(day)
    if weekday(day) not in school.weekdays or kind == "regular":
        return ""
    if kind == "closed":
        return year.closure(day) or "school closed"
    return (
        next((s.name for s in reversed(school.special) if s.first_day <= day <= s.last_day), "")
        or kind
    )


def ordinary_weeks(weeks: Sequence[WeekStaffing]) -> list[WeekStaffing]:
    """The weeks with the fewest special days: in most schools none."""
    fewest = min(week.special_days for week in weeks)
    return [week for week in weeks if week.special_days == fewest]


def mean_minutes(weeks: Sequence[WeekStaffing]) -> dict[str, float]:
    """Person-minutes of a week by crew, mean of these weeks."""
    return {crew: sum(w.minutes[crew] for w in weeks) / len(weeks) for crew in weeks[0].minutes}


def check_days(timetable: Timetable, week: WeekStaffing) -> int:
    """Days of a week with a shift that may do the daily checks; 0 where nobody checks."""
    task, first = timetable.scenario.daily_checks_by, timetable.day_of(week.monday)
    return 0 if task is None else sum(timetable.staffed(task, first + n) for n in range(7))


@dataclass(frozen=True, slots=True)
class Balance:
    """Work that only these crews may do, against the minutes that they have in a week.

    `checks` is the part of `work` that does not grow with the heads.
    """

    crews: tuple[str, ...]
    staffed: float
    work: float
    checks: float

    @property
    def exceeds(self) -> bool:
        """Whether there is more work than minutes."""
        return self.work > self.staffed + 1e-6

    @property
    def times(self) -> float:
        """How many times the work, checks apart, fits into the minutes."""
        growing = self.work - self.checks
        return max(0.0, self.staffed - self.checks) / growing if growing > 0.0 else inf


def tightest(scenario: Scenario, minutes: Mapping[str, float], work: Sequence[Work]) -> Balance:
    """The balance of the crews that have least to spare.

    Looked at are all crews together and, for each task that not every crew may do, those that
    may: a task that only adults do does not fit into the students' minutes.
    """
    crews = tuple(scenario.crews)
    may = {w.task: frozenset(scenario.tasks[w.task].who or crews) for w in work}
    found = []
    for group in {frozenset(crews): None, **dict.fromkeys(may.values())}:
        own = [w for w in work if may[w.task] <= group]
        checks = sum(w.minutes for w in own if w.kind == "daily checks")
        staffed = sum(minutes[crew] for crew in group)
        who = tuple(crew for crew in crews if crew in group)
        found.append(Balance(who, staffed, sum(w.minutes for w in own), checks))
    return min(found, key=lambda balance: balance.times)


@dataclass(frozen=True, slots=True)
class WeekBalance:
    """One week's staffing and work; `tightest` tells whether the work exceeds the minutes."""

    staffing: WeekStaffing
    work: tuple[Work, ...]
    tightest: Balance


def week_balances(
    timetable: Timetable, leavings: Iterable[Leaving], needs: Sequence[CropNeeds]
) -> list[WeekBalance]:
    """Work against minutes in each week of the window.

    The harvest is that of the heads due in the week, pauses counted; seeding is that of the
    cadence; plants are moved and containers washed as in a full week, since what grows now is
    for later orders. A week whose work exceeds its minutes need not be short: harvest may come
    first, and moving may wait.
    """
    scenario, seeded = timetable.scenario, {n.chain.crop: n.trays_seeded for n in needs}
    due: list[dict[str, float]] = [defaultdict(float) for _ in range(timetable.weeks)]
    for leaving in leavings:
        if (week := week_of(timetable, leaving.time)) is not None:
            due[week][leaving.crop] += leaving.heads
    found = []
    for staffing, heads in zip(weekly_staffing(timetable), due, strict=True):
        days = check_days(timetable, staffing)
        work = weekly_work(scenario, needs, trays=seeded, harvested=heads, check_days=days)
        found.append(WeekBalance(staffing, tuple(work), tightest(scenario, staffing.minutes, work)))
    return found
