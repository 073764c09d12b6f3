"""Shares counted batch by batch, and the scenario's own share beside them, put together.

The number lost of a batch is taken as beta-binomial (rule C5): a chance that varies from batch to
batch with a mean and a standard deviation, then plant by plant. A mean is a credibility estimate
(H. Buehlmann, ASTIN Bulletin 4:199, 1967, from memory): the counted mean and the scenario's own
value, which is worth so many batches. Nothing here knows of greenhouses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import stats

OWN_WORTH = 1.0  # batches that a scenario's own mean is worth
SPREAD_WORTH = 3.0  # batches that its own batch-to-batch spread is worth
KINSHIP = 0.5  # correlation, from crop to crop, of how far a scenario's value is off
LEVEL = 0.90  # of all intervals

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tally:
    """The batches of one crop in one place: how many came in, how many of them were lost.

    `own` and `own_spread` are the scenario's mean and batch-to-batch standard deviation [shares].
    """

    entered: Floats
    lost: Floats
    own: float
    own_spread: float = 0.0

    @property
    def batches(self) -> int:
        """Batches counted."""
        return len(self.entered)


@dataclass(frozen=True)
class Share:
    """A mean share lost and its batch-to-batch standard deviation, each with its interval."""

    mean: float
    low: float
    high: float
    spread: float
    spread_low: float
    spread_high: float


@dataclass(frozen=True)
class _Counted:
    """What the batches of one tally say alone.

    `variance` is that of the mean; `each` that of a typical batch of `size` plants, with so many
    degrees of `freedom`, of which `spread2` comes from batch to batch; `plain` is m (1 - m).
    """

    mean: float
    variance: float
    each: float
    spread2: float
    plain: float
    size: float
    freedom: float


def shares(
    tallies: Sequence[Tally], worth: float = OWN_WORTH, spread_worth: float = SPREAD_WORTH
) -> list[Share]:
    """Estimates of tallies that are of one kind, such as all crops in one place.

    Each mean is drawn towards the scenario's own value, worth `worth` batches, moved by half of
    what the other crops show (`KINSHIP`); each variance from batch to batch towards the
    scenario's, worth `spread_worth` batches, in the same way. An interval is that of a beta
    distribution of the estimate's variance, widened as Student's t for what few batches say of
    it, with half a plant added at both ends (Jeffreys). Every tally must have a batch.
    """
    found = [
        _counted(t, own2, spread_worth)
        for t, own2 in zip(tallies, _own_variances(tallies, spread_worth), strict=True)
    ]
    own = np.array([t.own for t in tallies])
    gain = _gain(np.array([f.variance for f in found]), np.array([f.each for f in found]), worth)
    means = own + gain @ (np.array([f.mean for f in found]) - own)
    variances = gain.diagonal() * np.array([f.variance for f in found])
    return [
        _share(f, float(min(max(m, 0.0), 1.0)), float(v))
        for f, m, v in zip(found, means, variances, strict=True)
    ]


def _gain(variances: Floats, each: Floats, worth: float) -> Floats:
    """How far the means move per unit by which counts differ from the own values, [crops, crops].

    Departures are normal with variance `each` / `worth` and the correlation `KINSHIP`.
    """
    if worth == inf:
        return np.zeros((len(each), len(each)))
    likeness = np.full((len(each), len(each)), KINSHIP)
    np.fill_diagonal(likeness, 1.0)
    prior = likeness * np.sqrt(np.outer(each, each))
    return np.asarray(np.linalg.solve((prior + worth * np.diag(variances)).T, prior.T).T)


def _counted(tally: Tally, own2: float, spread_worth: float) -> _Counted:
    n = tally.entered
    smoothed = (tally.lost.sum() + 0.5) / (n.sum() + 1.0)
    plain, size = float(smoothed * (1.0 - smoothed)), tally.batches / float((1.0 / n).sum())
    spread2, freedom = _spread2(tally, own2, spread_worth, plain / size)
    spread2 = float(min(max(spread2, 0.0), 0.999 * plain))
    each = spread2 + (plain - spread2) / n
    typical = spread2 + (plain - spread2) / size
    if own2 > 0.0 and spread2 > 0.0:
        freedom *= (typical / spread2) ** 2
    mean = float((tally.lost / n / each).sum() / (1.0 / each).sum())
    variance = float(1.0 / (1.0 / each).sum())
    return _Counted(mean, variance, typical, spread2, plain, size, max(freedom, 1.0))


def _spread2(tally: Tally, own2: float, worth: float, plants: float) -> tuple[float, float]:
    """Variance from batch to batch, and its degrees of freedom.

    The more of a batch's variance `plants` explain, the less does a batch say of the rest: the
    counts weigh as (batches - 1) (own / (own + plants))^2 against `worth`.
    """
    if worth == inf:
        return own2, inf
    said = tally.batches - 1.0
    if own2 > 0.0:
        said *= (own2 / (own2 + plants)) ** 2
    if said + worth <= 0.0:
        return 0.0, 1.0
    return (said * raw_variance(tally) + worth * own2) / (said + worth), said + worth


def raw_variance(tally: Tally) -> float:
    """Variance of the chance from batch to batch, by moments; 0 or less if plants alone explain it.

    Var(share lost) = s^2 + (m (1 - m) - s^2) / n, averaged over the batches.
    """
    if tally.batches < 2:
        return 0.0
    part, over = tally.lost / tally.entered, float((1.0 / tally.entered).mean())
    mean = tally.lost.sum() / tally.entered.sum()
    if over >= 1.0:
        return 0.0  # single plants say nothing of batches
    return float((part.var(ddof=1) - mean * (1.0 - mean) * over) / (1.0 - over))


def _own_variances(tallies: Sequence[Tally], worth: float) -> list[float]:
    """The scenario's variances from batch to batch, moved by what the other crops show."""
    own = [t.own_spread**2 for t in tallies]
    if worth in (0.0, inf):
        return own
    moved = []
    for here in range(len(tallies)):
        others = [n for n in range(len(tallies)) if n != here and own[n] > 0.0]
        known = [KINSHIP * (tallies[n].batches - 1) for n in others]
        seen = [raw_variance(tallies[n]) / own[n] for n in others]
        ratio = worth + sum(k * s for k, s in zip(known, seen, strict=True))
        moved.append(own[here] * max(ratio / (worth + sum(known)), 0.0))
    return moved


