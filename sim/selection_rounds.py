"""The state of a choice under noise, and what one round of runs does to it.

`selection` says what the rules are and where they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.selection_bounds import Floats, h_squared, log_evidence, region, spotless_runs, variance_at

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_ROUNDING = 1e-9  # a mean exactly at its limit meets it


@dataclass(frozen=True)
class Limits:
    """What each of s constraints must reach, as arrays of shape (s,).

    `at_least`: limit of the mean, above 0 and at most 1. `tolerance`: how far below the limit is
    still acceptable, above 0. `binary`: whether every run gives 0 or 1 (and nothing between).
    """

    at_least: Floats
    tolerance: Floats
    binary: Bools

    @property
    def below(self) -> Floats:
        """Shares from here down must not pass; above 0 whatever the tolerance."""
        return np.maximum(self.at_least - self.tolerance, self.at_least / 2.0)

    @property
    def above(self) -> Floats:
        """Shares from here up must not fail; below 1 (for a limit below 1)."""
        return np.minimum(self.at_least + self.tolerance, (1.0 + self.at_least) / 2.0)


class Outcome(NamedTuple):
    """One run of one candidate: shares in [0, 1] of shape (s,), objective, tie-break."""

    constraints: NDArray[np.float64]
    objective: float
    tie_break: float = 0.0


@dataclass(frozen=True)
class Terms:
    """The chances and sizes that a contest is held on; errors are chances of one wrong verdict.

    `pass_error`: calling a candidate that misses a limit "meets". `miss_error`: failing one limit
    of a candidate that meets it. `pair_error`: one wrong comparison. `indifference` has the unit
    of the objective, `first_round` is in runs.
    """

    pass_error: float
    miss_error: float
    pair_error: float
    indifference: float
    first_round: int


class Contest:
    """All candidates with their runs so far and what was decided about them."""

    def __init__(self, candidates: int, limits: Limits, terms: Terms) -> None:
        self._limits, self._terms = limits, terms
        shape = (candidates, limits.at_least.size)
        self.runs = np.zeros(candidates, dtype=np.intp)
        self.sums, self._squares = np.zeros(shape), np.zeros(shape)
        self._first_variance = np.zeros(shape)
        self._worst = np.ones(shape)  # lowest share of a run
        self.objectives = np.zeros((candidates, 2 * terms.first_round))  # by replication
        self.tie_break_sums = np.zeros(candidates)
        self._decided = np.zeros(shape, dtype=np.int8)  # 1 meets the limit, -1 misses it
        self._first_pair_variance = np.zeros((candidates, candidates))
        self._first_tie_breaks = np.zeros(candidates)
        self.order = np.zeros((candidates, candidates), dtype=np.int8)  # 1: row worse; -1: not
        np.fill_diagonal(self.order, -1)
        self.beaten = np.zeros(candidates, dtype=np.bool_)
        self._pass_floor = spotless_runs(terms.pass_error / 2.0, limits.below)
        self._miss_floor = spotless_runs(terms.miss_error / 2.0, 1.0 - limits.above)

    @property
    def meets(self) -> Bools:
        """Candidates found to meet all limits, shape (k,)."""
        return np.asarray((self._decided == 1).all(axis=1))

    @property
    def misses(self) -> Bools:
        """Candidates found to miss a limit, shape (k,)."""
        return np.asarray((self._decided == -1).any(axis=1))

    @property
    def open(self) -> Bools:
        """Candidates that may still be chosen, shape (k,)."""
        return ~self.misses & ~self.beaten

    @property
    def variances(self) -> Floats:
        """Sample variance of each constraint over the runs so far, shape (k, s)."""
        return self._variances(np.arange(self.runs.size))

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
        """While none meets all limits: the lowest objective of those well above every limit."""
        well = self.open & (self.sums >= self.runs[:, None] * self._limits.above).all(axis=1)
        means = np.where(well, self.objectives.sum(axis=1) / self.runs, np.inf)
        hopeful = np.zeros(well.size, dtype=np.bool_)
        hopeful[np.argmin(means)] = well.any() and not self.meets.any()
        return hopeful

    def next_round(self, size: int, runs_left: int) -> list[tuple[int, int]]:
        """(candidate, replication) pairs: up to `size` runs for those with the fewest.

        An empty list says that nothing is left to decide or no runs are left.
        """
        needing = self.needing_runs()
        if not needing.any():
            return []
        done = int(self.runs[needing].min())
        movers = np.flatnonzero(needing & (self.runs == done))
        end = done + min(size, runs_left // movers.size)
        return [(int(mover), run) for mover in movers for run in range(done, end)]

    def take(self, pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome]) -> None:
        """Note a round's outcomes and decide what they allow to be decided."""
        movers = np.array(sorted({candidate for candidate, _ in pairs}), dtype=np.intp)
        self._note(movers, pairs, outcomes)
        self._decide_limits(movers)
        self._compare(np.flatnonzero(self.needing_runs()))
        self._beat()

    def _note(
        self, movers: Ints, pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome]
    ) -> None:
        start, each = int(self.runs[movers[0]]), len(pairs) // movers.size
        values = _shares(pairs, outcomes, self._limits).reshape(movers.size, each, -1)
        objectives = np.array([o.objective for o in outcomes], dtype=float)
        tie_breaks = np.array([o.tie_break for o in outcomes], dtype=float)
        _refuse(pairs, np.isfinite(objectives) & np.isfinite(tie_breaks))
        if start + each > self.objectives.shape[1]:
            more = ((0, 0), (0, start + each))
            self.objectives = np.pad(self.objectives, more)
        self.objectives[movers, start : start + each] = objectives.reshape(movers.size, each)
        self.tie_break_sums[movers] += tie_breaks.reshape(movers.size, each).sum(axis=1)
        self.sums[movers] += values.sum(axis=1)
        self._squares[movers] += (values**2).sum(axis=1)
        self._worst[movers] = np.minimum(self._worst[movers], values.min(axis=1))
        self.runs[movers] += each
        if start == 0:
            self._first_variance = self._variances(movers)
            self._first_pair_variance = _pair_variances(self.objectives[:, :each])
            self._first_tie_breaks = self.tie_break_sums / each

    def _variances(self, rows: Ints) -> Floats:
        n = self.runs[rows, None]
        spread = self._squares[rows] - self.sums[rows] ** 2 / n
        return np.maximum(spread, 0.0) / (n - 1)

    def _decide_limits(self, movers: Ints) -> None:
        passed, missed = self._by_region(movers)
        yes_no = self._limits.binary
        if yes_no.any():
            passed[:, yes_no], missed[:, yes_no] = self._by_evidence(movers, yes_no)
        now = self._decided[movers]
        now[(now == 0) & passed] = 1
        now[(now == 0) & missed] = -1
        self._decided[movers] = now

    def _by_region(self, movers: Ints) -> tuple[Bools, Bools]:
        """Feasibility check of Andradottir & Kim (2010), not before the spotless runs."""
        limits, n = self._limits, self.runs[movers, None]
        h2 = h_squared(self._terms.miss_error, self._terms.first_round)
        mean = self.sums[movers] / n
        variance = np.maximum(self._first_variance[movers], self._variances(movers))
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


