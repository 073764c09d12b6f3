"""The random numbers: keyed by identity, drawn by inversion, checked against scipy.stats."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from sim.draws import (
    Luck,
    StageDays,
    Stand,
    attendance_table,
    binomial,
    hypergeometric,
    name_key,
    normal_quantile,
)

Floats = NDArray[np.float64]
Draw = Callable[[float], int]

EVEN = (np.arange(2000) + 0.5) / 2000  # equally likely quantiles
ENDS = np.array([2.0**-33, 1e-8, 1e-6, 1e-4, 1 - 1e-4, 1 - 1e-6, 1 - 1e-8, 1 - 2.0**-33])
QUANTILES = np.sort(np.concatenate([EVEN, ENDS]))


def cdf_error(draw: Draw, below: Callable[[NDArray[np.int64]], Floats], at: Floats) -> float:
    """Largest distance in probability by which a draw misses the exact quantile.

    `below` gives the exact chance of at most so many; the quantile at u is the k with
    below(k - 1) < u <= below(k).
    """
    counts = np.array([draw(float(u)) for u in at])
    return float(np.maximum(below(counts - 1) - at, at - below(counts)).max())


# -- binomial -------------------------------------------------------------------------------------

SUMMED = [(1, 0.5), (4, 0.97), (10, 0.3), (24, 0.5), (200, 0.04), (200, 0.96), (3000, 0.004)]
EXPANDED = [
    (26, 0.462), (28, 0.5), (60, 0.25), (200, 0.9), (200, 0.0601), (600, 0.92), (1200, 0.8),
    (100_000, 0.97), (10**9, 0.5),
]  # fmt: skip


@pytest.mark.parametrize(("n", "p"), SUMMED)
def test_binomial_is_exact_where_the_rarer_outcome_is_expected_12_times(n: int, p: float) -> None:
    """min(n p, n q) <= 12: the quantile of scipy's binomial to within rounding, 1e-12."""
    assert min(n * p, n * (1 - p)) <= 12
    exact = stats.binom(n, p).cdf
    assert cdf_error(lambda u: binomial(u, n, p), exact, QUANTILES) < 1e-12


@pytest.mark.parametrize(("n", "p"), EXPANDED)
def test_binomial_is_close_beyond_that(n: int, p: float) -> None:
    """More than 12 of each: off by less than .002 in probability, by at most one in number."""
    assert min(n * p, n * (1 - p)) > 12
    assert cdf_error(lambda u: binomial(u, n, p), stats.binom(n, p).cdf, QUANTILES) < 0.002
    drawn = np.array([binomial(float(u), n, p) for u in EVEN])
    assert np.abs(drawn - stats.binom.ppf(EVEN, n, p)).max() <= 1


def test_binomial_of_nothing_or_certainty() -> None:
    """No trials give 0, chance 0 gives 0, chance 1 gives all, whatever the luck."""
    for u in QUANTILES[::100]:
        assert binomial(float(u), 0, 0.5) == 0
        assert binomial(float(u), 50, 0.0) == 0
        assert binomial(float(u), 50, 1.0) == 50


# -- hypergeometric -------------------------------------------------------------------------------

# (drawn, good, total)
SPLIT_SUMMED = [
    (1, 1, 2), (3, 2, 5), (26, 26, 52), (100, 180, 200), (133, 160, 1600), (994_000, 2000, 10**6)
]  # fmt: skip
SPLIT_EXPANDED = [
    (100, 100, 200), (413, 127, 3628), (2918, 2929, 3145), (900, 1800, 2000), (6050, 2000, 10**6)
]  # fmt: skip


def variance(n: int, good: int, total: int) -> float:
    """Variance of the good ones among n drawn without replacement."""
    share = good / total
    return n * share * (1 - share) * (total - n) / (total - 1)


@pytest.mark.parametrize(("n", "good", "total"), SPLIT_SUMMED)
def test_hypergeometric_is_exact_up_to_a_variance_of_12(n: int, good: int, total: int) -> None:
    """The quantile of scipy's hypergeometric to within its own rounding, 1e-9."""
    assert variance(n, good, total) <= 12
    exact = stats.hypergeom(total, good, n).cdf
    assert cdf_error(lambda u: hypergeometric(u, n, good, total), exact, EVEN) < 1e-9


@pytest.mark.parametrize(("n", "good", "total"), SPLIT_EXPANDED)
def test_hypergeometric_is_close_beyond_that(n: int, good: int, total: int) -> None:
    """A variance above 12: off by less than .003 in probability."""
    assert variance(n, good, total) > 12
    exact = stats.hypergeom(total, good, n).cdf
    assert cdf_error(lambda u: hypergeometric(u, n, good, total), exact, EVEN) < 0.003


def test_hypergeometric_within_what_there_is() -> None:
    """At least what the bad ones cannot fill, at most what is there; all of them gives all good."""
    for u in QUANTILES[::50]:
        assert hypergeometric(float(u), 10, 7, 10) == 7
        assert hypergeometric(float(u), 12, 7, 10) == 7
        assert hypergeometric(float(u), 5, 0, 10) == 0
        assert hypergeometric(float(u), 5, 10, 10) == 5
        assert 4 <= hypergeometric(float(u), 7, 7, 10) <= 7


