"""What the pictures share: ink, fonts, an axis of dates, closures with their names, keys.

Everything is drawn without pyplot: a function takes an Axes and puts artists on it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, wraps
from itertools import cycle
from math import ceil, inf
from textwrap import fill
from typing import Any, Concatenate, ParamSpec

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.font_manager import findfont, get_font
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, StrMethodFormatter
from matplotlib.transforms import ScaledTranslation

from sim.scenario import Scenario
from sim.school_year import monday
from sim.timetable import Timetable
from sim.weeks import Floats

FONT = "DejaVu Sans"  # comes with matplotlib, so that pictures are the same everywhere
STYLE: dict[Any, Any] = {
    "figure.subplot.left": 0.1,  # names are arranged in this width, and get more than that
    "figure.subplot.right": 0.8,
    "font.family": FONT,
    "font.size": 9,
    "axes.titlesize": 11,
    "axes.titlelocation": "left",
    "axes.labelsize": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "#555555",
    "axes.axisbelow": True,
    "xtick.labelsize": 8,
    "ytick.labelsize": 8,
    "legend.fontsize": 8,
    "legend.frameon": False,
    "hatch.linewidth": 0.5,
    "lines.solid_capstyle": "butt",
    "text.parse_math": False,
    "svg.fonttype": "path",
    "svg.hashsalt": "seedbeat",
}
INK, BLUE, PALE, CLOSED = "#1a1a1a", "#1f5f99", "#a8c6e2", "#e6e6e6"
NAME_SIZE = 7.0  # of the closures' names [points]
NAME_ROWS = 5  # rows of closures' names above a picture, at most
ROW = NAME_SIZE + 2.5  # height of such a row [points]
MOST_NAMES = 40  # closures that may be named
LONGEST = 26  # characters of a name that a picture shows

Look = dict[str, Any]
P = ParamSpec("P")
Draw = Callable[Concatenate[Axes, P], Axes]

_WORDS_OF_CLOSING = re.compile(r"\([^)]*\)|\b(no school|school closed)\b", re.IGNORECASE)


def styled(draw: Draw[P]) -> Draw[P]:
    """Draw in the fonts and lines of `STYLE`, whatever the settings outside are."""

    @wraps(draw)
    def draw_in_style(ax: Axes, /, *args: P.args, **kwargs: P.kwargs) -> Axes:
        with rc_context(STYLE):
            return draw(ax, *args, **kwargs)

    return draw_in_style


@cache
def _characters() -> frozenset[int]:
    return frozenset(get_font(findfont(FONT)).get_charmap())


def shown(name: str, longest: int = LONGEST) -> str:
    """A name as a picture shows it: in one line, cut where it is very long.

    A letter that the font lacks becomes a box; other signs that it lacks are left out.
    """
    there = _characters()
    known = (c if ord(c) in there else "□" if c.isalnum() else " " for c in name)
    text = " ".join("".join(known).split())
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def by_place(scenario: Scenario, finishing: Sequence[Look], others: Sequence[Look]) -> list[Look]:
    """A look for each place, in the scenario's order: strong ones where heads are finished."""
    ends = {crop.stages[-1].place for crop in scenario.crops.values()}
    strong, weak = cycle(finishing), cycle(others)
    return [next(strong if place in ends else weak) for place in scenario.places]


def day_label(day: date) -> str:
    """A date as "Oct 12"."""
    return f"{day:%b} {day.day}"


def number_of(day: date) -> float:
    """A date on the axis of dates [days]; 00:00 of the day."""
    return float(date2num(day))  # type: ignore[no-untyped-call]


