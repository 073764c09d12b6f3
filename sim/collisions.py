"""Where the cadence meets the calendar: what comes ready when nobody is there. No luck.

Dates are those at mean lengths, the pace of the months included: a batch is early about as often
as it is late.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import floor
from typing import Literal

from sim.order_book import Leaving
from sim.parts import MONTHS, Crop, Stage
from sim.school_year import clock, weekday
from sim.seeding import PlannedSeeding, planned_seedings
from sim.timetable import Timetable


@dataclass(frozen=True, slots=True)
class Collision:
    """A step of a batch that comes due on a day when nobody who may do it is there.

    `task` is the step's; `why` is the name of the closure on the day `due`, or "nobody there".
    `next_staffed` is the first day after it on which somebody is there, `waiting` the days till
    then, both None if there is none in the run. `lost` says that the plants' keep_days are over
    by then: overgrown, or over-mature.
    """

    batch: str
    crop: str
    trays: int
    seeded: date
    task: str
    due: date
    why: str
    next_staffed: date | None
    waiting: int | None
    lost: bool


def collisions(timetable: Timetable, seedings: Iterable[PlannedSeeding]) -> list[Collision]:
    """The collisions of a dated seeding list, in its order.

    A seeding by hand on a day without anybody waits up to `late_days`; what waits longer is
    missed and left out. So are steps after the end of the run or after the plants were lost.
    """
    found = []
    for seeding in seedings:
        crop = timetable.scenario.crops[seeding.crop]
        seeded = _next_staffed(timetable, crop.stages[0].moved_in_by, seeding.day)
        if seeded is None or seeded - seeding.day > timetable.scenario.cadence.late_days:
            continue
        for step in _steps(timetable, crop, seeded):
            if step.task is not None and step.done != step.due:
                found.append(_collision(timetable, seeding, seeded, step.task, step))
    return found


def _collision(
    timetable: Timetable, seeding: PlannedSeeding, seeded: int, task: str, step: _Step
) -> Collision:
    due, done = timetable.date_of(step.due), step.done
    return Collision(
        seeding.batch,
        seeding.crop,
        seeding.trays,
        timetable.date_of(seeded),
        task,
        due,
        timetable.school_year.closure(due) or "nobody there",
        None if done is None else timetable.date_of(done),
        None if done is None else done - step.due,
        step.lost,
    )


@dataclass(frozen=True, slots=True)
class _Step:
    """A move or the harvest of a batch: the day it is due and the day it is done [d]."""

    task: str | None
    due: int
    done: int | None
    lost: bool


def _steps(timetable: Timetable, crop: Crop, seeded: int) -> list[_Step]:
    """The steps of plants seeded on a day, until one is not done."""
    steps: list[_Step] = []
    placed = seeded
    tasks = [*(stage.moved_in_by for stage in crop.stages[1:]), crop.harvested_by]
    for stage, task in zip(crop.stages, tasks, strict=True):
        due = finished(timetable, stage, placed)
        if due >= timetable.days:
            break
        done = _next_staffed(timetable, task, due)
        waited = (timetable.days if done is None else done) - due
        lost = stage.keep_days is not None and waited >= stage.keep_days
        steps.append(_Step(task, due, done, lost))
        if lost or done is None:
            break
        placed = done
    return steps


def finished(timetable: Timetable, stage: Stage, placed: int) -> int:
    """The day on which plants placed on day `placed` finish a stage of mean length [d].

    The pace of the months is added up day by day until it reaches the length, and rounded to
    whole days after that, at least one (rules C3, C4).
    """
    reached, days = 0.0, 0
    while True:
        month = MONTHS[timetable.date_of(placed + days).month - 1]
        pace = stage.pace_percent.get(month, 100.0) / 100.0
        if reached + pace >= stage.days:
            return placed + max(1, floor(days + (stage.days - reached) / pace + 0.5))
        reached += pace
        days += 1


def _next_staffed(timetable: Timetable, task: str | None, day: int) -> int | None:
    """The first day from `day` on with somebody who may do the task, within the run."""
    days = range(day, timetable.days)
    return next((number for number in days if timetable.staffed(task, number)), None)


@dataclass(frozen=True, slots=True)
class Change:
    """What the break rule did to a planned seeding.

    `to` is the date it moved to, or that of the seeding it was added to; None if skipped.
    """

    crop: str
    planned: date
    trays: int
    what: Literal["moved", "merged", "skipped"]
    to: date | None


def changes(
    timetable: Timetable, leavings: list[Leaving], seedings: Sequence[PlannedSeeding]
) -> list[Change]:
    """The planned seedings that the break rule moved, merged or skipped, in order of day.

    `seedings` is the dated list that came of the cadence (`seeding.seeding_list`).
    """
    merging = timetable.scenario.cadence.break_rule == "seed more before"
    actual = {(s.crop, s.week, s.entry): s for s in seedings}
    kept: dict[str, date] = {}
    found = []
    for plan in planned_seedings(timetable, leavings):
        day, done = timetable.date_of(plan.day), actual.get((plan.crop, plan.week, plan.entry))
        if done is not None:
            kept[plan.crop] = timetable.date_of(done.day)
            if done.day != plan.day:
                found.append(Change(plan.crop, day, plan.trays, "moved", kept[plan.crop]))
        elif merging and plan.crop in kept:
            found.append(Change(plan.crop, day, plan.trays, "merged", kept[plan.crop]))
        else:
            found.append(Change(plan.crop, day, plan.trays, "skipped", None))
    return found


def last_seeding_for(timetable: Timetable, crop: str, day: date) -> date | None:
    """The latest date on which a seeding is still ready for a delivery on that day.

    Seeding, moves and harvest each need somebody there; moves wait for the next staffed day,
    plants that wait too long are lost. Harvest must be in a shift inside the keep limit, before
    the crop's first leaving of that weekday (the day's end if none leaves). None if nobody
    can harvest then or no date in the run is early enough.
    """
    grown = timetable.scenario.crops[crop]
    harvest = _last_harvest(timetable, crop, timetable.day_of(day))
    for seeded in range(harvest, -1, -1):
        if timetable.staffed(grown.stages[0].moved_in_by, seeded):
            steps = _steps(timetable, grown, seeded)
            if len(steps) == len(grown.stages):
                waits, keep = harvest - steps[-1].due, grown.stages[-1].keep_days
                if waits >= 0 and (keep is None or waits < keep):
                    return timetable.date_of(seeded)
    return None


def _last_harvest(timetable: Timetable, crop: str, day: int) -> int:
    """The last day on which heads for a delivery on `day` can be harvested [d]; -1 if none."""
    scenario, task = timetable.scenario, timetable.scenario.crops[crop].harvested_by
    name = weekday(timetable.date_of(day))
    orders = [o for o in scenario.orders if o.crop == crop and o.heads.get(name)]
    leaves = day + min((clock(order.leaves) for order in orders), default=1.0)
    if task is None:
        return day if day < timetable.days else -1
    first = leaves - scenario.cold_store.keep_days
    shifts = (s for s in timetable.shifts if task in s.may_do)
    return max((s.day for s in shifts if s.end > first and s.start < leaves), default=-1)
