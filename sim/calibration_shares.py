"""Shares counted batch by batch, and the scenario's own share beside them, put together.

The number lost of a batch is taken as beta-binomial (rule C5): a chance that varies from batch to
batch with a mean and a standard deviation, then plant by plant. What is said of both is their
posterior, summed over a grid: the scenario's own mean is worth so many batches, its own spread so
many more, and both move with what other crops of the same kind show (H. Buehlmann's credibility,
ASTIN Bulletin 4:199, 1967, from memory). Nothing here knows of greenhouses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt

import numpy as np
from scipy import special

from sim.calibration_grid import Floats, around, mean_of, quantiles

OWN_WORTH = 1.0  # batches that a scenario's own mean is worth
SPREAD_WORTH = 3.0  # batches that its own batch-to-batch spread is worth
LEVEL = 0.90  # of all intervals
KINSHIP = 0.5  # correlation, from crop to crop, of how far a scenario's value is off

_STEPS = (41, 31)  # of the grid over the mean and over the spread
_ROUNDS = 5  # of the grid, each closer around where the posterior is
_HALF_PLANT = 0.5  # the least that a prior holds of plants lost, and of plants not lost (Jeffreys)
_BEYOND = 12.0  # how far the first grid reaches beyond the means that are known [log odds]
_TIMES = 8.0  # and beyond the spreads, by proportion
_NARROWEST = 1e-6  # the least weight of an end of a beta distribution


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

    @property
    def size(self) -> float:
        """Plants of a usual batch: the harmonic mean."""
        return self.batches / float((1.0 / self.entered).sum())

    @property
    def plain(self) -> float:
        """Variance of a single plant: m (1 - m), half a plant added at both ends."""
        smoothed = float((self.lost.sum() + _HALF_PLANT) / (self.entered.sum() + 2 * _HALF_PLANT))
        return smoothed * (1.0 - smoothed)


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
class _Prior:
    """What is taken for likely before counting: a mean and a spread, and the batches of each."""

    mean: float
    worth: float
    spread: float
    spread_worth: float


def shares(
    tallies: Sequence[Tally], worth: float = OWN_WORTH, spread_worth: float = SPREAD_WORTH
) -> list[Share]:
    """Estimates of tallies that are of one kind, such as all crops in one place.

    Each mean is drawn towards the scenario's own value, worth `worth` batches, moved by half of
    what the other crops show (`KINSHIP`); each variance from batch to batch towards the
    scenario's, worth `spread_worth` batches, in the same way. Every tally must have a batch.
    """
    own2 = _own_variances(tallies, spread_worth)
    means = _own_means(tallies, own2, worth, spread_worth)
    return [
        _share(tally, _Prior(*mean, sqrt(variance), spread_worth))
        for tally, mean, variance in zip(tallies, means, own2, strict=True)
    ]


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


# -- what the other crops say ----------------------------------------------------------------------


def _own_means(
    tallies: Sequence[Tally], own2: Sequence[float], worth: float, spread_worth: float
) -> list[tuple[float, float]]:
    """The scenario's means, moved by what the other crops show, and the batches they are worth.

    Departures are normal with the variance of a batch / `worth` and the correlation `KINSHIP`;
    given the counts of the others a crop's own has another mean and a smaller variance.
    """
    own = np.array([t.own for t in tallies])
    if len(tallies) == 1 or worth in (0.0, inf):
        return [(float(mean), worth) for mean in own]
    each = np.array([_batch(t, s2) for t, s2 in zip(tallies, own2, strict=True)])
    prior = KINSHIP * np.sqrt(np.outer(each, each)) / worth
    np.fill_diagonal(prior, each / worth)
    off = np.array([t.lost.sum() / t.entered.sum() for t in tallies]) - own
    seen2 = [_seen2(t, s2, spread_worth) for t, s2 in zip(tallies, own2, strict=True)]
    noise = np.array([_batch(t, s2) / t.batches for t, s2 in zip(tallies, seen2, strict=True)])
    found = []
    for here in range(len(tallies)):
        others = np.delete(np.arange(len(tallies)), here)
        known = prior[np.ix_(others, others)] + np.diag(noise[others])
        gain = np.linalg.solve(known, prior[others, here])
        left = 1.0 - float(gain @ prior[others, here]) / prior[here, here]
        mean = float(own[here] + gain @ off[others])
        found.append((min(max(mean, 0.0), 1.0), worth / left))
    return found


def _batch(tally: Tally, spread2: float) -> float:
    """Variance of a usual batch's share lost: from batch to batch, and plant by plant."""
    return spread2 + max(tally.plain - spread2, 0.0) / tally.size


def _seen2(tally: Tally, own2: float, worth: float) -> float:
    """Variance from batch to batch, counted and the scenario's own together."""
    if worth == inf:
        return own2
    said = tally.batches - 1.0
    seen = (said * raw_variance(tally) + worth * own2) / max(said + worth, 1.0)
    return min(max(seen, 0.0), 0.99 * tally.plain)


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


# -- one crop --------------------------------------------------------------------------------------


