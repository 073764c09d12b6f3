"""Choosing under noise: known answers, error rates against a known truth, and its behavior.

Trials are seeded, so every test gives the same result each time; a stated error rate is the
chance that a correct procedure would fail the test under another seed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import ceil, comb, log

import numpy as np
import pytest
from inventory import POLICIES, Inventory, simulate, truth

from sim.errors import SeedbeatError
from sim.selection import Choice, Limits, Outcome, choose
from sim.selection_bounds import (
    eta,
    exact_interval,
    h_squared,
    log_evidence,
    region,
    share_interval,
    spotless_runs,
    variance_at,
)

TRUTH = np.array([truth(*policy) for policy in POLICIES])
NO_LIMITS = Limits(np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool))
Pairs = Sequence[tuple[int, int]]


def one_limit(at_least: float, tolerance: float, *, binary: bool) -> Limits:
    return Limits(np.array([at_least]), np.array([tolerance]), np.array([binary]))


def fixed(shares: Sequence[float], objectives: Sequence[float], tie_breaks: Sequence[float] = ()):
    """Every run of a candidate gives its fixed share, objective and tie-break."""
    ties = tie_breaks or [0.0] * len(shares)

    def evaluate(pairs: Pairs) -> list[Outcome]:
        return [Outcome(np.array([shares[c]]), objectives[c], ties[c]) for c, _ in pairs]

    return evaluate


def coins(shares: Sequence[float], objectives: Sequence[float], seed: int):
    """Yes/no runs with these shares of yes, each candidate with its own luck."""
    streams = [np.random.default_rng([seed, c]).random(20_000) for c in range(len(shares))]

    def evaluate(pairs: Pairs) -> list[Outcome]:
        return [
            Outcome(np.array([float(streams[c][r] < shares[c])]), objectives[c]) for c, r in pairs
        ]

    return evaluate


# --- The published inventory problem -------------------------------------------------------


def choose_policy(trial: int, limit: float, *, common: bool = True, budget: int = 50_000) -> Choice:
    limits = one_limit(1.0 - limit, 0.005, binary=False)
    evaluate = Inventory(trial, common=common)
    return choose(len(POLICIES), limits, evaluate, indifference=0.5, budget=budget)


def is_right(policy: int | None, limit: float) -> bool:
    """Acceptable (share short within the tolerance) and within the indifference of the best."""
    best = TRUTH[TRUTH[:, 0] <= limit, 1].min()
    return policy is not None and bool(
        TRUTH[policy, 0] < limit + 0.005 and TRUTH[policy, 1] <= best + 0.5
    )


def is_infeasible(policy: int | None, limit: float) -> bool:
    return policy is not None and bool(TRUTH[policy, 0] > limit)


@pytest.mark.parametrize(
    ("policy", "share", "cost"),
    [
        ((20, 40), 0.104411, 114.176280),
        ((20, 60), 0.058443, 109.015275),
        ((22, 60), 0.044102, 109.104403),
        ((32, 60), 0.008401, 114.241129),
    ],
)
def test_truth_of_the_inventory_problem_is_the_published_one(policy, share, cost):
    """Zhou, Andradottir, Kim & Park, online supplement: shares and costs to six digits."""
    assert TRUTH[POLICIES.index(policy)] == pytest.approx((share, cost), abs=6e-7)


@pytest.mark.parametrize(("limit", "best"), [(0.10, (20, 60)), (0.05, (22, 60)), (0.01, (32, 60))])
def test_best_policy_within_each_limit_is_the_published_one(limit, best):
    within = np.flatnonzero(TRUTH[:, 0] <= limit)
    assert POLICIES[within[np.argmin(TRUTH[within, 1])]] == best


def test_simulated_inventory_agrees_with_the_chain_for_all_77_policies():
    """Means of 2,000 runs within 4.5 standard errors; error rate about 1 %.

    154 means of 7e-6 each, and more for the rarest shares, whose standard error is taken as that
    of independent periods where none was seen short.
    """
    demands = np.random.default_rng(7).poisson(25.0, (1, 2000, 30))
    for policy in range(len(POLICIES)):
        shares, costs = simulate(np.array([policy]), demands)
        for runs, true in ((shares, TRUTH[policy, 0]), (costs, TRUTH[policy, 1])):
            spread = max(runs.std(ddof=1), (true / 30) ** 0.5 if true < 1e-3 else 0.0)
            assert abs(runs.mean() - true) <= 4.5 * spread / 2000**0.5


@pytest.mark.parametrize("limit", [0.05, 0.01])
def test_a_few_trials_choose_a_right_policy(limit):
    """5 trials, at most 1 not right; at a true rate of 5 % the error rate is 2.3 %."""
    chosen = [choose_policy(trial, limit).chosen for trial in range(5)]
    assert sum(is_right(policy, limit) for policy in chosen) >= 4


@pytest.mark.proof
@pytest.mark.parametrize("limit", [0.05, 0.01])
def test_two_hundred_trials_choose_a_right_policy(limit):
    """At least 95 % of 200 trials right, at most 5 % infeasible (share short above the limit).

    Measured: 100 and 99.5 % right, none infeasible, 4,380 and 5,835 runs. At a true rate of
    98.5 % the error rate is 0.03 % for each limit.
    """
    choices = [choose_policy(trial, limit) for trial in range(200)]
    right = np.mean([is_right(choice.chosen, limit) for choice in choices])
    infeasible = np.mean([is_infeasible(choice.chosen, limit) for choice in choices])
    print("measured right:", right)
    print("measured infeasible:", infeasible)
    print("measured runs:", np.mean([choice.runs.sum() for choice in choices]))
    assert right >= 0.95
    assert infeasible <= 0.05


@pytest.mark.proof
@pytest.mark.parametrize(("limit", "runs"), [(0.05, 20), (0.01, 10)])
def test_equal_runs_and_the_best_that_passes_goes_wrong_far_more_often(
    limit,
    runs,
):
    """The rule without a procedure: measured beside it, each policy with its own luck.

    Over 200 trials, limit .05 with 20 runs: right 77 %, infeasible 11 %; limit .01 with 10 runs:
    right 71 %, infeasible 48 %. At those rates the error rate is below 0.5 %.
    """
    chosen = []
    for trial in range(200):
        shares, costs = Inventory(trial, common=False).first(runs)
        chosen.append(int(np.argmin(np.where(shares <= limit + 1e-12, costs, np.inf))))
    right = np.mean([is_right(policy, limit) for policy in chosen])
    infeasible = np.mean([is_infeasible(policy, limit) for policy in chosen])
    print("measured right:", right)
    print("measured infeasible:", infeasible)
    assert right < 0.90
    assert infeasible > 0.05


@pytest.mark.proof
@pytest.mark.parametrize("limit", [0.05, 0.01])
def test_common_luck_needs_fewer_runs(limit):
    """Mean runs of 25 trials; measured 4,360 against 6,730 and 5,890 against 8,110.

    The difference is about 20 standard errors, so the error rate is nil.
    """
    runs = {
        common: np.mean([choose_policy(t, limit, common=common).runs.sum() for t in range(25)])
        for common in (True, False)
    }
    print("measured runs:", runs)
    assert runs[True] < 0.9 * runs[False]


# --- Slippage: the best one indifference ahead ---------------------------------------------

SPREADS = {
    "equal": (1.0, 1.0, 1.0, 1.0, 1.0),
    "rising": (0.5, 0.75, 1.0, 1.25, 1.5),
    "falling": (1.5, 1.25, 1.0, 0.75, 0.5),
}


def slippage(
    spread: str, best: int, trial: int, tie_breaks: Sequence[float] = (0.0,) * 5, each: int = 10
) -> Choice:
    """Normal objectives, the best 0.5 below the others; alpha .05, n0 = 10."""
    rng = np.random.default_rng([trial, best])
    runs = rng.normal(size=(5, 4000)) * np.array(SPREADS[spread])[:, None]
    runs[best] -= 0.5
    nothing = np.zeros(0)

    def evaluate(pairs: Pairs) -> list[Outcome]:
        return [Outcome(nothing, runs[c, r], tie_breaks[c]) for c, r in pairs]

    return choose(
        5, NO_LIMITS, evaluate, indifference=0.5, first_round=10, round_size=each, budget=20_000
    )


@pytest.mark.parametrize("spread", SPREADS)
def test_slippage_in_a_few_trials_is_chosen_right(spread):
    """Kim & Nelson (2001): 10 trials, at most 2 wrong; at a true rate of 5 % error rate 1.2 %."""
    chosen = [slippage(spread, trial % 5, trial).chosen for trial in range(10)]
    assert sum(choice == trial % 5 for trial, choice in enumerate(chosen)) >= 8


@pytest.mark.proof
@pytest.mark.parametrize("best", range(5))
@pytest.mark.parametrize("spread", SPREADS)
def test_slippage_is_chosen_right_in_every_arrangement(spread, best):
    """Kim & Nelson (2001), slippage configuration: at least 95 % of 400 trials right.

    Reading a wrong pair's variance fails here. At a true rate of 98 % the error rate is 0.01 %
    for each of 15 arrangements.
    """
    right = np.mean([slippage(spread, best, trial).chosen == best for trial in range(400)])
    print("measured right:", right)
    assert right >= 0.95


@pytest.mark.proof
def test_slippage_is_chosen_right_with_a_look_after_every_run():
    """Fully sequential: 300 trials, at least 95 % right; error rate 0.04 % at a rate of 98 %."""
    right = np.mean([slippage("equal", t % 5, t, each=1).chosen == t % 5 for t in range(300)])
    print("measured right:", right)
    assert right >= 0.95


@pytest.mark.proof
def test_a_tie_break_does_not_buy_a_candidate_worse_by_the_indifference():
    """The best has the worst tie-break: at least 95 % of 300 trials choose it all the same.

    At a true rate of 98 % the error rate is 0.04 %.
    """
    right = []
    for trial in range(300):
        best = trial % 5
        tie_breaks = [1.0 if candidate == best else 0.0 for candidate in range(5)]
        right.append(slippage("rising", best, trial, tie_breaks).chosen == best)
    print("measured right:", np.mean(right))
    assert np.mean(right) >= 0.95


# --- Constants and bounds -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("candidates", "published"), [(2, 6.0129), (5, 11.4294), (10, 15.4635), (100, 32.6811)]
)
def test_constant_h_squared_is_the_published_one(candidates, published):
    """Kim & Nelson (2001): n0 = 10, alpha = .05, error alpha / (k - 1) for each pair."""
    assert h_squared(0.05 / (candidates - 1), 10) == pytest.approx(published, abs=5e-5)


def rinott(candidates: int, first_round: int = 20, chance: float = 0.95) -> float:
    """Rinott (1978), Communications in Statistics A7:799-811: the constant of his two stages.

    The h at which the best of so many, ahead by the indifference, comes first with this chance:
    the mean over y of [the mean over x of Phi(h / sqrt(v (1/x + 1/y)))]^(k - 1), x and y
    chi-squared with v = n0 - 1 degrees of freedom (the equation is from memory).
    """
    from scipy.optimize import brentq
    from scipy.stats import chi2, norm

    v = first_round - 1
    points, weights = np.polynomial.legendre.leggauss(200)
    x = chi2.ppf((points + 1.0) / 2.0, v)
    at = 1.0 / np.sqrt(v * (1.0 / x[:, None] + 1.0 / x[None, :]))

    def surplus(h: float) -> float:
        beaten = (norm.cdf(h * at) * weights[:, None] / 2.0).sum(axis=0)
        return float((beaten ** (candidates - 1) * weights / 2.0).sum()) - chance

    return float(brentq(surplus, 0.5, 10.0))


@pytest.mark.parametrize(
    ("candidates", "published"), [(2, 2.452), (5, 3.385), (10, 3.875), (100, 5.184)]
)
def test_constant_of_two_stages_is_the_published_one(candidates, published):
    """Rinott's h for a chance of .95 and a first stage of 20, as published tables give it."""
    assert rinott(candidates) == pytest.approx(published, abs=2e-3)


