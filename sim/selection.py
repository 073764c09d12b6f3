"""Choosing the best of several candidates under noise, among those that meet limits.

Knows nothing of what the candidates are. Each run of a candidate gives shares in [0, 1], one for
each limit, which must have means of at least the limit, and an objective, lower is better. Runs
of the same replication number are expected to share their luck.

The procedure follows Andradottir & Kim (2010), Naval Research Logistics 57:403-421, with several
limits and common luck as in Healey, Andradottir & Kim (2014), ACM TOMACS 24(3):14: limits are
checked and candidates are compared together, in rounds of fixed size, and a candidate is
dropped only if it misses a limit or is worse than one that was found to meet all of them. The
error allowance is halved between limits and comparisons. What is done in particular:

- Dormancy (Healey, Andradottir & Kim 2013, European J. Operational Research 224:340-352, from
  memory): a candidate worse than one whose limits are not yet decided waits without runs. While
  none is found to meet all limits, the best of those estimated well above them does not wait, so
  that a budget that ends early more often leaves a choice.
- Yes/no limits are decided by an exact sequential test (`log_evidence`), not by normal theory:
  twenty clean years have no variance and would otherwise pass at once. To meet all limits each
  must be shown, which needs no sharing of the error over limits (intersection-union test,
  Berger 1982, Technometrics 24:295-300); to miss, one is enough, so there it is shared out.
- Limits on other shares are decided by the region of Andradottir & Kim, its error shared out over
  candidates and limits (Bonferroni). An exact test needs several times the runs there, so normal
  theory stays, with two guards against bad years not yet seen: the variance is the larger of the
  first round's and that of all runs, raised to what it would be at the limit (`variance_at`);
  and the region is kept open, and nobody passes, until even a spotless record would convince
  (`spotless_runs`, exact for any shares in [0, 1]).
- Pairs are compared by the region of Kim & Nelson (2001), ACM TOMACS 11:251-273. Where the first
  round gives the one with the worse objective the better tie-break, the region is placed around
  half the indifference d with tolerance d/2, so that "worse by d" is told from "not worse", and
  the error is halved between the pair's two questions; without tie-breaks this is the published
  procedure. What is not worse by d and has the better tie-break stays in.

The allowance holds, as in the sources, when the best candidate leads the others that are
acceptable by the indifference or more; closer ones are as good as each other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.errors import SeedbeatError
from sim.selection_bounds import Floats, exact_interval, share_interval, t_half_width
from sim.selection_rounds import Contest, Limits, Outcome, Terms

__all__ = ["Choice", "Estimates", "Limits", "Outcome", "Verdict", "choose"]

Verdict = Literal["meets", "misses", "beaten", "too close to call"]
Evaluate = Callable[[Sequence[tuple[int, int]]], Sequence[Outcome]]
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Estimates:
    """Means over each candidate's runs with bounds at level 1 - alpha, each by itself.

    `constraints`, `lower`, `upper` have shape (k, s): exact bounds (Clopper & Pearson) for yes/no
    limits, Student's t with a floor for other shares. `objective`, `objective_half` (half the
    width of its t interval) and `tie_break` have shape (k,). The bounds are not widened for
    stopping when the data decide, nor for looking at many candidates; below 50 runs: rough.
    """

    constraints: Floats
    lower: Floats
    upper: Floats
    objective: Floats
    objective_half: Floats
    tie_break: Floats


@dataclass(frozen=True)
class Choice:
    """What was chosen, and what is known about every candidate.

    `chosen`: index of the best that meets all limits, or None if none was found to. `ties`: the
    others that meet all limits with an objective estimated within the indifference of the lowest;
    the chosen one has the lowest mean tie-break of those that were not shown to be worse.
    `pending`: those that could still have changed the choice when the budget ended. `nearest`: if
    none was chosen, the candidate whose worst shortfall is smallest (of several without
    shortfall, the one with the lowest objective). `verdicts`, by candidate: "beaten" is worse than
    one that meets all limits, so that its own limits were left undecided. `shortfall`: by how much
    the worst constraint stays below its limit, negative if none does, in the unit of the
    constraints, shape (k,). `runs`: runs used by each candidate, shape (k,). `allowance`: what the
    error allowance covers, in words.
    """

    chosen: int | None
    ties: tuple[int, ...]
    pending: tuple[int, ...]
    nearest: int | None
    verdicts: tuple[Verdict, ...]
    estimates: Estimates
    shortfall: Floats
    runs: NDArray[np.intp]
    allowance: str


def choose(
    candidates: int,
    limits: Limits,
    evaluate: Evaluate,
    *,
    indifference: float,
    alpha: float = 0.05,
    first_round: int = 20,
    round_size: int = 10,
    budget: int = 6000,
    progress: Progress | None = None,
) -> Choice:
    """Choose the candidate of lowest mean objective among those that meet all limits.

    `evaluate` is given all (candidate, replication) pairs of a round, both counted from 0, and
    returns their outcomes in that order; kept outcomes are all that a resumption needs. Differences
    below `indifference` [unit of the objective] do not matter; `first_round`, `round_size` (of each
    candidate) and `budget` are in runs; `progress` hears how many candidates are left and how many
    runs were done. `alpha` is the allowed chance of a wrong choice. Raises SeedbeatError for a bad
    number, ValueError for an improper outcome.
    """
    _check(
        candidates,
        limits,
        alpha=alpha,
        indifference=indifference,
        first_round=first_round,
        round_size=round_size,
        budget=budget,
    )
    terms = _terms(candidates, limits.at_least.size, alpha, indifference, first_round)
    contest = Contest(candidates, limits, terms)
    pairs = [(c, r) for c in range(candidates) for r in range(first_round)]
    while pairs:
        contest.take(pairs, evaluate(pairs))
        done = int(contest.runs.sum())
        if progress is not None:
            progress(int(contest.open.sum()), done)
        pairs = contest.next_round(round_size, budget - done)
    return _choice(contest, limits, indifference, alpha)


def _terms(
    candidates: int, constraints: int, alpha: float, indifference: float, first_round: int
) -> Terms:
    """Halve the allowance between limits and comparisons, then share it out (Bonferroni)."""
    part = alpha if candidates == 1 or constraints == 0 else alpha / 2.0
    return Terms(
        pass_error=part / candidates,
        miss_error=part / (candidates * max(constraints, 1)),
        pair_error=part / max(candidates - 1, 1),
        indifference=indifference,
        first_round=first_round,
    )


def _choice(contest: Contest, limits: Limits, indifference: float, alpha: float) -> Choice:
    estimates = _estimates(contest, limits, alpha)
    shortfall = (limits.at_least - estimates.constraints).max(axis=1, initial=-np.inf)
    chosen: int | None = None
    nearest: int | None = None
    ties: tuple[int, ...] = ()
    if (contest.meets & contest.open).any():
        chosen, ties = _best(contest, estimates, indifference)
    else:
        nearest = int(np.lexsort((estimates.objective, np.maximum(shortfall, 0.0)))[0])
    undecided = contest.open & (~contest.meets | contest.needing_runs())
    return Choice(
        chosen=chosen,
        ties=ties,
        pending=tuple(int(c) for c in np.flatnonzero(undecided) if c != chosen),
        nearest=nearest,
        verdicts=_verdicts(contest),
        estimates=estimates,
        shortfall=shortfall,
        runs=contest.runs.copy(),
        allowance=_allowance(contest.runs.size, limits, indifference, alpha),
    )


def _best(
    contest: Contest, estimates: Estimates, indifference: float
) -> tuple[int, tuple[int, ...]]:
    """The candidate that the tie-break favors, and the others that it was chosen from."""
    objective, tie_break = estimates.objective, estimates.tie_break
    contenders = np.flatnonzero(contest.meets & contest.open)
    lowest = contenders[np.argmin(objective[contenders])]
    level = contenders[contest.order[contenders, lowest] == -1]
    chosen = int(level[np.lexsort((objective[level], tie_break[level]))[0]])
    close = contest.meets & (objective <= objective[lowest] + indifference)
    close &= tie_break >= tie_break[chosen]  # one with a better tie-break was shown to be worse
    ties = (set(np.flatnonzero(close).tolist()) | set(level.tolist())) - {chosen}
    return chosen, tuple(sorted(ties))


def _estimates(contest: Contest, limits: Limits, alpha: float) -> Estimates:
    runs = contest.runs[:, None].astype(float)
    mean, variances = contest.sums / runs, contest.variances
    exact = exact_interval(np.rint(contest.sums), runs, alpha)
    shares = share_interval(mean, variances, runs, alpha)
    rows = [contest.objectives[c, :n] for c, n in enumerate(contest.runs)]
    half = [t_half_width(np.var(row, ddof=1), row.size, alpha) for row in rows]
    return Estimates(
        constraints=mean,
        lower=np.where(limits.binary, exact.lower, shares.lower),
        upper=np.where(limits.binary, exact.upper, shares.upper),
        objective=np.array([row.mean() for row in rows]),
        objective_half=np.array(half),
        tie_break=contest.tie_break_sums / contest.runs,
    )


def _verdicts(contest: Contest) -> tuple[Verdict, ...]:
    meets, misses, beaten = contest.meets, contest.misses, contest.beaten
    words: list[Verdict] = []
    for candidate in range(meets.size):
        if meets[candidate]:
            words.append("meets")
        elif misses[candidate]:
            words.append("misses")
        else:
            words.append("beaten" if beaten[candidate] else "too close to call")
    return tuple(words)


def _allowance(candidates: int, limits: Limits, indifference: float, alpha: float) -> str:
    limit_count, pair_count = limits.at_least.size, candidates - 1
    parts = []
    if limit_count:
        parts.append(f"{candidates} candidates against {limit_count} limits")
    if pair_count:
        parts.append(f"{pair_count} comparisons with the best")
    return (
        f"Allowed: {100 * alpha:g} wrong choices in 100, shared out evenly over "
        f"{' and '.join(parts) or 'nothing to decide'}. Not counted as wrong: a verdict on a "
        "candidate within the tolerance of a limit, and a chosen one less than "
        f"{indifference:.3g} above the best. Yes/no limits are tested exactly; other shares and "
        "the objective as if normally distributed."
    )


def _check(
    candidates: int,
    limits: Limits,
    *,
    alpha: float,
    indifference: float,
    first_round: int,
    round_size: int,
    budget: int,
) -> None:
    least = candidates * first_round
    needs: tuple[tuple[bool, str, str, object], ...] = (
        (candidates >= 1, "candidates", "must be at least 1", candidates),
        (0.0 < alpha < 0.5, "alpha", "must lie between 0 and 0.5", alpha),
        (isfinite(indifference) and indifference > 0, "indifference", "must be above 0; give the "
         "difference in the objective that does not matter to you", indifference),
        (first_round >= 2, "first_round", "must be at least 2 runs", first_round),
        (round_size >= 1, "round_size", "must be at least 1 run", round_size),
        (budget >= least, "budget", f"must be at least {least} runs ({candidates} candidates x "
         f"{first_round} in the first round); raise it, or give fewer candidates", budget),
        (bool(((limits.at_least > 0) & (limits.at_least <= 1)).all()), "at_least",
         "must be above 0 and at most 1 for every limit", limits.at_least.tolist()),
        (bool((limits.tolerance > 0).all()), "tolerance", "must be above 0 for every limit",
         limits.tolerance.tolist()),
        (limits.at_least.shape == limits.tolerance.shape == limits.binary.shape, "limits",
         "must have as many tolerances and flags as limits",
         (limits.at_least.size, limits.tolerance.size, limits.binary.size)),
    )  # fmt: skip
    for fine, name, must, was in needs:
        if not fine:
            raise SeedbeatError(f"choosing: {name} {must}; it was {was}")
