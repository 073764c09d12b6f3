"""How sure is a cadence: guessed numbers moved over their ranges in the same simulated years.

What moves is how the greenhouse turns out; the dated seeding list stays as it was planned from
the numbers as given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sim.aim import Aim, open_impossible, target_of
from sim.cadence import FRESH_FROM, indifference
from sim.cadence_answer import CadenceAnswer, Difference, Target, differences, measured, met_of
from sim.candidates import Candidate, told
from sim.greenhouse.plan import Plan
from sim.replications import mean_estimate
from sim.runs import Runs
from sim.scenario import Scenario
from sim.swings_beside import (
    Judged,
    Tried,
    change_to,
    held,
    more_and_fewer,
    ordered_crops,
    rivals_of,
    standing,
)
from sim.swings_inputs import INPUTS, Input, changed
from sim.trials import Trial
from sim.weeks import Floats

MOST_ENDS = 8  # ends of ranges at which other cadences are tried
LARGEST = 3  # swings at whose ends they are tried before those that are too close to call


@dataclass(frozen=True)
class End:
    """One end of an input's range: the number there, and what changes from the one given.

    `by` is the move; `value` is None where several numbers differ; `told` has the unit. The
    differences are paired year by year; that of the weakest week is between the weeks that are
    weakest in each.
    """

    by: float
    value: float | None
    told: str
    judged: Judged
    steadiness: Difference
    weakest_week: Difference


@dataclass(frozen=True)
class Swing:
    """What one input moves, from the low to the high end of its range."""

    moved: Input
    value: float | None
    told: str
    low: End
    high: End

    @property
    def ends(self) -> tuple[End, End]:
        """The low and the high end."""
        return self.low, self.high

    @property
    def size(self) -> tuple[float, float]:
        """The larger move of the weakest week, then of the steadiness [shares]."""
        return (
            max(abs(end.weakest_week.mean) for end in self.ends),
            max(abs(end.steadiness.mean) for end in self.ends),
        )


@dataclass(frozen=True)
class Swings:
    """All swings of a cadence, the largest first.

    `base` is the scenario as given. `left_out` are inputs that it does not have or that cannot
    move, each with the reason; `rivals` are the other cadences, tried at `tried` of the ends.
    """

    name: str
    target: Target
    years: int
    first: int
    base: Judged
    swings: tuple[Swing, ...]
    left_out: tuple[tuple[Input, str], ...]
    rivals: tuple[str, ...]
    tried: int


def swings(
    scenario: Scenario,
    target: Target,
    runs: Runs,
    seed: int = 1,
    *,
    years: int = 100,
    first: int = 0,
    rivals: Sequence[Candidate] = (),
    inputs: Sequence[Input] = INPUTS,
) -> Swings:
    """Move each input of the scenario over its range and see what its cadence does then.

    Simulated are replications `first` ... `first + years - 1`, the same everywhere. The `rivals`
    are tried as given and at `MOST_ENDS` ends at most: where the cadence misses the target, then
    at those of the `LARGEST` swings, then where it is too close to call.
    """
    study = _Study(
        scenario, target, runs, seed=seed, years=range(first, first + years), rivals=rivals
    )
    found = study.alone(inputs)
    picked = _worth_trying(found) if rivals else set()
    study.expect(len(rivals) * (1 + len(picked)))
    base = study.beside(study.given, None)
    found = [study.tried(swing, picked) for swing in found]
    runs.note = ""
    runs.tell()
    return Swings(
        study.name, target, years, first, base, tuple(found), tuple(study.left_out),
        tuple(rival.name for rival in rivals), len(picked),
    )  # fmt: skip


def swings_of_own(
    scenario: Scenario,
    aim: Aim,
    runs: Runs,
    *,
    years: int = 100,
    inputs: Sequence[Input] = INPUTS,
) -> Swings:
    """The swings of the scenario's own cadence, beside it a tray more and a tray fewer."""
    plan = Plan(scenario)
    target = target_of(plan, open_impossible(plan), aim)
    rivals = more_and_fewer(scenario)
    return swings(scenario, target, runs, aim.seed, years=years, rivals=rivals, inputs=inputs)


def swings_of_found(
    scenario: Scenario,
    found: CadenceAnswer,
    runs: Runs,
    seed: int = 1,
    *,
    years: int = 100,
    inputs: Sequence[Input] = INPUTS,
) -> Swings:
    """The swings of the cadence that a search chose, or else came nearest, beside its rivals.

    The years are fresh ones, which had no part in the choice.
    """
    chosen, rivals = rivals_of(scenario, found)
    return swings(
        chosen, found.target, runs, seed,
        years=years, first=FRESH_FROM, rivals=rivals, inputs=inputs,
    )  # fmt: skip


def _worth_trying(found: Sequence[Swing]) -> set[tuple[str, float]]:
    """The ends (input, move) at which other cadences are tried."""
    asked = []
    for place, swing in enumerate(found):
        for end in swing.ends:
            rank = {"misses": 0, "too close": 2, "meets": 3}[end.judged.standing]
            rank = min(rank, 1) if place < LARGEST else rank
            if rank < 3 and end.told != swing.told:
                asked.append((rank, place, swing.moved.key, end.by))
    return {(key, by) for _, _, key, by in sorted(asked)[:MOST_ENDS]}