@pytest.mark.parametrize("spread", SPREADS)
def test_rounds_need_fewer_runs_than_two_stages(spread):
    """Slippage of 5: fewer runs, all in all, than (h S / d)^2 of each, as Rinott (1978) needs.

    Means of 10 trials with n0 = 10; his S^2 is taken at its mean, and his h for n0 = 10.
    """
    used = np.mean([slippage(spread, trial % 5, trial).runs.sum() for trial in range(10)])
    stages = np.maximum(10, (rinott(5, 10) * np.array(SPREADS[spread]) / 0.5) ** 2).sum()
    print(f"measured runs: {used:.0f} against {stages:.0f}")
    assert used < stages


@pytest.mark.parametrize("error", [0.05, 0.0125, 1e-6])
def test_eta_solves_its_equation(error):
    """Kim & Nelson (2001), c = 1: (1 + 2 eta)^(-(n0 - 1)/2) / 2 is the error of a decision."""
    assert (1.0 + 2.0 * eta(error, 20)) ** (-19 / 2) / 2.0 == pytest.approx(error, rel=1e-12)


def test_region_is_a_triangle_that_closes():
    """Half-width h^2 S^2 / (2 t) - t n / 2, zero from n = h^2 S^2 / t^2 on."""
    width = region(np.array([0.0, 60.0, 120.0, 500.0]), np.full(4, 3.0), 10.0, 0.5)
    assert width == pytest.approx([30.0, 15.0, 0.0, 0.0])