def date_axis(ax: Axes, first: date, end: date, label: str) -> None:
    """Make the horizontal axis one of dates from 00:00 of `first` to `end`, marked on Mondays."""
    ax.xaxis_date()
    ax.set_xlim(number_of(first), number_of(end))
    start = monday(first + timedelta(days=6))
    mondays = [start + timedelta(days=7 * n) for n in range((end - start).days // 7 + 1)]
    room = ax.bbox.width / ax.figure.dpi * 72 / 42  # labels of 42 points
    marked = mondays[:: max(1, ceil(len(mondays) / room))]
    labels = {}
    for before, day in zip([None, *marked], marked, strict=False):
        new = before is None or before.year != day.year
        labels[number_of(day)] = day_label(day) + (f"\n{day.year}" if new else "")
    ax.xaxis.set_major_locator(FixedLocator(list(labels)))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: labels.get(x, "")))
    if len(mondays) <= 110:
        ax.xaxis.set_minor_locator(FixedLocator([number_of(day) for day in mondays]))
    ax.set_xlabel(label)


def amount_axis(ax: Axes, most: float, label: str) -> None:
    """Make the vertical axis one of whole numbers from 0 to somewhat more than `most`."""
    ax.set_ylim(0, 1.08 * most if most > 0 else 1)
    ticks = MaxNLocator(6, integer=True, steps=[1, 2, 5, 10]) if most > 0 else FixedLocator([0])
    ax.yaxis.set_major_locator(ticks)
    ax.yaxis.set_major_formatter(StrMethodFormatter("{x:,.0f}"))
    ax.grid(axis="y", color="#e0e0e0", linewidth=0.5)
    ax.set_ylabel(label)


def percent_axis(ax: Axes, label: str) -> None:
    """Make the vertical axis one of percent."""
    amount_axis(ax, 100, label)
    ax.set_ylim(0, 102)
    ax.set_yticks(range(0, 101, 20))


def note(ax: Axes, text: str) -> None:
    """Say in the middle of an empty picture why it is empty."""
    ax.text(0.5, 0.5, text, transform=ax.transAxes, ha="center", va="center", fontsize=10)


def key(ax: Axes, entries: Sequence[tuple[Artist, str]], columns: int = 4) -> None:
    """Put the key below the axis of dates, in as many columns as the page is wide."""
    below = ax.transAxes + ScaledTranslation(0, -44 / 72, ax.figure.dpi_scale_trans)
    for number in range(columns if entries else 0, 0, -1):
        legend = ax.legend(
            [artist for artist, _ in entries],
            [fill(text, 95) for _, text in entries],
            loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=below, borderaxespad=0,
            ncols=number, handlelength=2.4, columnspacing=1.6,
        )  # fmt: skip
        if legend.get_window_extent().width < ax.figure.bbox.width - ax.bbox.x0:
            return


def beside(ax: Axes, x: float, ends: Sequence[tuple[float, str]]) -> None:
    """Name lines at their ends (height, name), at the right of the picture, clear of each other."""
    low, high = ax.get_ylim()
    gap = min(0.065 * (high - low), (high - low) / max(len(ends), 1))
    line = {"arrowstyle": "-", "linewidth": 0.5, "color": "#888888", "shrinkA": 1, "shrinkB": 1}
    below = -inf
    for n, (height, name) in enumerate(sorted(ends)):
        most = high - gap * (len(ends) - n - 0.5)
        below = at = min(max(height, below + gap, low + 0.4 * gap), most)
        ax.annotate(
            name,
            (x, height),
            xytext=(1.02, (at - low) / (high - low)),
            textcoords="axes fraction",
            va="center",
            fontsize=8 * gap / (0.065 * (high - low)),
            annotation_clip=False,
            arrowprops=line | {"relpos": (0, 0.5)},
        )


def title(ax: Axes, text: str, timetable: Timetable) -> None:
    """Shade and name the closures, and put a one-line title above them."""
    stretches = _closures(ax, timetable)
    for closure in stretches:
        ax.axvspan(closure.start, closure.end, color=CLOSED, linewidth=0, zorder=0)
    rows = _name_closures(ax, stretches)
    ax.set_title(text, pad=8 + rows * ROW)


@dataclass(frozen=True)
class Closure:
    """A closure on the axis of dates [days]."""

    start: float
    end: float
    name: str

    @property
    def middle(self) -> float:
        """The day in the middle."""
        return (self.start + self.end) / 2