class _Study:
    """A cadence under test: its years as given, and those of whatever is changed."""

    def __init__(
        self,
        scenario: Scenario,
        target: Target,
        runs: Runs,
        *,
        seed: int,
        years: range,
        rivals: Sequence[Candidate],
    ) -> None:
        self.name = told(scenario.cadence, ordered_crops(scenario))
        self.left_out: list[tuple[Input, str]] = []
        self._target, self._runs, self._seed, self._years = target, runs, seed, years
        self._held = held(scenario)
        self._indifference = indifference(Plan(scenario), target)
        self._rivals = {
            r.name: held(scenario.model_copy(update={"cadence": r.cadence})) for r in rivals
        }
        self._trials: dict[tuple[str, float] | None, list[Trial]] = {}

    @property
    def given(self) -> Judged:
        """The cadence in the scenario as given, by itself."""
        return self._judged(self._trials[None])

    def expect(self, scenarios: int) -> None:
        """Let the progress know how many scenarios are still to be simulated at most."""
        self._runs.total = self._runs.done + scenarios * len(self._years)

    def alone(self, inputs: Sequence[Input]) -> list[Swing]:
        """The swings of the cadence by itself, the largest first."""
        moving: list[Input] = []
        ends: dict[tuple[str, float], Scenario] = {}
        for moved in inputs:
            changes = {(moved.key, by): changed(self._held, moved, by) for by in moved.range}
            if not list(moved.find(self._held)):
                self.left_out.append((moved, moved.missing))
            elif all(scenario == self._held for scenario in changes.values()):
                self.left_out.append((moved, "its range leaves no room to move"))
            else:
                moving.append(moved)
                ends |= changes
        self.expect(1 + len(ends) + len(self._rivals) * (1 + min(MOST_ENDS, len(ends))))
        self._runs.note = "moving inputs"
        years = self._simulated([self._held, *ends.values()])
        self._trials = dict(zip([None, *ends], years, strict=True))
        return sorted(map(self._swing, moving), key=lambda swing: swing.size, reverse=True)

    def _simulated(self, scenarios: Sequence[Scenario]) -> list[list[Trial]]:
        """The years of each scenario; what is as given is simulated once."""
        own = [self._held if scenario == self._held else scenario for scenario in scenarios]
        asked = list({id(scenario): scenario for scenario in own}.values())
        trials = self._runs.trials([(s, n) for s in asked for n in self._years], self._seed)
        size = len(self._years)
        by = {id(s): trials[k * size : (k + 1) * size] for k, s in enumerate(asked)}
        return [by[id(scenario)] for scenario in own]

    def _swing(self, moved: Input) -> Swing:
        numbers = list(moved.find(self._held))
        low, high = (
            End(by, *moved.told(numbers, by), self._judged(trials), *self._changes(trials))
            for by in moved.range
            for trials in [self._trials[moved.key, by]]
        )
        return Swing(moved, *moved.told(numbers, 0), low, high)

    def _judged(self, trials: Sequence[Trial]) -> Judged:
        return Judged(measured(self.name, trials, self._target), standing(trials, self._target))

    def _changes(self, trials: Sequence[Trial]) -> tuple[Difference, Difference]:
        """What is other than as given: the steadiness, and the weakest week's share of years."""
        there, given = met_of(trials, self._target), met_of(self._trials[None], self._target)
        weak_there, weak_given = (met[:, met.mean(axis=0).argmin()] for met in (there, given))
        return (
            _difference(there.mean(axis=1) - given.mean(axis=1)),
            _difference(weak_there - weak_given),
        )

    def tried(self, swing: Swing, picked: set[tuple[str, float]]) -> Swing:
        """The swing with the other cadences tried at the picked ends."""
        low, high = (
            replace(end, judged=self.beside(end.judged, (swing.moved, end.by)))
            if (swing.moved.key, end.by) in picked
            else end
            for end in swing.ends
        )
        return replace(swing, low=low, high=high)

    def beside(self, judged: Judged, move: tuple[Input, float] | None) -> Judged:
        """What was judged, with the other cadences tried in the same years."""
        if not self._rivals:
            return judged
        self._runs.note = "trying other cadences"
        scenarios = list(self._rivals.values())
        if move:
            scenarios = [changed(scenario, *move) for scenario in scenarios]
        own = self._trials[(move[0].key, move[1]) if move else None]
        tried = tuple(
            Tried(
                name, standing(trials, self._target), measured(name, trials, self._target),
                differences(own, trials, self._target)["wasted_plants"],
            )
            for name, trials in zip(self._rivals, self._simulated(scenarios), strict=True)
        )  # fmt: skip
        change, instead = change_to(judged.standing, tried, self._indifference)
        return replace(judged, rivals=tried, change=change, instead=instead)


def _difference(yearly: Floats) -> Difference:
    e = mean_estimate(yearly)
    return Difference(e.mean, e.low, e.high, e.n)