def _pair_variances(objectives: Floats) -> Floats:
    """Sample variance of the difference of each two rows, from shape (k, n) to (k, k)."""
    covariance = np.atleast_2d(np.cov(objectives))
    own = np.diag(covariance)
    return np.maximum(own[:, None] + own[None, :] - 2.0 * covariance, 0.0)


def _shares(
    pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome], limits: Limits
) -> Floats:
    if len(outcomes) != len(pairs):
        raise ValueError(f"evaluate: must return {len(pairs)} outcomes, returned {len(outcomes)}")
    values = np.array([o.constraints for o in outcomes], dtype=float)
    if values.shape != (len(pairs), limits.at_least.size):
        raise ValueError(
            f"constraints: must have shape ({limits.at_least.size},) in every outcome, "
            f"together they had {values.shape}"
        )
    fine = (values >= 0.0) & (values <= 1.0) & (~limits.binary | (values % 1.0 == 0.0))
    _refuse(pairs, np.asarray(fine.all(axis=1)))
    return values


def _refuse(pairs: Sequence[tuple[int, int]], fine: Bools) -> None:
    if not fine.all():
        candidate, replication = pairs[int(np.argmin(fine))]
        raise ValueError(
            f"outcome of candidate {candidate}, replication {replication}: shares must lie in "
            "[0, 1] (0 or 1 where binary), objective and tie-break must be finite numbers"
        )
