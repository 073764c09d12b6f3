"""Which of several sizes are enough: tests of some of them, each with luck of its own.

A size is enough if the steadiness and every calendar week by itself are shown to reach their
shares less the tolerances of `cadence`, and not enough if one of them is shown to stay below its
share (`selection`, with a single candidate). The allowed error is shared out evenly over the tests,
whose number is set beforehand (Bonferroni). Each test has replications of its own, so that its
error is what it is whatever was found before, and what is tested next may depend on that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, log2
from typing import Literal

import numpy as np

from sim.aim import Aim
from sim.cadence import STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.cadence_answer import Target, met_of
from sim.runs import Runs
from sim.scenario import Scenario
from sim.selection import Limits, Outcome, Verdict, choose

SizeVerdict = Literal[
    "enough", "not enough", "too close to call", "larger", "smaller", "not tested"
]

LEAST_YEARS = 250  # that a test may need at least
_BELOW = 2  # tests more, for sizes below those too close to call
_FROM = 500_000  # the first replication of the first test
_APART = 20_000  # replications from one test to the next, and years of a test at most
_FIRST_ROUND, _ROUND = 40, 20  # years
_VERDICTS: dict[Verdict, SizeVerdict] = {
    "meets": "enough", "misses": "not enough", "too close to call": "too close to call",
}  # fmt: skip


@dataclass(frozen=True)
class Decided:
    """The verdict on one size and the years its test took.

    Without a test of its own, a size is "larger" than one that is enough, "smaller" than one that
    is not enough, or "not tested".
    """

    verdict: SizeVerdict
    years: int = 0


def most_tests(sizes: int) -> int:
    """The test of the present size, those that halve what is left of the others, and `_BELOW`."""
    return 1 + ceil(log2(max(2, sizes))) + _BELOW


def decide(
    scenarios: Sequence[Scenario], present: int, target: Target, aim: Aim, runs: Runs
) -> list[Decided]:
    """The verdicts on scenarios of growing size; that of number `present` is tested first.

    Then the middle one of those still open is tested, down from one that is enough, up from any
    other, in `aim.budget` years at most. Found is the smallest that is enough if none is so below
    one that is not; a size that is too close to call counts as one that is not. If nothing smaller
    was shown not to be enough, up to two sizes more are tested below those too close to call.
    """
    tests = _Tests(scenarios, target, aim, runs)
    low, high, number = -1, len(scenarios), present
    while high - low > 1:
        runs.note = f"sizes still open: {high - low - 1}"
        verdict = tests.verdict(number)
        low, high = (low, number) if verdict == "enough" else (number, high)
        number = (low + high) // 2
    runs.note = "sizes too small"
    for _ in range(_BELOW):
        lowest = min((n for n in tests.found if n < high), default=0)
        if lowest and tests.found[lowest].verdict == "too close to call":
            tests.verdict(lowest - 1)
    return [tests.found.get(n) or tests.without(n, high) for n in range(len(scenarios))]


class _Tests:
    """The tests so far, and the years and the error left for the others."""

    def __init__(self, scenarios: Sequence[Scenario], target: Target, aim: Aim, runs: Runs) -> None:
        self.found: dict[int, Decided] = {}
        self._scenarios, self._target, self._aim, self._runs = scenarios, target, aim, runs
        self._planned, self._budget = most_tests(len(scenarios)), aim.budget

    def verdict(self, number: int) -> SizeVerdict:
        """Test the scenario of this number, in an even share of the years left."""
        done, target, seed = len(self.found), self._target, self._aim.seed
        scenario, first = self._scenarios[number], _FROM + done * _APART
        self._runs.tell()

        def evaluate(pairs: Sequence[tuple[int, int]]) -> list[Outcome]:
            years = [(scenario, first + year) for _, year in pairs]
            met = met_of(self._runs.trials(years, seed), target)
            shares = np.concatenate([met.mean(axis=1, keepdims=True), met], axis=1)
            return [Outcome(share, 0.0) for share in shares]

        choice = choose(
            1, limits(target), evaluate, indifference=1.0, alpha=self._aim.alpha / self._planned,
            first_round=_FIRST_ROUND, round_size=_ROUND,
            budget=min(self._budget // (self._planned - done), _APART),
        )  # fmt: skip
        years = int(choice.runs[0])
        self._budget -= years
        self.found[number] = Decided(_VERDICTS[choice.verdicts[0]], years)
        return self.found[number].verdict

    def without(self, number: int, enough: int) -> Decided:
        """The verdict on one that was not tested; the one of number `enough` is enough."""
        if number > enough:
            return Decided("larger")
        short = [n for n, one in self.found.items() if one.verdict == "not enough"]
        return Decided("smaller" if number < max(short, default=-1) else "not tested")


def limits(target: Target) -> Limits:
    """The steadiness, then one yes/no limit for each week that counts.

    The tolerance lies below the share that is wanted, half of it at either side of the limit.
    """
    weeks = len(target.weeks)
    wanted = np.array([target.steadiness] + [target.weakest_week] * weeks)
    half = np.array([STEADINESS_TOLERANCE] + [WEEK_TOLERANCE] * weeks) / 2.0
    binary = np.array([False] + [True] * weeks)
    return Limits(at_least=wanted - np.minimum(half, wanted / 4), tolerance=half, binary=binary)
