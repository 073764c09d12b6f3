"""The picture of how sure a cadence is: the plausible sets at the targets, and what to count."""

from __future__ import annotations

from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sim.plots_page import BLUE, INK, PALE, STYLE, Look, note, shown, styled

Answer = dict[str, Any]

STANDINGS: dict[str, tuple[str, Look]] = {  # told apart by form and filling
    "meets": ("meets the target", {"marker": "o", "markerfacecolor": BLUE}),
    "too close": ("too close to call", {"marker": "o", "markerfacecolor": "white"}),
    "misses": ("misses it", {"marker": "x", "markerfacecolor": INK}),
}
POINT: Look = {"linestyle": "", "markeredgecolor": INK, "markersize": 5, "markeredgewidth": 0.9}
MEASURED: Look = {
    "marker": "D", "linestyle": "", "markerfacecolor": INK, "markeredgecolor": "white",
    "markersize": 9, "markeredgewidth": 1.2,
}  # fmt: skip
LEAVES: Look = {"facecolor": PALE, "edgecolor": INK, "linewidth": 0.7}
TAKES: Look = {"facecolor": "white", "edgecolor": INK, "linewidth": 0.7, "hatch": "//////"}
MOST_BARS = 10
_KINDS = {
    "growing loss": "lost in growing", "moving loss": "lost at moving",
    "loss spread": "loss, spread", "rare share": "rare event", "rare loss": "rare loss",
    "days spread": "days, spread", "absence": "absent",
}  # fmt: skip


@styled
def sets_at_targets(ax: Axes, answer: Answer) -> Axes:
    """Draw a point for each set: its weeks met [%] and its weakest week [% of years]."""
    rows, target, own = answer["plausible_sets"], answer["target"], answer["as_measured"]
    for standing, (_, look) in STANDINGS.items():
        of = [row for row in rows if row["standing"] == standing]
        ax.plot(
            [100 * row["steadiness"] for row in of], [100 * row["weakest_week"] for row in of],
            zorder=3, **POINT, **look,
        )  # fmt: skip
    ax.plot(
        [100 * own["steadiness"]["mean"]], [100 * own["weakest_week"]["mean"]], zorder=4, **MEASURED
    )
    ax.axvline(100 * target["steadiness"], color=BLUE, linewidth=1.2, dashes=(5, 2), zorder=2)
    ax.axhline(100 * target["weakest_week"], color=BLUE, linewidth=1.2, dashes=(5, 2), zorder=2)
    ax.margins(0.06)
    for limits, put in ((ax.get_xlim(), ax.set_xlim), (ax.get_ylim(), ax.set_ylim)):
        put(max(limits[0], -2), min(limits[1], 102))
    ax.grid(color="#e0e0e0", linewidth=0.5)
    ax.set_xlabel("weeks met of weeks with deliveries [%]")
    ax.set_ylabel("years that met the weakest week [%]")
    ax.set_title(f"{len(rows)} plausible sets of numbers, {answer['years']} years each", fontsize=9)
    return ax


@styled
def counts_ranked(ax: Axes, answer: Answer) -> Axes:
    """Draw what each number leaves uncertain about the weeks met, and what more records take off.

    Both are shares of all that is uncertain about them [%].
    """
    rows = [row for row in answer["ranking"] if row["share"] >= 0.005][:MOST_BARS]
    years = answer["split"]["steadiness"]["years"]["share"]
    names = [f"{_where(answer, row)}: {_KINDS.get(row['kind'], row['kind'])}" for row in rows]
    bars = [100 * row["share"] for row in rows]
    for place, row in enumerate(rows):
        ax.barh(place, 100 * row["share"], 0.7, zorder=2, **LEAVES)
        ax.barh(place, 100 * row["takes_off"], 0.7, zorder=3, **TAKES)
        ax.annotate(
            _from(row), (100 * row["share"], place), xytext=(4, 0), textcoords="offset points",
            va="center", fontsize=7,
        )  # fmt: skip
    if years is not None:
        names.append("too few years simulated")
        bars.append(100 * years)
        ax.barh(len(rows), 100 * years, 0.7, zorder=2, facecolor="#bdbdbd", edgecolor=INK)
    if not rows:
        note(ax, "no number stands out")
    ax.set_yticks(range(len(names)), [shown(name, 40) for name in names])
    ax.set_ylim(max(len(names), 1) - 0.4, -0.6)
    ax.set_xlim(0, 1.35 * max([*bars, 1.0]))
    ax.tick_params(axis="y", length=0)
    ax.grid(axis="x", color="#e0e0e0", linewidth=0.5)
    ax.set_xlabel("of what is uncertain about the weeks met [%]")
    ax.set_title("What to count next", fontsize=9)
    return ax


def _from(row: Answer) -> str:
    return f"{row['n']:,} {row['of']}" if row["how"] == "counted" else "a guess"


def _where(answer: Answer, row: Answer) -> str:
    """Where a number stands; a crop is named only where there are several."""
    crops = {n["where"].partition(", ")[0] for n in answer["numbers"] if ", " in n["where"]}
    where = str(row["where"])
    return where.partition(", ")[2] if len(crops) == 1 and ", " in where else where


def figures(answer: Answer) -> dict[str, Figure]:
    """The picture, by the stem of its file's name."""
    with rc_context(STYLE):
        figure = Figure((10.0, 4.4))
        FigureCanvasAgg(figure)
        left, right = figure.subplots(1, 2)
        sets_at_targets(left, answer)
        counts_ranked(right, answer)
        entries = [
            *((Line2D([], [], **POINT, **look), words) for words, look in STANDINGS.values()),
            (Line2D([], [], **MEASURED), "numbers as measured"),
            (Line2D([], [], color=BLUE, linewidth=1.2, dashes=(5, 2)), "target"),
            (Patch(**LEAVES), "a number leaves open"),
            (Patch(**TAKES), "more records take off"),
        ]
        figure.legend(*zip(*entries, strict=True), loc="outside lower center", ncols=4)
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return {"sets": figure}
