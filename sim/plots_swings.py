"""A picture of a cadence's swings: how far each guessed number moves it, the largest first."""

from __future__ import annotations

from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from sim.plots_page import BLUE, INK, STYLE, Look, note, styled

Part = dict[str, Any]

ENDS: dict[str, Look] = {  # told apart by hatch and by lightness
    "low": {"facecolor": "white", "edgecolor": INK, "hatch": "//////", "linewidth": 0.7},
    "high": {"facecolor": BLUE, "edgecolor": INK, "linewidth": 0.7},
}
THICK = 0.38  # of a bar, where a row is 1
ROW, AROUND = 0.36, 1.3  # inches for a row; for titles, axis and key
LETTER = 0.0175  # width of a letter at a bar's end, as a share of the picture
MEASURES = {
    "steadiness": ("weeks met of weeks with deliveries [%]", "Weeks met"),
    "weakest_week": ("years that met the weakest week [%]", "Weakest week"),
}


@styled
def swing_bars(ax: Axes, part: Part, measure: str) -> Axes:
    """Draw a bar for each end of each input's range, from the share as given [%].

    `part` is what `swings_answer.swings_part` gives, `measure` "steadiness" or "weakest_week". A
    thin line at a bar's end is the 95 % interval of the change.
    """
    inputs, given = part["inputs"], 100 * part["given"][measure]["mean"]
    target = 100 * part["target"][measure]
    label, title = MEASURES[measure]
    _room(ax, part, measure)
    ax.set_xlabel(label)
    ax.set_title(f"{title}: {given:.1f} % as given, target {target:g} %", fontsize=9)
    ax.grid(axis="x", color="#e0e0e0", linewidth=0.5)
    ax.set_yticks(range(len(inputs)), [_row_name(swing) for swing in inputs])
    ax.set_ylim(max(len(inputs), 1) - 0.4, -0.6)
    ax.tick_params(axis="y", length=0)
    ax.axvline(target, color=BLUE, linewidth=1.2, dashes=(5, 2), zorder=1)
    for row, swing in enumerate(inputs):
        for side, up in (("low", -0.5), ("high", 0.5)):
            if swing[side]["moves"]:
                at = row + up * THICK
                _bar(ax, at, part, swing[side], measure=measure, look=ENDS[side])
    ax.axvline(given, color=INK, linewidth=1.2, zorder=3)
    if not inputs:
        note(ax, "nothing can be moved")
    return ax


def _interval(part: Part, end: Part, measure: str) -> tuple[float, float, float]:
    """The share at an end of a range, and the 95 % interval of its change added to it [%]."""
    given, change = part["given"][measure]["mean"], end[f"{measure}_change"]
    low, high = (change["mean"] if change[k] is None else change[k] for k in ("low", "high"))
    return 100 * end[measure]["mean"], max(0, 100 * (given + low)), min(100, 100 * (given + high))


def _room(ax: Axes, part: Part, measure: str) -> None:
    """Make room at both sides for what is written at the bars' ends."""
    ends = [swing[side] for swing in part["inputs"] for side in ENDS if swing[side]["moves"]]
    shares = [100 * part["target"][measure], 100 * part["given"][measure]["mean"]]
    for end in ends:
        shares += _interval(part, end, measure)
    least, most = min(shares), max(shares)
    letters = max((len(end["told"]) for end in ends), default=0)
    written = min(0.35, 0.03 + LETTER * letters)  # as a share of the picture, at each side
    beyond = max(most - least, 1.0) * written / (1 - 2 * written)
    ax.set_xlim(least - beyond, most + beyond)
    ticks = MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(least, most)
    shown = [tick for tick in ticks if 0 <= tick <= 100]
    ax.set_xticks(shown, [f"{tick:g}" for tick in shown])


def _row_name(swing: Part) -> str:
    """The input with its number as given."""
    return swing["label"] if swing["value"] is None else f"{swing['label']}: {swing['told']}"


def _bar(ax: Axes, height: float, part: Part, end: Part, *, measure: str, look: Look) -> None:
    """One bar with its interval, and the moved number beside it."""
    given = 100 * part["given"][measure]["mean"]
    share, low, high = _interval(part, end, measure)
    ax.barh(height, share - given, THICK, left=given, zorder=2, **look)
    ax.plot([low, high], [height, height], color=INK, linewidth=0.8, zorder=4)
    left = share < given
    ax.annotate(
        end["told"], (min(low, share) if left else max(high, share), height),
        xytext=(-4 if left else 4, 0), textcoords="offset points", fontsize=7, zorder=5,
        ha="right" if left else "left", va="center", annotation_clip=False,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
    )  # fmt: skip


def swings_figure(part: Part) -> Figure:
    """Both pictures side by side, the inputs in the same order, with one key below."""
    with rc_context(STYLE):
        figure = Figure((10.0, AROUND + ROW * max(len(part["inputs"]), 3)))
        FigureCanvasAgg(figure)
        left, right = figure.subplots(1, 2, sharey=True)
        swing_bars(left, part, "steadiness")
        swing_bars(right, part, "weakest_week")
        right.tick_params(axis="y", labelleft=False)
        entries = [
            (Patch(**ENDS["low"]), "low end of the range"),
            (Patch(**ENDS["high"]), "high end of the range"),
            (Line2D([], [], color=INK, linewidth=1.2), "numbers as given"),
            (Line2D([], [], color=BLUE, linewidth=1.2, dashes=(5, 2)), "target"),
            (Line2D([], [], color=INK, linewidth=0.8), "95 % interval of the change"),
        ]
        figure.legend(*zip(*entries, strict=True), loc="outside lower center", ncols=5)
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return figure
