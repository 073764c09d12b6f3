"""Lengths of which only limits are known: shapes compared, mean and spread with their intervals.

Lengths [days of a pace of 100 %] come as limits: a batch that was not ready at one visit and was at
the next; one that still grows has no upper limit. The chance of such an observation is that of the
shape between its limits, which also takes care of the model's rounding to whole days.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, gamma, inf, log

import numpy as np
from scipy import optimize, special

from sim.calibration_grid import Floats, around, mean_of, quantiles
from sim.calibration_shares import LEVEL, OWN_WORTH, SPREAD_WORTH

SHAPES = ("normal", "lognormal", "gamma", "exponential")  # those that a scenario knows
CHECKED = "weibull"  # only to see that nothing fits much better
MUCH_BETTER = 4.0  # difference of AIC (Burnham & Anderson, 2002: "considerably less support")

_STEPS = 61  # of the grid over the mean and over the spread
_LEAST = 1e-9  # chance of any length: what was written wrong must not move all the others
_NARROWEST = 0.05  # days of spread that whole days can still tell from none


@dataclass(frozen=True)
class Lengths:
    """Limits of lengths, a pair a batch: above `low`, at most `high` (inf: still grows) [days]."""

    low: Floats
    high: Floats

    @property
    def ended(self) -> int:
        """Lengths that have an upper limit."""
        return int(np.isfinite(self.high).sum())

    @property
    def common(self) -> tuple[float, float] | None:
        """Limits that all lengths have in common [days]; None if some are surely different."""
        low, high = float(self.low.max(initial=-inf)), float(self.high.min(initial=inf))
        return (low, high) if low < high < inf else None

    @property
    def two_sided(self) -> int:
        """Lengths that are limited from both sides, or are of 2 days at most."""
        return int((np.isfinite(self.high) & (np.isfinite(self.low) | (self.high <= 2.0))).sum())

    @property
    def middles(self) -> Floats:
        """Rough single values of the lengths that ended [days]."""
        done = np.isfinite(self.high)
        low = np.where(np.isfinite(self.low), self.low, self.high - 1.0)
        return np.asarray((low + self.high)[done] / 2.0)


@dataclass(frozen=True)
class Fit:
    """A shape fitted by the largest likelihood: mean, standard deviation [days], and AIC."""

    shape: str
    mean: float
    sd: float
    aic: float


@dataclass(frozen=True)
class Estimate:
    """Mean and standard deviation of a length with their intervals [days]."""

    shape: str
    mean: float
    low: float
    high: float
    sd: float
    sd_low: float
    sd_high: float


def share_below(shape: str, length: Floats, mean: Floats, sd: Floats) -> Floats:
    """Chance of a length below `length`; arguments broadcast [days]."""
    if shape == "normal":
        return np.asarray(special.ndtr((length - mean) / sd))
    length = np.maximum(length, 0.0)
    if shape == "exponential":
        return np.asarray(-np.expm1(-length / mean))
    ratio = sd / mean
    if shape == "gamma":
        return np.asarray(special.gammainc(1.0 / ratio**2, length / (mean * ratio**2)))
    if shape == "lognormal":
        log_sd = np.sqrt(np.log1p(ratio**2))
        with np.errstate(divide="ignore"):
            return np.asarray(special.ndtr((np.log(length / mean) + log_sd**2 / 2.0) / log_sd))
    power = np.vectorize(_weibull_power)(ratio)
    return np.asarray(-np.expm1(-((length * special.gamma(1.0 + 1.0 / power) / mean) ** power)))


def _weibull_power(ratio: float) -> float:
    """The Weibull power whose standard deviation is `ratio` of its mean."""

    def beyond(log_power: float) -> float:
        k = exp(log_power)
        return log(gamma(1.0 + 2.0 / k) / gamma(1.0 + 1.0 / k) ** 2) - log(1.0 + ratio**2)

    ends = (log(0.3), log(2000.0))
    if beyond(ends[0]) <= 0.0:
        return exp(ends[0])
    return exp(float(optimize.brentq(beyond, *ends))) if beyond(ends[1]) < 0.0 else exp(ends[1])


def log_likelihood(shape: str, lengths: Lengths, mean: Floats, sd: Floats) -> Floats:
    """Log of the chance of all observations, for arrays of means and spreads of one shape."""
    low = lengths.low.reshape(-1, *(1,) * np.ndim(mean))
    high = lengths.high.reshape(low.shape)
    chance = share_below(shape, high, mean, sd) - share_below(shape, low, mean, sd)
    return np.asarray(np.log(np.maximum(chance, _LEAST)).sum(axis=0))


def misfits(shape: str, lengths: Lengths, mean: float, sd: float) -> int:
    """How many observations no length of this shape can be behind."""
    ends = np.asarray(mean), np.asarray(sd)
    chance = share_below(shape, lengths.high, *ends) - share_below(shape, lengths.low, *ends)
    return int((chance <= _LEAST).sum())


def fit(shape: str, lengths: Lengths) -> Fit:
    """The mean and spread of one shape that make the observations most likely."""
    middles = lengths.middles
    start = [log(max(float(middles.mean()), 0.1))]
    if shape != "exponential":
        start.append(log(max(float(middles.std()), 0.5)))

    def unlikely(logs: Floats) -> float:
        mean, sd = exp(logs[0]), exp(max(logs[-1], log(_NARROWEST)))
        return -float(log_likelihood(shape, lengths, np.asarray(mean), np.asarray(sd)))

    best = optimize.minimize(
        unlikely, np.array(start), method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-6}
    )
    mean, sd = exp(best.x[0]), exp(max(best.x[-1], log(_NARROWEST)))
    return Fit(shape, mean, sd, 2.0 * len(start) + 2.0 * float(best.fun))


def fits(lengths: Lengths) -> dict[str, Fit]:
    """All shapes fitted, `CHECKED` among them, the best first."""
    found = [fit(shape, lengths) for shape in (*SHAPES, CHECKED)]
    return {one.shape: one for one in sorted(found, key=lambda one: one.aic)}


def estimate(
    shape: str, lengths: Lengths, own: float, own_sd: float, worth: float = OWN_WORTH
) -> Estimate:
    """Mean and spread of a shape, with the scenario's own values worth a few batches.

    The intervals and means are those of the posterior, summed over a grid: the own mean is worth
    `worth` batches (a normal distribution of variance sd^2 / `worth` about it), the own spread
    `SPREAD_WORTH` (a scaled inverse chi-square), or nothing if it is 0.
    """
    if shape == "exponential":
        return _exponential(lengths, own, worth)
    spread_worth = SPREAD_WORTH if own_sd > 0.0 and worth else 0.0
    mean_ends, sd_ends = _first_ends(lengths, own, own_sd)
    for _ in range(3):  # closer each time around where the posterior is
        means = np.linspace(*mean_ends, _STEPS)
        logs = np.linspace(log(sd_ends[0]), log(sd_ends[1]), _STEPS)
        mean, sd = means[:, None], np.exp(logs)[None, :]
        weight = log_likelihood(shape, lengths, *np.broadcast_arrays(mean, sd))
        weight -= worth * ((mean - own) / sd) ** 2 / 2.0 + (worth > 0.0) * np.log(sd)
        weight -= spread_worth * ((own_sd / sd) ** 2 / 2.0 + np.log(sd))
        chance = np.exp(weight - weight.max())
        mean_ends = around(means, chance.sum(axis=1))
        low, high = around(logs, chance.sum(axis=0))
        sd_ends = exp(low), exp(high)
    mean_part, sd_part = chance.sum(axis=1), chance.sum(axis=0)
    low, high = quantiles(means, mean_part, LEVEL)
    sd_low, sd_high = (exp(q) for q in quantiles(logs, sd_part, LEVEL))
    middle, spread = mean_of(means, mean_part), mean_of(np.exp(logs), sd_part)
    return Estimate(shape, middle, low, high, spread, sd_low, sd_high)


def _first_ends(
    lengths: Lengths, own: float, own_sd: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the first grid, certain to hold what is likely."""
    middles = lengths.middles
    width = float(np.ptp(middles)) + abs(float(middles.mean()) - own) + own_sd + 2.0
    least = max(float(middles.min()) - 2.0 * width, 0.2)
    return (least, float(middles.max()) + 2.0 * width), (_NARROWEST, 4.0 * width)


