"""The picture of a closure: deliveries of the weeks around it, with it and without it."""

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
    shown,
    styled,
    title,
)
from sim.timetable import Timetable

LOOKS: dict[str, tuple[str, Look]] = {  # told apart by mark and line
    "without": (
        "class as usual",
        {"marker": "o", "color": INK, "markerfacecolor": INK, "linestyle": "-"},
    ),
    "nothing": (
        "closed, nothing done",
        {"marker": "D", "color": BLUE, "markerfacecolor": "white", "linestyle": (0, (4, 1.5))},
    ),
    "own": (
        "closed, as the scenario stands",
        {"marker": "^", "color": "#777777", "markerfacecolor": "white", "linestyle": (0, (1, 1))},
    ),
}
APART = 1.1  # from mark to mark in a week [d]


@styled
def deliveries_around(ax: Axes, closure: dict[str, Any], years: int, timetable: Timetable) -> Axes:
    """Draw heads ordered (a line in steps) and delivered a week, with 5-95 % ranges of the years.

    `closure` is one of the answer's; the closures that are shaded are the timetable's.
    """
    weeks = closure["weeks"]
    mondays = [date.fromisoformat(week["week_of"]) for week in weeks]
    end = mondays[-1] + timedelta(days=7)
    date_axis(ax, mondays[0], end, "week, by its Monday [date]")
    edges = [number_of(day) for day in (*mondays, end)]
    ordered = [week["ordered"] for week in weeks]
    most = max([*ordered, *(week[name]["p95"] for week in weeks for name in LOOKS)])
    amount_axis(ax, most, "heads a week")
    steps = ax.stairs(ordered, edges, color="#555555", linewidth=1.4, baseline=None)
    entries: list[tuple[Artist, str]] = [(steps, "ordered")]
    for number, (name, (words, look)) in enumerate(LOOKS.items()):
        if name == "own" and closure["as_it_stands"] == closure["harm"]:
            continue  # nothing is done as the scenario stands
        middles = [x + 3.5 + APART * (number - 1) for x in edges[:-1]]
        entries.append((_series(ax, middles, [week[name] for week in weeks], look), words))
    key(ax, entries)
    title(
        ax, f"Heads delivered around {shown(closure['name'])}, {years:,} simulated years", timetable
    )
    return ax


def _series(ax: Axes, x: list[float], weeks: list[dict[str, float]], look: Look) -> Artist:
    """Means joined by a line, each with its range as a thin upright one."""
    low, high = ([week[name] for week in weeks] for name in ("p05", "p95"))
    ax.vlines(x, low, high, color=look["color"], linewidth=1.0)
    means = [week["delivered"] for week in weeks]
    (line,) = ax.plot(
        x, means, linewidth=0.9, markersize=4.5, markeredgewidth=0.9, clip_on=False, **look
    )
    return line


def figures(answer: dict[str, Any], timetable: Timetable) -> dict[str, Figure]:
    """The picture of the first closure that has weeks, by the stem of its file's name."""
    drawn = next((c for c in answer["closures"] if c["weeks"]), None)
    if drawn is None:
        return {}
    with rc_context(STYLE):
        figure = Figure((8.0, 4.5))
        FigureCanvasAgg(figure)
        deliveries_around(figure.add_subplot(), drawn, answer["years"], timetable)
        ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.1).execute(figure)
    return {"deliveries_around": figure}
