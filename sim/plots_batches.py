"""The picture of one simulated year: where each batch is, day by day."""

from __future__ import annotations

from collections import defaultdict
from itertools import cycle
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from sim.plots_page import (
    INK,
    Look,
    by_place,
    date_axis,
    key,
    note,
    number_of,
    shown,
    styled,
    title,
)
from sim.records import BATCH, COUNT, CROP, KIND, PLACE, TIME, TO, Row
from sim.year import Year

LIGHT: tuple[Look, ...] = (
    {"facecolor": "#c3d7ea", "edgecolor": INK, "hatch": ""},
    {"facecolor": "white", "edgecolor": INK, "hatch": "//////"},
    {"facecolor": "#ead9b5", "edgecolor": INK, "hatch": "......"},
)
DARK: tuple[Look, ...] = (
    {"facecolor": "#2d5a86", "edgecolor": INK, "hatch": ""},
    {"facecolor": "#8a6a2f", "edgecolor": "white", "hatch": "\\\\\\\\\\\\"},
    {"facecolor": "#333333", "edgecolor": "white", "hatch": "......"},
)
ENDS = "os^Dvph"  # where the harvest of a batch ends, a mark for each crop
LEAVING = ("moved", "lost", "harvested", "dumped")

Stay = tuple[str, str, float, float]
Outline = list[tuple[float, float]]


def stays(year: Year) -> list[Stay]:
    """Batch, place, coming of its first plant and leaving of its last one [d].

    Sorted by batch in order of seeding, then by coming. What has not left by the end of the
    run leaves then.
    """
    levels: dict[tuple[str, str], list[tuple[float, int]]] = defaultdict(list)
    order: dict[str, int] = {}
    places = year.timetable.scenario.places
    for row in year.events:
        if row[KIND] == "seeded":
            order.setdefault(row[BATCH], len(order))
            levels[row[BATCH], row[PLACE]].append((row[TIME], row[COUNT]))
        elif row[KIND] in LEAVING and row[PLACE] in places:
            levels[row[BATCH], row[PLACE]].append((row[TIME], -row[COUNT]))
        if row[KIND] == "moved":
            levels[row[BATCH], row[TO]].append((row[TIME], row[COUNT]))
    found = [
        (batch, place, changes[0][0], _end(changes, float(year.timetable.days)))
        for (batch, place), changes in levels.items()
    ]
    return sorted(found, key=lambda stay: (order[stay[0]], stay[2]))


def _end(changes: list[tuple[float, int]], never: float) -> float:
    return changes[-1][0] if sum(change for _, change in changes) == 0 else never


@styled
def batch_staircase(ax: Axes, year: Year) -> Axes:
    """Draw where each batch of one year is, day by day: a row per batch, the first on top.

    A batch is in a place from its first plant's coming to its last one's leaving; while it is in
    two places its row is split. Marks show where its harvest ends and where plants are dumped.
    """
    found = stays(year)
    rows = {batch: n for n, batch in enumerate(dict.fromkeys(stay[0] for stay in found))}
    date_of = year.timetable.date_of
    first = min((stay[2] for stay in found), default=0.0)
    last = max((stay[3] for stay in found), default=float(year.timetable.days))
    date_axis(ax, date_of(first), date_of(last + 2), "day [date]")
    ax.set_ylim(max(len(rows), 1) + 1, 0)
    ticks = MaxNLocator(10, integer=True, steps=[1, 2, 5, 10]).tick_values(1, max(len(rows), 2))
    ax.set_yticks([tick for tick in sorted({1, *ticks}) if 1 <= tick <= len(rows)])
    ax.set_ylabel("batch, in order of seeding [number]")
    if not rows:
        note(ax, "nothing is seeded")
    key(ax, _bars(ax, year, found, rows) + _marks(ax, year, rows))
    title(ax, "Where each batch is, day by day, in one simulated year", year.timetable)
    return ax


def _bars(
    ax: Axes, year: Year, found: list[Stay], rows: dict[str, int]
) -> list[tuple[Artist, str]]:
    """One collection of bars for each place."""
    zero = number_of(year.timetable.start)
    shapes: dict[str, list[Outline]] = defaultdict(list)
    half = 0.42 if len(rows) <= 200 else 0.5  # no gaps between very thin rows
    last, left = "", 0.0
    for batch, place, start, end in found:
        split = left if batch == last else start
        shapes[place].append(_bar(rows[batch] + 1, half, zero + start, zero + split, zero + end))
        last, left = batch, end
    entries: list[tuple[Artist, str]] = []
    scenario = year.timetable.scenario
    for place, fill in zip(scenario.places, by_place(scenario, DARK, LIGHT), strict=True):
        if shapes[place]:
            bars = PolyCollection(
                shapes[place], linewidth=0, antialiased=half < 0.5, label=place, zorder=2, **fill
            )
            ax.add_collection(bars, autolim=False)
            entries.append((Patch(linewidth=0.4, **fill), shown(place)))
    return entries


def _bar(row: int, half: float, start: float, split: float, end: float) -> Outline:
    """Outline of a stay, in the lower half of its row until the batch left the place before."""
    top, middle, bottom = row - half, float(row), row + half
    split = min(max(split, start), end)
    corners = [(start, middle), (split, middle), (split, top), (end, top)]
    return [*corners, (end, bottom), (start, bottom)]


def _marks(ax: Axes, year: Year, rows: dict[str, int]) -> list[tuple[Artist, str]]:
    """Marks where the harvest of a batch ends, by crop, and where plants are dumped."""
    scenario = year.timetable.scenario
    harvests = {row[BATCH]: row for row in year.events if row[KIND] == "harvested"}
    dumps = [r for r in year.events if r[KIND] == "dumped" and r[PLACE] in scenario.places]
    entries: list[tuple[Artist, str]] = []
    size = min(4.5, max(3.0, 300 / max(len(rows), 1)))
    for crop, mark in zip(scenario.crops, cycle(ENDS), strict=False):
        ends = [row for row in harvests.values() if row[CROP] == crop]
        text = "harvest ends" if len(scenario.crops) == 1 else f"{shown(crop)}: harvest ends"
        entries += _mark(ax, year, rows, ends, text, marker=mark, markersize=size)
    look = {"marker": "X", "markersize": size + 1.5, "color": "#f0b24d", "markeredgecolor": INK}
    return entries + _mark(ax, year, rows, dumps, "plants dumped", **look)


def _mark(
    ax: Axes, year: Year, rows: dict[str, int], events: list[Row], text: str, **look: Any
) -> list[tuple[Artist, str]]:
    if not events:
        return []
    zero = number_of(year.timetable.start)
    (marks,) = ax.plot(
        [zero + row[TIME] for row in events],
        [rows[row[BATCH]] + 1 for row in events],
        **{
            "color": INK, "linestyle": "none", "label": text, "markeredgecolor": "white",
            "markeredgewidth": 0.4, "zorder": 3, **look,
        },
    )  # fmt: skip
    return [(marks, text)]