def _share(counted: _Counted, mean: float, variance: float) -> Share:
    low, high = _interval(counted, mean, variance)
    spread_low, spread_high = _spread_interval(counted)
    return Share(mean, low, high, sqrt(counted.spread2), spread_low, spread_high)


def _interval(counted: _Counted, mean: float, variance: float) -> tuple[float, float]:
    if variance <= 0.0:
        return mean, mean
    tail = (1.0 + LEVEL) / 2.0
    wider = 1.0
    if counted.spread2 > 0.0 and counted.freedom < inf:
        wider = float(stats.t.ppf(tail, counted.freedom) / stats.norm.ppf(tail))
    plants = max(max(mean * (1.0 - mean), counted.plain) / (variance * wider**2) - 1.0, 0.1)
    beta = stats.beta(mean * plants + 0.5, (1.0 - mean) * plants + 0.5)
    low, high = (float(q) for q in beta.ppf([1.0 - tail, tail]))
    return min(low, mean), max(high, mean)


def _spread_interval(counted: _Counted) -> tuple[float, float]:
    """By chi-square for the variance of a typical batch's share, less what single plants add."""
    if counted.freedom == inf:
        return sqrt(counted.spread2), sqrt(counted.spread2)
    tail, plants = (1.0 + LEVEL) / 2.0, counted.plain / counted.size
    ends = []
    for quantile in (tail, 1.0 - tail):
        total = counted.each * counted.freedom / float(stats.chi2.ppf(quantile, counted.freedom))
        ends.append(sqrt(max(total - plants, 0.0) / max(1.0 - 1.0 / counted.size, 1e-9)))
    return ends[0], ends[1]
