"""Quantiles: of counts, summed term by term or by an expansion, and of a beta distribution."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, exp, log1p, sqrt
from statistics import NormalDist

import numpy as np

WALK_LIMIT = 12.0  # mean of the rarer outcome up to which a count is summed term by term
_LAST = 1.0 - 2.0**-33  # the largest number of `draws.Luck`

normal_quantile: Callable[[float], float] = NormalDist().inv_cdf

Cubic = tuple[float, float, float, float]  # coefficients, that of the highest power first


def binomial_cubic(n: int, p: float) -> Cubic:
    """`cornish_fisher` for a binomial count of `n` trials with probability `p`."""
    q = 1.0 - p
    spread = sqrt(n * p * q)
    return cornish_fisher(n * p, spread, (q - p) / spread, (1.0 - 6.0 * p * q) / (spread * spread))


def walk_binomial(u: float, n: int, p: float) -> int:
    """Quantile at `u` of a binomial count."""
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


def cumulative(n: int, p: float) -> list[float]:
    """Cumulative chances of 0, 1, ... of `n` trials, as far as a number of `Luck` reaches."""
    if n <= 0 or p <= 0.0:
        return []
    term = total = exp(n * log1p(-p))
    odds, table = p / (1.0 - p), [total]
    while len(table) <= n and total < _LAST:
        term *= odds * (n - len(table) + 1) / len(table)
        total += term
        table.append(total)
    return table


def cornish_fisher(mean: float, spread: float, skew: float, excess: float) -> Cubic:
    """A count's quantile as a cubic in that of the normal distribution, from its moments.

    Cornish & Fisher's expansion with a continuity correction (Abramowitz & Stegun 26.2.49,
    from memory): z + skew (z^2 - 1) / 6 + excess (z^3 - 3 z) / 24 - skew^2 (2 z^3 - 5 z) / 36.
    """
    square = skew * skew
    return (
        spread * (excess / 24.0 - square / 18.0),
        spread * skew / 6.0,
        spread * (1.0 - excess / 8.0 + 5.0 * square / 36.0),
        mean - spread * skew / 6.0 - 0.5,
    )


def count_at(u: float, cubic: Cubic, least: int, most: int) -> int:
    """Quantile at `u` of a count between `least` and `most`."""
    a, b, c, d = cubic
    z = normal_quantile(u)
    k = ceil(((a * z + b) * z + c) * z + d)
    return least if k < least else most if k > most else k


def walk_hypergeometric(u: float, n: int, good: int, total: int, limits: tuple[int, int]) -> int:
    """Quantile at `u` of the `good` among `n` drawn from `total`; `limits` are its bounds."""
    least, most = limits
    low = max(least, int(n * good / total - 12.0 * sqrt(WALK_LIMIT)))
    high = min(most, low + int(24.0 * sqrt(WALK_LIMIT)) + 1)
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


def beta_quantiles(a: float, b: float, count: int = 2048) -> list[float]:
    """Quantiles of a beta distribution at `count` equally likely points.

    A distribution with a hump is summed over a fine grid, which takes a tenth of the time that
    loading scipy takes; others by scipy's inverse.
    """
    points = (np.arange(count) + 0.5) / count
    if a > 1.0 and b > 1.0:
        x = np.linspace(0.0, 1.0, 40_002)[1:-1]
        height = (a - 1.0) * np.log(x) + (b - 1.0) * np.log1p(-x)
        below = np.cumsum(np.exp(height - height.max()))
        return [float(q) for q in np.interp(points * below[-1], below, x + 0.5 * (x[1] - x[0]))]
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to import, seldom needed

    return [float(q) for q in betaincinv(a, b, points)]
