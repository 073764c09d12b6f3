"""The picture of a sizing: the service against the size, by two measures."""

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

from sim.plots_page import BLUE, INK, STYLE, Look, percent_axis, shown, styled

Answer = dict[str, Any]

LOOKS: dict[str, Look] = {  # told apart by mark and line
    "best": {"marker": "o", "color": INK, "linestyle": "-"},
    "own": {
        "marker": "D", "color": BLUE, "markerfacecolor": "white", "linestyle": (0, (4, 1.5)),
    },
}  # fmt: skip
TARGET: Look = {"color": "#555555", "linewidth": 1.0, "linestyle": (0, (6, 3))}
PRESENT: Look = {"color": INK, "linewidth": 1.0, "linestyle": (0, (1, 1.5))}
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
    ax.set_ylim(lowest - (100 - lowest) / 40, 101)
    ax.set_yticks(range(lowest, 101, 20 if lowest < 40 else 10 if lowest < 70 else 5))
    ax.axhline(100 * answer["target"][measure], zorder=1, **TARGET)
    ax.axvline(answer["present"], zorder=1, **PRESENT)
    if answer["enough"] is not None:
        ax.plot([answer["enough"]] * 2, [0, 0.06], transform=ax.get_xaxis_transform(), **ENOUGH)
    ax.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    ax.xaxis.set_major_formatter(StrMethodFormatter("{x:,.0f}"))
    ax.set_xlabel(f"size of {shown(answer['what'])} [{shown(answer['counted_in'])}]")
    ax.set_title(f"{title}, target {100 * answer['target'][measure]:g} %", fontsize=9)
    return ax


def _two(answer: Answer) -> bool:
    """Whether another cadence than the scenario's own suits any size better."""
    return any(row["best"]["cadence"] != row["own"]["cadence"] for row in answer["sizes"])


def figures(answer: Answer) -> dict[str, Figure]:
    """The picture for a page, by the stem of its file's name: both measures, one key below."""
    with rc_context(STYLE):
        figure = Figure((9.0, 4.2))
        FigureCanvasAgg(figure)
        for ax, measure in zip(figure.subplots(1, 2), MEASURES, strict=True):
            service_by_size(ax, answer, measure)
        entries = [(Line2D([], [], **LOOKS["best"]), "the cadence that suits each size")]
        if _two(answer):
            entries.append((Line2D([], [], **LOOKS["own"]), "the scenario's own cadence"))
        entries += [(Line2D([], [], **TARGET), "target"), (Line2D([], [], **PRESENT), "size now")]
        if answer["enough"] is not None:
            entries.append((Line2D([], [], **ENOUGH), "smallest shown to be enough"))
        figure.suptitle(
            f"Service of the present orders by size, {answer['years']:,} simulated years of each "
            "(95 % intervals)",
            x=0.01, ha="left", fontsize=11,
        )  # fmt: skip
        figure.legend(*zip(*entries, strict=True), loc="outside lower center", ncols=3)
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return {"service_by_size": figure}
