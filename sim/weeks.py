"""Rows to weekly tables over the measuring window."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.measures import WORK, Frame
from sim.records import CAUSE, CONTAINERS, COUNT, CREW, MINUTES, PLACE, TIME, TO, Number, Row
from sim.timetable import Timetable

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]


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
    sums = [0.0] * frame.weeks
    start, end = frame.start, frame.end
    for row in rows:
        if start <= row[TIME] < end:
            sums[int((row[TIME] - start) // 7)] += row[column]
    return np.array(sums)


def weekly_counts(kinds: dict[str, list[Row]], frame: Frame) -> dict[str, Floats]:
    """What happened in each week, by name of the count, each of shape [weeks]."""
    table = {name: weekly_sums(kinds[k], column, frame) for name, (k, column) in COUNTS.items()}
    table["heads delivered"] = table["heads ordered"] - table["heads short"]
    return table


def weekly_work(kinds: dict[str, list[Row]], frame: Frame) -> dict[str, Floats]:
    """Person-minutes worked by kind of work, and "staffed" ones there were [min], by week."""
    table = {work: weekly_sums(kinds[kind], MINUTES, frame) for kind, work in WORK.items()}
    table["staffed"] = weekly_sums(kinds["shift"], MINUTES, frame)
    return table


def work_by_crew(kinds: dict[str, list[Row]], frame: Frame) -> dict[tuple[str, str], float]:
    """Person-minutes in the window by (crew, kind of work), "staffed" included [min]."""
    total: dict[tuple[str, str], float] = defaultdict(float)
    for kind, work in (*WORK.items(), ("shift", "staffed")):
        for row in kinds[kind]:
            if frame.start <= row[TIME] < frame.end:
                total[row[CREW], work] += row[MINUTES]
    return total


def by_cause(rows: list[Row], frame: Frame, *, places: bool = True) -> Counter[tuple[str, str]]:
    """Counts in the window by (place, cause)."""
    total: Counter[tuple[str, str]] = Counter()
    for row in rows:
        if frame.start <= row[TIME] < frame.end:
            total[row[PLACE] if places else "", row[CAUSE]] += row[COUNT]
    return total


def short_causes(kinds: dict[str, list[Row]], frame: Frame) -> Counter[tuple[int, str]]:
    """Heads short in the window by (week, cause)."""
    total: Counter[tuple[int, str]] = Counter()
    for row in kinds["short"]:
        if frame.start <= row[TIME] < frame.end:
            total[int((row[TIME] - frame.start) // 7), row[CAUSE]] += row[COUNT]
    return total


def weekly_plants(kinds: dict[str, list[Row]], frame: Frame, places: list[str]) -> Floats:
    """Mean number of plants standing in each place, shape [places, weeks]."""
    changes: dict[str, list[tuple[float, int]]] = {name: [] for name in places}
    for row in kinds["moved"]:
        changes[row[TO]].append((row[TIME], row[COUNT]))
    for kind, sign in (
        ("seeded", 1),
        ("moved", -1),
        ("lost", -1),
        ("harvested", -1),
        ("dumped", -1),
    ):
        for row in kinds[kind]:
            if row[PLACE] in changes:
                changes[row[PLACE]].append((row[TIME], sign * row[COUNT]))
    return np.array([_weekly_mean(changes[name], frame) for name in places])


def weekly_containers(kinds: dict[str, list[Row]], frame: Frame, places: list[str]) -> Floats:
    """Mean number of containers not free (holding plants, to be cleaned or resting) in each
    place, shape [places, weeks].
    """  # noqa: D205 - one sentence
    changes: dict[str, list[tuple[float, int]]] = {name: [] for name in places}
    for row in kinds["moved"]:
        changes[row[TO]].append((row[TIME], row[CONTAINERS]))
    for kind, sign in (("seeded", 1), ("freed", -1)):
        for row in kinds[kind]:
            changes[row[PLACE]].append((row[TIME], sign * row[CONTAINERS]))
    return np.array([_weekly_mean(changes[name], frame) for name in places])


def _weekly_mean(changes: list[tuple[float, int]], frame: Frame) -> Floats:
    """Weekly means of a level from its changes (time [d], change), shape [weeks]."""
    if not changes:
        return np.zeros(frame.weeks)
    times, steps = np.array(changes).T
    edges = frame.start + 7.0 * np.arange(frame.weeks + 1)
    # the integral of the level up to each edge: every change counts from its time on
    reached = np.maximum(edges[None, :] - times[:, None], 0.0)
    return np.asarray(np.diff(steps @ reached) / 7.0, dtype=np.float64)


def weeks_table(kinds: dict[str, list[Row]], timetable: Timetable) -> pd.DataFrame:
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