@pytest.mark.parametrize("share", [0.6, 0.8, 0.95])
@pytest.mark.parametrize("error", [0.05, 0.01])
def test_evidence_is_exact_at_every_look(share, error):
    """Ville (1939): the chance ever to reach 1/error at the share itself is at most the error.

    Summed exactly over all records of up to 400 runs, with a look after each; no chance in it.
    """
    chance, crossed = np.array([1.0]), 0.0
    for runs in range(1, 401):
        moved = np.zeros(runs + 1)
        moved[1:] += chance * share
        moved[:-1] += chance * (1.0 - share)
        yes = np.arange(runs + 1.0)
        over = log_evidence(yes, runs - yes, np.full(runs + 1, share)) >= -log(error)
        crossed += moved[over].sum()
        chance = np.where(over, 0.0, moved)
    assert 0.2 * error < crossed <= error


def test_evidence_is_the_average_likelihood_ratio():
    """The closed form against the average over a fine grid of alternatives."""
    p = 0.8 + 0.2 * (np.arange(200_000) + 0.5) / 200_000
    ratio = (p / 0.8) ** 45 * ((1 - p) / 0.2) ** 5
    closed = log_evidence(np.array([45.0]), np.array([5.0]), np.array([0.8]))
    assert closed[0] == pytest.approx(log(ratio.mean()), abs=1e-8)


