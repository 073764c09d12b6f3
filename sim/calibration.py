"""A season's records to the numbers of a scenario: measured, with intervals, or kept, and why.

A mean share is drawn towards the scenario's own value, which is worth one batch (one shift for
people absent) and moves by half of what the other crops in that place show; a mean length is drawn
towards the scenario's alone. A spread's own value is worth three batches, a rare event's share the
batches that hold one hit at the scenario's share. Minutes are as timed. Below the least numbers of
records of `calibration_numbers` a number is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.calibration_lengths import CHECKED, misfits
from sim.calibration_numbers import (
    LEAST_SHIFTS,
    LEAST_TIMED,
    Number,
    Weights,
    effect,
    kept,
    most_open,
    rounded,
    weights_of,
)
from sim.calibration_seen import Season, StandCount
from sim.calibration_shares import Tally, shares
from sim.calibration_stage_numbers import stage_numbers
from sim.calibration_stages import LEAST_FOR_SHAPE, StageFound, stages_of
from sim.calibration_toml import Change
from sim.calibration_work import attendance_of, days_of, minutes_each, sessions_of
from sim.errors import RecordsError
from sim.parts import WEEKDAYS
from sim.records import Row
from sim.timetable import Timetable

_SCHOOL_DAYS = 5  # of a week
_TWICE = "two of its stages stand in one place, so that rows do not tell which"


@dataclass(frozen=True)
class Calibration:
    """What a season's records say of a scenario.

    `numbers` are in the order of stages, tasks and crews; `most_open` is the one that leaves most
    open, and how much [%]. `first_day` and `last_day` of the records are days since the run's
    first. `notes` say what was taken for granted.
    """

    timetable: Timetable
    stages: tuple[StageFound, ...]
    numbers: tuple[Number, ...]
    weights: Weights
    most_open: tuple[Number, float] | None
    rows: int
    first_day: int
    last_day: int
    notes: tuple[str, ...]

    def effect(self, number: Number) -> float:
        """What the new value changes, by proportion [% of what its kind touches]."""
        return effect(number, number.new, self.weights, self.timetable)

    def changes(self) -> list[Change]:
        """What a new scenario is to say."""
        found = [Change(n.path, n.new, n.source) for n in self.numbers if n.moved]
        for one in self.stages:
            if one.moved_shape:
                note = f"fits best here, n = {one.seen.lengths.ended} batches"
                found.append(Change((*one.path, "days_shape"), one.better, note))
        return found


def calibrate(
    timetable: Timetable, rows: Sequence[Row], stands: Sequence[StandCount] = ()
) -> Calibration:
    """What the rows of a season, in order of time, and counted stands say of its scenario.

    Raises RecordsError if there are no rows.
    """
    if not rows:
        raise RecordsError(
            "The records hold no rows that can be used; write down seedings, moves, losses and "
            "harvests with their dates, and try again."
        )
    season = Season.of(rows, stands, timetable)
    stages = stages_of(season)
    doubled = _doubled(timetable)
    numbers: list[Number] = []
    for one in stages:
        of_stage = stage_numbers(one)
        if one.crop in doubled:
            of_stage = [kept(n.path, n.kind, n.where, n.old, _TWICE) for n in of_stage]
        numbers += of_stage
    stages = [one for one in stages if one.crop not in doubled]
    numbers += [*_minutes(timetable, rows), *_absence(timetable, rows)]
    weights = weights_of(rows, timetable)
    return Calibration(
        timetable, tuple(stages), tuple(numbers), weights,
        most_open(numbers, weights, timetable), len(rows), *days_of(rows),
        tuple(_notes(timetable, rows, stages)),
    )  # fmt: skip


def _doubled(timetable: Timetable) -> set[str]:
    """Crops of which two stages stand in one place."""
    crops = timetable.scenario.crops.items()
    return {name for name, c in crops if len({s.place for s in c.stages}) < len(c.stages)}


def _minutes(timetable: Timetable, rows: Sequence[Row]) -> list[Number]:
    timed, found = sessions_of(rows, timetable), []
    for name, task in timetable.scenario.tasks.items():
        path, old = ("tasks", name, "minutes_each"), task.minutes_each
        count = len(timed[name].units) if name in timed else 0
        if count < LEAST_TIMED:
            why = f"timed in {_shifts(count)}, at least {LEAST_TIMED} are needed"
            found.append(kept(path, "minutes", name, old, why, count=count, of="shifts"))
            continue
        of = minutes_each(timed[name], task.setup_minutes)
        if of.each <= 0.0:
            why = "the minutes written are no more than those of setting up"
            found.append(kept(path, "minutes", name, old, why, count=count, of="shifts"))
            continue
        new = min(rounded("minutes", of.each), 1440.0)
        found.append(Number(path, "minutes", name, old, new, of.low, of.high, count, "shifts"))
    return found


def _absence(timetable: Timetable, rows: Sequence[Row]) -> list[Number]:
    seen, found = attendance_of(rows, timetable.scenario), []
    for name, crew in timetable.scenario.crews.items():
        path, old = ("crews", name, "absent_percent"), crew.absent_percent
        count = len(seen[name].people) if name in seen else 0
        if count < LEAST_SHIFTS:
            why = f"people counted in {_shifts(count)}, at least {LEAST_SHIFTS} are needed"
            found.append(kept(path, "absence", name, old, why, count=count, of="shifts"))
            continue
        of = seen[name]
        people, absent = np.array(of.people, float), np.array(of.absent, float)
        (share,) = shares([Tally(people, absent, old / 100.0)])
        mean, low, high = (100.0 * s for s in (share.mean, share.low, share.high))
        new = rounded("absence", mean)
        found.append(Number(path, "absence", name, old, new, low, high, count, "shifts"))
    return found


def _shifts(count: int) -> str:
    return f"{count or 'no'} {'shift' if count < 2 else 'shifts'}"


def _notes(timetable: Timetable, rows: Sequence[Row], stages: Sequence[StageFound]) -> list[str]:
    """What was taken for granted, and what could not be used."""
    notes = []
    for one in stages:
        seen, here = one.seen, f"{one.where}: "
        if seen.told_by == "moved" and seen.lengths.ended:
            notes.append(
                f"{here}no row says when plants were ready; they were taken to be moved at the "
                "first visit with room and minutes to spare."
            )
        if seen.guessed:
            notes.append(
                f"{here}plants that no row tells of were taken as lost before moving, in "
                f"{_batches(seen.guessed)}."
            )
        if seen.unknown and seen.batches:
            notes.append(
                f"{here}{_batches(seen.unknown)} left out: what became of all the plants is not "
                "written down."
            )
        notes += _odd_notes(one)
        if one.length and seen.told_by == "ready":
            notes += _looking_notes(one)
        notes += _shape_notes(one)
    over = {c: of.over for c, of in attendance_of(rows, timetable.scenario).items() if of.over}
    for crew, count in over.items():
        notes.append(f"{crew}: in {_shifts(count)} more people came than the scenario has.")
    return notes


def _odd_notes(one: StageFound) -> list[str]:
    """Batches of which the rows cannot be right, or not whole."""
    notes = []
    if one.seen.forgotten:
        notes.append(
            f"{one.where}: {_batches(one.seen.forgotten)} came long ago, and no row says what "
            "became of all the plants; the days were told without."
        )
    of = one.length
    if of and (odd := misfits(of.shape, one.seen.lengths, of.mean, of.sd)):
        notes.append(
            f"{one.where}: the days of {_batches(odd)} are far from all others and count for "
            "nothing; are their dates right, and are all moves written down?"
        )
    return notes


def _looking_notes(one: StageFound) -> list[str]:
    """When people looked whether plants were ready, and what moves told beside them."""
    seen, notes = one.seen, []
    if len(seen.weekdays) < _SCHOOL_DAYS:
        days = ", ".join(WEEKDAYS[day] for day in seen.weekdays)
        notes.append(
            f"{one.where}: looked at on {days} only, the weekdays of the rows that say ready; "
            'write "ready" with 0 on other days when you look and none is.'
        )
    if seen.by_moves:
        notes.append(
            f"{one.where}: of {_batches(seen.by_moves)} no row says when they were ready; they "
            "were taken to be moved at the first visit with room and minutes to spare."
        )
    return notes


def _batches(count: int) -> str:
    return f"{count} {'batch' if count == 1 else 'batches'}"


def _shape_notes(one: StageFound) -> list[str]:
    """What is to be said where another shape fits the lengths much better."""
    if not one.better or one.moved_shape:
        return []
    own, better = (one.shapes[s].aic for s in (one.stage.days_shape, one.better))
    fits = f"{one.where}: the {one.better} shape fits the days much better (AIC {own - better:.1f} "
    if one.better == CHECKED:
        return [f"{fits}lower), but a scenario cannot say it; its mean and spread are right."]
    least = f"from {one.seen.lengths.ended} batches no shape is changed, from {LEAST_FOR_SHAPE} on"
    return [f"{fits}lower), but {least} it is."]
