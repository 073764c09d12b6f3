"""Pictures of a sizing: the service, and the largest orders that are met, against the size."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from sim.plots_page import BLUE, INK, STYLE, Look, amount_axis, percent_axis, shown, styled

Answer = dict[str, Any]

LOOKS: dict[str, Look] = {  # told apart by mark and line
    "best": {"marker": "o", "color": INK, "linestyle": "-"},
    "own": {
        "marker": "D", "color": BLUE, "markerfacecolor": "white", "linestyle": (0, (4, 1.5)),
    },
}  # fmt: skip
TARGET: Look = {"color": "#555555", "linewidth": 1.0, "linestyle": (0, (6, 3))}
PRESENT: Look = {"color": INK, "linewidth": 1.0, "linestyle": (0, (1, 1.5))}
CEILING: Look = {
    "marker": "^", "markerfacecolor": "white", "color": BLUE, "linewidth": 1.0, "markersize": 4.5,
    "linestyle": (0, (1, 1)),
}  # fmt: skip
ENOUGH: Look = {"color": INK, "linewidth": 1.6, "linestyle": "-"}
MEASURES = {
    "steadiness": ("weeks met of weeks with deliveries [%]", "Weeks met"),
    "weakest_week": ("years that met the weakest week [%]", "Weakest week"),
}


@styled
def service_by_size(ax: Axes, answer: Answer, measure: str) -> Axes:
    """Draw the share against the size [containers, people or heads], with 95 % intervals [%].

    `answer` is what `sizing_answer.size_answer` gives, `measure` "steadiness" or "weakest_week".
    """
    label, title = MEASURES[measure]
    rows = answer["sizes"]
    sizes = np.array([row["size"] for row in rows], dtype=float)
    percent_axis(ax, label)
    lows = []
    for which in ("own", "best") if _two(answer) else ("best",):
        mean, low, high = (
            100 * np.array([row[which][measure][key] for row in rows])
            for key in ("mean", "low", "high")
        )
        lows.append(low.min())
        beside = 0.005 * (sizes[-1] - sizes[0]) * (1 if which == "own" else -1)
        ax.errorbar(
            sizes + beside, mean, [mean - low, high - mean], linewidth=1.0, elinewidth=0.8,
            capsize=2, markersize=4.5, markeredgewidth=0.9, **LOOKS[which],
        )  # fmt: skip
    lowest = max(0, min(80, int(min(lows)) // 10 * 10))
    lowest = lowest if lowest >= 40 else 0
    ax.set_ylim(lowest - (100 - lowest) / 40, 101)
    ax.set_yticks(range(lowest, 101, 20 if lowest < 40 else 10 if lowest < 70 else 5))
    ax.axhline(100 * answer["target"][measure], zorder=1, **TARGET)
    _sizes_axis(ax, answer)
    ax.set_title(f"{title}, target {100 * answer['target'][measure]:g} %", fontsize=9)
    return ax


@styled
def largest_by_size(ax: Axes, answer: Answer) -> Axes:
    """Draw the largest orders against the size [heads in a full week].

    Simulated with 95 % intervals, and by arithmetic alone. `answer` is what
    `sizing_answer.size_answer` gives.
    """
    rows = answer["sizes"]
    some = [row for row in rows if row["largest_orders"]]
    found = [row["largest_orders"] for row in some]
    mean = np.array([one["heads_full_week"] for one in found])
    low, high = (np.array([one[key] for one in found]) for key in ("low", "high"))
    ceilings = [(row["size"], row["most_by_arithmetic"]) for row in rows]
    ceilings = [(size, most) for size, most in ceilings if most is not None]
    tops = [*high, answer["heads_ordered_full_week"], *(most for _, most in ceilings)]
    amount_axis(ax, max(tops), "largest orders [heads a full week]")
    ax.set_ylim(bottom=-max(tops) / 50)
    if ceilings:
        ax.plot(*zip(*ceilings, strict=True), **CEILING)
    ends = [np.maximum(mean - low, 0.0), np.maximum(high - mean, 0.0)]
    ax.errorbar(
        [row["size"] for row in some], mean, ends, linewidth=1.0, elinewidth=0.8, capsize=3,
        markersize=4.5, **LOOKS["best"],
    )  # fmt: skip
    ax.axhline(answer["heads_ordered_full_week"], zorder=1, **TARGET)
    _sizes_axis(ax, answer)
    return ax


def _sizes_axis(ax: Axes, answer: Answer) -> None:
    """The horizontal axis, with the size now and the smallest that is enough."""
    ax.axvline(answer["present"], zorder=1, **PRESENT)
    if answer["enough"] is not None:
        ax.plot([answer["enough"]] * 2, [0, 0.06], transform=ax.get_xaxis_transform(), **ENOUGH)
    ax.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    ax.xaxis.set_major_formatter(StrMethodFormatter("{x:,.0f}"))
    ax.set_xlabel(f"size of {shown(answer['what'])} [{shown(answer['counted_in'])}]")


def _two(answer: Answer) -> bool:
    """Whether another cadence than the scenario's own suits any size better."""
    return any(row["best"]["cadence"] != row["own"]["cadence"] for row in answer["sizes"])


def figures(answer: Answer) -> dict[str, Figure]:
    """The pictures for a page, by the stem of their file's name."""
    found = {"service_by_size": _service_figure(answer)}
    if any(row["largest_orders"] for row in answer["sizes"]):
        found["largest_orders_by_size"] = _largest_figure(answer)
    return found


def _largest_figure(answer: Answer) -> Figure:
    with rc_context(STYLE):
        figure = Figure((9.0, 4.2))
        FigureCanvasAgg(figure)
        ax = largest_by_size(figure.add_subplot(), answer)
        ax.set_title("Largest orders that are met, by size", loc="left", fontsize=11)
        entries = [
            (Line2D([], [], **LOOKS["best"]), "simulated, 95 % interval of each size"),
            (Line2D([], [], **CEILING), "by arithmetic alone, what is full first"),
            (Line2D([], [], **TARGET), "present orders"),
        ]
        figure.legend(
            *zip(*(entries + _marks(answer)), strict=True), loc="outside lower center", ncols=3
        )
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return figure


def _marks(answer: Answer) -> list[tuple[Line2D, str]]:
    """The entries of a key for the size now and the smallest that is enough."""
    now = (Line2D([], [], **PRESENT), "size now")
    enough = (Line2D([], [], **ENOUGH), "smallest shown to be enough")
    return [now] if answer["enough"] is None else [now, enough]


def _service_figure(answer: Answer) -> Figure:
    with rc_context(STYLE):
        figure = Figure((9.0, 4.2))
        FigureCanvasAgg(figure)
        for ax, measure in zip(figure.subplots(1, 2), MEASURES, strict=True):
            service_by_size(ax, answer, measure)
        entries = [(Line2D([], [], **LOOKS["best"]), "the cadence that suits each size")]
        if _two(answer):
            entries.append((Line2D([], [], **LOOKS["own"]), "the scenario's own cadence"))
        entries += [(Line2D([], [], **TARGET), "target"), *_marks(answer)]
        figure.suptitle(
            f"Service of the present orders by size, {answer['years']:,} simulated years of each "
            "(95 % intervals)",
            x=0.01, ha="left", fontsize=11,
        )  # fmt: skip
        figure.legend(*zip(*entries, strict=True), loc="outside lower center", ncols=3)
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return figure