def test_exact_interval_covers_as_published():
    """Clopper & Pearson (1934) for n = 50, p = .98 covers .982, summed over the binomial."""
    yes = np.arange(51.0)
    bounds = exact_interval(yes, np.full(51, 50.0), 0.05)
    covers = (bounds.lower <= 0.98) & (bounds.upper >= 0.98)
    chance = np.array([comb(50, n) * 0.98**n * 0.02 ** (50 - n) for n in range(51)])
    assert chance[covers].sum() == pytest.approx(0.982, abs=5e-4)
    assert (bounds.lower[0], bounds.upper[50]) == (0.0, 1.0)
    assert bounds.lower[50] == pytest.approx(0.025 ** (1 / 50))


def test_bounds_of_spotless_shares_are_not_a_point():
    """A record without variance gets the exact bound (alpha/2)^(1/n) instead of zero width."""
    bounds = share_interval(np.ones(1), np.zeros(1), np.full(1, 20.0), 0.05)
    assert (bounds.lower[0], bounds.upper[0]) == (pytest.approx(0.025 ** (1 / 20)), 1.0)


# --- The trap of no variance ----------------------------------------------------------------


def runs_to_meet(limits: Limits, alpha: float) -> int:
    """Runs until a single candidate whose runs are all 1 is called "meets"."""
    choice = choose(1, limits, fixed([1.0], [0.0]), indifference=1.0, alpha=alpha, round_size=1)
    assert choice.verdicts == ("meets",)
    return int(choice.runs[0])


