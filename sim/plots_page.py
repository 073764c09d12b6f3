"""What the pictures share: ink, fonts, an axis of dates, closures with their names, keys.

Everything is drawn without pyplot: a function takes an Axes and puts artists on it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.dates import date2num, num2date
from matplotlib.font_manager import findfont, get_font
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, StrMethodFormatter

from sim.school_year import monday
from sim.timetable import Timetable

FONT = "DejaVu Sans"  # comes with matplotlib, so that pictures are the same everywhere
STYLE: dict[str, Any] = {
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
INK, BLUE, PALE, CLOSED = "#1a1a1a", "#1f5f99", "#b9d0e6", "#e4e4e4"
NAME_SIZE = 7.0  # of the closures' names [points]
NAME_ROWS = 5  # rows of closures' names above a picture, at most
ROW = NAME_SIZE + 2.5  # height of such a row [points]
MOST_NAMES = 40  # closures that may be named
LONGEST = 26  # characters of a name that a picture shows

_WORDS_OF_CLOSING = re.compile(r"\([^)]*\)|\b(no school|school closed)\b", re.IGNORECASE)


def shown(name: str) -> str:
    """A name as a picture shows it: in the font's characters, cut where it is very long."""
    there = get_font(findfont(FONT)).get_charmap()
    text = "".join(c for c in name if ord(c) in there).strip()
    return text if len(text) <= LONGEST else text[: LONGEST - 1].rstrip() + "…"


def day_label(day: date) -> str:
    """A date as "Oct 12"."""
    return f"{day:%b} {day.day}"


def number_of(day: date) -> float:
    """A date on the axis of dates [days]; 00:00 of the day."""
    return float(date2num(day))


def date_axis(ax: Axes, first: float, last: float, label: str) -> None:
    """Make the horizontal axis one of dates from `first` to `last`, marked on Mondays."""
    ax.xaxis_date()
    ax.set_xlim(first, last)
    start = monday(num2date(first).date() + timedelta(days=6))
    mondays = [start + timedelta(days=7 * n) for n in range(int(last - number_of(start)) // 7 + 1)]
    room = ax.bbox.width / ax.get_figure(root=True).dpi * 72 / 42  # labels of 42 points
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
    ax.yaxis.set_major_locator(MaxNLocator(6, integer=True))
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
    ax.set_yticks([0])
    ax.text(0.5, 0.5, text, transform=ax.transAxes, ha="center", va="center", fontsize=10)


def key(ax: Axes, entries: Sequence[tuple[Artist, str]], columns: int = 3) -> None:
    """Put the key below the axis of dates."""
    if entries:
        ax.legend(
            [artist for artist, _ in entries],
            [text for _, text in entries],
            loc="upper left", bbox_to_anchor=(0, 0), borderaxespad=5.6,
            ncols=columns, handlelength=2.4, columnspacing=1.6,
        )  # fmt: skip


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


def _closures(ax: Axes, timetable: Timetable) -> list[Closure]:
    """Closures within the axis of dates, in order of time."""
    school = timetable.school_year.school
    left, right = ax.get_xlim()
    found = [Closure(left, number_of(school.first_day), "before the school year")]
    for stretch in sorted(school.closed, key=lambda s: s.first_day):
        start, end = number_of(stretch.first_day), number_of(stretch.last_day) + 1
        name = _WORDS_OF_CLOSING.sub("", stretch.name).strip(" -:,;")
        found.append(Closure(max(start, left), min(end, right), shown(name)))
    found.append(Closure(number_of(school.last_day) + 1, right, "after the school year"))
    return [closure for closure in found if closure.start < closure.end]


def _name_closures(ax: Axes, closures: list[Closure]) -> int:
    """Write the closures' names above the picture; the number of rows that this takes.

    Where there are more names than fit, the shortest closures stay without.
    """
    scale = 72 / ax.get_figure(root=True).dpi
    room = ax.bbox.width * scale
    left, right = ax.get_xlim()
    named = [closure for closure in closures if closure.name]
    named = sorted(named, key=lambda c: c.start - c.end)[:MOST_NAMES]
    while named:
        order = sorted(named, key=lambda c: c.start)
        at = [((c.start + c.end) / 2 - left) / (right - left) * room for c in order]
        wide = [_width(ax, c.name) * scale + 5 for c in order]
        splits = range(len(order) + 1)
        ways = [(rows, n) for n in splits if (rows := _rows(at, wide, n, room)) is not None]
        if ways:
            rows, split = min(ways, key=lambda way: max(way[0]))
            for n, closure in enumerate(order):
                _flag(ax, closure, rows[n], side=0 if n < split else 1)
            return max(rows) + 1
        named.pop()
    return 0


def _width(ax: Axes, name: str) -> float:
    """Width of a closure's name [pixels]."""
    text = ax.text(0, 0, name, fontsize=NAME_SIZE)
    width = text.get_window_extent().width
    text.remove()
    return width


def _flag(ax: Axes, closure: Closure, row: int, side: int) -> None:
    """Write a name at the right (side 0) or the left (side 1) of a line from its closure."""
    line = {"arrowstyle": "-", "linewidth": 0.5, "color": "#888888", "shrinkA": 0, "shrinkB": 0}
    ax.annotate(
        closure.name,
        ((closure.start + closure.end) / 2, 1),
        xycoords=ax.get_xaxis_transform(),
        xytext=(2 - 4 * side, 3 + row * ROW),
        textcoords="offset points",
        horizontalalignment=("left", "right")[side],
        fontsize=NAME_SIZE,
        color="#333333",
        annotation_clip=False,
        arrowprops=line | {"relpos": (side, 0)},
    )


def _rows(at: list[float], wide: list[float], split: int, room: float) -> list[int] | None:
    """Rows of names so that none covers another or another's line; None if there are none.

    Names stand to the right of their lines, from number `split` on to the left. A name stands
    above all those whose lines it would cover.
    """
    x, w = np.array(at), np.array(wide)
    to_the_left = np.arange(len(x)) >= split
    low, high = x - w * to_the_left, x + w * ~to_the_left
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
