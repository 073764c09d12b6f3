"""The week's orders, the trays and minutes they take, and the minutes there are. No luck.

Minutes are those to be expected: absence and pace included. Set-up minutes are left out, since
they depend on how the work falls into shifts; so the work is the least there can be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf

from sim.order_book import Leaving
from sim.parts import CadenceLine, Order
from sim.scenario import Scenario
from sim.school_year import weekday
from sim.seeding import _trays as trays_by_weekday
from sim.timetable import Timetable
from sim.yields import Chain, chains, loads


@dataclass(frozen=True, slots=True)
class Ordered:
    """What one customer orders of one crop: heads in a full week, and as due in the window.

    `heads_per_week` leaves pauses out of account; `heads_due` and `weeks_due` do not.
    """

    crop: str
    customer: str
    heads_per_week: float
    heads_due: int
    weeks_due: int


def week_of(timetable: Timetable, time: float) -> int | None:
    """The measured week that holds a time [d], None outside the window (rule T2)."""
    inside = timetable.window_start <= time < timetable.window_end
    return int(time - timetable.window_start) // 7 if inside else None


def ordered(timetable: Timetable, leavings: Iterable[Leaving]) -> list[Ordered]:
    """The standing orders by crop and customer.

    A full week is a week of the window in which no order starts or ends between two of its
    deliveries; if there is none, every week with a delivery counts. Their mean is taken.
    """
    full, weekly = _full_weeks(timetable), Counter[tuple[str, str]]()
    for order in timetable.scenario.orders:
        heads = sum(sum(_planned(order, timetable, week)) for week in full)
        weekly[order.crop, order.customer] += heads
    due = Counter[tuple[str, str]]()
    weeks: dict[tuple[str, str], set[int]] = {}
    for leaving in leavings:
        if (week := week_of(timetable, leaving.time)) is not None:
            for delivery in leaving.deliveries:
                key = (leaving.crop, delivery.customer)
                due[key] += delivery.heads
                weeks.setdefault(key, set()).add(week)
    return [
        Ordered(*key, heads / max(1, len(full)), due[key], len(weeks.get(key, ())))
        for key, heads in weekly.items()
    ]


def _planned(order: Order, timetable: Timetable, week: int) -> list[int]:
    """The heads of each delivery in a week inside the order's dates, pauses not counted."""
    first = order.first_day or timetable.scenario.school.first_day
    last = order.last_day or timetable.scenario.school.last_day
    days = (timetable.week_monday(week) + timedelta(days=n) for n in range(7))
    inside = (order.heads.get(weekday(day), 0) for day in days if first <= day <= last)
    return [heads for heads in inside if heads]


def _full_weeks(timetable: Timetable) -> list[int]:
    """The weeks in which each order has all its deliveries or none."""
    full, some = [], []
    for week in range(timetable.weeks):
        planned = [(len(_planned(o, timetable, week)), o) for o in timetable.scenario.orders]
        if any(count for count, _ in planned):
            some.append(week)
            if all(count in (0, sum(map(bool, o.heads.values()))) for count, o in planned):
                full.append(week)
    return full or some


def heads_by_crop(orders: Iterable[Ordered]) -> dict[str, float]:
    """Heads ordered in a full week, by crop."""
    heads = Counter[str]()
    for order in orders:
        heads[order.crop] += order.heads_per_week  # type: ignore[assignment]
    return dict(heads)


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
    """What a crop's orders need in a full week, and what the cadence seeds."""

    chain: Chain
    heads_per_week: float
    transplants_per_week: float
    trays_per_week: float
    trays_seeded: float


def crop_needs(
    timetable: Timetable, orders: Iterable[Ordered], *, bad_events: bool = True
) -> list[CropNeeds]:
    """What the orders of each crop need in a full week, in the file's order of crops."""
    scenario, heads, seeded = timetable.scenario, heads_by_crop(orders), trays_seeded(timetable)
    needs = []
    for crop, of_crop in chains(scenario, bad_events=bad_events).items():
        wanted = heads.get(crop, 0.0)
        cells = of_crop.cells_for(wanted)
        tray = scenario.places[of_crop.steps[0].place].sites_each
        needs.append(
            CropNeeds(
                of_crop, wanted, cells * of_crop.transplants_per_cell, cells / tray, seeded[crop]
            )
        )
    return needs


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

    `trays` seeded and heads `harvested` are given by crop; plants are moved and containers washed
    as the orders of a full week need it. Trays are washed as they are seeded.
    """
    units = Counter[tuple[str | None, str]]()

    def add(task: str | None, kind: str, count: float) -> None:
        units[task, kind] += count  # type: ignore[assignment]

    for need in needs:
        crop = need.chain.crop
        add(scenario.crops[crop].harvested_by, "harvest", harvested.get(crop, 0.0))
        cells = {crop: need.chain.cells_for(need.heads_per_week)}
        stages = scenario.crops[crop].stages
        for number, load in enumerate(loads(scenario, {crop: need.chain}, cells)):
            containers = load.containers_per_week if number else trays.get(crop, 0.0)
            count, kind = (load.plants_per_week, "moving") if number else (containers, "seeding")
            add(stages[number].moved_in_by, kind, count)
            add(scenario.places[load.step.place].washed_by, "washing", containers)
    add(scenario.daily_checks_by, "daily checks", check_days)
    return [
        Work(task, kind, count, count * scenario.tasks[task].minutes_each)
        for (task, kind), count in units.items()
        if task is not None
    ]