def test_twenty_clean_yes_no_runs_prove_nothing():
    """Limit .85, tolerance .05, error .01: a share of .80 gives 20 clean runs 1.2 % of the time.

    The exact test waits for the first n at which (1 - .8^(n+1)) / ((n+1) .2 .8^n) reaches 100.
    """
    evidence = [(1 - 0.8 ** (n + 1)) / ((n + 1) * 0.2 * 0.8**n) for n in range(99)]
    wanted = next(n for n, ratio in enumerate(evidence) if ratio >= 100)
    assert wanted > 25
    assert runs_to_meet(one_limit(0.85, 0.05, binary=True), 0.01) == wanted


def test_twenty_clean_share_runs_prove_nothing():
    """Limit .95, tolerance .01: passing waits until .94^n is at most half the error .05, n = 60."""
    wanted = ceil(log(0.025) / log(0.94))
    assert spotless_runs(0.025, np.array([0.94]))[0] == wanted == 60
    assert runs_to_meet(one_limit(0.95, 0.01, binary=False), 0.05) == wanted


def test_a_good_start_does_not_hide_bad_years_that_follow():
    """First 40 years clean, then half of them bad: misses, though the first variance is zero."""

    def evaluate(pairs: Pairs) -> list[Outcome]:
        return [Outcome(np.array([float(r < 40 or r % 2)]), 0.0) for _, r in pairs]

    for binary in (True, False):
        limits = one_limit(0.95, 0.01, binary=binary)
        assert choose(1, limits, evaluate, indifference=1.0).verdicts == ("misses",)


@pytest.mark.proof
def test_a_share_that_misses_is_rarely_called_meets():
    """True share exactly limit less tolerance, .80: "meets" in at most 5 % of 2,000 trials.

    Twenty clean runs alone would be 1.2 % of trials at once. The test is exact, its rate is at
    most 5 %; measured 2.7 %. Error rate at a true rate of 3 %: below 0.01 %.
    """
    limits = one_limit(0.85, 0.05, binary=True)
    verdicts = [
        choose(1, limits, coins([0.80], [0.0], trial), indifference=1.0).verdicts[0]
        for trial in range(2000)
    ]
    rate = verdicts.count("meets") / 2000
    print("measured meets:", rate)
    assert rate <= 0.05


@pytest.mark.proof
@pytest.mark.parametrize(
    ("bad", "loss", "limit", "tolerance"), [(0.1, 0.7, 0.95, 0.02), (0.03, 1.0, 0.98, 0.01)]
)
def test_rare_bad_years_are_rarely_missed(bad, loss, limit, tolerance):
    """Years all met but for rare ones: true share exactly limit less tolerance, allowance 5 %.

    12 and 54 % of first rounds are spotless and would pass at once; the region of the source
    alone, waiting for a spotless record, passes 8 and 15 %. Measured here: 2 and 4 % of 500
    trials. Error rate at true rates of 2 and 3.5 %: below 0.1 and 3 %.
    """
    limits, meets = one_limit(limit, tolerance, binary=False), 0
    for trial in range(500):
        good = np.random.default_rng(trial).random(20_000) >= bad

        def evaluate(pairs: Pairs, good: np.ndarray = good) -> list[Outcome]:
            return [Outcome(np.array([1.0 if good[r] else 1.0 - loss]), 0.0) for _, r in pairs]

        meets += choose(1, limits, evaluate, indifference=1.0, budget=20_000).chosen == 0
    print("measured meets:", meets / 500)
    assert meets / 500 <= 0.05


def test_variance_at_a_share_is_that_of_yes_no_data_there():
    """Wilson (1927): with worst run 0 the raised variance is mean (1 - share)."""
    mean, zero = np.array([0.95, 0.7]), np.zeros(2)
    raised = variance_at(np.full(2, 0.8), mean, mean * (1 - mean), zero)
    assert raised == pytest.approx([0.95 * 0.2, 0.7 * 0.3])  # not above the share: as it was


