"""What can be sized: a place by containers, a crew by people, the cold store by cases of heads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import Literal

from sim.agreement import COLD_STORE, nearest
from sim.ceilings import Ceiling, ceilings
from sim.errors import ScenarioError, SeedbeatError
from sim.greenhouse.plan import Plan
from sim.scenario import Scenario

Kind = Literal["place", "crew", "cold store"]

MOST = 10**9  # what a count may be at most
_SIZES_TO_PRESENT = 5  # sizes from what arithmetic needs to the present one
_ABOVE = (1.15, 1.3, 1.6, 2.0)  # sizes above the present one, or what is needed if that is more
_BELOW = 0.9  # one size below what arithmetic needs
_FEW, _FALLS = 0.01, 0.02  # steadiness that is as good as the best, and clearly below


@dataclass(frozen=True)
class Thing:
    """One thing of a scenario with its present size, in containers, people a shift or heads.

    `word` is what one container is called; `step` is the difference of two sizes that are told
    apart.
    """

    scenario: Scenario
    kind: Kind
    name: str
    word: str
    present: int
    step: int = 1

    def at(self, size: int) -> Scenario:
        """The scenario with this size of the thing."""
        now = self.scenario
        if self.kind == "place":
            place = now.places[self.name].model_copy(update={"count": size})
            return now.model_copy(update={"places": {**now.places, self.name: place}})
        if self.kind == "crew":
            crew = now.crews[self.name].model_copy(update={"people": size})
            return now.model_copy(update={"crews": {**now.crews, self.name: crew}})
        store = now.cold_store.model_copy(update={"holds_heads": size})
        return now.model_copy(update={"cold_store": store})

    def ceilings(self, size: int) -> tuple[Ceiling, ...]:
        """The ceilings of heads per week at this size, the lowest first."""
        plan = Plan(self.at(size))
        return tuple(ceilings(plan.timetable, plan.leavings))

    def limited_by(self, ceiling: Ceiling) -> bool:
        """Whether a ceiling is one that more of this thing may raise."""
        if self.kind == "crew":
            return ceiling.kind == "crews" and self.name in ceiling.name.split(", ")
        return ceiling.kind == self.kind and ceiling.name == self.name


def sizable(scenario: Scenario) -> list[str]:
    """The names of all that can be sized, those that have no limit included."""
    return [*scenario.places, *scenario.crews, COLD_STORE]


def thing_named(scenario: Scenario, name: str, case: int) -> Thing:
    """The thing of this name; a cold store is sized by cases of `case` heads.

    Raises SeedbeatError for a name that is not known or not clear, ScenarioError for a thing
    without a limit or without a use.
    """
    if name in scenario.places and name in scenario.crews:
        raise ScenarioError(
            f"Scenario {scenario.name!r}: {name!r} names a place and a crew, so it is not clear "
            "which of them is to be sized; rename one of them in the file."
        )
    if name == COLD_STORE:
        return _store(scenario, case)
    if name in scenario.places:
        return _place(scenario, name)
    if name in scenario.crews:
        return _crew(scenario, name)
    names = sizable(scenario)
    near = nearest(name, names)
    raise SeedbeatError(
        f"size: must be given the name of a place or a crew of {scenario.name!r}, or "
        f'"{COLD_STORE}", but it was "{name[:80]}"; '
        + (f'did you mean "{near}"? ' if near else "")
        + "What can be sized: "
        + ", ".join(f'"{known}"' for known in names)
        + "."
    )


def _place(scenario: Scenario, name: str) -> Thing:
    place = scenario.places[name]
    if not any(s.place == name for crop in scenario.crops.values() for s in crop.stages):
        raise _refused(scenario, f"place {name!r} is not used by any crop", "Name one that is")
    thing = Thing(scenario, "place", name, place.container, place.count or 1)
    if place.count is None:
        key = name if name.replace("-", "").replace("_", "").isalnum() else f'"{name}"'
        raise _no_limit(thing, f"[places.{key}] count", place.container)
    return thing


def _crew(scenario: Scenario, name: str) -> Thing:
    if not scenario.crews[name].shifts:
        raise _refused(scenario, f"crew {name!r} has no shifts", "Give it one, or name another")
    return Thing(scenario, "crew", name, "person", scenario.crews[name].people)


def _store(scenario: Scenario, case: int) -> Thing:
    holds = scenario.cold_store.holds_heads
    thing = Thing(scenario, "cold store", COLD_STORE, "head", holds or 1, case)
    if holds is None:
        raise _no_limit(thing, "[cold_store] holds_heads", "head")
    return thing


def _refused(scenario: Scenario, why: str, do: str) -> ScenarioError:
    return ScenarioError(
        f"Scenario {scenario.name!r}: {why}, so its size changes nothing. {do}; what can be sized: "
        f"{', '.join(sizable(scenario))}."
    )


def _no_limit(thing: Thing, key: str, word: str) -> ScenarioError:
    least = needed(thing)
    told = f"; by arithmetic the present orders take {least:,}" if least else ""
    return ScenarioError(
        f"Scenario {thing.scenario.name!r}: the {thing.name} is unlimited, so it has no size to "
        f"start from. Write how many there are, or are planned, as a number in "
        f"{key} (unit: {word}s{told})."
    )


def needed(thing: Thing) -> int | None:
    """The smallest size at which its ceiling holds the present orders; None if none does.

    A size that is enough by arithmetic need not be enough: luck, breaks and the way batches fall
    take more.
    """

    def fits(steps: int) -> bool:
        found = [c for c in thing.ceilings(steps * thing.step) if c.kind.startswith(thing.kind)]
        own = [c for c in found if thing.kind == "crew" or c.name == thing.name]
        return all(c.times >= 1.0 - 1e-9 for c in own)

    high = 1
    while not fits(high):
        high *= 2
        if high * thing.step > min(MOST, 1000 * (thing.present + thing.step)):
            return None
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high * thing.step


def grid(thing: Thing, least: int | None) -> list[int]:
    """About ten sizes to look at: from a bit below what arithmetic needs to twice the present."""
    present = ceil(thing.present / thing.step)
    need = present if least is None else least // thing.step
    low, high = min(need, present), max(need, present)
    steps = {low + round(n * (high - low) / (_SIZES_TO_PRESENT - 1)) for n in range(5)}
    steps |= {max(1, int(_BELOW * low))}
    steps |= {max(round(times * high), high + n + 1) for n, times in enumerate(_ABOVE[:2])}
    steps |= {round(times * high) for times in _ABOVE[2:]}
    sizes = {steps_ * thing.step for steps_ in steps if steps_ * thing.step <= MOST}
    return sorted(sizes - {present * thing.step} | {thing.present})


def between(thing: Thing, steadiness: dict[int, float], target: float, most: int) -> list[int]:
    """Up to `most` more sizes, evenly spaced, where the service rises to what it stays at.

    `steadiness` by size, as few years show it. The stretch ends one size beyond the first that is
    as good as any, since the weakest week may need more room than the mean of all.
    """
    sizes = sorted(steadiness)
    top = max(steadiness.values())
    first = next(n for n, size in enumerate(sizes) if steadiness[size] >= top - _FEW)
    short = [n for n in range(first) if steadiness[sizes[n]] < min(top, target) - _FALLS]
    low, high = sizes[short[-1] if short else 0], sizes[min(first + 1, len(sizes) - 1)]
    return evenly(low, high, thing.step, most, sizes)


def evenly(low: int, high: int, step: int, most: int, known: Iterable[int]) -> list[int]:
    """Up to `most` multiples of `step` between two sizes, evenly spaced, without those known."""
    inside = [n for n in range((low // step + 1) * step, high, step) if n not in set(known)]
    if len(inside) <= most:
        return inside
    return [inside[round((n + 0.5) * len(inside) / most - 0.5)] for n in range(most)]
