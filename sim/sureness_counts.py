"""Which count would help most if taken next: each number's part of what is uncertain.

Numbers are drawn independently, each as a rising function of a standard normal score. The values of
every year are put down to all scores at once by least squares over the sets. A number's slope is
the mean over the years, its part the squared slope less the slope's own error variance: the
first-order part of the variance in so far as it is straight in the score (standardized regression:
Saltelli et al., Global Sensitivity Analysis, 2008, section 1.2.5, from memory). The error has two
sources: what a number does differs from year to year, and what is not straight differs from set
to set; all sets have the same years, so the first does not show in how well a line fits the sets.
The parts share out what comes from too few counts, less what is not straight.

What `more` records would take off is a number's part times the share by which they narrow it: with
what is worth `n` records now, n / (n + more) of the variance stays. It holds on average over what
the records may say, by proportion; the value that they move the number to is not in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy import special

from sim.calibration_numbers import (
    LEAST_BATCHES,
    LEAST_FOR_RARE,
    LEAST_FOR_SPREAD,
    LEAST_HIT,
    LEAST_SHIFTS,
    LEAST_TIMED,
    Kind,
)
from sim.calibration_shares import OWN_WORTH, SPREAD_WORTH
from sim.scenario import Scenario
from sim.sureness_draws import Plausible
from sim.sureness_split import ALPHA, Floats, Parts

MORE = 10  # records of a number that are taken next
_ONE_SIDED = 1.645  # standard errors: 95 % of normal values lie below
_TOGETHER: tuple[tuple[Kind, ...], ...] = (  # kinds of a stage that one way of counting tells
    ("days", "days spread"),
    ("stand", "growing loss", "loss spread", "rare share", "rare loss"),
)
_TIMES_DIFFER = 0.25  # of the minutes of a unit, from shift to shift: assumed where never timed
_LEAST: dict[Kind, int] = {  # records below which a number is not moved
    "loss spread": LEAST_FOR_SPREAD, "days spread": LEAST_FOR_SPREAD, "rare share": LEAST_FOR_RARE,
    "rare loss": LEAST_HIT, "minutes": LEAST_TIMED, "absence": LEAST_SHIFTS,
}  # fmt: skip


@dataclass(frozen=True)
class Counted:
    """One number's part of what is uncertain, and what `more` records of it would take off.

    `again` is what as many records again as there are would take off. Shares are of all that is
    uncertain of the mean; `error` is the standard error of `takes_off`.
    """

    of: Plausible
    share: float
    more: int
    takes_off: float
    error: float
    again: float


@dataclass(frozen=True)
class Ranking:
    """The numbers, those first that would be known best by one more count.

    `counts` are the ways of counting, each with the numbers that it tells, that first which takes
    off most with all of them together. `explained` is the share of the variance from set to set
    that numbers one by one explain, straight in their scores. `clear` says whether the first count
    is ahead of the second beyond noise.
    """

    rows: tuple[Counted, ...]
    counts: tuple[tuple[Counted, ...], ...]
    explained: float
    clear: bool


def rank(
    varying: Sequence[Plausible], uniforms: Floats, values: Floats, parts: Parts, *,
    batch: Mapping[str, float], scenario: Scenario,
) -> Ranking | None:  # fmt: skip
    """Rank the numbers; `uniforms` [sets, numbers] drew them, `values` [sets, years] came of them.

    `batch` is the mean number of cells in a batch by crop. There must be at least 3 sets more than
    numbers. None if no slope is beyond noise (at 5 % for all of them together).
    """
    if not varying:
        return None
    slopes, errors, bent = slopes_of(special.ndtri(uniforms), values)
    beyond = special.stdtrit(values.shape[1] - 1, 1.0 - ALPHA / 2.0 / len(varying))
    if not (np.abs(slopes) > beyond * errors + 1e-12).any():
        return None
    straight = np.maximum(slopes**2 - errors**2, 0.0)
    explained = float(straight.sum() / (straight.sum() + bent))
    scale = explained * parts.counts / parts.total / straight.sum()
    rows = []
    for one, part, slope, error in zip(varying, straight, slopes, errors, strict=True):
        share, wide = float(part) * scale, float(2.0 * abs(slope) * error + error**2) * scale
        more, count = more_of(one), one.number.count if one.how == "counted" else 0
        gain, again = (gain_of(one, m, scenario, batch) for m in (more, count))
        rows.append(Counted(one, share, more, gain * share, gain * wide, again * share))
    rows.sort(key=lambda row: -row.takes_off)
    counts = _counts(rows)
    return Ranking(tuple(rows), counts, explained, _clear(counts))


def _counts(rows: Iterable[Counted]) -> tuple[tuple[Counted, ...], ...]:
    """Numbers that one way of counting tells, put together."""
    found: dict[tuple[object, ...], list[Counted]] = {}
    for row in rows:
        number = row.of.number
        way = next((kinds for kinds in _TOGETHER if number.kind in kinds), number.kind)
        where = number.path[:4] if number.path[0] == "crops" else number.path
        found.setdefault((where, way), []).append(row)
    return tuple(sorted(map(tuple, found.values()), key=lambda of: -_sum(of)))


def _sum(of: Iterable[Counted]) -> float:
    return sum(row.takes_off for row in of)


def _clear(counts: Sequence[Sequence[Counted]]) -> bool:
    if len(counts) < 2:
        return bool(counts)
    first, second = counts[:2]
    error = sqrt(sum(row.error**2 for row in (*first, *second)))
    return _sum(first) - _sum(second) > _ONE_SIDED * error


def slopes_of(scores: Floats, values: Floats) -> tuple[Floats, Floats, float]:
    """Least-squares slopes of the years' mean on the scores, and their standard errors.

    `scores` [sets, numbers], `values` [sets, years]. The third is the variance of what differs from
    set to set and is not straight.
    """
    (sets, numbers), years = scores.shape, values.shape[1]
    design = np.column_stack([np.ones(sets), scores])
    inverse, freedom = np.linalg.inv(design.T @ design), max(sets - numbers - 1, 1)
    by_year = inverse @ design.T @ values
    left = values - design @ by_year
    of_set = left.mean(axis=1)
    yearly = float(((left - of_set[:, None]) ** 2).sum()) / (freedom * (years - 1))
    bent = max(float(of_set @ of_set) / freedom - yearly / years, 0.0)
    variances = by_year.var(axis=1, ddof=1) / years + bent * inverse.diagonal()
    return np.asarray(by_year.mean(axis=1)[1:]), np.sqrt(variances[1:]), bent


# -- what more records would tell ------------------------------------------------------------------


def more_of(one: Plausible) -> int:
    """Records to be taken next: `MORE`, or as many as are needed for the number to be moved."""
    if one.how == "counted":
        return MORE
    return max(MORE, _LEAST.get(one.number.kind, LEAST_BATCHES) - one.number.count)


def gain_of(one: Plausible, more: int, scenario: Scenario, batch: Mapping[str, float]) -> float:
    """The share of the number's variance that `more` records would take away."""
    if one.how == "counted":
        worth = worth_of(one)
        return more / (worth + more)
    if not more:
        return 0.0
    guessed = variance_of(one)
    return guessed / (guessed + one_record(one, scenario, batch) / more)


