"""The picture of an outlook: heads to expect by week, with the ranges of the futures."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from sim.plots_page import (
    BLUE,
    INK,
    STYLE,
    Look,
    amount_axis,
    date_axis,
    key,
    number_of,
    styled,
    title,
)
from sim.timetable import Timetable

_WIDE: Look = {"facecolor": "#dbe7f2", "edgecolor": "#7f9db8", "linewidth": 0.7}
_NARROW: Look = {"facecolor": "#8fb3d3", "edgecolor": "#55789a", "linewidth": 0.7}
_WEEK = timedelta(days=7)


@styled
def heads_ahead(ax: Axes, answer: dict[str, Any], timetable: Timetable) -> Axes:
    """Draw heads ordered and expected by week [heads], with 10-90 % and 25-75 % of the futures.

    `answer` is that of the outlook; the closures that are shaded are the timetable's.
    """
    weeks = answer["weeks"]
    first = date.fromisoformat(answer["day"])
    mondays = [date.fromisoformat(week["week_of"]) for week in weeks]
    date_axis(ax, min(first, mondays[0]), mondays[-1] + _WEEK, "week, by its Monday [date]")
    most = max(week["ordered"] for week in weeks)
    amount_axis(ax, most, "heads each week [heads]")
    drawn: dict[str, Artist] = {}
    for monday, week in zip(mondays, weeks, strict=True):
        start, end = number_of(max(monday, first)), number_of(monday + _WEEK)
        drawn |= _one_week(ax, start, end, week)
    names = (
        ("ordered", "ordered"),
        ("expected", f"expected, mean of {answer['futures']:,} futures"),
        ("narrow", "25-75 % of the futures"),
        ("wide", "10-90 % of the futures"),
    )
    key(ax, [(drawn[name], words) for name, words in names])
    title(ax, "Heads to be expected each week", timetable)
    return ax


def _one_week(ax: Axes, start: float, end: float, week: dict[str, Any]) -> dict[str, Artist]:
    """Draw one week between two days on the axis; its artists by name."""
    whole = end - start
    low, wide = week["p10"], week["p90"] - week["p10"]
    inner, narrow = week["p25"], week["p75"] - week["p25"]
    middle = start + whole / 2
    (band,) = ax.bar(middle, wide, 0.9 * whole, low, zorder=1.5, **_WIDE)
    (core,) = ax.bar(middle, narrow, 0.74 * whole, inner, zorder=1.6, **_NARROW)
    line = ax.hlines(week["ordered"], start, end, color=INK, linewidth=1.6, zorder=2.5)
    (point,) = ax.plot(
        [middle], [week["expected"]], color=BLUE, linestyle="none", marker="o",
        markersize=5, markeredgecolor="white", markeredgewidth=0.8, zorder=3,
    )  # fmt: skip
    return {"wide": band, "narrow": core, "ordered": line, "expected": point}


def figures(answer: dict[str, Any], timetable: Timetable) -> dict[str, Figure]:
    """The picture of an outlook, by the stem of its file's name."""
    with rc_context(STYLE):
        figure = Figure((8.0, 4.5))
        FigureCanvasAgg(figure)
        heads_ahead(figure.add_subplot(), answer, timetable)
        ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.1).execute(figure)
    return {"heads_ahead": figure}
