"""Which cadence suits each size: a few are tried at every size, under the same luck.

The cadences are those that arithmetic leaves at the largest size, as a search would try them, so
that a cadence may use the room. They are screened at a small size, the present and the largest
one; the best of each go on to all sizes. The years spent here only choose; nothing is quoted from
them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from sim.aim import Aim
from sim.cadence_answer import Target, met_of
from sim.candidates import Candidate
from sim.greenhouse.plan import Plan
from sim.pruning import prune
from sim.runs import Runs
from sim.scenario import Scenario
from sim.sizing_things import Thing
from sim.trials import Trial

SCREENED = 16  # cadences that are screened, the scenario's own among them
TRIED = 5  # cadences that go on to all sizes, the scenario's own among them
_EACH = 2  # that go on from each size of the screening
SCREENING_YEARS, YEARS = 12, 24  # of each cadence at each size, in the screening and after it


def screened(
    plan: Plan, listed: Sequence[Candidate], target: Target, aim: Aim
) -> tuple[Candidate, ...]:
    """Those listed that arithmetic leaves, at most `SCREENED`; the scenario's own is the first."""
    return prune(
        listed, plan, steadiness=aim.steadiness, weakest_week=aim.weakest_week,
        counting=target.weeks, most=SCREENED,
    ).left  # fmt: skip


@dataclass(frozen=True)
class Suited:
    """The cadences that were tried at every size, the scenario's own first, and the best by size.

    `best` gives the number of the cadence by size; `steadiness` is what it had in few years.
    """

    cadences: tuple[Candidate, ...]
    best: dict[int, int]
    steadiness: dict[int, float]

    def nearest(self, size: int) -> int:
        """The number of the cadence that suits the size looked at that is nearest to this one."""
        return self.best[min(self.best, key=lambda other: (abs(other - size), -other))]


def most_years(candidates: int, sizes: int) -> int:
    """Years that `suited` simulates at most, for so many candidates and sizes."""
    return 3 * SCREENING_YEARS * candidates + TRIED * YEARS * sizes


def suited(
    thing: Thing,
    sizes: Sequence[int],
    candidates: Sequence[Candidate],
    *,
    target: Target,
    runs: Runs,
    seed: int,
) -> Suited:
    """Screen the candidates, the first of which stays in any case, and try the best at all sizes.

    The best lacks least to the target, all limits added up; of equals it meets most weeks, then
    wastes fewest plants.
    """
    pilot = _Pilot(thing, candidates, target=target, runs=runs, seed=seed)
    every = range(len(candidates))
    few = sorted({sizes[min(1, len(sizes) - 1)], thing.present, sizes[-1]})
    runs.note = f"screening {len(candidates)} cadences"
    pilot.simulate(few, every, SCREENING_YEARS)
    ranks = {size: pilot.ranked(size, every) for size in few}
    by_place = [ranks[size][place] for place in range(min(_EACH, len(every))) for size in few]
    kept = list(dict.fromkeys((0, *by_place)))[:TRIED]
    runs.note = f"{len(kept)} cadences at {len(sizes)} sizes"
    pilot.simulate(sizes, kept, YEARS)
    best = {size: pilot.ranked(size, kept)[0] for size in sizes}
    return Suited(
        tuple(candidates[number] for number in kept),
        {size: kept.index(number) for size, number in best.items()},
        {size: pilot.steadiness(size, number) for size, number in best.items()},
    )


class _Pilot:
    """Few years of cadences at sizes, no year of them simulated twice."""

    def __init__(
        self, thing: Thing, cadences: Sequence[Candidate], *, target: Target, runs: Runs, seed: int
    ) -> None:
        self._thing, self._cadences, self._target = thing, cadences, target
        self._runs, self._seed = runs, seed
        self._found: defaultdict[tuple[int, int], list[Trial]] = defaultdict(list)

    def simulate(self, sizes: Sequence[int], numbers: Sequence[int], years: int) -> None:
        """Simulate the cadences of these numbers at these sizes, as far as they were not yet."""
        pairs = [(size, number) for size in sizes for number in numbers]
        scenarios = [with_cadence(self._thing.at(s), self._cadences[n]) for s, n in pairs]
        done = [len(self._found[pair]) for pair in pairs]
        asked = [(s, n) for s, d in zip(scenarios, done, strict=True) for n in range(d, years)]
        trials = iter(self._runs.trials(asked, self._seed))
        for pair, d in zip(pairs, done, strict=True):
            self._found[pair] += islice(trials, max(0, years - d))

    def ranked(self, size: int, numbers: Sequence[int]) -> list[int]:
        """These cadences, the best for a size first, the first of equals."""
        return sorted(numbers, key=lambda n: (lacking(self._found[size, n], self._target), n))

    def steadiness(self, size: int, number: int) -> float:
        """The share of weeks met."""
        return float(met_of(self._found[size, number], self._target).mean())


def lacking(trials: Sequence[Trial], target: Target) -> tuple[float, float, float]:
    """What the limits lack in all; weeks not met; wasted plants. The less the better."""
    met = met_of(trials, target)
    steadiness = float(met.mean())
    weeks = np.maximum(target.weakest_week - met.mean(axis=0), 0.0).sum()
    lack = float(weeks) + max(0.0, target.steadiness - steadiness)
    wasted = float(np.mean([trial.wasted_plants for trial in trials]))
    return round(lack, 9), round(1.0 - steadiness, 9), wasted


def with_cadence(scenario: Scenario, candidate: Candidate) -> Scenario:
    """The scenario with another cadence."""
    return scenario.model_copy(update={"cadence": candidate.cadence})