def _share(tally: Tally, prior: _Prior) -> Share:
    """The posterior of one tally.

    Where the scenario says that batches do not vary, the mean takes them to vary as they are seen
    to do beyond what plants explain, and the spread's interval supposes nothing.
    """
    if prior.worth == inf:
        return Share(*(prior.mean,) * 3, *(prior.spread,) * 3)
    known = _known_spread(tally, prior)
    odds, spreads = _posterior(tally, prior, known)
    mean = mean_of(special.expit(odds[0]), odds[1])
    low, high = (float(special.expit(q)) for q in quantiles(*odds, LEVEL))
    if not prior.mean and not tally.lost.any():
        mean = low = 0.0  # none expected and none seen
    if prior.spread_worth == inf:
        return Share(mean, low, high, *(prior.spread,) * 3)
    if known is not None:
        _, spreads = _posterior(tally, prior, None)
    spread = mean_of(np.exp(spreads[0]), spreads[1]) if known is None else known
    least, most = (exp(q) for q in quantiles(*spreads, LEVEL))
    return Share(mean, low, high, spread, min(least, spread), max(most, spread))


def _known_spread(tally: Tally, prior: _Prior) -> float | None:
    """The spread that the mean is estimated with; None if it is estimated beside it."""
    if prior.spread_worth < inf and prior.spread:
        return None
    return sqrt(_seen2(tally, prior.spread**2, prior.spread_worth))


_Part = tuple[Floats, Floats]  # points, and the chance of each


def _posterior(tally: Tally, prior: _Prior, known: float | None) -> tuple[_Part, _Part]:
    """Chances of the log odds of the mean, and of the log of the spread unless that is known."""
    counts = np.stack([tally.entered, tally.lost])
    (entered, lost), times = np.unique(counts, axis=1, return_counts=True)
    odds_ends, spread_ends = _first_ends(tally, prior)
    for _ in range(_ROUNDS):
        odds = np.linspace(*odds_ends, _STEPS[0])
        spreads = np.linspace(*spread_ends, _STEPS[1] if known is None else 1)
        mean = special.expit(odds)[:, None]
        sd = np.exp(spreads)[None, :] if known is None else np.array([[known]])
        weight = _log_prior(tally, prior, mean, sd, free=known is None)
        weight += (_log_chances(entered, lost, mean, sd) * times).sum(axis=2)
        chance = np.exp(weight - weight.max())
        of_odds, of_spread = chance.sum(axis=1), chance.sum(axis=0)
        odds_ends = around(odds, of_odds)
        if known is None:
            spread_ends = around(spreads, of_spread)
    return (odds, of_odds), (spreads, of_spread)


def _first_ends(tally: Tally, prior: _Prior) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the first grid, certain to hold what is likely."""
    seen = float((tally.lost.sum() + _HALF_PLANT) / (tally.entered.sum() + 2 * _HALF_PLANT))
    least = _HALF_PLANT / float(tally.entered.sum() + 1.0)
    odds = special.logit(np.clip([seen, prior.mean], least, 1.0 - least))
    spreads = [prior.spread or sqrt(tally.plain / tally.size), sqrt(max(raw_variance(tally), 0.0))]
    low, high = log(spreads[0] / _TIMES), log(max(spreads) * _TIMES)
    return (float(odds.min()) - _BEYOND, float(odds.max()) + _BEYOND), (low, high)


def _log_prior(tally: Tally, prior: _Prior, mean: Floats, sd: Floats, *, free: bool) -> Floats:
    """Log of what was likely before, for the log odds of means and the logs of spreads.

    The mean has a beta distribution of the variance of a batch / `worth`; the spread a scaled
    inverse chi-square of `spread_worth` batches, or all values alike if the own one is 0.
    """
    plain = max(prior.mean * (1.0 - prior.mean), _HALF_PLANT / tally.size)
    batch = sd**2 + np.maximum(plain - sd**2, 0.0) / tally.size
    plants = prior.worth * plain / batch - 1.0
    lost, kept = (np.maximum(p * plants, _HALF_PLANT) for p in (prior.mean, 1.0 - prior.mean))
    weight = lost * np.log(mean) + kept * np.log1p(-mean) - special.betaln(lost, kept)
    if free and prior.spread:
        weight -= prior.spread_worth * ((prior.spread / sd) ** 2 / 2.0 + np.log(sd))
    elif free:
        weight += np.log(sd)
    return np.asarray(weight)


def _log_chances(entered: Floats, lost: Floats, mean: Floats, sd: Floats) -> Floats:
    """Log of the chance of each batch's number lost, beta-binomial [means, spreads, batches]."""
    mean = mean[..., None]
    if not sd.any():
        return np.asarray(lost * np.log(mean) + (entered - lost) * np.log1p(-mean))
    plants = mean * (1.0 - mean) / sd[..., None] ** 2 - 1.0
    a, b = (np.maximum(part * plants, _NARROWEST) for part in (mean, 1.0 - mean))
    chance = special.betaln(a + lost, b + entered - lost) - special.betaln(a, b)
    return np.asarray(np.where(plants > 0.0, chance, -np.inf))
