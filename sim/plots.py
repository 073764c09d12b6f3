"""Tables to pictures.

Each picture is a function that takes an Axes and data, draws, and returns the Axes; no pyplot.
Dates lie on matplotlib's axis of dates, so that a date can be added to any picture as it is.
All pictures can be read in black and white.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from functools import wraps
from io import BytesIO
from math import floor
from typing import Any, Concatenate, ParamSpec

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sim.measures import WORK, sites_of
from sim.plots_page import (
    BLUE, DARK_FILLS, INK, LIGHT_FILLS, LINES, PALE, STYLE, WORK_FILLS, amount_axis, beside,
    date_axis, day_label, key, note, number_of, percent_axis, shown, title,
)  # fmt: skip
from sim.records import BATCH, CAUSE, COUNT, CROP, KIND, PLACE, TIME, TO, Row
from sim.replications import Years
from sim.timetable import Timetable
from sim.weeks import Floats
from sim.year import Year

WEEK = "week, by its Monday [date]"
TARGET = 0.85  # share of years in which a week is to be met, unless another is given

P = ParamSpec("P")
Draw = Callable[Concatenate[Axes, P], Axes]


def _styled(draw: Draw[P]) -> Draw[P]:
    """Draw with the fonts and lines of `STYLE`, whatever the settings outside are."""

    @wraps(draw)
    def styled(ax: Axes, *args: P.args, **kwargs: P.kwargs) -> Axes:
        with rc_context(STYLE):
            return draw(ax, *args, **kwargs)

    return styled


def _edges(timetable: Timetable) -> Floats:
    """Mondays 00:00 that bound the weeks of the window, on the axis of dates, [weeks + 1]."""
    return number_of(timetable.week_monday(0)) + 7.0 * np.arange(timetable.weeks + 1)


def _week_axis(ax: Axes, timetable: Timetable) -> Floats:
    edges = _edges(timetable)
    date_axis(ax, float(edges[0]), float(edges[-1]), WEEK)
    return edges


@_styled
def ordered_and_delivered(ax: Axes, years: Years) -> Axes:
    """Draw heads ordered and delivered by week [heads].

    Ordered as an outline; delivered as the mean over the years with their 5-95 % range.
    """
    edges = _week_axis(ax, years.timetable)
    ordered = years.weekly["heads ordered"].mean(axis=0)
    delivered = years.weekly["heads delivered"]
    low, high = np.quantile(delivered, [0.05, 0.95], axis=0)
    band = ax.stairs(high, edges, baseline=low, fill=True, color=PALE, zorder=1.5)
    outline = ax.stairs(ordered, edges, baseline=0, color=INK, linewidth=1.1)
    (mean,) = ax.plot(
        edges[:-1] + 3.5, delivered.mean(axis=0), color=BLUE, linewidth=0.8,
        marker="o", markersize=4, markeredgecolor="white", markeredgewidth=0.5, zorder=3,
    )  # fmt: skip
    amount_axis(ax, max(ordered.max(), high.max()), "heads each week [heads]")
    if not ordered.any():
        note(ax, "nothing is ordered in these weeks")
    entries: list[tuple[Artist, str]] = [
        (outline, "ordered"),
        (mean, f"delivered, mean of {_years(years.count)}"),
    ]
    if years.count > 1:
        entries.append((band, "delivered, 5-95 % of the years"))
    key(ax, entries)
    title(ax, "Heads ordered and delivered each week", years.timetable)
    return ax


def _years(count: int) -> str:
    return "one simulated year" if count == 1 else f"{count:,} simulated years"


@_styled
def weeks_met(ax: Axes, years: Years, target: float = TARGET) -> Axes:
    """Draw the share of years in which each week was met [%]; weeks below `target` stand out.

    A week is met when every delivery due in it was complete; a week without one has no bar.
    """
    edges, share = _week_axis(ax, years.timetable), years.met_share
    percent_axis(ax, "years in which the week is met [%]")
    weak = share < target
    entries: list[tuple[Artist, str]] = []
    for these, color, text in (
        (share >= target, PALE, f"met in at least {_percent(target)} of {_years(years.count)}"),
        (weak, INK, f"weak: met in less than {_percent(target)}"),
    ):
        bars = ax.bar(
            edges[:-1][these] + 3.5, 100 * share[these], 5.6,
            color=color, edgecolor=INK, linewidth=0.5,
        )  # fmt: skip
        if these.any():
            entries.append((Patch(facecolor=color, edgecolor=INK, linewidth=0.5), text))
    (line,) = ax.plot(edges[[0, -1]], [100 * target] * 2, color=BLUE, linewidth=1.2, dashes=(5, 2))
    entries.append((line, f"target: {_percent(target)}"))
    _name_weak(ax, years.timetable, share, weak)
    idle = np.isnan(share)
    if idle.all():
        note(ax, "nothing is ordered in these weeks")
    elif idle.any():
        (dash,) = ax.plot(
            edges[:-1][idle] + 3.5, np.full(idle.sum(), 1.5), "_", color=INK, markersize=5
        )
        entries.append((dash, "nothing due"))
    key(ax, entries, columns=4)
    title(ax, "In how many years each week's orders are met", years.timetable)
    return ax


def _percent(share: float) -> str:
    """A share as percent, rounded down to a tenth so that a miss never looks like a hit."""
    return f"{floor(1000 * share + 1e-6) / 10:g} %"


def _name_weak(ax: Axes, timetable: Timetable, share: Floats, weak: Any) -> None:
    """Label weak weeks with date and share, the weakest first, as far as there is room."""
    room = 72 / 52  # a label in every week of a year of 52 weeks, but no closer
    taken: list[int] = []
    for week in sorted(np.flatnonzero(weak), key=lambda n: share[n]):
        if all(abs(week - other) * 72 / timetable.weeks >= room for other in taken):
            taken.append(week)
            inside = share[week] > 0.35
            ax.text(
                number_of(timetable.week_monday(int(week))) + 3.5,
                100 * share[week] + (-1.5 if inside else 1.5),
                f"{day_label(timetable.week_monday(int(week)))}: {_percent(share[week])}",
                rotation=90, fontsize=7, ha="center", va="top" if inside else "bottom",
                color="white" if inside else INK,
            )  # fmt: skip


@_styled
def batch_staircase(ax: Axes, year: Year) -> Axes:
    """Draw where each batch of one year is, day by day; one row per batch, the first on top.

    A batch is in a place from its first plant's coming to its last one's leaving; while it is in
    two places, its row is split. Marks show the end of the harvest and plants dumped.
    """
    timetable = year.timetable
    stays, order = _stays(year)
    zero = number_of(timetable.start)
    times = [t for stay in stays.values() for t in stay] or [0.0, float(timetable.days)]
    date_axis(ax, zero + floor(min(times)), zero + max(times) + 1, "day [date]")
    fills = _place_fills(timetable)
    shapes: dict[str, list[Any]] = defaultdict(list)
    before: tuple[str, float] = ("", 0.0)
    for (batch, place), (start, end) in stays.items():
        left = before[1] if before[0] == batch else start
        shapes[place].append(_bar(order[batch], zero + start, zero + left, zero + end))
        before = batch, end
    entries: list[tuple[Artist, str]] = []
    for place, fill in fills.items():
        ax.add_collection(PolyCollection(shapes[place], linewidth=0, **fill), autolim=False)
        entries.append((Patch(linewidth=0.5, **fill), shown(place)))
    ax.set_ylim(max(len(order), 1), 0)
    entries += _marks(ax, year, order, zero)
    key(ax, entries)
    ax.set_ylabel("batch, in order of seeding [number]")
    title(ax, "Where each batch is, day by day, in one simulated year", timetable)
    return ax
