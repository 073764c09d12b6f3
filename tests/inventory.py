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
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
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


def simulate(policies: Ints, demands: Ints) -> tuple[Floats, Floats]:
    """Shares of periods short and costs of a period, for demands by (policy, run, period)."""
    lows, highs = _LOWS[policies][:, None], _HIGHS[policies][:, None]
    level = np.broadcast_to(highs, demands.shape[:2])
    cost, short = np.zeros(level.shape), np.zeros(level.shape)
    for demand in np.moveaxis(demands, 2, 0):
        order = level < lows
        cost += order * (32.0 + 3.0 * (highs - level))
        level = np.where(order, highs, level) - demand
        cost += np.maximum(level, -5 * level)
        short += level < 0
    return short / PERIODS, cost / PERIODS


class Inventory:
    """Runs of all policies in one trial, with common luck or each policy with its own.

    Called with (policy, replication) pairs it gives the share of periods served and the cost.
    Runs are simulated in blocks of 100 when one of a block is asked for.
    """

    block = 100

    def __init__(self, trial: int, *, common: bool = True) -> None:
        self._trial, self._common = trial, common
        self._demands: dict[tuple[int, int], Ints] = {}
        self._known: dict[tuple[int, int], tuple[Floats, Floats]] = {}

    def _demand(self, policy: int, block: int) -> Ints:
        key = (0 if self._common else 1 + policy, block)
        if key not in self._demands:
            rng = np.random.default_rng([self._trial, *key])
            self._demands[key] = rng.poisson(DEMAND, (self.block, PERIODS))
        return self._demands[key]

    def _run(self, keys: list[tuple[int, int]]) -> None:
        if keys:
            demands = np.stack([self._demand(*key) for key in keys])
            shares, costs = simulate(np.array(keys)[:, 0], demands)
            self._known.update(zip(keys, zip(shares, costs, strict=True), strict=True))

    def __call__(self, pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
        """Outcomes of the pairs, in their order."""
        keys = {(policy, run // self.block) for policy, run in pairs}
        self._run(sorted(keys - self._known.keys()))
        outcomes = []
        for policy, run in pairs:
            shares, costs = self._known[policy, run // self.block]
            at = run % self.block
            outcomes.append(Outcome(1.0 - shares[at : at + 1], costs[at]))
        return outcomes

    def first(self, runs: int) -> tuple[Floats, Floats]:
        """Mean shares short and mean costs of all policies over their first runs (<= a block)."""
        self._run([(policy, 0) for policy in range(len(POLICIES))])
        each = [self._known[policy, 0] for policy in range(len(POLICIES))]
        shares = np.array([share[:runs].mean() for share, _ in each])
        return shares, np.array([cost[:runs].mean() for _, cost in each])
