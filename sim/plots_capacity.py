"""A picture of the sizes that were tried: how the weeks met fall when the orders grow."""

from __future__ import annotations

from typing import Any

from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.ticker import MaxNLocator

from sim.plots_page import BLUE, INK, STYLE, Look, key, note, percent_axis, styled

Answer = dict[str, Any]

MEASURES: dict[str, tuple[str, Look]] = {  # told apart by mark and line
    "steadiness": ("weeks met", {"marker": "o", "color": INK, "linestyle": "-"}),
    "weakest_week": (
        "years that met the weakest week",
        {"marker": "D", "color": BLUE, "markerfacecolor": "white", "linestyle": (0, (4, 1.5))},
    ),
}


@styled
def sizes_tried(ax: Axes, answer: Answer) -> Axes:
    """Draw the weeks met and the weakest week of each size tried [%], with 95 % intervals.

    `answer` is what `capacity_answer.capacity_answer` gives. Thin lines are the targets; the
    claimed size is marked.
    """
    sizes, entries = answer["sizes"], list[tuple[Artist, str]]()
    ax.set_xlabel("size of the orders [cases a week]")
    ax.set_title("How often the orders are met, by their size (95 % intervals)")
    percent_axis(ax, "met [%]")
    if not sizes:
        note(ax, "no size was simulated")
        return ax
    cases = [size["cases"] for size in sizes]
    for name, (words, look) in MEASURES.items():
        found = [size["best"][name] for size in sizes]
        mean = [100 * e["mean"] for e in found]
        spans = [[100 * (e["mean"] - e["low"]) for e in found],
                 [100 * (e["high"] - e["mean"]) for e in found]]  # fmt: skip
        bars = ax.errorbar(
            cases, mean, yerr=spans, label=words, linewidth=1.0, markersize=5, capsize=2, **look
        )
        target = 100 * answer["target"][name]
        ax.axhline(target, color=look["color"], linestyle=":", linewidth=0.9)
        entries.append((bars.lines[0], f"{words}, target {target:g} %"))
    if claim := answer["claim"]:
        line = ax.axvline(claim["cases"], color="#9a6a14", linewidth=1.2, zorder=0)
        entries.append((line, f"claimed: {claim['cases']:,.6g} cases"))
    ax.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    key(ax, entries, columns=3)
    return ax


def figures(answer: Answer) -> dict[str, Figure]:
    """The picture for a page, by the stem of its file's name."""
    with rc_context(STYLE):
        figure = Figure((8.0, 4.5))
        FigureCanvasAgg(figure)
        sizes_tried(figure.add_subplot(), answer)
        ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.1).execute(figure)
    return {"sizes_tried": figure}