def test_parts_drawn_one_after_another_use_up_the_batch() -> None:
    """C5: parts of 400, 150 and 50 share 600 plants, 540 good, whatever their luck; no part
    gets more than it has.
    """  # noqa: D205 - one sentence
    luck = Luck(3, 0)
    for slot in range(300):
        good, total, got = 540, 600, []
        for number, n in enumerate((400, 150, 50)):
            got.append(hypergeometric(luck.eight(1, slot, 0, number)[0], n, good, total))
            good, total = good - got[-1], total - n
        assert sum(got) == 540
        assert all(0 <= k <= n for k, n in zip(got, (400, 150, 50), strict=True))


# -- both -----------------------------------------------------------------------------------------

DRAWS: dict[str, tuple[Draw, float]] = {
    **{
        f"binomial {n} {p}": (lambda u, n=n, p=p: binomial(u, n, p), n * p)  # type: ignore[misc]
        for n, p in SUMMED + EXPANDED
    },
    **{
        f"hypergeometric {n} {g} {t}": (
            lambda u, n=n, g=g, t=t: hypergeometric(u, n, g, t),  # type: ignore[misc]
            n * g / t,
        )
        for n, g, t in SPLIT_SUMMED + SPLIT_EXPANDED
    },
}


@pytest.mark.parametrize("name", DRAWS)
def test_a_draw_never_falls_when_its_luck_rises(name: str) -> None:
    """Inversion: the count is monotone in u, from the lowest to the highest luck there is."""
    draw, _ = DRAWS[name]
    counts = [draw(float(u)) for u in QUANTILES]
    assert counts == sorted(counts)


@pytest.mark.parametrize("name", DRAWS)
def test_a_draw_has_its_mean(name: str) -> None:
    """Averaged over 2,000 equally likely quantiles the mean is right to .005 plants.

    .005 allows for the 2,000 steps: the exact quantiles differ by up to .003 themselves. For 10^9
    trials, whose steps are coarser, the mean is right to 3 parts in 10^9.
    """
    draw, mean = DRAWS[name]
    found = float(np.mean([draw(float(u)) for u in EVEN]))
    assert found == pytest.approx(mean, abs=0.005, rel=3e-9)


@pytest.mark.parametrize("p", [0.8, 0.9, 0.97])
def test_a_draw_moves_little_when_only_its_n_changes(p: float) -> None:
    """L1: under the same luck, counts of 600 and of 800 cells correlate by at least .99."""
    few = [binomial(float(u), 600, p) for u in EVEN]
    many = [binomial(float(u), 800, p) for u in EVEN]
    assert np.corrcoef(few, many)[0, 1] >= 0.99


# -- stand, stage lengths, attendance --------------------------------------------------------------


@pytest.mark.parametrize(
    ("mean", "sd"),
    [(0.9, 0.03), (0.96, 0.02), (0.8, 0.2), (0.5, 0.1), (0.5, 0.49), (0.995, 0.027), (0.03, 0.1)],
)
def test_stand_keeps_mean_and_spread(mean: float, sd: float) -> None:
    """The batch-to-batch chance has its mean to .0001, its standard deviation to 1 %.

    For losses of half a percent or more; between its 2,048 steps it is scipy's beta quantile.
    """
    stand = Stand(mean, sd)
    chances = np.array([stand.at((k + 0.5) / 2048) for k in range(2048)])
    assert chances.mean() == pytest.approx(mean, abs=1e-4)
    assert chances.std() == pytest.approx(sd, rel=0.01)
    assert (np.diff(chances) >= 0).all()
    weight = mean * (1 - mean) / sd**2 - 1
    exact = stats.beta.ppf((np.arange(2048) + 0.5) / 2048, mean * weight, (1 - mean) * weight)
    assert chances == pytest.approx(exact, abs=2e-5)


def test_stand_without_spread_is_its_mean() -> None:
    """A standard deviation of 0 is a constant, at the very ends of luck too."""
    assert {Stand(0.92, 0.0).at(float(u)) for u in QUANTILES} == {0.92}
    assert 0.0 <= Stand(0.92, 0.05).at(2.0**-33) < Stand(0.92, 0.05).at(1 - 2.0**-33) <= 1.0


