"""A published (s, S) inventory test problem whose truth is known.

Source: the inventory example in the online supplement of Zhou, Andradottir, Kim & Park, on
finding feasible systems with recycled observations. Poisson(25) demand each period; a level
below s at a period's start is ordered up to S at once for 32 plus 3 a unit; at the period's end
1 for each unit held or 5 for each unit short; 30 periods from level S. Outputs: the share of
periods that end short, and the mean cost of a period. 77 policies: s = 20, 22 ... 40 and
S = 40, 50 ... 100.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import poisson

from sim.selection import Outcome

POLICIES = tuple((low, high) for low in range(20, 41, 2) for high in range(40, 101, 10))
DEMAND = 25.0
PERIODS = 30
_LOWS, _HIGHS = np.array(POLICIES).T


def truth(low: int, high: int) -> tuple[float, float]:
    """Expected share of periods short and cost of a period, by the chain of levels."""
    most = 250  # a demand above has a probability below 1e-100
    demand = poisson.pmf(np.arange(most + 1), DEMAND)
    start = np.zeros(high - low + 1)  # chance of each level after ordering: low ... high
    start[-1] = 1.0
    levels = np.arange(low, high + 1)
    ends = levels[:, None] - np.arange(most + 1)[None, :]
    short = (demand * (ends < 0)).sum(axis=1)
    ordered = np.where(ends < low, 32.0 + 3.0 * (high - ends), 0.0)
    at_end = np.where(ends >= 0, ends, -5 * ends)
    step = np.zeros((levels.size, levels.size))
    for row, level in enumerate(levels):
        stays = np.arange(low, level + 1)
        step[row, stays - low] = demand[level - stays]
        step[row, -1] += demand[level - low + 1 :].sum()
    share = cost = 0.0
    for period in range(PERIODS):
        share += start @ short
        cost += start @ (demand * at_end).sum(axis=1)
        if period < PERIODS - 1:  # what the last period leaves is ordered after the horizon
            cost += start @ (demand * ordered).sum(axis=1)
        start = start @ step
    return share / PERIODS, cost / PERIODS


class Inventory:
    """Simulates (policy, replication) pairs of one trial; common luck, or each its own."""

    def __init__(self, trial: int, limit: float, *, common: bool = True) -> None:
        self._seed = trial
        self._limit = limit
        self._common = common
        self._luck: dict[int, NDArray[np.int64]] = {}
        self.runs = 0

    def _demands(self, policy: int, replications: NDArray[np.intp]) -> NDArray[np.int64]:
        """Demands by replication and period, drawn in blocks of 100 replications."""
        stream = 0 if self._common else 1 + policy
        drawn = np.empty((replications.size, PERIODS), dtype=np.int64)
        for block in np.unique(replications // 100):
            key = (stream << 20) | int(block)
            if key not in self._luck:
                rng = np.random.default_rng([self._seed, stream, int(block)])
                self._luck[key] = rng.poisson(DEMAND, (100, PERIODS))
            here = replications // 100 == block
            drawn[here] = self._luck[key][replications[here] % 100]
        return drawn

    def shares_and_costs(
        self, policies: NDArray[np.intp], replications: NDArray[np.intp]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Share of periods short and cost of a period for each pair."""
        if self._common:
            demands = self._demands(0, replications)
        else:
            demands = np.empty((policies.size, PERIODS), dtype=np.int64)
            for policy in np.unique(policies):
                here = policies == policy
                demands[here] = self._demands(int(policy), replications[here])
        lows, highs = _LOWS[policies], _HIGHS[policies]
        level = highs.copy()
        cost = np.zeros(policies.size)
        short = np.zeros(policies.size)
        for demand in demands.T:
            order = level < lows
            cost += np.where(order, 32.0 + 3.0 * (highs - level), 0.0)
            level = np.where(order, highs, level) - demand
            cost += np.where(level >= 0, level, -5 * level)
            short += level < 0
        return short / PERIODS, cost / PERIODS

    def __call__(self, pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
        """Outcomes of the pairs: the share of periods served, and the cost."""
        both = np.array(pairs, dtype=np.intp)
        shares, costs = self.shares_and_costs(both[:, 0], both[:, 1])
        self.runs += len(pairs)
        served = (1.0 - shares)[:, None]
        return [Outcome(served[n], float(costs[n]), 0.0) for n in range(len(pairs))]
