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

- A candidate is also shown to miss by bets on the limits that look weakest (`selection_bets`):
  exact, and for a candidate that fails in several weeks sooner than any of its limits alone.
- With `floors`, "meets" is said only of one whose estimates are a little above all limits too: by
  a quarter of the way to what must not fail. It makes passing harder, so that no error grows.
- Not all candidates need runs from the start. With `floors`, means that the objectives cannot be
  below by arithmetic, the first `at_first` have, and when nothing is left to decide among them
  the next are let in, in their order. The error is shared out over all of them, tried or not, so
  that it does not matter which the data let in. One without runs is dropped if its floor is
  shown to be above the best objective that meets all limits, less the indifference: a comparison
  with a known standard in the region of Kim & Nelson. Half of what comparisons may err goes to
  it. Then runs are spared in two more ways, which change no error: the candidate of the lowest
  objective among those that seem to meet all limits goes ahead of the others, and one whose
  limits are open is dropped when it was shown not to be better by the indifference than one that
  meets them, unless its tie-break is better.

The allowance holds, as in the sources, when the best candidate leads the others that are
acceptable by the indifference or more; closer ones are as good as each other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.selection_asked import check
from sim.selection_bounds import Floats, exact_interval, share_interval, t_half_width
from sim.selection_rounds import Contest, Terms
from sim.selection_runs import Limits, Outcome

__all__ = ["Choice", "Estimates", "Limits", "Outcome", "Verdict", "choose"]

Verdict = Literal["meets", "misses", "beaten", "too close to call", "not tried"]
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
    `pending`: those with runs that could still have changed the choice when the budget ended;
    `untried`: those without whose floor was not enough to rule them out; floors from `cleared` up
    are. `nearest`: if none was
    chosen, the candidate whose worst shortfall is smallest (of several without shortfall, the one
    with the lowest objective). `verdicts`, by candidate: "beaten" is worse than one that meets all
    limits (or not better, with floors), so that its own limits were left undecided; "not tried"
    has no runs, and nan for numbers. `shortfall`: by how much the worst constraint stays below its
    limit, negative if none does, in the unit of the constraints, shape (k,). `runs`: runs used by
    each candidate, shape (k,). `allowance`: what the error allowance covers, in words.
    """

    chosen: int | None
    ties: tuple[int, ...]
    pending: tuple[int, ...]
    untried: tuple[int, ...]
    cleared: float
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
    floors: Floats | None = None,
    at_first: int | None = None,
    reserve: int = 0,
    progress: Progress | None = None,
) -> Choice:
    """Choose the candidate of lowest mean objective among those that meet all limits.

    `evaluate` is given all (candidate, replication) pairs of a round, both counted from 0, and
    returns their outcomes in that order; kept outcomes are all that a resumption needs. Differences
    below `indifference` [unit of the objective] do not matter; `first_round`, `round_size` (of each
    candidate) and `budget` are in runs. With `floors` of the objective, shape (k,), the candidates
    after the first `at_first` are simulated only if the budget lasts and no floor rules them out.
    `reserve` runs of the budget are for finding one that meets all limits, not for what follows.
    `progress` hears how many candidates are left and how many runs were done. `alpha` is the
    allowed chance of a wrong choice. Raises SeedbeatError for a bad number, ValueError for an
    improper outcome.
    """
    check(
        candidates,
        limits,
        alpha=alpha,
        indifference=indifference,
        first_round=first_round,
        round_size=round_size,
        budget=budget,
        at_first=candidates if at_first is None else at_first,
    )
    terms = _terms(candidates, limits, alpha, indifference, first_round)
    if floors is None:
        terms = replace(terms, pair_error=2.0 * terms.pair_error)
    at_first = candidates if at_first is None else min(at_first, candidates)
    contest = Contest(candidates, limits, terms, floors, at_first)
    pairs = [(c, r) for c in range(at_first) for r in range(first_round)]
    while pairs:
        contest.take(pairs, evaluate(pairs))
        done = int(contest.runs.sum())
        if progress is not None:
            progress(int(contest.open.sum()), done)
        left = max(0, budget - done - (reserve if contest.meets.any() else 0))
        pairs = contest.next_round(round_size, left) or contest.widen(round_size, left)
    return _choice(contest, limits, indifference, alpha)


def _terms(
    candidates: int, limits: Limits, alpha: float, indifference: float, first_round: int
) -> Terms:
    """Halve the allowance between limits and comparisons, then share it out (Bonferroni).

    Half of what may fail wrongly is for the limits together, half for each of them; half of the
    comparisons' part is for those with floors.
    """
    constraints = limits.at_least.size
    part = alpha if candidates == 1 or constraints == 0 else alpha / 2.0
    return Terms(
        pass_error=part / candidates,
        miss_error=part / (candidates * max(constraints, 1)) / 2.0,
        joint_error=part / candidates / 2.0,
        pair_error=part / max(candidates - 1, 1) / 2.0,
        floor_error=part / max(candidates - 1, 1) / 2.0,
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
        untried=tuple(np.flatnonzero(contest.untried).tolist()),
        cleared=contest.cleared,
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
    as_close = (contest.order[np.ix_(level, np.flatnonzero(contest.close))] == -1).all(axis=1)
    level = level[as_close | (level == lowest)]
    chosen = int(level[np.lexsort((objective[level], tie_break[level]))[0]])
    close = contest.meets & (objective <= objective[lowest] + indifference)
    close &= tie_break >= tie_break[chosen]  # one with a better tie-break was shown to be worse
    ties = (set(np.flatnonzero(close).tolist()) | set(level.tolist())) - {chosen}
    return chosen, tuple(sorted(ties))


def _estimates(contest: Contest, limits: Limits, alpha: float) -> Estimates:
    tried = np.flatnonzero(contest.tried)
    runs = contest.runs[tried, None].astype(float)
    mean, variances = contest.sums[tried] / runs, contest.variances(tried)
    exact = exact_interval(np.rint(contest.sums[tried]), runs, alpha)
    shares = share_interval(mean, variances, runs, alpha)
    rows = [contest.objectives[c, : contest.runs[c]] for c in tried]
    half = [t_half_width(np.var(row, ddof=1), row.size, alpha) for row in rows]

    def of_all(values: Floats) -> Floats:
        full = np.full((contest.runs.size, *values.shape[1:]), np.nan)
        full[tried] = values
        return full

    return Estimates(
        constraints=of_all(mean),
        lower=of_all(np.where(limits.binary, exact.lower, shares.lower)),
        upper=of_all(np.where(limits.binary, exact.upper, shares.upper)),
        objective=of_all(np.array([row.mean() for row in rows])),
        objective_half=of_all(np.array(half)),
        tie_break=of_all(contest.tie_break_sums[tried] / contest.runs[tried]),
    )


def _verdicts(contest: Contest) -> tuple[Verdict, ...]:
    meets, misses, beaten = contest.meets, contest.misses, contest.beaten
    words: list[Verdict] = []
    for candidate in range(meets.size):
        if not contest.tried[candidate]:
            words.append("not tried")
        elif meets[candidate]:
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
