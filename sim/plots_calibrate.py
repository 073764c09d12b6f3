"""Pictures of a calibration: counted losses and lengths, and what was fitted to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from math import ceil

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from scipy import stats

from sim.calibration import Calibration
from sim.calibration_lengths import counted_shares, share_below
from sim.calibration_shares import LEVEL, Share, Tally
from sim.calibration_stages import StageFound
from sim.plots_page import INK, PALE, STYLE, Look, date_axis, number_of, styled
from sim.timetable import Timetable

MEASURED: Look = {"color": INK, "linewidth": 1.4}
OWN: Look = {"color": INK, "linewidth": 1.0, "dashes": (5, 2)}
SINGLE: Look = {"color": INK, "linewidth": 0.8, "linestyle": (0, (1, 2))}
USUAL: Look = {"marker": "o", "markersize": 3.5, "markerfacecolor": "white", "linestyle": "",
               "color": INK, "markeredgewidth": 0.8}  # fmt: skip
HIT: Look = {"marker": "X", "markersize": 5.5, "linestyle": "", "color": INK}
WIDE, HIGH, KEY = 4.6, 2.9, 0.7  # inches of one picture, and of the key below


@styled
def losses(
    ax: Axes, title: str, batches: tuple[Sequence[int], Tally, Sequence[bool]], share: Share,
    timetable: Timetable,
) -> Axes:  # fmt: skip
    """Draw the share lost of each batch by its day, with the mean before and after [%].

    `batches` are their first days [days since the run's first], their counts, and which were hit
    by a rare event (a cross); the band is the interval of the mean, dotted lines hold 90 % of
    batches as large as the usual one.
    """
    days, tally, hit = batches
    dates = np.array([number_of(timetable.date_of(day)) for day in days])
    lost = 100.0 * tally.lost / tally.entered
    first = timetable.date_of(min(days)) - timedelta(days=3)
    end = timetable.date_of(max(days)) + timedelta(days=4)
    date_axis(ax, first, end, "batch, by its first day [date]")
    ax.axhspan(100 * share.low, 100 * share.high, color=PALE, linewidth=0, zorder=1)
    ax.axhline(100 * share.mean, zorder=3, **MEASURED)
    ax.axhline(100 * tally.own, zorder=3, **OWN)
    for edge in _single(tally, share):
        ax.axhline(100 * edge, zorder=2, **SINGLE)
    far = np.array(hit, dtype=bool)
    ax.plot(dates[~far], lost[~far], zorder=4, **USUAL)
    ax.plot(dates[far], lost[far], zorder=4, **HIT)
    ax.set_ylim(0, 1.08 * max(float(lost.max()), 100 * share.high, 100 * tally.own, 1.0))
    ax.set_ylabel("plants lost [%]")
    ax.set_title(f"{title}, {tally.batches} batches", fontsize=9)
    return ax


def _single(tally: Tally, share: Share) -> tuple[float, ...]:
    """Shares between which so many batches of the usual size fall."""
    plants, mean = int(np.median(tally.entered)), min(max(share.mean, 1e-6), 1 - 1e-6)
    ends = np.array([(1.0 - LEVEL) / 2.0, (1.0 + LEVEL) / 2.0])
    lost = stats.binom.ppf(ends, plants, mean)
    if share.spread > 0.0:
        total = max(mean * (1.0 - mean) / share.spread**2 - 1.0, 0.1)
        lost = stats.betabinom.ppf(ends, plants, mean * total, (1.0 - mean) * total)
    return tuple(np.asarray(lost) / plants)


@styled
def lengths(ax: Axes, found: StageFound) -> Axes:
    """Draw the share of batches ready by each length [%]: counted, fitted, and as the scenario is.

    Counted shares rise within a day or between two visits, where nobody looked: the slopes.
    """
    assert found.length
    of, stage = found.length, found.stage
    ends, part = counted_shares(found.seen.lengths)
    likely = (part > 1e-3) & (np.concatenate([[0.0], part[:-1]]) < 1.0 - 1e-3)
    first = max(int(np.argmax(likely)) - 1, 0)
    points, known = ends[first:], part[first:]
    ax.plot(points, 100 * known, color=INK, linewidth=0.8, marker=".", markersize=4, zorder=4)
    own_sd = stage.days if stage.days_shape == "exponential" else max(stage.days_sd, 1e-6)
    least = min(of.mean - 3.5 * of.sd, stage.days - 3.5 * own_sd, points[0])
    most = max(of.mean + 3.5 * of.sd, stage.days + 3.5 * own_sd, ends[likely].max())
    days = np.linspace(max(0.0, least), most, 400)
    fitted = share_below(of.shape, days, np.asarray(of.mean), np.asarray(of.sd))
    ax.plot(days, 100 * fitted, zorder=3, **MEASURED)
    own = share_below(stage.days_shape, days, np.asarray(stage.days), np.asarray(own_sd))
    ax.plot(days, 100 * own, zorder=2, **OWN)
    ax.axvspan(of.low, of.high, color=PALE, linewidth=0, zorder=1)
    ax.set_xlim(days[0], days[-1])
    ax.set_ylim(0, 102)
    ax.set_xlabel("days to be ready, at a pace of 100 % [days]")
    ax.set_ylabel("batches ready [%]")
    title = f"{found.where}: {of.shape}, {found.seen.lengths.ended} batches"
    ax.set_title(title, fontsize=9)
    return ax


def figures(found: Calibration) -> dict[str, Figure]:
    """The pictures by the stem of their file's name; only of what was counted."""
    panels: list[Callable[[Axes], Axes]] = []
    for one in found.stages:
        panels += _panels(one, found.timetable)
    drawn = {}
    entries: list[tuple[Artist, str]]
    if panels:
        hit = any(any(one.far_more) for one in found.stages)
        stricken: Sequence[tuple[Artist, str]] = [(Line2D([], [], **HIT), "hit by the rare event")]
        entries = [
            (Line2D([], [], **USUAL), "a batch"), *stricken[: int(hit)],
            (Line2D([], [], **MEASURED), "measured"), (Patch(color=PALE), "90 % interval"),
            (Line2D([], [], **OWN), "scenario"), (Line2D([], [], **SINGLE), "90 % of batches"),
        ]  # fmt: skip
        drawn["losses"] = _figure(panels, entries)
    told = [one for one in found.stages if one.length]
    if told:
        entries = [
            (Line2D([], [], color=INK, linewidth=0.8, marker=".", markersize=4), "counted"),
            (Line2D([], [], **MEASURED), "measured"), (Patch(color=PALE), "mean, 90 % interval"),
            (Line2D([], [], **OWN), "scenario"),
        ]  # fmt: skip
        drawn["lengths"] = _figure([_length(one) for one in told], entries)
    return drawn


def _length(one: StageFound) -> Callable[[Axes], Axes]:
    return lambda ax: lengths(ax, one)


def _panels(one: StageFound, timetable: Timetable) -> list[Callable[[Axes], Axes]]:
    """The pictures of a stage's losses: while growing, and at moving in."""
    seen, found = one.seen, []
    if one.growing and one.losses:
        entered, lost = np.array(seen.entered, float), np.array(seen.lost, float)
        batches = seen.came, Tally(entered, lost, one.losses.own), one.far_more
        found.append(_loss(one.where, batches, one.growing, timetable))
    if one.moving and one.culls:
        none_hit = (False,) * one.culls.batches
        title = f"{one.where}: at moving in"
        found.append(_loss(title, (seen.move_came, one.culls, none_hit), one.moving, timetable))
    return found


def _loss(
    title: str, batches: tuple[Sequence[int], Tally, Sequence[bool]], share: Share,
    timetable: Timetable,
) -> Callable[[Axes], Axes]:  # fmt: skip
    return lambda ax: losses(ax, title, batches, share, timetable)


def _figure(
    panels: Sequence[Callable[[Axes], Axes]], entries: Sequence[tuple[Artist, str]]
) -> Figure:
    """Pictures two in a row, with one key below."""
    columns, rows = min(2, len(panels)), ceil(len(panels) / 2)
    with rc_context(STYLE):
        figure = Figure((max(WIDE * columns, 6.4), HIGH * rows + KEY))
        FigureCanvasAgg(figure)
        axes = figure.subplots(rows, columns, squeeze=False)
        for draw, ax in zip(panels, axes.flat, strict=False):
            draw(ax)
        for ax in axes.flat[len(panels) :]:
            ax.remove()
        figure.legend(
            *zip(*entries, strict=True), loc="outside lower center", ncols=3, handlelength=2.6
        )
        ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.08).execute(figure)
    return figure