def _exponential(lengths: Lengths, own: float, worth: float) -> Estimate:
    """The same for the shape whose spread is its mean; the own mean is worth `worth` lengths."""
    middle = max(float(lengths.middles.mean()), 0.1)
    logs = np.linspace(log(min(middle, own) / 20.0), log(max(middle, own) * 20.0), 4001)
    means = np.exp(logs)
    weight = log_likelihood("exponential", lengths, means, means)
    weight -= worth * (logs + own / means)
    chance = np.exp(weight - weight.max())
    low, high = (exp(q) for q in quantiles(logs, chance, LEVEL))
    mean = mean_of(means, chance)
    return Estimate("exponential", mean, low, high, mean, low, high)


def counted_shares(lengths: Lengths) -> tuple[Floats, Floats]:
    """The largest-likelihood shares without any shape: ends of steps [days], share at most so long.

    The self-consistent estimate for limits (B. Turnbull, J. Royal Stat. Soc. B 38:290, 1976, from
    memory), over cells between all limits, 500 rounds. What still grows stays above the last end.
    """
    ends = np.unique(np.concatenate([lengths.low, lengths.high]))
    ends = ends[np.isfinite(ends)]
    cells = np.append(ends, inf)
    before = np.concatenate([[-inf], ends])
    holds = (before >= lengths.low[:, None]) & (cells <= lengths.high[:, None])
    part = holds.any(axis=0) / max(holds.any(axis=0).sum(), 1)
    for _ in range(500):
        whole = holds * part
        part = (whole / whole.sum(axis=1, keepdims=True)).mean(axis=0)
    return ends, np.asarray(np.cumsum(part)[:-1])
