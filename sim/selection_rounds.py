"""The state of a choice under noise, and what one round of runs does to it.

`selection` says what the rules are and where they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from sim.selection_bets import Bets
from sim.selection_bounds import Floats, h_squared, log_evidence, region, spotless_runs, variance_at
from sim.selection_runs import Limits, Outcome, refuse, shares_of

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_AHEAD = 4  # times as many runs in a round for a candidate that goes ahead alone
_WAVE = 20  # candidates that are let in together
_ROUNDING = 1e-9  # a mean exactly at its limit meets it


@dataclass(frozen=True)
class Terms:
    """The chances and sizes that a contest is held on; errors are chances of one wrong verdict.

    `pass_error`: calling a candidate that misses a limit "meets". `miss_error`: failing one limit
    of a candidate that meets it; `joint_error`: failing a candidate that meets all. `pair_error`:
    one wrong comparison; `floor_error`: one wrong comparison with a floor. `indifference` has the
    unit of the objective, `first_round` is in runs.
    """

    pass_error: float
    miss_error: float
    joint_error: float
    pair_error: float
    floor_error: float
    indifference: float
    first_round: int


class Contest:
    """All candidates with their runs so far and what was decided about them.

    `floors` are means that the objectives cannot be below, shape (k,), if there are any. The
    first `at_first` candidates have runs from the beginning, others from when `widen` lets them
    in, in their order. Before its first round is complete, a candidate is judged by exact tests
    alone. With floors runs are spared: the best that seems to meet all limits goes ahead of the
    others, and those that cannot matter any more are dropped undecided (`close`).
    """

    def __init__(
        self, candidates: int, limits: Limits, terms: Terms, floors: Floats | None, at_first: int
    ) -> None:
        self._limits, self._terms, self._frugal = limits, terms, floors is not None
        self._floors = np.full(candidates, -np.inf) if floors is None else floors
        shape = (candidates, limits.at_least.size)
        self.runs = np.zeros(candidates, dtype=np.intp)
        self.sums, self._squares = np.zeros(shape), np.zeros(shape)
        self._first_variance = np.zeros(shape)
        self._worst = np.ones(shape)  # lowest share of a run
        self._bets = Bets(candidates, limits)
        self.objectives = np.zeros((candidates, 2 * terms.first_round))  # by replication
        self.tie_break_sums = np.zeros(candidates)
        self._decided = np.zeros(shape, dtype=np.int8)  # 1 meets the limit, -1 misses it
        self.missing = np.zeros(candidates, dtype=np.bool_)  # shown to miss one limit or another
        self._first_pair_variance = np.zeros((candidates, candidates))
        self._first_tie_breaks = np.zeros(candidates)
        self.order = np.zeros((candidates, candidates), dtype=np.int8)  # 1: row worse; -1: not
        np.fill_diagonal(self.order, -1)
        self.beaten = np.zeros(candidates, dtype=np.bool_)
        self.close = np.zeros(candidates, dtype=np.bool_)
        self.cleared = np.inf  # floors from here up are ruled out
        self.tried = np.arange(candidates) < at_first
        self._pass_floor = spotless_runs(terms.pass_error / 2.0, limits.below)
        self._miss_floor = spotless_runs(terms.miss_error / 2.0, 1.0 - limits.above)

    @property
    def meets(self) -> Bools:
        """Candidates found to meet all limits, shape (k,)."""
        return np.asarray((self._decided == 1).all(axis=1) & self.tried & ~self.missing)

    @property
    def misses(self) -> Bools:
        """Candidates found to miss a limit, shape (k,)."""
        return np.asarray((self._decided == -1).any(axis=1) | self.missing)

    @property
    def open(self) -> Bools:
        """Candidates with runs that may still be chosen, shape (k,)."""
        return np.asarray(self.tried & ~self.misses & ~self.beaten)

    @property
    def untried(self) -> Bools:
        """Candidates without runs that no floor rules out, shape (k,)."""
        return np.asarray(~self.tried & ~self.beaten)

    def needing_runs(self) -> Bools:
        """Open candidates not yet decided, or not yet compared, that nothing better holds back."""
        still, meets = self.open, self.meets
        dormant = ((self.order == 1) & still[None, :]).any(axis=1)
        awake = still & (~dormant | self._hopeful())
        unsettled = ((self.order == 0) | (self.order.T == 0)) & awake[None, :]
        needing = awake & (~meets | unsettled.any(axis=1))
        if needing.any():
            return np.asarray(needing)
        return np.asarray(still & ~meets)  # each waits for the next in a circle: let all run

    def _hopeful(self) -> Bools:
        """While none meets all limits: the lowest objective of those that seem to."""
        well = self.open & self._clear()
        means = np.where(well, self.objectives.sum(axis=1) / np.maximum(self.runs, 1), np.inf)
        best = np.arange(well.size) == np.argmin(means)
        return np.asarray(best & (well.any() and not self.meets.any()))

    def _clear(self) -> Bools:
        """Candidates whose estimates are a little above all limits; without floors: not below."""
        limits = self._limits.clearly if self._frugal else self._limits.at_least
        spare = self.sums - self.runs[:, None] * limits
        return np.asarray((spare >= -_ROUNDING).all(axis=1))

    def next_round(self, size: int, runs_left: int) -> list[tuple[int, int]]:
        """(candidate, replication) pairs: up to `size` runs for those with the fewest.

        An empty list says that nothing is left to decide or no runs are left.
        """
        needing = self.needing_runs()
        if not needing.any():
            return []
        ahead = needing & self._hopeful() & self._seasoned & self._frugal
        if ahead.any():
            needing, size = ahead, _AHEAD * size
        done, first = int(self.runs[needing].min()), self._terms.first_round
        movers = np.flatnonzero(needing & (self.runs == done))
        size = min(size, first - done) if done < first else size
        end = done + min(size, runs_left // movers.size)
        return [(int(mover), run) for mover in movers for run in range(done, end)]

    def widen(self, size: int, runs_left: int) -> list[tuple[int, int]]:
        """Up to `size` runs of the next candidates without any, for half of the runs at most."""
        first = self._terms.first_round
        movers = np.flatnonzero(self.untried)[: min(_WAVE, runs_left // 2 // first)]
        self.tried[movers] = True
        return [(int(mover), run) for mover in movers for run in range(min(size, first))]

    def take(self, pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome]) -> None:
        """Note a round's outcomes and decide what they allow to be decided."""
        movers = np.array(sorted({candidate for candidate, _ in pairs}), dtype=np.intp)
        self._note(movers, pairs, outcomes)
        self._decide_limits(movers)
        self._compare(np.flatnonzero(self.needing_runs() & self._seasoned))
        self._beat()
        self._rule_out()

    def _note(
        self, movers: Ints, pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome]
    ) -> None:
        start, each = int(self.runs[movers[0]]), len(pairs) // movers.size
        values = shares_of(pairs, outcomes, self._limits).reshape(movers.size, each, -1)
        objectives = np.array([o.objective for o in outcomes], dtype=float)
        tie_breaks = np.array([o.tie_break for o in outcomes], dtype=float)
        refuse(pairs, np.isfinite(objectives) & np.isfinite(tie_breaks))
        if start + each > self.objectives.shape[1]:
            more = ((0, 0), (0, start + each))
            self.objectives = np.pad(self.objectives, more)
        self.objectives[movers, start : start + each] = objectives.reshape(movers.size, each)
        self.tie_break_sums[movers] += tie_breaks.reshape(movers.size, each).sum(axis=1)
        self._bets.take(movers, values, self.sums[movers], start)
        self.sums[movers] += values.sum(axis=1)
        self._squares[movers] += (values**2).sum(axis=1)
        self._worst[movers] = np.minimum(self._worst[movers], values.min(axis=1))
        self.runs[movers] += each
        if start < self._terms.first_round <= start + each:
            self._season(movers)

    @property
    def _seasoned(self) -> Bools:
        """Candidates whose first round is complete."""
        return np.asarray(self.runs >= self._terms.first_round)

    def _season(self, movers: Ints) -> None:
        """Note the variances of the first round."""
        rows = np.flatnonzero(self._seasoned)
        pairwise = _pair_variances(self.objectives[rows, : self._terms.first_round])
        self._first_variance[movers] = self.variances(movers)
        self._first_pair_variance[np.ix_(rows, rows)] = pairwise
        self._first_tie_breaks[movers] = self.tie_break_sums[movers] / self.runs[movers]

    def variances(self, rows: Ints) -> Floats:
        """Sample variance of each constraint over the runs so far, by row."""
        n = self.runs[rows, None]
        spread = self._squares[rows] - self.sums[rows] ** 2 / n
        return np.maximum(spread, 0.0) / (n - 1)

    def _decide_limits(self, movers: Ints) -> None:
        passed, missed = self._by_region(movers)
        early = ~self._seasoned[movers]
        passed[early], missed[early] = False, False
        yes_no = self._limits.binary
        if yes_no.any():
            passed[:, yes_no], missed[:, yes_no] = self._by_evidence(movers, yes_no)
        if self._frugal:
            passed &= self._clear()[movers, None]
        now = self._decided[movers]
        now[(now == 0) & passed] = 1
        now[(now == 0) & missed] = -1
        self._decided[movers] = now
        shown = self._bets.log_evidence(movers) >= -log(self._terms.joint_error)
        self.missing[movers] |= shown & ~(now == 1).all(axis=1)

    def _by_region(self, movers: Ints) -> tuple[Bools, Bools]:
        """Feasibility check of Andradottir & Kim (2010), not before the spotless runs."""
        limits, n = self._limits, self.runs[movers, None]
        h2 = h_squared(self._terms.miss_error, self._terms.first_round)
        mean = self.sums[movers] / n
        variance = np.maximum(self._first_variance[movers], self.variances(movers))
        variance = variance_at(limits.below, mean, variance, self._worst[movers])
        variance = np.maximum(variance, self._pass_floor * limits.tolerance**2 / h2)
        width = region(n, variance, h2, limits.tolerance)
        excess = self.sums[movers] - n * limits.at_least + _ROUNDING
        passed = (excess >= width) & (n >= self._pass_floor)
        return passed, (excess < -width) & (n >= self._miss_floor)

    def _by_evidence(self, movers: Ints, yes_no: Bools) -> tuple[Bools, Bools]:
        """Exact sequential test of each yes/no limit from both sides."""
        met = self.sums[np.ix_(movers, np.flatnonzero(yes_no))]
        unmet = self.runs[movers, None] - met
        below, above = self._limits.below[yes_no], self._limits.above[yes_no]
        passed = log_evidence(met, unmet, below) >= -log(self._terms.pass_error)
        missed = log_evidence(unmet, met, 1.0 - above) >= -log(self._terms.miss_error)
        return passed, missed

    def _compare(self, rows: Ints) -> None:
        """Screening of Kim & Nelson (2001), on the runs that the rows have in common."""
        if rows.size < 2:
            return
        n, square = int(self.runs[rows].min()), np.ix_(rows, rows)
        common = self.objectives[rows, :n]
        variance = np.maximum(self._first_pair_variance[square], _pair_variances(common))
        gain = self._first_tie_breaks[None, rows] - self._first_tie_breaks[rows, None]
        center = np.where(gain > 0, self._terms.indifference / 2.0, 0.0)
        tolerance = self._terms.indifference - center
        error = np.where(gain == 0, self._terms.pair_error, self._terms.pair_error / 2.0)
        width = region(n, variance, h_squared(error, self._terms.first_round), tolerance)
        total = common.sum(axis=1)
        excess = total[:, None] - total[None, :] - n * center
        now = self.order[square]
        worse = (now == 0) & (excess > width)
        now[(now == 0) & (excess <= -width)] = -1
        now[worse] = 1
        now[worse.T] = -1
        self.order[square] = now

    def _beat(self) -> None:
        """Drop what is worse than one that meets all limits and was not dropped itself."""
        meeting = np.flatnonzero(self.meets)
        means = self.objectives[meeting].sum(axis=1) / self.runs[meeting]
        for candidate in meeting[np.argsort(means, kind="stable")]:
            if not self.beaten[candidate]:
                self.beaten |= self.order[:, candidate] == 1
                if self._frugal:
                    self._drop_close(candidate)

    def _drop_close(self, best: int) -> None:
        """Drop the undecided that are neither better by the indifference nor in the tie-break."""
        near = self.open & ~self.meets & (self.order[best] == -1)
        near &= self._first_tie_breaks >= self._first_tie_breaks[best]
        self.close |= near
        self.beaten |= near

    def _rule_out(self) -> None:
        """Drop those without runs whose floor the best that meets all limits is shown to be below.

        Above by less than the indifference is enough, as among those with runs: the best is
        compared with a constant, in the region around half the indifference more.
        """
        meeting = np.flatnonzero(self.meets & ~self.beaten)
        if not meeting.size:
            return
        means = self.objectives[meeting].sum(axis=1) / self.runs[meeting]
        best, each = meeting[np.argmin(means)], self._terms.first_round
        n = int(self.runs[best])
        own = self.objectives[best, :n]
        variance = np.array(max(np.var(own, ddof=1), np.var(own[:each], ddof=1)))
        tolerance = self._terms.indifference / 2.0
        width = region(n, variance, h_squared(self._terms.floor_error, each), tolerance)
        self.cleared = min(self.cleared, float((own.sum() + width) / n) - tolerance)
        self.beaten |= ~self.tried & (self._floors >= self.cleared)


def _pair_variances(objectives: Floats) -> Floats:
    """Sample variance of the difference of each two rows, from shape (k, n) to (k, k)."""
    covariance = np.atleast_2d(np.cov(objectives))
    own = np.diag(covariance)
    return np.maximum(own[:, None] + own[None, :] - 2.0 * covariance, 0.0)