# --- Many limits ----------------------------------------------------------------------------

WEEKS = 30
WEEKLY = Limits(
    np.append(np.full(WEEKS, 0.85), 0.95),
    np.append(np.full(WEEKS, 0.05), 0.02),
    np.append(np.ones(WEEKS, dtype=bool), False),
)
# Shares of years by week: all well met, one week exactly too low, all a little too low
WEEK_SHARES = np.full((6, WEEKS), 0.99)
WEEK_SHARES[1, 4] = WEEK_SHARES[2, 20] = 0.80
WEEK_SHARES[3, 9] = 0.60
WEEK_SHARES[4, :] = 0.925
WEEK_SHARES[5, 7] = 0.90
WEEK_COSTS = (10.0, 5.0, 8.0, 4.0, 3.0, 9.0)  # candidate 5 is the best that meets all


def weekly(trial: int) -> Callable[[Pairs], list[Outcome]]:
    """Years with the same luck for all candidates: weeks met, and their mean as the last share."""
    luck = np.random.default_rng(trial).random((4000, WEEKS))
    noise = np.random.default_rng([trial, 1]).normal(size=4000)

    def evaluate(pairs: Pairs) -> list[Outcome]:
        met = [(luck[r] < WEEK_SHARES[c]).astype(float) for c, r in pairs]
        return [
            Outcome(np.append(m, m.mean()), WEEK_COSTS[c] + noise[r])
            for m, (c, r) in zip(met, pairs, strict=True)
        ]

    return evaluate


def test_the_best_that_meets_every_week_is_chosen():
    """3 trials, all right; at the allowed 5 % of wrong choices the error rate is 14 %."""
    for trial in range(3):
        choice = choose(6, WEEKLY, weekly(trial), indifference=0.5, budget=10_000)
        assert choice.chosen == 5
        assert choice.verdicts[3] == "misses"
        assert choice.verdicts[0] in {"meets", "beaten"}


@pytest.mark.proof
def test_wrong_verdicts_over_many_limits_stay_within_the_allowance():
    """150 trials of 6 candidates and 31 limits: a wrong verdict or choice in at most 5 %.

    At a true rate of 1 % the error rate is 0.01 %.
    """
    wrong = 0
    for trial in range(150):
        choice = choose(6, WEEKLY, weekly(trial), indifference=0.5, budget=10_000)
        false = "meets" in choice.verdicts[1:5]
        wrong += false or "misses" in (choice.verdicts[0], choice.verdicts[5]) or choice.chosen != 5
    print("measured wrong:", wrong / 150)
    assert wrong / 150 <= 0.05


# --- What a choice says ---------------------------------------------------------------------


def test_the_lowest_objective_among_those_that_meet_is_chosen():
    choice = choose(
        4,
        one_limit(0.9, 0.05, binary=False),
        fixed([0.99, 0.5, 0.98, 0.97], [5.0, 1.0, 3.0, 9.0]),
        indifference=0.1,
    )
    assert choice.chosen == 2
    assert choice.verdicts[1] == "misses"
    assert choice.ties == choice.pending == ()
    assert choice.nearest is None


def test_ties_are_listed_and_the_lower_tie_break_is_chosen():
    """Objectives within the indifference count as equal; a worse one does not."""
    choice = choose(
        4,
        one_limit(0.9, 0.05, binary=False),
        fixed([0.99] * 4, [5.0, 5.2, 5.3, 9.0], [3.0, 2.0, 7.0, 0.0]),
        indifference=0.5,
    )
    assert choice.chosen == 1
    assert 0 in choice.ties
    assert 3 not in choice.ties


def test_candidates_alike_in_everything_are_ties_and_the_first_is_chosen():
    limits = one_limit(0.9, 0.05, binary=False)
    choice = choose(3, limits, fixed([0.99] * 3, [5.0] * 3), indifference=0.5)
    assert (choice.chosen, choice.ties, choice.pending) == (0, (1, 2), ())


