"""The formulas that `selection` decides by: continuation regions, exact evidence, intervals.

Sources, and how each was checked:

- `eta`, `h_squared`, `region`: Kim & Nelson (2001), A fully sequential procedure for
  indifference-zone selection in simulation, ACM TOMACS 11:251-273, with c = 1; the same region
  serves a feasibility check in Andradottir & Kim (2010), Fully sequential procedures for
  comparing constrained systems via simulation, Naval Research Logistics 57:403-421, and, for
  several constraints, in Batur & Kim (2010), ACM TOMACS 20(3):13. The formulas were compared with
  a later paper that restates them; page numbers are from memory.
- `log_evidence`: a likelihood ratio averaged over alternatives, Robbins (1970), Statistical
  methods related to the law of the iterated logarithm, Annals of Mathematical Statistics
  41:1397-1409, with the maximal inequality of Ville (1939) (from memory). Both steps are short
  enough to be given in its docstring.
- `exact_interval`: Clopper & Pearson (1934), Biometrika 26:404-413.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, betaincinv, betaln, stdtrit, xlogy

Floats = NDArray[np.float64]


def eta(error: ArrayLike, first_round: int) -> Floats:
    """Constant of the continuation region, the root of (1 + 2 eta)^(-(n0 - 1)/2) / 2 = error.

    `error` is the chance allowed to one decision, below 1/2; `first_round` is n0, the runs that
    the first variance is estimated from.
    """
    doubled = 2.0 * np.asarray(error, dtype=float)
    return np.asarray(np.expm1(-2.0 / (first_round - 1) * np.log(doubled)) / 2.0)


def h_squared(error: ArrayLike, first_round: int) -> Floats:
    """h^2 = 2 c eta (n0 - 1) with c = 1, Kim & Nelson (2001)."""
    return np.asarray(2.0 * eta(error, first_round) * (first_round - 1))


def region(runs: ArrayLike, variance: Floats, h2: ArrayLike, tolerance: ArrayLike) -> Floats:
    """Half-width of the triangular region in which a sum of differences stays undecided.

    max(0, h^2 S^2 / (2 c t) - t n / (2 c)) with c = 1, after n runs, for the variance S^2 of one
    difference and the tolerance t. It has the unit of the sum and closes at n = h^2 S^2 / t^2.
    """
    n, t = np.asarray(runs, dtype=float), np.asarray(tolerance, dtype=float)
    return np.asarray(np.maximum(0.0, np.asarray(h2) * variance / (2.0 * t) - t * n / 2.0))


def spotless_runs(error: float, share: Floats) -> Floats:
    """Runs after which even a spotless record has at most the chance `error`, by limit.

    For values in [0, 1] of mean at most `share`, n runs that are all 1 have a probability of at
    most share^n (Markov's inequality on their product), whatever the distribution.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(np.ceil(np.log(error) / np.log(share)))


def variance_at(share: Floats, mean: Floats, variance: Floats, worst: Floats) -> Floats:
    """Variance that shares would have if their mean were `share` and not the higher one seen.

    A record that has seen too few bad runs shows a high mean and a small variance together, and
    normal theory is then too sure. Mixing runs as bad as the worst seen into the record until its
    mean is `share` adds at most (mean - share) (mean - worst). For yes/no data the sum is
    mean (1 - share): a variance under the hypothesis, as in the score interval of Wilson (1927),
    JASA 22:209-212. The use in a sequential test is this project's own.
    """
    return np.asarray(variance + np.maximum(mean - share, 0.0) * (mean - worst))


def log_evidence(successes: Floats, failures: Floats, share: Floats) -> Floats:
    """Log of the likelihood ratio of "above `share`" to "at most `share`" for yes/no data.

    The ratio of p to `share` is averaged evenly over p from `share` to 1, in closed form by
    incomplete beta functions. For each p it is a product of independent factors whose mean is
    at most 1 whenever the true share is at most `share`, so its running maximum reaches 1/e
    with probability at most e: an exact test that may be looked at after every round.
    """
    with np.errstate(divide="ignore"):
        above = betaln(successes + 1.0, failures + 1.0) + np.log(
            betainc(failures + 1.0, successes + 1.0, 1.0 - share)
        )
        at_most = xlogy(successes, share) + xlogy(failures, 1.0 - share)
        return np.asarray(above - np.log1p(-share) - at_most)


class Interval(NamedTuple):
    """Lower and upper bounds, arrays of one shape."""

    lower: Floats
    upper: Floats


def exact_interval(successes: Floats, runs: Floats, alpha: float) -> Interval:
    """Clopper & Pearson (1934) bounds of a share of yes/no runs, each at `alpha` / 2."""
    failures = runs - successes
    lower = betaincinv(np.maximum(successes, 1e-9), failures + 1.0, alpha / 2.0)
    upper = betaincinv(successes + 1.0, np.maximum(failures, 1e-9), 1.0 - alpha / 2.0)
    return Interval(np.where(successes > 0, lower, 0.0), np.where(failures > 0, upper, 1.0))


def t_half_width(variance: ArrayLike, runs: ArrayLike, alpha: float) -> Floats:
    """Half the width of Student's t interval of a mean at level 1 - `alpha`."""
    n = np.asarray(runs, dtype=float)
    return np.asarray(stdtrit(n - 1.0, 1.0 - alpha / 2.0) * np.sqrt(np.asarray(variance) / n))


def share_interval(mean: Floats, variance: Floats, runs: Floats, alpha: float) -> Interval:
    """Student's t bounds of the mean of shares in [0, 1], widened to what few runs can show.

    A lower bound is never above (alpha/2)^(1/n), the exact bound of a spotless record, and an
    upper one never below 1 less that. Below 50 runs the bounds are rough: shares are skewed.
    """
    half = t_half_width(variance, runs, alpha)
    most = (alpha / 2.0) ** (1.0 / runs)
    return Interval(
        np.clip(np.minimum(mean - half, most), 0.0, 1.0),
        np.clip(np.maximum(mean + half, 1.0 - most), 0.0, 1.0),
    )
