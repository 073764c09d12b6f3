"""What limits a size of the orders: the same luck with one limit after the other taken away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import islice
from typing import Any, Literal, NamedTuple

import numpy as np

from sim.cadence import FRESH_FROM
from sim.cadence_answer import Difference, Measured, Target, differences, measured, met_of
from sim.capacity_sizes import scaled_cadence
from sim.flows import ordered
from sim.greenhouse.plan import Plan
from sim.measures import WORK
from sim.replications import Years
from sim.runs import Runs
from sim.scenario import Scenario
from sim.trials import Trial
from sim.weeks import Floats
from sim.workload import WeekBalance, crop_needs, week_balances

MORE_TRAYS = (1.0, 1.1, 1.25)  # trays, in shares of the cadence's: a limit may be what forbids more

Kind = Literal["place", "people", "cold store", "all"]
Thing = tuple[Kind, str]  # a place with its name; the others have none


@dataclass(frozen=True)
class Relief:
    """What it would help if one thing were no limit, all else and all luck the same.

    Without a limit on a place's containers or on what the cold store holds; with twice the people
    in every crew; or with all of these. `trays` are those seeded, in shares of the cadence's:
    whichever of `MORE_TRAYS` met most weeks. `gain`: the steadiness less the best without relief.
    """

    kind: Kind
    name: str
    steadiness: float
    weakest_week: float
    trays: float
    gain: Difference


@dataclass(frozen=True)
class Fullness:
    """The share of a thing that is taken, mean of the weeks and in the fullest one.

    Of a place the containers, those not yet clean included; of people the staffed minutes.
    """

    kind: Kind
    name: str
    mean: float
    fullest: float
    monday: date


@dataclass(frozen=True)
class Limits:
    """What stops a size with a cadence, from simulated years that had no part in any choice.

    `without` any relief, with whichever of `MORE_TRAYS` met most weeks. From those years, each
    per year and the most first: `short` heads by cause, `missed` cells (not seeded) by cause,
    `lost` plants (dumped ones too) by (place, cause). `reliefs` of one thing, the most helpful
    first, and of all `together` (None if there is only one). `weeks_over`: weeks that by
    arithmetic have more work than minutes at this size.
    """

    without: Measured
    short: Mapping[str, float]
    missed: Mapping[str, float]
    lost: Mapping[tuple[str, str], float]
    fullness: tuple[Fullness, ...]
    reliefs: tuple[Relief, ...]
    together: Relief | None
    weeks_over: tuple[WeekBalance, ...]

    @property
    def first(self) -> Relief | None:
        """The relief of one thing that helps most, None if none helps beyond noise."""
        return next((r for r in self.reliefs if r.gain.low > 0.0), None)


class _Best(NamedTuple):
    """Whichever number of trays met most weeks, the fewest of equals."""

    scenario: Scenario
    trays: float
    trials: list[Trial]


def runs_for_limits(scenario: Scenario) -> int:
    """How many times its `years` `limits_at` simulates at most."""
    return 1 + len(MORE_TRAYS) * (1 + len(_relieved(scenario)))


def limits_at(
    scenario: Scenario, name: str, target: Target, runs: Runs, *, years: int, seed: int
) -> Limits:
    """What limits the orders of a scenario with the cadence that it has, called `name`.

    `years` of each relief with each number of trays, and of those without relief.
    """
    relieved = _relieved(scenario)
    groups = [list(_variants(s)) for s in (scenario, *relieved.values())]
    without, *bests = _bests(groups, target, runs, years=years, seed=seed)
    reliefs = [_relief(*pair, without, target) for pair in zip(relieved, bests, strict=True)]
    single = sorted((r for r in reliefs if r.kind != "all"), key=lambda r: -r.gain.mean)
    full = runs.years(without.scenario, years, seed, first=FRESH_FROM)
    lost = Counter({(str(place), cause): n for (place, cause), n in full.lost.items()})
    lost.update({(str(place), cause): n for (place, cause), n in full.dumped.items()})
    return Limits(
        without=measured(name, without.trials, target),
        short=_by_cause(full.short, years),
        missed=_by_cause(full.missed, years),
        lost={key: n / years for key, n in lost.most_common()},
        fullness=tuple(_fullness(full)),
        reliefs=tuple(single),
        together=next((r for r in reliefs if r.kind == "all"), None),
        weeks_over=tuple(_weeks_over(full.plan)),
    )


def trials_of(years: Years) -> list[Trial]:
    """The same years as a choice sees them."""
    worked = _worked(years.yearly_work)
    wasted, fill = years.values["wasted_plants"], years.values["unit_fill_rate"]
    return [
        Trial(years.met[n], worked[n], float(wasted[n]), float(fill[n])) for n in range(years.count)
    ]


def _worked(work: Mapping[str, Floats]) -> Floats:
    """Person-minutes of all kinds of work together, in the shape of each."""
    return np.asarray(np.sum([work[kind] for kind in WORK.values()], axis=0))


def _by_cause(counts: Mapping[tuple[Any, str], int], years: int) -> dict[str, float]:
    """Counts by cause alone, mean of a year, the most first."""
    sums = Counter[str]()
    for (_, cause), number in counts.items():
        sums[cause] += number
    return {cause: n / years for cause, n in sums.most_common()}


def _relieved(scenario: Scenario) -> dict[Thing, Scenario]:
    """The scenario without each of its limits, and without all of them if there are several."""
    used = {stage.place for crop in scenario.crops.values() for stage in crop.stages}
    wide = {
        name: place.model_copy(update={"count": None})
        for name, place in scenario.places.items()
        if name in used and place.count is not None
    }
    changes: dict[Thing, dict[str, object]] = {
        ("place", name): {"places": {**scenario.places, name: place}}
        for name, place in wide.items()
    }
    if scenario.crews:
        crews = {
            name: crew.model_copy(update={"people": 2 * crew.people})
            for name, crew in scenario.crews.items()
        }
        changes["people", ""] = {"crews": crews}
    if scenario.cold_store.holds_heads is not None:
        store = scenario.cold_store.model_copy(update={"holds_heads": None})
        changes["cold store", ""] = {"cold_store": store}
    if len(changes) > 1:
        every = {key: value for change in changes.values() for key, value in change.items()}
        changes["all", ""] = {**every, "places": {**scenario.places, **wide}}
    return {thing: scenario.model_copy(update=change) for thing, change in changes.items()}


def _bests(
    groups: Sequence[Sequence[tuple[float, Scenario]]],
    target: Target,
    runs: Runs,
    *,
    years: int,
    seed: int,
) -> Iterator[_Best]:
    """The best of each group of (trays, scenario), all simulated together."""
    scenarios = [scenario for group in groups for _, scenario in group]
    pairs = [(scenario, FRESH_FROM + n) for scenario in scenarios for n in range(years)]
    found = iter(runs.trials(pairs, seed))
    for group in groups:
        tried = [_Best(s, trays, list(islice(found, years))) for trays, s in group]
        yield max(tried, key=lambda best: met_of(best.trials, target).mean())


def _variants(scenario: Scenario) -> Iterator[tuple[float, Scenario]]:
    """The scenario with more and more trays, each number once."""
    seen = []
    for trays in MORE_TRAYS:
        cadence = scaled_cadence(scenario.cadence, trays, list(scenario.crops))
        if cadence not in seen:
            seen.append(cadence)
            yield trays, scenario.model_copy(update={"cadence": cadence})


def _relief(thing: Thing, best: _Best, without: _Best, target: Target) -> Relief:
    now = measured("", best.trials, target)
    gain = differences(best.trials, without.trials, target)["steadiness"]
    return Relief(*thing, now.steadiness.mean, now.weakest.met.mean, best.trays, gain)


def _fullness(years: Years) -> Iterator[Fullness]:
    def of(thing: Thing, shares: Floats) -> Fullness:
        week = int(np.argmax(shares))
        monday = years.timetable.week_monday(week)
        return Fullness(*thing, float(np.mean(shares)), float(shares[week]), monday)

    for number, (name, place) in enumerate(years.plan.scenario.places.items()):
        if place.count is not None:
            yield of(("place", name), years.containers[number] / place.count)
    staffed = years.work["staffed"]
    if staffed.any():
        yield of(("people", ""), _worked(years.work) / np.maximum(staffed, 1.0))


def _weeks_over(plan: Plan) -> Iterator[WeekBalance]:
    needs = crop_needs(plan.timetable, ordered(plan.timetable, plan.leavings))
    for week in week_balances(plan.timetable, plan.leavings, needs):
        if week.tightest.exceeds:
            yield week