def worth_of(one: Plausible) -> float:
    """The records that all which is known of a counted number is worth."""
    count, kind, old = one.number.count, one.number.kind, one.number.old
    if kind in ("loss spread", "days spread"):
        return count - 1.0 + SPREAD_WORTH
    if kind == "rare share":
        return count + (100.0 / old if old else float(LEAST_FOR_RARE))
    return count + (0.0 if kind == "minutes" else OWN_WORTH)


def variance_of(one: Plausible) -> float:
    """Variance of a number that goes evenly over its range, half of the sets on each side."""
    down, up = one.number.new - one.low, one.high - one.number.new
    return (down**2 + up**2) / 6.0 - ((up - down) / 4.0) ** 2


def one_record(one: Plausible, scenario: Scenario, batch: Mapping[str, float]) -> float:
    """Variance of what a single record (batch, shift) says of a number, in its units squared."""
    number, value = one.number, one.number.new
    kind, name = number.kind, str(number.path[1])
    if kind in ("loss spread", "days spread"):
        return value**2 / 2.0  # of a standard deviation, for normal values
    if kind == "minutes":
        return (_TIMES_DIFFER * value) ** 2
    odds = value * (100.0 - value)
    if kind == "absence":
        return odds / scenario.crews[name].people
    if kind == "rare share":
        return odds
    place = number.path[3]
    assert isinstance(place, int)
    stage = scenario.crops[name].stages[place]
    if kind == "days":
        return stage.days_sd**2 + 1.0 / 12.0  # and the rounding to whole days
    spread = 0.0 if kind == "moving loss" else stage.loss_sd_points
    return spread**2 + odds / batch[name]