SHAPES = {
    "normal": stats.norm(28, 1.5),
    "exponential": stats.expon(scale=28),
    "gamma": stats.gamma((28 / 1.5) ** 2, scale=1.5**2 / 28),
    "lognormal": stats.lognorm(
        np.sqrt(np.log1p((1.5 / 28) ** 2)), scale=28 / np.sqrt(1 + (1.5 / 28) ** 2)
    ),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_stage_lengths_have_their_shape(shape: str) -> None:
    """Mean 28 and standard deviation 1.5 days (28 if exponential): scipy's quantiles."""
    length = StageDays(28.0, 1.5, shape)
    found = np.array([length.at(float(u)) for u in QUANTILES])
    assert found == pytest.approx(SHAPES[shape].ppf(QUANTILES), rel=1e-9)
    assert SHAPES[shape].mean() == pytest.approx(28)
    assert SHAPES[shape].std() == pytest.approx(28 if shape == "exponential" else 1.5)


@pytest.mark.parametrize("shape", ["normal", "lognormal", "gamma"])
def test_a_stage_without_spread_is_its_mean(shape: str) -> None:
    """A standard deviation of 0 gives the same length to every batch."""
    assert {StageDays(14.0, 0.0, shape).at(float(u)) for u in QUANTILES} == {14.0}


@pytest.mark.parametrize(("people", "absent"), [(1, 0.1), (12, 0.08), (30, 0.5), (60, 0.05)])
def test_attendance_is_binomial(people: int, absent: float) -> None:
    """W2: the table holds scipy's binomial chances of at most 0 ... people - 1 present."""
    table = attendance_table(people, absent)
    exact = stats.binom.cdf(np.arange(people), people, 1 - absent)
    assert table == pytest.approx(tuple(exact), abs=1e-12)


def test_attendance_without_absence_and_of_large_crews() -> None:
    """Nobody absent: all present at any luck; above 60 people there is no table."""
    table = attendance_table(12, 0.0)
    assert sum(entry < 2.0**-33 for entry in table) == 12
    assert sum(entry < 0.5 for entry in attendance_table(12, 1.0)) == 0
    assert attendance_table(61, 0.1) == ()


def test_normal_quantile_is_scipys() -> None:
    """From 2^-33 to 1 - 2^-33, to 1e-9."""
    exact = stats.norm.ppf(QUANTILES)
    assert [normal_quantile(float(u)) for u in QUANTILES] == pytest.approx(exact, abs=1e-9)


# -- luck -----------------------------------------------------------------------------------------

COUNT = 4000


def stream(**changed: int) -> Floats:
    """4,000 times eight numbers, of replications 0 to 3,999, for one identity, shape [4000, 8]."""
    key = {"seed": 1, "who": name_key("lettuce"), "week": 105_600, "entry": 0, "stage": 0}
    key |= {"cause": 0} | changed
    seed = key.pop("seed")
    return np.array([Luck(seed, n).eight(**key) for n in range(COUNT)])


def test_numbers_of_one_identity_are_uniform_and_independent() -> None:
    """Eight uniforms in (0, 1): Kolmogorov-Smirnov, and correlations of all 28 pairs.

    Each of the 8 + 28 tests errs for 1 seed of 10,000, all together for fewer than 4 of 1,000.
    """
    numbers = stream()
    assert 0 < numbers.min() < numbers.max() < 1
    for column in numbers.T:
        assert stats.kstest(column, "uniform").pvalue > 1e-4
    for a, b in combinations(numbers.T, 2):
        assert stats.pearsonr(a, b).pvalue > 1e-4


@pytest.mark.parametrize(
    "changed",
    [
        {"seed": 2},
        {"who": name_key("basil")},
        {"week": 105_601},
        {"entry": 1},
        {"stage": 1},
        {"cause": 1},
    ],
    ids="-".join,
)
def test_another_identity_has_unrelated_numbers(changed: dict[str, int]) -> None:
    """L1: another seed, crop, slot, stage or cause: no correlation over 4,000 replications.

    Eight numbers each; an error for 1 seed of 10,000 in each of the 48.
    """
    for a, b in zip(stream().T, stream(**changed).T, strict=True):
        assert stats.pearsonr(a, b).pvalue > 1e-4


def test_replications_are_unrelated_to_their_neighbors() -> None:
    """One replication and the next: no correlation, at 1 seed of 10,000 for each number."""
    for column in stream().T:
        assert stats.pearsonr(column[:-1], column[1:]).pvalue > 1e-4


def test_the_same_identity_has_the_same_numbers_in_any_order() -> None:
    """L1: nothing depends on the order in which numbers are asked for."""
    keys = [
        (name_key(crop), week, entry, 0) for crop in "ab" for week in (1, 2) for entry in (0, 1)
    ]
    luck = Luck(7, 3)
    forward = {key: luck.eight(*key) for key in keys}
    backward = {key: Luck(7, 3).eight(*key) for key in reversed(keys)}
    assert forward == backward
    assert len({tuple(numbers) for numbers in forward.values()}) == len(keys)


def test_numbers_are_the_same_in_a_fresh_process() -> None:
    """Text hashing differs from process to process in Python; names and numbers here do not."""
    program = (
        "from sim.draws import Luck, name_key\n"
        "print([name_key('lettuce'), *Luck(5, 2).eight(name_key('lettuce'), 105600, 1, 0)])"
    )
    told = subprocess.run(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parent.parent,
        env={"PYTHONHASHSEED": "123", "PYTHONPATH": "."},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    here = [name_key("lettuce"), *Luck(5, 2).eight(name_key("lettuce"), 105_600, 1, 0)]
    assert told.strip() == str(here)
