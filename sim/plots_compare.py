"""The picture of a comparison: how often each scenario meets each week's orders."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
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
    date_axis,
    key,
    note,
    number_of,
    percent_axis,
    shown,
    styled,
    title,
)
from sim.replications import Years

LOOKS: tuple[Look, ...] = (  # told apart by mark and line; the others are compared with the first
    {"marker": "o", "color": INK, "linestyle": "-"},
    {"marker": "D", "color": BLUE, "markerfacecolor": "white", "linestyle": (0, (4, 1.5))},
    {"marker": "^", "color": "#9a6a14", "linestyle": (0, (1.2, 1))},
    {"marker": "s", "color": "#555555", "markerfacecolor": "white", "linestyle": "-"},
    {"marker": "v", "color": "#5a93c8", "linestyle": (0, (6, 2, 1, 2))},
    {"marker": "X", "color": INK, "markerfacecolor": "white", "linestyle": (0, (1.2, 2.5))},
)


@styled
def weeks_compared(ax: Axes, results: Sequence[Years], names: Sequence[str]) -> Axes:
    """Draw the share of years in which each week was met [%], for up to six scenarios.

    The marks of one week stand side by side. A week without a delivery due has no mark and breaks
    the line. The axis of percent may begin above 0; the closures are the first scenario's.
    """
    tables = [years.timetable for years in results]
    mondays = [(table.week_monday(0), table.week_monday(table.weeks)) for table in tables]
    first, end = min(m[0] for m in mondays), max(m[1] for m in mondays)
    date_axis(ax, first, end, "week, by its Monday [date]")
    percent_axis(ax, "years in which the week is met [%]")
    entries: list[tuple[Artist, str]] = []
    apart = min(1.2, 5.0 / len(results))  # from mark to mark [d]
    for number, (years, name, look) in enumerate(zip(results, names, LOOKS, strict=False)):
        middle = number_of(mondays[number][0]) + 3.5 + apart * (number - (len(results) - 1) / 2)
        (line,) = ax.plot(
            middle + 7.0 * np.arange(len(years.met_share)), 100 * years.met_share,
            linewidth=0.9, markersize=4, markeredgewidth=0.9, label=name, **look,
        )  # fmt: skip
        entries.append((line, shown(name, 90)))
    _percent_from(ax, results)
    key(ax, entries, columns=2)
    count = results[0].count
    title(ax, f"How often each week's orders are met, in {count:,} simulated years", tables[0])
    return ax


def _percent_from(ax: Axes, results: Sequence[Years]) -> None:
    """Leave out the percent that no week comes down to, but show at least those from 80 on."""
    shares = np.concatenate([years.met_share for years in results])
    if np.isnan(shares).all():
        note(ax, "nothing is ordered in these weeks")
        return
    lowest = min(80, int(100 * np.nanmin(shares)) // 20 * 20)
    ax.set_ylim(lowest - (100 - lowest) / 40 if lowest else -2, 102)
    ax.set_yticks(range(lowest, 101, 20 if lowest < 60 else 10 if lowest < 80 else 5))


def figures(results: Sequence[Years], names: Sequence[str]) -> dict[str, Figure]:
    """The picture for a page, by the stem of its file's name."""
    with rc_context(STYLE):
        figure = Figure((8.0, 4.5))
        FigureCanvasAgg(figure)
        weeks_compared(figure.add_subplot(), results, names)
        ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.1).execute(figure)
    return {"weeks_compared": figure}