def test_if_none_meets_the_nearest_is_named_with_its_bounds():
    choice = choose(
        3,
        one_limit(0.9, 0.05, binary=True),
        coins([0.4, 0.7, 0.2], [1.0, 9.0, 1.0], 3),
        indifference=1.0,
    )
    assert choice.chosen is None
    assert choice.verdicts == ("misses", "misses", "misses")
    assert choice.nearest == 1
    estimates = choice.estimates
    assert estimates.lower[1, 0] < 0.7 < estimates.upper[1, 0] < 0.9
    assert choice.shortfall[1] == pytest.approx(0.9 - estimates.constraints[1, 0])


def test_what_the_budget_left_undecided_is_too_close_to_call():
    """A share at the limit with a small tolerance needs thousands of runs."""
    choice = choose(
        2,
        one_limit(0.85, 0.01, binary=True),
        coins([0.85, 0.85], [1.0, 2.0], 1),
        indifference=0.1,
        budget=400,
    )
    assert choice.verdicts == ("too close to call", "too close to call")
    assert choice.chosen is None
    assert choice.pending == (0, 1)
    assert choice.runs.sum() <= 400


def test_a_better_candidate_left_undecided_is_pending_beside_the_choice():
    """Candidate 0 is cheaper but at its limit when the budget ends; candidate 1 meets it."""
    choice = choose(
        2,
        one_limit(0.85, 0.02, binary=True),
        coins([0.85, 1.0], [1.0, 2.0], 5),
        indifference=0.1,
        budget=600,
    )
    assert choice.chosen == 1
    assert choice.pending == (0,)
    assert choice.verdicts == ("too close to call", "meets")


def test_budget_is_never_exceeded_and_almost_used():
    for budget in (1540, 1541, 2000, 3333):
        used = choose_policy(0, 0.01, budget=budget).runs.sum()
        assert budget - 77 <= used <= budget


def test_worse_candidates_get_no_runs_while_a_better_one_is_checked():
    """Once worse than a candidate still open, a candidate waits: it keeps its first round."""
    choice = choose(
        3,
        one_limit(0.95, 0.01, binary=False),
        fixed([0.97, 0.90, 1.0], [1.0, 50.0, 60.0]),
        indifference=1.0,
    )
    assert choice.chosen == 0
    assert choice.runs[1] == 20


def test_progress_hears_of_every_round():
    heard: list[tuple[int, int]] = []
    choice = choose(
        3,
        one_limit(0.9, 0.05, binary=True),
        coins([0.99, 0.5, 0.99], [1.0, 1.0, 1.2], 2),
        indifference=0.5,
        progress=lambda left, runs: heard.append((left, runs)),
    )
    assert heard[0] == (heard[0][0], 60)
    assert heard[-1][1] == choice.runs.sum()
    assert all(a[0] >= b[0] and a[1] < b[1] for a, b in pairwise(heard))


def test_allowance_says_what_it_covers():
    choice = choose(
        2, one_limit(0.9, 0.05, binary=True), coins([0.5, 0.4], [1, 2], 0), indifference=2
    )
    assert "5 wrong choices in 100" in choice.allowance
    assert "2 candidates against 1 limits" in choice.allowance
    assert "less than 2 above the best" in choice.allowance


# --- The same outcomes, the same choice -----------------------------------------------------


def same(one: Choice, other: Choice) -> bool:
    return (
        (one.chosen, one.ties, one.pending, one.verdicts)
        == (other.chosen, other.ties, other.pending, other.verdicts)
        and np.array_equal(one.runs, other.runs)
        and np.array_equal(one.estimates.constraints, other.estimates.constraints)
        and np.array_equal(one.estimates.objective, other.estimates.objective)
    )


@pytest.mark.parametrize("chunk", [1, 7, 1000])
def test_choice_does_not_depend_on_how_runs_are_chunked(chunk):
    """L2: the caller may split a round as it likes and run its parts in any order."""
    whole = weekly(11)

    def chunked(pairs: Pairs) -> list[Outcome]:
        starts = list(range(0, len(pairs), chunk))
        done = {start: whole(pairs[start : start + chunk]) for start in reversed(starts)}
        return [outcome for start in starts for outcome in done[start]]

    plain = choose(6, WEEKLY, whole, indifference=0.5, budget=5000)
    assert same(plain, choose(6, WEEKLY, chunked, indifference=0.5, budget=5000))


