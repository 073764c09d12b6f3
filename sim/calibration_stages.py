"""Stands, losses and lengths of the stages of all crops, as a season's records show them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from sim.agreement import KeyPath
from sim.calibration_grid import Floats
from sim.calibration_lengths import (
    CHECKED,
    MUCH_BETTER,
    SHAPES,
    Estimate,
    Fit,
    estimate,
    fits,
)
from sim.calibration_numbers import LEAST_BATCHES
from sim.calibration_seen import Season, StageSeen
from sim.calibration_shares import Share, Tally, raw_variance, shares
from sim.parts import Stage

LEAST_FOR_SHAPE = 20  # batches from which a shape may be exchanged for another


@dataclass(frozen=True)
class StageFound:
    """A stage: what was seen of it, and what was fitted.

    `far_more` marks the batches that the rare event hit. `growing` is estimated from `losses`,
    without that event's, and `moving` from `culls`; None if no batch tells it. `length` and
    `shapes` need `LEAST_BATCHES`. `better` is a shape that fits much better than the scenario's,
    "" if none does.
    """

    path: KeyPath
    crop: str
    stage: Stage
    seen: StageSeen
    far_more: tuple[bool, ...]
    losses: Tally | None
    culls: Tally | None
    length: Estimate | None
    shapes: dict[str, Fit]
    better: str
    growing: Share | None = None
    moving: Share | None = None

    @property
    def moved_shape(self) -> bool:
        """Whether the new scenario is to say another shape, which `CHECKED` never is."""
        return self.better in SHAPES and self.seen.lengths.ended >= LEAST_FOR_SHAPE

    @property
    def where(self) -> str:
        """Crop and stage in words."""
        return f"{self.crop}, {self.stage.name}"


def stages_of(season: Season) -> list[StageFound]:
    """All stages of all crops; losses in one place, and at moving into it, are of one kind."""
    found = [
        _found(season, crop, number)
        for crop, grown in season.timetable.scenario.crops.items()
        for number in range(len(grown.stages))
    ]
    growing = _shares([(one.stage.place, one.losses) for one in found])
    moving = _shares([(one.stage.place, one.culls) for one in found])
    return [
        replace(one, growing=growing.get(number), moving=moving.get(number))
        for number, one in enumerate(found)
    ]


def _found(season: Season, crop: str, number: int) -> StageFound:
    stage = season.timetable.scenario.crops[crop].stages[number]
    seen = season.stage(crop, number)
    far_more = _far_more(stage, seen)
    shapes = fits(seen.lengths) if seen.lengths.two_sided >= LEAST_BATCHES else {}
    found = StageFound(
        ("crops", crop, "stages", number), crop, stage, seen, far_more,
        _losses(stage, seen, far_more), _culls(stage, seen), None, shapes,
        _better(stage.days_shape, shapes),
    )  # fmt: skip
    if not shapes:
        return found
    shape = found.better if found.moved_shape else stage.days_shape
    return replace(found, length=estimate(shape, seen.lengths, stage.days, stage.days_sd))


def _shares(tallies: Sequence[tuple[str, Tally | None]]) -> dict[int, Share]:
    """The estimates by number of the stage; the tallies of one place are of one kind."""
    by_place: defaultdict[str, list[tuple[int, Tally]]] = defaultdict(list)
    for number, (place, tally) in enumerate(tallies):
        if tally:
            by_place[place].append((number, tally))
    estimates: dict[int, Share] = {}
    for of_place in by_place.values():
        numbers, known = zip(*of_place, strict=True)
        estimates |= dict(zip(numbers, shares(known), strict=True))
    return estimates


def _better(own: str, shapes: dict[str, Fit]) -> str:
    """A shape whose AIC is lower by so much that the own one has little support; "" if none is."""
    if not shapes:
        return ""
    known = min((shapes[s] for s in SHAPES), key=lambda one: one.aic)
    if shapes[own].aic - known.aic >= MUCH_BETTER:
        return known.shape
    return CHECKED if shapes[own].aic - shapes[CHECKED].aic >= MUCH_BETTER else ""


def _far_more(stage: Stage, seen: StageSeen) -> tuple[bool, ...]:
    """Which batches the rare event hit: by its name, or, if no row names it, by their losses."""
    event = stage.bad_event
    if event is None or not seen.batches:
        return (False,) * seen.batches
    if seen.named:
        return tuple(hit > 0 for hit in seen.hit)
    entered, lost = np.array(seen.entered, float), np.array(seen.lost, float)
    chance, spared = event.percent_of_batches / 100.0, 1.0 - event.loss_percent / 100.0
    if not 0.0 < chance < 1.0:
        return (False,) * seen.batches
    part = lost / entered
    mean, spread = float(np.median(part)), float(stats.median_abs_deviation(part, scale="normal"))
    far = np.zeros(len(part), dtype=bool)
    for _ in range(5):
        spread = max(spread, stage.loss_sd_points / 100.0)
        usual = np.log(1.0 - chance) + _log_chance(entered, lost, mean, spread)
        stricken = np.log(chance) + _log_chance(entered, lost, 1.0 - (1.0 - mean) * spared, spread)
        far = (stricken > usual) & (part > mean)
        if far.all():
            break
        left = Tally(entered[~far], lost[~far], 0.0)
        mean = float(left.lost.sum() / left.entered.sum())
        spread = max(raw_variance(left), 0.0) ** 0.5
    return tuple(bool(f) for f in far)


def _log_chance(entered: Floats, lost: Floats, mean: float, spread: float) -> Floats:
    mean = min(max(mean, 1e-6), 1.0 - 1e-6)
    if spread <= 0.0:
        return np.asarray(stats.binom.logpmf(lost, entered, mean))
    plants = max(mean * (1.0 - mean) / spread**2 - 1.0, 0.1)
    return np.asarray(stats.betabinom.logpmf(lost, entered, mean * plants, (1.0 - mean) * plants))


def _losses(stage: Stage, seen: StageSeen, far_more: Sequence[bool]) -> Tally | None:
    """Ordinary losses: without the rare event's, or without its batches if no row names it."""
    usual = np.array([seen.named or not far for far in far_more], dtype=bool)
    if not usual.any():
        return None
    lost = np.array(seen.lost, float) - (np.array(seen.hit, float) if seen.named else 0.0)
    own, spread = stage.loss_percent / 100.0, stage.loss_sd_points / 100.0
    return Tally(np.array(seen.entered, float)[usual], lost[usual], own, spread)


def _culls(stage: Stage, seen: StageSeen) -> Tally | None:
    if not seen.to_move:
        return None
    numbers = np.array(seen.to_move, float), np.array(seen.culled, float)
    return Tally(*numbers, stage.move_loss_percent / 100.0)
