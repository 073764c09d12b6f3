"""Bets that a candidate misses one limit or another: an exact test of all its limits together.

A bettor with wealth 1 stakes a share b of it, run by run, on a share v in [0, 1] being below
what it must be in the mean, m: the wealth is multiplied by 1 + b (m - v) / (1 - m), which is
never negative. If the mean of v, given all runs before, is at least m, the wealth is not expected
to grow, whatever the distribution, and ever reaches 1/e with a chance of at most e (Ville 1939):
Waudby-Smith & Ramdas (2024), Estimating means of bounded random variables by betting, J. Royal
Statistical Society B 86:1-27 (from memory). What is bet on may be picked from the runs before; so
the bets are on the yes/no limits that looked weakest until then - the weakest one, the mean of
the two weakest, and so on - and on each other share. The mean of the wealth of several bettors is
such a wealth too. For a candidate that meets all limits the test errs with a chance of at most e;
its limits need no share each. The choice of bets is this project's own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.selection_bounds import Floats
from sim.selection_runs import Limits

_STAKES = np.array([0.9, 0.6, 0.4, 0.25, 0.15, 0.08])  # shares of the wealth that may be lost
_WEAKEST = (1, 2, 4, 8)  # how many of the weakest yes/no limits are bet on together


class Bets:
    """The wealth of all bettors on each candidate."""

    def __init__(self, candidates: int, limits: Limits) -> None:
        self._yes_no, others = np.flatnonzero(limits.binary), np.flatnonzero(~limits.binary)
        self._others = others
        self._least = limits.at_least[others]
        self._above = limits.above[self._yes_no]
        self._weakest = [number for number in _WEAKEST if number <= self._yes_no.size]
        bettors = others.size + len(self._weakest)
        self._logs = np.zeros((candidates, bettors, _STAKES.size))

    def take(self, movers: NDArray[np.intp], values: Floats, sums: Floats, start: int) -> None:
        """Settle the bets on some runs: shares of shape (movers, runs, s), `sums` before them.

        `start` runs of each of the `movers` came before.
        """
        sums = sums.copy()
        for run in range(values.shape[1]):
            now = values[:, run]
            gains = [(self._least - now[:, self._others]) / np.maximum(1.0 - self._least, 1e-9)]
            excess = sums[:, self._yes_no] - (start + run) * self._above
            order = np.argsort(excess, axis=1, kind="stable")
            for number in self._weakest:
                picked = order[:, :number]
                must = self._above[picked].mean(axis=1)
                was = np.take_along_axis(now[:, self._yes_no], picked, axis=1).mean(axis=1)
                gains.append(((must - was) / np.maximum(1.0 - must, 1e-9))[:, None])
            self._logs[movers] += np.log1p(_STAKES * np.concatenate(gains, axis=1)[..., None])
            sums += now

    def log_evidence(self, movers: NDArray[np.intp]) -> Floats:
        """Log of the mean wealth of the bettors on each of these candidates."""
        logs = self._logs[movers].reshape(len(movers), -1)
        if not logs.shape[1]:
            return np.full(len(movers), -np.inf)
        most = logs.max(axis=1)
        return np.asarray(most + np.log(np.exp(logs - most[:, None]).mean(axis=1)))