def _closures(ax: Axes, timetable: Timetable) -> list[Closure]:
    """Closures within the axis of dates, in order of time."""
    school = timetable.school_year.school
    left, right = ax.get_xlim()
    found = [Closure(left, number_of(school.first_day), "before the school year")]
    for stretch in sorted(school.closed, key=lambda s: s.first_day):
        start, end = number_of(stretch.first_day), number_of(stretch.last_day) + 1
        name = _WORDS_OF_CLOSING.sub("", stretch.name).strip(" -:,;")
        found.append(Closure(max(start, left), min(end, right), shown(name, 38)))
    found.append(Closure(number_of(school.last_day) + 1, right, "after the school year"))
    return [closure for closure in found if closure.start < closure.end]


def _name_closures(ax: Axes, closures: list[Closure]) -> int:
    """Write the closures' names above the picture; the number of rows that this takes.

    The longest closures are named first; a name for which there is no room is left out.
    """
    named: list[Closure] = []
    rows: list[int] = []
    split = 0
    wide = {closure.name: _width(ax, closure.name) for closure in closures}
    for closure in sorted(closures, key=lambda c: c.start - c.end)[:MOST_NAMES]:
        more = sorted([*named, closure], key=lambda c: c.start)
        if closure.name and (found := _arrange(ax, more, wide)):
            named, (rows, split) = more, found
    for number, (closure, row) in enumerate(zip(named, rows, strict=True)):
        _flag(ax, closure, row, side=0 if number < split else 1)
    return max(rows, default=-1) + 1


def _arrange(
    ax: Axes, named: list[Closure], wide: dict[str, float]
) -> tuple[list[int], int] | None:
    """Rows of names, and the number of names to the right of their lines, in the fewest rows."""
    left, right = ax.get_xlim()
    at = np.array([(c.middle - left) / (right - left) * ax.bbox.width for c in named])
    widths = np.array([wide[c.name] for c in named])
    splits = range(len(named) + 1)
    ways = [(rows, n) for n in splits if (rows := _rows(at, widths, n, ax.bbox.width)) is not None]
    return min(ways, key=lambda way: (max(way[0]), sum(way[0])), default=None)


def _width(ax: Axes, name: str) -> float:
    """Width of a closure's name with 6 points around it [pixels]."""
    text = ax.text(0, 0, name, fontsize=NAME_SIZE)
    width = text.get_window_extent().width
    text.remove()
    return width + 6 / 72 * ax.figure.dpi


def _flag(ax: Axes, closure: Closure, row: int, side: int) -> None:
    """Write a name at the right (side 0) or the left (side 1) of a line from its closure."""
    line = {"arrowstyle": "-", "linewidth": 0.5, "color": "#888888", "shrinkA": 0, "shrinkB": 0}
    height = 3 + row * ROW
    for text, xytext, arrow in (
        ("", (0, height + NAME_SIZE), line),
        (closure.name, (3 - 6 * side, height), None),
    ):
        ax.annotate(
            text, (closure.middle, 1), xytext,
            xycoords=ax.get_xaxis_transform(), textcoords="offset points", arrowprops=arrow,
            horizontalalignment=("left", "right")[side], fontsize=NAME_SIZE, color="#333333",
            annotation_clip=False,
        )  # fmt: skip


def _rows(x: Floats, wide: Floats, split: int, room: float) -> list[int] | None:
    """Rows of names so that none covers another or another's line; None if there are none.

    Names stand to the right of their lines, from number `split` on to the left. A name stands
    above all those whose lines it would cover.
    """
    to_the_left = np.arange(len(x)) >= split
    low, high = x - wide * to_the_left, x + wide * ~to_the_left
    if low.min() < 0 or high.max() > room:
        return None
    covers = (low[:, None] <= x) & (x <= high[:, None])
    meets = (low[:, None] < high) & (low < high[:, None])
    above = covers | np.triu(meets & ~covers & ~covers.T)
    np.fill_diagonal(above, val=False)
    rows = np.zeros(len(x), dtype=int)
    for _ in range(NAME_ROWS):
        higher = (above * (rows + 1)).max(axis=1)
        if (higher == rows).all():
            return [int(row) for row in rows]
        rows = higher
    return None
