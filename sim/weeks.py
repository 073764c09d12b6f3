"""Rows to weekly tables over the measuring window; the rows are given in order of time."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from operator import itemgetter
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from sim.measures import WORK, Frame, within
from sim.records import CAUSE, CONTAINERS, COUNT, CREW, MINUTES, PLACE, TIME, TO, Number, Row
from sim.timetable import Timetable

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Kinds = dict[str, list[Row]]
Signed = tuple[int, list[Row]]  # +1 or -1, and rows that add to a level or take from it

_time = itemgetter(TIME)

COUNTS: dict[str, tuple[str, Number]] = {
    "heads ordered": ("due", COUNT),
    "heads short": ("short", COUNT),
    "cells seeded": ("seeded", COUNT),
    "trays seeded": ("seeded", CONTAINERS),
    "trays missed": ("missed", CONTAINERS),
    "plants moved": ("moved", COUNT),
    "heads harvested": ("harvested", COUNT),
    "surplus heads": ("surplus", COUNT),
    "plants lost": ("lost", COUNT),
    "plants dumped": ("dumped", COUNT),
}


def weekly_sums(rows: list[Row], column: Number, frame: Frame) -> Floats:
    """Sums of one column by week of the window, shape [weeks]."""
    sums, start = [0.0] * frame.weeks, frame.start
    for row in within(rows, frame):
        sums[int(row[TIME] - start) // 7] += row[column]
    return np.array(sums)


def weekly_counts(kinds: Kinds, frame: Frame) -> dict[str, Floats]:
    """What happened in each week, by name of the count, each of shape [weeks]."""
    table = {name: weekly_sums(kinds[k], column, frame) for name, (k, column) in COUNTS.items()}
    table["heads delivered"] = table["heads ordered"] - table["heads short"]
    return table


def crews_work(kinds: Kinds, frame: Frame) -> dict[tuple[str, str], Floats]:
    """Person-minutes by (crew, kind of work), and "staffed" ones there were [min], by week."""
    table, start = {}, frame.start
    for kind, work in (*WORK.items(), ("shift", "staffed")):
        crews: defaultdict[str, list[float]] = defaultdict(lambda: [0.0] * frame.weeks)
        for row in within(kinds[kind], frame):
            crews[row[CREW]][int(row[TIME] - start) // 7] += row[MINUTES]
        for crew, minutes in crews.items():
            table[crew, work] = np.array(minutes)
    return table


def together(work: dict[tuple[str, str], Floats], frame: Frame) -> dict[str, Floats]:
    """The work of all crews, by kind of work."""
    table = {name: np.zeros(frame.weeks) for name in (*WORK.values(), "staffed")}
    for (_, name), minutes in work.items():
        table[name] += minutes
    return table


def weekly_work(kinds: Kinds, frame: Frame) -> dict[str, Floats]:
    """Person-minutes worked by kind of work, and "staffed" ones there were [min], by week."""
    return together(crews_work(kinds, frame), frame)


def by_cause(rows: list[Row], frame: Frame) -> dict[tuple[str, str], int]:
    """Counts in the window by (place, cause)."""
    total: dict[tuple[str, str], int] = {}
    for row in within(rows, frame):
        key = row[PLACE], row[CAUSE]
        total[key] = total.get(key, 0) + row[COUNT]
    return total


def short_causes(kinds: Kinds, frame: Frame) -> dict[tuple[int, str], int]:
    """Heads short in the window by (week, cause)."""
    total: dict[tuple[int, str], int] = {}
    for row in within(kinds["short"], frame):
        key = int(row[TIME] - frame.start) // 7, row[CAUSE]
        total[key] = total.get(key, 0) + row[COUNT]
    return total


def weekly_plants(kinds: Kinds, frame: Frame, places: Sequence[str]) -> Floats:
    """Mean number of plants standing in each place, shape [places, weeks]."""
    means = []
    for name in places:
        changes = [(1, _rows_of(kinds["moved"], TO, name))]
        changes += [(1, _rows_of(kinds[kind], PLACE, name)) for kind in ("seeded", "standing")]
        for kind in ("moved", "lost", "harvested", "dumped"):
            changes.append((-1, _rows_of(kinds[kind], PLACE, name)))
        means.append(_weekly_mean(changes, COUNT, frame))
    return np.array(means)


def weekly_containers(kinds: Kinds, frame: Frame, places: Sequence[str]) -> Floats:
    """Mean number of containers not free (holding plants, to be cleaned or resting) in each
    place, shape [places, weeks].
    """  # noqa: D205 - one sentence
    means = []
    for name in places:
        changes = [(1, _rows_of(kinds["moved"], TO, name))]
        changes += [(1, _rows_of(kinds[kind], PLACE, name)) for kind in ("seeded", "standing")]
        changes.append((-1, _rows_of(kinds["freed"], PLACE, name)))
        means.append(_weekly_mean(changes, CONTAINERS, frame))
    return np.array(means)


def _rows_of(rows: list[Row], column: Literal[4, 5], place: str) -> list[Row]:
    return [row for row in rows if row[column] == place]


def _weekly_mean(changes: list[Signed], column: Literal[8, 9], frame: Frame) -> Floats:
    """Weekly means of a level from the rows that change it, shape [weeks]."""
    start = frame.start
    steps = [0] * (frame.weeks + 1)  # changes before each week's beginning
    areas = [0.0] * frame.weeks  # what a week's own changes add to it, times the days left
    for sign, rows in changes:
        first = bisect_left(rows, start, key=_time)
        last = bisect_left(rows, frame.end, first, key=_time)
        steps[0] += sign * sum([row[column] for row in rows[:first]])
        for row in rows[first:last]:
            day = row[TIME] - start
            week = int(day) // 7
            change = sign * row[column]
            steps[week + 1] += change
            areas[week] += change * (7 * week + 7 - day)
    levels = np.cumsum(steps[:-1], dtype=np.float64)
    return np.asarray(levels + np.array(areas) / 7.0, dtype=np.float64)


def weeks_table(kinds: Kinds, timetable: Timetable) -> pd.DataFrame:
    """One year week by week: a row per week of the window, dated by its Monday."""
    import pandas as pd  # noqa: PLC0415 - slow to import, needed for tables only

    frame = Frame.of(timetable)
    mondays = [timetable.week_monday(week) for week in range(frame.weeks)]
    table = pd.DataFrame(weekly_counts(kinds, frame), index=pd.Index(mondays, name="week of"))
    for name, minutes in weekly_work(kinds, frame).items():
        table[f"{name} [person-min]"] = minutes
    places = list(timetable.scenario.places)
    for name, plants in zip(places, weekly_plants(kinds, frame, places), strict=True):
        table[f"plants in {name}"] = plants
    for name, held in zip(places, weekly_containers(kinds, frame, places), strict=True):
        table[f"containers taken in {name}"] = held
    return table
