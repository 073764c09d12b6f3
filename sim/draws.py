"""Luck keyed by identity, drawn by inversion.

A uniform number is a keyed hash (BLAKE2b, RFC 7693) of who asks for it: the seed, the
replication, the cause, the crop, the slot and the stage. Nothing depends on the order in which
numbers are asked for, so moving or adding one seeding changes the luck of no other. A draw is
the quantile of its distribution at that uniform number, so that it moves little when only its
parameters change.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache
from hashlib import blake2b
from math import exp, log, sqrt
from statistics import NormalDist
from struct import Struct

import numpy as np
from numpy.typing import NDArray

from sim.quantiles import (
    WALK_LIMIT,
    Cubic,
    beta_quantiles,
    binomial_cubic,
    cornish_fisher,
    count_at,
    cumulative,
    normal_quantile,
    walk_binomial,
    walk_hypergeometric,
)

_KEY = Struct("<5q")
_EIGHT = Struct("<8I")
_STEP = 2.0**-32
_HALF_STEP = 2.0**-33

_normal = NormalDist()


@lru_cache(maxsize=4096)
def name_key(name: str) -> int:
    """A name as a whole number, the same in every process."""
    return int.from_bytes(blake2b(name.encode(), digest_size=7).digest(), "little")


def identity(who: int, week: int, entry: int, stage: int, cause: int = 0) -> bytes:
    """What a random number hangs on besides the seed and the replication."""
    return _KEY.pack(who, week, entry, stage, cause)


class Luck:
    """The random numbers of one replication."""

    def __init__(self, seed: int, replication: int) -> None:
        key = (seed % 2**128).to_bytes(16, "little")
        self._keyed = blake2b(digest_size=32, key=key)  # copied for each message: saves a block
        self._keyed.update(replication.to_bytes(8, "little", signed=True))

    def eight(self, who: int, week: int, entry: int, stage: int, cause: int = 0) -> list[float]:
        """Eight independent uniform numbers in (0, 1), in steps of 2**-32, for one identity."""
        keyed = self._keyed.copy()
        keyed.update(identity(who, week, entry, stage, cause))
        return [word * _STEP + _HALF_STEP for word in _EIGHT.unpack(keyed.digest())]

    def each(self, identities: Sequence[bytes]) -> NDArray[np.float64]:
        """The same for many identities at once, in a third of the time; shape [identities, 8]."""
        digests, copy = [], self._keyed.copy
        for who in identities:
            keyed = copy()
            keyed.update(who)
            digests.append(keyed.digest())
        words = np.frombuffer(b"".join(digests), "<u4").reshape(-1, 8)
        return words * _STEP + _HALF_STEP


def binomial(u: float, n: int, p: float) -> int:
    """Quantile at `u` of a binomial count of `n` trials with probability `p`.

    Exact (summed term by term) while the rarer outcome is expected at most 12 times; beyond
    that by `cornish_fisher`, whose cumulative probability is off by less than 0.002.
    """
    if n <= 0 or p <= 0.0:
        return 0
    if p >= 1.0:
        return n
    q = 1.0 - p
    if n * p > WALK_LIMIT < n * q:
        return count_at(u, binomial_cubic(n, p), 0, n)
    if p > 0.5:
        return n - walk_binomial(1.0 - u, n, q)
    return walk_binomial(u, n, p)


class Binomial:
    """Counts of trials with one chance `p`, made ready for each number of trials that comes up.

    `at(u, n)` is `binomial(u, n, p)` at the numbers of `Luck`, the terms summed beforehand.
    """

    def __init__(self, p: float) -> None:
        self._p = p
        self._cubics: dict[int, Cubic] = {}
        self._tables: dict[int, list[float]] = {}  # of the rarer outcome, cumulative

    def at(self, u: float, n: int) -> int:
        """Quantile at `u` of a count of `n` trials."""
        cubic = self._cubics.get(n)
        if cubic:
            return count_at(u, cubic, 0, n)
        table = self._tables.get(n)
        if table is None:
            self._prepare(n)
            return self.at(u, n)
        return n - bisect_left(table, 1.0 - u) if self._p > 0.5 else bisect_left(table, u)

    def _prepare(self, n: int) -> None:
        p, q = self._p, 1.0 - self._p
        if n * p > WALK_LIMIT < n * q:
            self._cubics[n] = binomial_cubic(n, p)
        else:
            self._tables[n] = cumulative(n, min(p, q))


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
    if variance > WALK_LIMIT:
        spread = sqrt(variance)
        skew = (1.0 - 2.0 * share) * (total - 2.0 * n) / (spread * (total - 2))
        return count_at(u, cornish_fisher(mean, spread, skew, 0.0), *limits)
    return walk_hypergeometric(u, n, good, total, limits)


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


class Stand:
    """The chance of a plant to come through, varying from batch to batch (a beta distribution).

    The quantiles are tabulated at 2,048 equally likely points, so that a draw costs a look-up;
    the mean is kept to 0.0001 and the standard deviation to 1 % (to 10 % for losses below half a
    percent). `sd` 0 is a constant.
    """

    def __init__(self, mean: float, sd: float) -> None:
        self.mean = mean
        self._table: list[float] = []
        self._constant = Binomial(mean)
        if sd > 0.0:
            total = mean * (1.0 - mean) / (sd * sd) - 1.0
            self._table = beta_quantiles(mean * total, (1.0 - mean) * total)

    def at(self, u: float) -> float:
        """The chance at quantile `u`."""
        return self._table[int(u * 2048)] if self._table else self.mean

    def count(self, u_stand: float, u: float, plants: int) -> int:
        """How many of so many plants come through, at quantile `u` of a stand at `u_stand`."""
        if self._table:
            return binomial(u, plants, self._table[int(u_stand * 2048)])
        return self._constant.at(u, plants)


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
