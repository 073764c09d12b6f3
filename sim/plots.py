"""Tables to pictures.

Each picture is a function that takes an Axes and data, draws, and returns the Axes; no pyplot.
Dates lie on matplotlib's axis of dates, so that a date can be added to any picture as it is.
All pictures can be read in black and white.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from math import floor, nan
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sim.measures import WORK, Frame, sites_of
from sim.plots_batches import batch_staircase, stays
from sim.plots_page import (
    BLUE,
    INK,
    PALE,
    STYLE,
    Look,
    amount_axis,
    beside,
    by_place,
    date_axis,
    day_label,
    key,
    note,
    number_of,
    percent_axis,
    shown,
    styled,
    title,
)  # fmt: skip
from sim.replications import Years
from sim.timetable import Timetable
from sim.weeks import Floats
from sim.year import Year

__all__ = [
    "batch_staircase", "figures", "ordered_and_delivered", "png_bytes", "sites_filled",
    "svg_bytes", "weeks_met", "work_and_staffing",
]  # fmt: skip

WEEK = "week, by its Monday [date]"
TARGET = 0.85  # share of years in which a week is to be met, unless another is given
WORK_FILLS: tuple[Look, ...] = (  # in the order of `WORK`, neighbors differ in lightness
    {"facecolor": "#333f4d", "edgecolor": "#333f4d"},
    {"facecolor": "#b9d0e6", "edgecolor": INK},
    {"facecolor": "#35699c", "edgecolor": INK},
    {"facecolor": "#f3e3bd", "edgecolor": INK, "hatch": "...."},
    {"facecolor": "#a06a15", "edgecolor": "white", "hatch": "\\\\\\\\"},
    {"facecolor": "white", "edgecolor": INK, "hatch": "//////"},
)
STRONG_LINES: tuple[Look, ...] = (  # for places where heads are finished
    {"color": INK, "linestyle": "-", "linewidth": 2.2},
    {"color": INK, "linestyle": (0, (5, 1.5)), "linewidth": 2.2},
    {"color": INK, "linestyle": (0, (1.2, 1)), "linewidth": 2.2},
)
LINES: tuple[Look, ...] = (
    {"color": "#5a93c8", "linestyle": "-", "linewidth": 1.4},
    {"color": "#9a6a14", "linestyle": (0, (6, 2)), "linewidth": 1.4},
    {"color": "#555555", "linestyle": (0, (3, 1.5, 1, 1.5)), "linewidth": 1.4},
)


def _week_axis(ax: Axes, timetable: Timetable) -> Floats:
    """Make an axis of the weeks; the Mondays 00:00 that bound them on it, [weeks + 1]."""
    weeks = timetable.weeks
    date_axis(ax, timetable.week_monday(0), timetable.week_monday(weeks), WEEK)
    return np.asarray(number_of(timetable.week_monday(0)) + 7.0 * np.arange(weeks + 1))


@styled
def ordered_and_delivered(ax: Axes, years: Years) -> Axes:
    """Draw heads ordered and delivered by week [heads].

    Ordered as an outline; delivered as the mean over the years with their 5-95 % range. A week
    without orders has no point.
    """
    edges = _week_axis(ax, years.timetable)
    ordered = years.weekly["heads ordered"].mean(axis=0)
    delivered = years.weekly["heads delivered"]
    low, high = np.quantile(delivered, [0.05, 0.95], axis=0)
    mean = np.where(ordered > 0, delivered.mean(axis=0), nan)
    band = ax.stairs(high, edges, baseline=low, fill=True, color=PALE, zorder=1.5)
    outline = ax.stairs(ordered, edges, baseline=0, color=INK, linewidth=1.1)
    (points,) = ax.plot(
        edges[:-1] + 3.5, mean, color=BLUE, linestyle="none", marker="o", markersize=4,
        markeredgecolor="white", markeredgewidth=0.5, zorder=3,
    )  # fmt: skip
    amount_axis(ax, max(ordered.max(), high.max()), "heads each week [heads]")
    entries: list[tuple[Artist, str]] = [
        (outline, "ordered"),
        (points, f"delivered, {_mean_of(years.count)}"),
    ]
    if years.count > 1:
        entries.append((band, "delivered, 5-95 % of the years"))
    if ordered.any():
        key(ax, entries)
    else:
        note(ax, "nothing is ordered in these weeks")
    title(ax, "Heads ordered and delivered each week", years.timetable)
    return ax


def _years(count: int) -> str:
    return "one simulated year" if count == 1 else f"{count:,} simulated years"


def _mean_of(count: int) -> str:
    return _years(count) if count == 1 else f"mean of {_years(count)}"


@styled
def weeks_met(ax: Axes, years: Years, target: float = TARGET) -> Axes:
    """Draw the share of years in which each week was met [%]; weeks below `target` stand out.

    A week is met when every delivery due in it was complete; a week without one has no bar.
    """
    edges, share = _week_axis(ax, years.timetable), years.met_share
    percent_axis(ax, "years in which the week is met [%]")
    entries: list[tuple[Artist, str]] = []
    for these, color, text in (
        (share >= target, PALE, f"met in at least {_percent(target)} of the years"),
        (share < target, INK, f"weak: met in less than {_percent(target)}"),
    ):
        middle, height = edges[:-1][these] + 3.5, 100 * share[these]
        ax.bar(middle, height, 5.6, color=color, edgecolor=INK, linewidth=0.5)
        if these.any():
            entries.append((Patch(facecolor=color, edgecolor=INK, linewidth=0.5), text))
    (line,) = ax.plot(edges[[0, -1]], [100 * target] * 2, color=BLUE, linewidth=1.2, dashes=(5, 2))
    entries.append((line, f"target: {_percent(target)}"))
    _name_weak(ax, years.timetable, share, target)
    idle = np.isnan(share)
    if idle.all():
        note(ax, "nothing is ordered in these weeks")
    if idle.any():
        (dashes,) = ax.plot(edges[:-1][idle] + 3.5, np.full(int(idle.sum()), 1.5), "_", color=INK)
        entries.append((dashes, "nothing due"))
    key(ax, entries)
    title(ax, f"How often each week's orders are met, in {_years(years.count)}", years.timetable)
    return ax


def _percent(share: float) -> str:
    """A share as percent, rounded down to a tenth so that a miss never looks like a hit."""
    return f"{floor(1000 * share + 1e-6) / 10:g} %"


def _name_weak(ax: Axes, timetable: Timetable, share: Floats, target: float) -> None:
    """Label weak weeks with date and share, the weakest first, as far as there is room."""
    room = timetable.weeks / 53  # weeks from label to label: each week of a year, not closer
    box = {"facecolor": "white", "edgecolor": "none", "pad": 0.8} if room > 1 else None
    taken: list[int] = []
    for week in sorted(np.flatnonzero(share < target), key=lambda n: share[n]):
        if all(abs(week - other) >= room for other in taken):
            taken.append(int(week))
            inside, monday = share[week] > 0.35, timetable.week_monday(int(week))
            ax.text(
                number_of(monday) + 3.5, 100 * share[week] + (-1.5 if inside else 1.5),
                f"{day_label(monday)}: {_percent(share[week])}", rotation=90, fontsize=7,
                ha="center", va="top" if inside else "bottom",
                color="white" if inside and not box else INK, bbox=box,
            )  # fmt: skip


@styled
def work_and_staffing(ax: Axes, years: Years) -> Axes:
    """Draw person-minutes worked by kind of work, stacked, and those staffed, by week [min]."""
    edges = _week_axis(ax, years.timetable)
    below = np.zeros(years.timetable.weeks)
    entries: list[tuple[Artist, str]] = []
    for work, fill in zip(WORK.values(), WORK_FILLS, strict=True):
        if years.work[work].any():
            top = below + years.work[work]
            ax.stairs(top, edges, baseline=below, fill=True, linewidth=0.4, label=work, **fill)
            entries.append((Patch(linewidth=0.4, **fill), work))
            below = top
    staffed = years.work["staffed"]
    line = ax.stairs(staffed, edges, baseline=None, color=INK, linewidth=1.6, label="staffed")
    entries.append((line, "staffed"))
    amount_axis(ax, max(below.max(), staffed.max()), "work each week [person-minutes]")
    if not staffed.any():
        note(ax, "nobody is at work in these weeks")
    key(ax, entries)
    title(ax, f"Work done and minutes staffed, {_mean_of(years.count)}", years.timetable)
    return ax


@styled
def sites_filled(ax: Axes, years: Years) -> Axes:
    """Draw the share of each place's sites that hold a plant, by week, mean of the years [%].

    A dotted level shows the share of the finishing sites' time that was spent by heads that
    were delivered. Places without a limit have no share and are named below.
    """
    timetable = years.timetable
    edges = _week_axis(ax, timetable)
    percent_axis(ax, "sites that hold a plant [%]")
    unlimited: list[str] = []
    ends: list[tuple[float, str]] = []
    scenario = timetable.scenario
    days = np.array([edges[0], *(edges[:-1] + 3.5), edges[-1]])  # mid-week, and both ends
    looks = by_place(scenario, STRONG_LINES, LINES)
    for plants, look, (name, place) in zip(
        years.plants, looks, scenario.places.items(), strict=True
    ):
        sites = sites_of(place)
        if np.isnan(sites):
            unlimited.append(shown(name))
            continue
        share = 100 * plants / sites
        ax.plot(days, share[[0, *range(len(share)), -1]], label=name, **look)
        ends.append((float(share[-1]), shown(name)))
    beside(ax, float(edges[-1]), ends)
    if not ends:
        note(ax, "no place has a limited number of sites")
    entries = _useful_level(ax, years)
    if unlimited:
        entries.append((Line2D([], [], linestyle="none"), f"no limit: {', '.join(unlimited)}"))
    key(ax, entries, columns=1)
    title(ax, f"Sites that hold a plant, {_mean_of(years.count)}", timetable)
    return ax


def _useful_level(ax: Axes, years: Years) -> list[tuple[Artist, str]]:
    useful = years.values["useful_bench_share"].mean()
    if not useful > 0:  # nan where a finishing place has no limit
        return []
    line = ax.axhline(100 * useful, color=INK, linestyle=":", linewidth=1)
    finishing = [shown(place) for place in Frame.of(years.timetable).finishing]
    places = finishing[0] if len(finishing) == 1 else "all places where heads are finished"
    return [(line, f"{places}: filled with heads that were delivered, mean of all weeks")]


def figures(years: Years, year: Year, target: float = TARGET) -> dict[str, Figure]:
    """All pictures of a result, for a page, by the stem of their file's name.

    `year` is one typical year of the scenario of `years`; `target` the share of years in which
    a week is to be met.
    """
    batches = len({stay[0] for stay in stays(year)})
    tall = min(10.0, max(5.0, 2.4 + 0.085 * batches))
    return {
        "ordered_and_delivered": _page(lambda ax: ordered_and_delivered(ax, years)),
        "weeks_met": _page(lambda ax: weeks_met(ax, years, target)),
        "batch_staircase": _page(lambda ax: batch_staircase(ax, year), tall),
        "work_and_staffing": _page(lambda ax: work_and_staffing(ax, years)),
        "sites_filled": _page(lambda ax: sites_filled(ax, years)),
    }


def _page(draw: Callable[[Axes], Axes], height: float = 4.5) -> Figure:
    """A figure 8 inches wide; laid out once, so that every file of it is the same picture."""
    with rc_context(STYLE):
        figure = Figure((8.0, height))
        FigureCanvasAgg(figure)
        draw(figure.add_subplot())
        ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.1).execute(figure)
    return figure


def png_bytes(figure: Figure) -> bytes:
    """The figure as a PNG file; the same figure gives the same bytes."""
    return _bytes(figure, format="png", dpi=150, metadata={"Software": None})


def svg_bytes(figure: Figure) -> bytes:
    """The figure as an SVG file without a date; the same figure gives the same bytes."""
    return _bytes(figure, format="svg", metadata={"Date": None, "Creator": None})


def _bytes(figure: Figure, **how: Any) -> bytes:
    buffer = BytesIO()
    with rc_context(STYLE):
        figure.savefig(buffer, **how)
    return buffer.getvalue()
