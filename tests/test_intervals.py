"""The intervals that go with results: how often they cover the truth.

Two kinds are offered: Student's t for a mean over years, and the exact interval for the share of
years in which the weakest week was met. Years are drawn here from distributions whose truth is
known: weeks met of 33, binomial, with a chance that varies from year to year as a beta.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from sim.replications import ROUGH_BELOW, Estimate, exact_interval, mean_estimate

WEEKS = 33
SKEWED = (20.0, 2.0)  # steadiness .91 on average; in one year of seven every week is met
VERY_SKEWED = (10.0, 0.5)  # .95; in half of the years every week is met, in a few hardly any


def years(
    trials: int, count: int, seed: int, shape: tuple[float, float] = SKEWED
) -> NDArray[np.float64]:
    """Steadiness of simulated years, shape [trials, count]."""
    rng = np.random.default_rng(seed)
    chance = rng.beta(*shape, (trials, count))
    return np.asarray(rng.binomial(WEEKS, chance) / WEEKS, dtype=np.float64)


def coverage(count: int, trials: int, seed: int, shape: tuple[float, float]) -> float:
    """Share of trials of so many years whose interval holds the true mean."""
    truth = shape[0] / sum(shape)
    found = [mean_estimate(sample) for sample in years(trials, count, seed, shape)]
    return float(np.mean([e.low <= truth <= e.high for e in found]))


def test_mean_over_200_years_is_covered_95_times_in_100() -> None:
    """A nominal 95 % interval of 200 years covers the truth in 94-96 % of 8,000 trials.

    The coverage is .947, and the standard error of 8,000 trials .0025: a right program fails for
    fewer than 1 seed in 100.
    """
    assert 0.94 <= coverage(200, 8_000, 1, SKEWED) <= 0.96


@pytest.mark.proof
@pytest.mark.parametrize("shape", [SKEWED, VERY_SKEWED])
def test_mean_over_200_years_is_covered_in_many_trials(shape: tuple[float, float]) -> None:
    """The same in 20,000 trials, standard error .0016; the coverages are .947 and .944.

    A right program fails for fewer than 1 seed in 200.
    """
    assert 0.94 <= coverage(200, 20_000, 1, shape) <= 0.96


def test_mean_over_20_years_is_rough() -> None:
    """Very skewed steadiness over 20 years: covered in about .904 of the trials only.

    That is why fewer than 50 years are called rough. 4,000 trials: 4 standard errors are .019.
    """
    assert coverage(20, 4_000, 1, VERY_SKEWED) == pytest.approx(0.904, abs=0.019)


@pytest.mark.parametrize(("count", "rough"), [(1, True), (20, True), (49, True), (50, False)])
def test_fewer_than_50_years_are_called_rough(count: int, rough: bool) -> None:
    """`rough` speaks of the number of years only."""
    assert ROUGH_BELOW == 50
    assert mean_estimate(years(1, count, seed=1)[0]).rough is rough


def test_mean_interval_is_students_t() -> None:
    """The textbook interval, as scipy computes it; 5-95 % range of the single years."""
    sample = years(1, 60, seed=3)[0]
    found = mean_estimate(sample)
    low, high = stats.t.interval(0.95, 59, sample.mean(), stats.sem(sample))
    assert (found.mean, found.low, found.high) == pytest.approx((sample.mean(), low, high))
    assert (found.p05, found.p95) == pytest.approx(tuple(np.percentile(sample, [5, 95])))
    assert found.n == 60


def test_one_year_has_no_interval() -> None:
    """The mean of a single year is that year; its interval is not a number."""
    found = mean_estimate(np.array([0.8]))
    assert (found.mean, found.n) == (0.8, 1)
    assert np.isnan([found.low, found.high]).all()


@pytest.mark.parametrize(("hits", "n"), [(0, 20), (1, 20), (49, 50), (50, 50), (180, 200)])
def test_share_interval_is_clopper_and_pearsons(hits: int, n: int) -> None:
    """Clopper & Pearson, Biometrika 26:404-413, 1934, as scipy computes it."""
    exact = stats.binomtest(hits, n).proportion_ci(method="exact")
    assert exact_interval(hits, n) == pytest.approx((exact.low, exact.high), abs=1e-9)
    wider = stats.binomtest(hits, n).proportion_ci(0.99, method="exact")
    assert exact_interval(hits, n, 0.99) == pytest.approx((wider.low, wider.high), abs=1e-9)


def share_coverage(n: int, p: float) -> float:
    """Exact chance that the interval of a share of `n` years holds the truth `p`."""
    bounds = [exact_interval(hits, n) for hits in range(n + 1)]
    holds = [low <= p <= high for low, high in bounds]
    return float(stats.binom.pmf(np.arange(n + 1), n, p)[holds].sum())


@pytest.mark.parametrize("n", [20, 50, 200])
def test_share_interval_covers_at_least_94_times_in_100(n: int) -> None:
    """Summed over all outcomes, for shares from .5 to .995: no chance is involved."""
    assert min(share_coverage(n, p) for p in np.linspace(0.5, 0.995, 40)) >= 0.94


def test_share_interval_over_covers_near_one() -> None:
    """50 years, true share .98: the exact interval covers .982, Wilson's would cover .922.

    This is the price of covering always: a weakest week that is nearly always met gets an
    interval a little too wide.
    """
    assert share_coverage(50, 0.98) == pytest.approx(0.982, abs=0.0005)
    wilson = [stats.binomtest(k, 50).proportion_ci(method="wilson") for k in range(51)]
    holds = [ci.low <= 0.98 <= ci.high for ci in wilson]
    assert stats.binom.pmf(np.arange(51), 50, 0.98)[holds].sum() == pytest.approx(0.922, abs=0.0005)


def test_an_estimate_says_how_many_years_it_rests_on() -> None:
    """The interval lies around the mean and narrows with the root of the number of years."""
    few, many = (mean_estimate(np.tile([0.8, 1.0], n)) for n in (50, 200))
    assert isinstance(few, Estimate)
    assert few.low < few.mean == pytest.approx(0.9)
    assert (few.high - few.low) / (many.high - many.low) == pytest.approx(2.0, rel=0.02)
