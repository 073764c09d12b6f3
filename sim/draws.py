"""Luck keyed by identity, drawn by inversion.

A uniform number is a keyed hash (BLAKE2b, RFC 7693) of who asks for it: the seed, the
replication, the cause, the crop, the slot and the stage. Nothing depends on the order in which
numbers are asked for, so moving or adding one seeding changes the luck of no other. A draw is
the quantile of its distribution at that uniform number, so that it moves little when only its
parameters change.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from hashlib import blake2b
from math import ceil, exp, log, log1p, sqrt
from statistics import NormalDist
from struct import Struct

_KEY = Struct("<6q")
_EIGHT = Struct("<8I")
_STEP = 2.0**-32
_HALF_STEP = 2.0**-33
_WALK_LIMIT = 12.0  # mean of the rarer outcome up to which a count is summed term by term

_normal = NormalDist()
normal_quantile: Callable[[float], float] = _normal.inv_cdf


@lru_cache(maxsize=4096)
def name_key(name: str) -> int:
    """A name as a whole number, the same in every process."""
    return int.from_bytes(blake2b(name.encode(), digest_size=7).digest(), "little")


class Luck:
    """The random numbers of one replication."""

    def __init__(self, seed: int, replication: int) -> None:
        key = (seed % 2**128).to_bytes(16, "little")
        self._keyed = blake2b(digest_size=32, key=key)  # copied for each message: saves a block
        self._replication = replication

    def eight(self, who: int, week: int, entry: int, stage: int, cause: int = 0) -> list[float]:
        """Eight independent uniform numbers in (0, 1), in steps of 2**-32, for one identity."""
        keyed = self._keyed.copy()
        keyed.update(_KEY.pack(self._replication, who, week, entry, stage, cause))
        a, b, c, d, e, f, g, h = _EIGHT.unpack(keyed.digest())
        return [
            a * _STEP + _HALF_STEP, b * _STEP + _HALF_STEP, c * _STEP + _HALF_STEP,
            d * _STEP + _HALF_STEP, e * _STEP + _HALF_STEP, f * _STEP + _HALF_STEP,
            g * _STEP + _HALF_STEP, h * _STEP + _HALF_STEP,
        ]  # fmt: skip


def binomial(u: float, n: int, p: float) -> int:
    """Quantile at `u` of a binomial count of `n` trials with probability `p`.

    Exact (summed term by term) while the rarer outcome is expected at most 12 times; beyond
    that by `_cornish_fisher`, whose cumulative probability is off by less than 0.002.
    """
    if n <= 0 or p <= 0.0:
        return 0
    if p >= 1.0:
        return n
    q = 1.0 - p
    mean = n * p
    if mean > _WALK_LIMIT < n * q:
        spread = sqrt(mean * q)
        skew = (q - p) / spread
        excess = (1.0 - 6.0 * p * q) / (spread * spread)
        return _cornish_fisher(u, mean, spread, (skew, excess), (0, n))
    if p > 0.5:
        return n - _walk_binomial(1.0 - u, n, q)
    return _walk_binomial(u, n, p)


def _walk_binomial(u: float, n: int, p: float) -> int:
    term = total = exp(n * log1p(-p))
    odds = p / (1.0 - p)
    k = 0
    while total < u and k < n:
        term *= odds * (n - k) / (k + 1)
        if term < 1e-300:
            break
        k += 1
        total += term
    return k


def _cornish_fisher(
    u: float, mean: float, spread: float, shape: tuple[float, float], limits: tuple[int, int]
) -> int:
    """Quantile of a count from its first four moments; `shape` is its skewness and excess.

    Cornish & Fisher's expansion with a continuity correction (Abramowitz & Stegun 26.2.49,
    from memory).
    """
    skew, excess = shape
    least, most = limits
    z = normal_quantile(u)
    z2 = z * z
    x = z + skew * (z2 - 1.0) / 6.0
    x += excess * z * (z2 - 3.0) / 24.0 - skew * skew * z * (2.0 * z2 - 5.0) / 36.0
    k = ceil(mean + spread * x - 0.5)
    return least if k < least else most if k > most else k


def hypergeometric(u: float, n: int, good: int, total: int) -> int:
    """Quantile at `u` of the good ones among `n` drawn without replacement from `total`.

    Exact while the variance is at most 12; beyond that its cumulative probability is off by less
    than 0.003.
    """
    if n >= total:
        return good
    limits = max(0, n - (total - good)), min(n, good)
    if limits[0] == limits[1]:
        return limits[0]
    share = good / total
    mean = n * share
    variance = mean * (1.0 - share) * (total - n) / (total - 1)
    if variance > _WALK_LIMIT:
        spread = sqrt(variance)
        skew = (1.0 - 2.0 * share) * (total - 2.0 * n) / (spread * (total - 2))
        return _cornish_fisher(u, mean, spread, (skew, 0.0), limits)
    return _walk_hypergeometric(u, n, good, total, limits)


def _walk_hypergeometric(u: float, n: int, good: int, total: int, limits: tuple[int, int]) -> int:
    least, most = limits
    low = max(least, int(n * good / total - 12.0 * sqrt(_WALK_LIMIT)))
    high = min(most, low + int(24.0 * sqrt(_WALK_LIMIT)) + 1)
    weights = [1.0]
    for k in range(low, high):
        up = (good - k) * (n - k) / ((k + 1) * (total - good - n + k + 1))
        weights.append(weights[-1] * up)
        if weights[-1] > 1e250:
            weights = [w * 1e-250 for w in weights]
    goal, running = u * sum(weights), 0.0
    for step, weight in enumerate(weights):
        running += weight
        if running >= goal:
            return low + step
    return high


@lru_cache(maxsize=256)
def attendance_table(people: int, absent: float) -> tuple[float, ...]:
    """Cumulative chances of 0 ... `people` - 1 present, each absent with chance `absent`.

    The number present at quantile u is the number of entries below u. Empty for crews of more
    than 60, whose attendance `binomial` draws.
    """
    if people > 60:
        return ()
    if absent <= 0.0:
        return (0.0,) * people
    total, term, table = 0.0, absent**people, []
    for k in range(people):
        total += term
        table.append(total)
        term *= (1.0 - absent) / absent * (people - k) / (k + 1)
    return tuple(table)


def _beta_quantiles(a: float, b: float, count: int = 2048) -> list[float]:
    """Quantiles of a beta distribution at `count` equally likely points.

    A distribution with a hump is summed over a fine grid, which takes a tenth of the time that
    loading scipy takes; others by scipy's inverse.
    """
    import numpy as np  # noqa: PLC0415 - not needed where stands do not vary

    points = (np.arange(count) + 0.5) / count
    if a > 1.0 and b > 1.0:
        x = np.linspace(0.0, 1.0, 40_002)[1:-1]
        height = (a - 1.0) * np.log(x) + (b - 1.0) * np.log1p(-x)
        below = np.cumsum(np.exp(height - height.max()))
        return [float(q) for q in np.interp(points * below[-1], below, x + 0.5 * (x[1] - x[0]))]
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to import, seldom needed

    return [float(q) for q in betaincinv(a, b, points)]


class Stand:
    """The chance of a plant to come through, varying from batch to batch (a beta distribution).

    The quantiles are tabulated at 2,048 equally likely points, so that a draw costs a look-up;
    the mean is kept to 0.0001 and the standard deviation to 1 % (to 10 % for losses below half a
    percent). `sd` 0 is a constant.
    """

    def __init__(self, mean: float, sd: float) -> None:
        self.mean = mean
        self._table: list[float] = []
        if sd > 0.0:
            total = mean * (1.0 - mean) / (sd * sd) - 1.0
            self._table = _beta_quantiles(mean * total, (1.0 - mean) * total)

    def at(self, u: float) -> float:
        """The chance at quantile `u`."""
        return self._table[int(u * 2048)] if self._table else self.mean


class StageDays:
    """The length of a stage [days] before the pace of the season and the rounding."""

    def __init__(self, mean: float, sd: float, shape: str) -> None:
        self._mean, self._sd = mean, sd
        self._shape = "fixed" if sd <= 0.0 and shape != "exponential" else shape
        if self._shape == "lognormal":
            self._log_sd = sqrt(log(1.0 + (sd / mean) ** 2))
            self._log_mean = log(mean) - self._log_sd**2 / 2.0

    def beyond(self, least: float, u: float) -> float:
        """The length at quantile `u` of those above `least`, the time already passed [days].

        `least` itself where hardly any length is above it: the stage is over.
        """
        passed = self.share_below(least)
        if passed > 1.0 - 1e-9:
            return least
        return self.at(passed + u * (1.0 - passed))

    def share_below(self, length: float) -> float:
        """The chance of a length below this one [days]."""
        if self._shape == "fixed":
            return float(length > self._mean)
        if self._shape == "normal":
            return _normal.cdf((length - self._mean) / self._sd)
        if length <= 0.0:
            return 0.0
        if self._shape == "exponential":
            return 1.0 - exp(-length / self._mean)
        if self._shape == "lognormal":
            return _normal.cdf((log(length) - self._log_mean) / self._log_sd)
        from scipy.special import gammainc  # noqa: PLC0415 - slow to import, seldom needed

        ratio = (self._mean / self._sd) ** 2
        return float(gammainc(ratio, length * ratio / self._mean))

    def at(self, u: float) -> float:
        """The length at quantile `u` [days]."""
        if self._shape == "fixed":
            return self._mean
        if self._shape == "normal":
            return self._mean + self._sd * normal_quantile(u)
        if self._shape == "exponential":
            return -self._mean * log(1.0 - u)
        if self._shape == "lognormal":
            return exp(self._log_mean + self._log_sd * normal_quantile(u))
        from scipy.special import gammaincinv  # noqa: PLC0415 - slow to import, seldom needed

        ratio = (self._mean / self._sd) ** 2
        return float(gammaincinv(ratio, u)) * self._mean / ratio