def test_an_interrupted_choice_resumes_from_kept_outcomes():
    """Kept outcomes are all that is needed: the second call runs only what the first had not."""
    kept: dict[tuple[int, int], Outcome] = {}
    whole, ran = weekly(12), []

    def keeping(pairs: Pairs) -> list[Outcome]:
        missing = [pair for pair in pairs if pair not in kept]
        ran.extend(missing)
        if len(ran) > 600:
            raise KeyboardInterrupt
        kept.update(zip(missing, whole(missing), strict=True))
        return [kept[pair] for pair in pairs]

    with pytest.raises(KeyboardInterrupt):
        choose(6, WEEKLY, keeping, indifference=0.5, budget=5000)
    done = len(kept)
    ran.clear()

    def resuming(pairs: Pairs) -> list[Outcome]:
        missing = [pair for pair in pairs if pair not in kept]
        ran.extend(missing)
        kept.update(zip(missing, whole(missing), strict=True))
        return [kept[pair] for pair in pairs]

    resumed = choose(6, WEEKLY, resuming, indifference=0.5, budget=5000)
    assert same(resumed, choose(6, WEEKLY, whole, indifference=0.5, budget=5000))
    assert len(ran) == resumed.runs.sum() - done


# --- Bad input ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("alpha", 0.0, "alpha must lie between 0 and 0.5; it was 0.0"),
        ("indifference", 0.0, "indifference must be above 0"),
        ("indifference", float("nan"), "it was nan"),
        ("first_round", 1, "first_round must be at least 2 runs; it was 1"),
        ("round_size", 0, "round_size must be at least 1 run; it was 0"),
        ("budget", 39, "budget must be at least 40 runs"),
    ],
)
def test_a_number_that_cannot_be_used_is_named_with_its_value(key, value, says):
    numbers = {"indifference": 1.0, key: value}
    limits = one_limit(0.9, 0.05, binary=True)
    with pytest.raises(SeedbeatError, match=says):
        choose(2, limits, coins([1, 1], [1, 2], 0), **numbers)


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (one_limit(1.5, 0.1, binary=True), "at_least must be above 0 and at most 1"),
        (one_limit(0.9, 0.0, binary=True), "tolerance must be above 0"),
        (Limits(np.ones(2), np.ones(1), np.ones(2, dtype=bool)), "as many tolerances"),
    ],
)
def test_limits_that_cannot_be_used_are_named(limits, says):
    with pytest.raises(SeedbeatError, match=says):
        choose(1, limits, coins([1], [1], 0), indifference=1.0)


@pytest.mark.parametrize(
    "outcome",
    [
        Outcome(np.array([1.2]), 0.0),
        Outcome(np.array([0.5]), 0.0),
        Outcome(np.array([np.nan]), 0.0),
        Outcome(np.array([1.0]), float("nan")),
        Outcome(np.array([1.0]), 0.0, float("inf")),
    ],
)
def test_an_outcome_that_is_no_outcome_is_named(outcome):
    def evaluate(pairs: Pairs) -> list[Outcome]:
        return [outcome if pair == (1, 3) else Outcome(np.ones(1), 0.0) for pair in pairs]

    with pytest.raises(ValueError, match="candidate 1, replication 3"):
        choose(2, one_limit(0.9, 0.05, binary=True), evaluate, indifference=1.0)


def test_outcomes_of_the_wrong_number_or_shape_are_refused():
    limits = one_limit(0.9, 0.05, binary=True)
    with pytest.raises(ValueError, match="must return 20 outcomes, returned 0"):
        choose(1, limits, lambda _: [], indifference=1.0)
    with pytest.raises(ValueError, match="must have shape"):
        choose(1, limits, lambda p: [Outcome(np.ones(2), 0.0) for _ in p], indifference=1.0)
