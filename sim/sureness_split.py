"""What is uncertain of a mean, split: too few counts, too few years, too few sets of numbers.

A value is that of one set of numbers in one year, the same years for all sets. As a function of
two independent draws - the set, the year's luck - it is a sum of four uncorrelated parts (B. Efron
and C. Stein, Annals of Statistics 9:586, 1981): a constant, what the set does, what the luck does
whatever the set, and what both do together. So the mean squares of a two-way table without repeats
have the expectations of the random model (Searle, Casella & McCulloch, Variance Components, 1992,
chapter 4, from memory), whatever the distributions:

    of sets: R between + both,   of years: K luck + both,   of what is left: both

with K sets and R years. The mean of the whole table differs from the mean under the true numbers,
which are one more draw of a set, by `between` (too few counts), by luck / R + both / (K R) (too few
years), and by between / K (too few sets). Nothing here knows of greenhouses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log, nan, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
ALPHA = 0.05  # chance outside an interval


@dataclass(frozen=True)
class Parts:
    """The mean of a table of `sets` by `years` values, and the variances it is made of.

    `between` sets, of the `luck` of years, and of `both`, each of a single value. The estimates of
    the first two may come out below 0; whatever is made of them is then 0.
    """

    mean: float
    sets: int
    years: int
    between: float
    luck: float
    both: float

    @property
    def counts(self) -> float:
        """Variance of the final mean that more records would take away."""
        return max(self.between, 0.0)

    @property
    def simulated(self) -> float:
        """Variance of the final mean that more years would take away."""
        return max(self.luck, 0.0) / self.years + self.both / (self.sets * self.years)

    @property
    def drawn(self) -> float:
        """Variance of the final mean that more sets would take away."""
        return self.counts / self.sets

    @property
    def total(self) -> float:
        """Variance of the final mean about the mean under the true numbers."""
        return self.counts + self.simulated + self.drawn


@dataclass(frozen=True)
class Part:
    """A part of what is uncertain [share], with its rough 95 % interval."""

    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Split:
    """The parts, and the shares of the variance by "counts", "years" and "sets".

    Shares are nan if nothing is uncertain.
    """

    parts: Parts
    shares: dict[str, Part]


def parts_of(values: Floats) -> Parts:
    """The variances of a table, shape [sets, years], both at least 2."""
    sets, years = values.shape
    mean = float(values.mean())
    of_set, of_year = values.mean(axis=1), values.mean(axis=0)
    left = values - of_set[:, None] - of_year[None, :] + mean
    by_sets = years * float(((of_set - mean) ** 2).sum()) / (sets - 1)
    by_years = sets * float(((of_year - mean) ** 2).sum()) / (years - 1)
    both = float((left**2).sum()) / ((sets - 1) * (years - 1))
    return Parts(
        mean, sets, years, (by_sets - both) / years, (by_years - both) / sets, both
    )  # fmt: skip


def split(values: Floats) -> Split:
    """The shares of what is uncertain of the mean of a table, shape [sets, years]."""
    parts = parts_of(values)
    if parts.total <= 0.0:
        return Split(parts, dict.fromkeys(_RAW, Part(nan, nan, nan)))
    sets, years = values.shape
    fewer = (
        [parts_of(np.delete(values, k, axis=0)) for k in range(sets)] if sets > 2 else [],
        [parts_of(np.delete(values, r, axis=1)) for r in range(years)] if years > 2 else [],
    )
    return Split(parts, {name: _part(parts, fewer, of) for name, of in _RAW.items()})


_RAW: dict[str, Callable[[Parts], float]] = {  # as estimated, below 0 too
    "counts": lambda p: p.between,
    "years": lambda p: p.luck / p.years + p.both / (p.sets * p.years),
    "sets": lambda p: p.between / p.sets,
}


def _part(
    parts: Parts, fewer: tuple[list[Parts], list[Parts]], of: Callable[[Parts], float]
) -> Part:
    """A share with the jackknife's interval, both ways of leaving one out added up.

    On the scale of log odds where no share is 0 or 1. Rough: what both do together is counted
    twice, and shares of variances are skewed.
    """
    share, left = _share(parts, of), [[_share(p, of) for p in one] for one in fewer]
    inside = all(0.0 < s < 1.0 for s in [share, *left[0], *left[1]])
    scale: Callable[[float], float] = _log_odds if inside else float
    error = sqrt(sum(_jackknife([scale(s) for s in one]) for one in left))
    half = _t_end(min(parts.sets, parts.years) - 1) * error
    middle = scale(share)
    low, high = middle - half, middle + half
    if inside:
        low, high = (1.0 / (1.0 + exp(min(-end, 700.0))) for end in (low, high))
    share, low, high = (min(max(s, 0.0), 1.0) for s in (share, low, high))
    return Part(share, low, high)


def _share(parts: Parts, of: Callable[[Parts], float]) -> float:
    return of(parts) / parts.total if parts.total > 0.0 else 0.0


def _log_odds(share: float) -> float:
    return log(share / (1.0 - share))


def _jackknife(values: list[float]) -> float:
    """Variance by leaving one out (Efron & Tibshirani, An Introduction to the Bootstrap, 11.5)."""
    n = len(values)
    return inf if n < 3 else (n - 1) * float(np.var(values))


def _t_end(freedom: int) -> float:
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to import, not always needed

    return float(stdtrit(max(freedom, 1), 1.0 - ALPHA / 2.0))
