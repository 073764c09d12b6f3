"""The numbers of a stage: what each was, what it is measured to be, or why it is kept."""

from __future__ import annotations

from collections.abc import Iterator
from math import nan, sqrt

import numpy as np

from sim.calibration_numbers import (
    LEAST_BATCHES,
    LEAST_FOR_RARE,
    LEAST_FOR_SPREAD,
    LEAST_HIT,
    Kind,
    Number,
    kept,
    rounded,
)
from sim.calibration_shares import Share, Tally, shares
from sim.calibration_stages import StageFound

_WIDEST = 0.9  # of the most that a loss can vary, which a scenario may not reach
_GUESSED = "no row names it, and of some batches plants were only taken as lost"
_NOBODY_WROTE = "no row tells of plants lost"


def stage_numbers(found: StageFound) -> list[Number]:
    """All numbers of a stage that records can tell, in the order of a scenario's keys."""
    return [
        *_days(found),
        *_growing(found),
        *_rare(found),
        *_moving(found),
    ]


def _days(found: StageFound) -> Iterator[Number]:
    """The mean length and, but for the shape whose spread is its mean, the spread."""
    stage, of, lengths = found.stage, found.length, found.seen.lengths
    why = ""
    if not found.seen.told_by:
        why = "no row says when plants were ready"
    elif of is None:
        why = _too_few(lengths.two_sided, LEAST_BATCHES)
    same = lengths.common
    if of is None:
        yield _kept(found, "days", "days", stage.days, why, count=lengths.ended)
    elif not stage.days_sd and same and same[0] < stage.days < same[1]:  # all batches agree with it
        yield _number(found, "days", "days", (stage.days, stage.days, *same), lengths.ended)
    else:
        values = stage.days, max(of.mean, 1.0), of.low, of.high
        yield _number(found, "days", "days", values, lengths.ended)
    if (of.shape if of else stage.days_shape) == "exponential":
        return
    if not why and lengths.ended < LEAST_FOR_SPREAD:
        why = _too_few(lengths.ended, LEAST_FOR_SPREAD)
    elif not why and same:
        why = "no batch surely differs from another"
    if why or of is None:
        yield _kept(found, "days_sd", "days spread", stage.days_sd, why, count=lengths.ended)
    else:
        values = stage.days_sd, of.sd, of.sd_low, of.sd_high
        yield _number(found, "days_sd", "days spread", values, lengths.ended)


def _growing(found: StageFound) -> Iterator[Number]:
    """The loss while growing and its spread; in a crop's first stage people say the stand."""
    stage, share, tally = found.stage, found.growing, found.losses
    kind: Kind = "growing loss" if found.path[-1] else "stand"
    count = tally.batches if tally else 0
    written = tally is not None and bool(tally.lost.sum() > 0)
    why = _why_kept(count, LEAST_BATCHES, written=written, old=stage.loss_percent)
    spread_why = why or ("" if count >= LEAST_FOR_SPREAD else _too_few(count, LEAST_FOR_SPREAD))
    loss = stage.loss_percent
    if why or share is None:
        yield _kept(found, "loss_percent", kind, loss, why, count=count)
    else:
        number = _number(found, "loss_percent", kind, (loss, *_percent(share)), count)
        loss = number.new
        yield number
    most = _WIDEST * 100.0 * sqrt(loss / 100.0 * (1.0 - loss / 100.0))
    key, old = "loss_sd_points", stage.loss_sd_points
    if share and not spread_why:
        spread, low, high = (100.0 * s for s in (share.spread, share.spread_low, share.spread_high))
        yield _number(found, key, "loss spread", (old, min(spread, most), low, high), count)
    elif not why and old > most:  # the measured loss does not allow the old spread
        yield _number(found, key, "loss spread", (old, most, nan, nan), count)
    else:
        yield _kept(found, key, "loss spread", old, spread_why, count=count)


def _rare(found: StageFound) -> Iterator[Number]:
    event, seen = found.stage.bad_event, found.seen
    if event is None:
        return
    count, hit = len(found.far_more), np.array(found.far_more, dtype=float)
    old, key = event.percent_of_batches, "bad_event.percent_of_batches"
    if count < LEAST_FOR_RARE:
        why = _too_few(count, LEAST_FOR_RARE)
        yield _kept(found, key, "rare share", old, why, count=count)
    elif seen.guessed and not seen.named:
        yield _kept(found, key, "rare share", old, _GUESSED, count=count)
    else:
        worth = 100.0 / old if old else float(LEAST_FOR_RARE)  # the batches that hold one hit
        (share,) = shares([Tally(np.ones(count), hit, old / 100.0)], worth)
        values = old, *_percent(share)
        yield _number(found, key, "rare share", values, count)
    old, key, hits = event.loss_percent, "bad_event.loss_percent", int(hit.sum())
    if not seen.named or hits < LEAST_HIT:
        why = _too_few(hits, LEAST_HIT, " hit") if seen.named else "no row names it as a cause"
        yield _kept(found, key, "rare loss", old, why, count=hits)
        return
    stricken = [n for n, far in enumerate(found.far_more) if far]
    lost = np.array([seen.hit[n] for n in stricken], float)
    up = np.array([seen.entered[n] - seen.lost[n] + seen.hit[n] for n in stricken], float)
    (share,) = shares([Tally(up, lost, old / 100.0)])
    yield _number(found, key, "rare loss", (old, *_percent(share)), hits)


def _moving(found: StageFound) -> Iterator[Number]:
    if not found.path[-1]:
        return
    share, tally, old = found.moving, found.culls, found.stage.move_loss_percent
    count = tally.batches if tally else 0
    written = tally is not None and bool(tally.lost.sum() > 0)
    if why := _why_kept(count, LEAST_BATCHES, written=written, old=old):
        yield _kept(found, "move_loss_percent", "moving loss", old, why, count=count)
    elif share:
        values = old, *_percent(share)
        yield _number(found, "move_loss_percent", "moving loss", values, count)


def _why_kept(count: int, least: int, *, written: bool, old: float) -> str:
    if count < least:
        return _too_few(count, least)
    return "" if written or not old else _NOBODY_WROTE


def _too_few(count: int, least: int, more: str = "") -> str:
    counted = f"{count} {'batch' if count == 1 else 'batches'}{more}"
    return f"{counted if count else f'no batch{more}'}, at least {least} are needed"


def _percent(share: Share) -> tuple[float, float, float]:
    return 100.0 * share.mean, 100.0 * share.low, 100.0 * share.high


def _kept(found: StageFound, key: str, kind: Kind, old: float, why: str, *, count: int) -> Number:
    return kept((*found.path, *key.split(".")), kind, found.where, old, why, count=count)


def _number(
    found: StageFound, key: str, kind: Kind, values: tuple[float, float, float, float], count: int
) -> Number:
    old, new, low, high = values
    path = (*found.path, *key.split("."))
    return Number(path, kind, found.where, old, rounded(kind, new), low, high, count, "batches")
