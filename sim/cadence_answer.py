"""What a search for a cadence answers: rows, estimates, and a sentence that says it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from sim.cadence_bounds import Taken
from sim.candidates import Candidate
from sim.ceilings import ImpossibleWeek
from sim.parts import Seeding
from sim.pruning import Pruned
from sim.replications import Estimate, exact_interval, mean_estimate
from sim.school_year import spoken
from sim.selection import Verdict
from sim.trials import Trial
from sim.weeks import Floats

Found = Literal["meets", "none meets", "too close to call"]


@dataclass(frozen=True)
class Target:
    """The shares to reach, and the weeks that count: their place in the window, and Mondays.

    Weeks count that have something due and are not impossible by the calendar.
    """

    steadiness: float
    weakest_week: float
    weeks: tuple[int, ...]
    mondays: tuple[date, ...]


@dataclass(frozen=True)
class WeekShare:
    """The share of years in which one calendar week was met, with its exact interval."""

    monday: date
    met: Estimate


@dataclass(frozen=True)
class Measured:
    """What simulated years say of one cadence, over the weeks that count.

    `weakest` is the week met in the fewest years, the first of equals; that it was picked as the
    lowest is not in its interval. `below` are the weeks met in fewer years than wanted, the lowest
    first. `wasted_plants` and `unit_fill_rate` are per year, over all weeks of the window.
    """

    name: str
    steadiness: Estimate
    weakest: WeekShare
    below: tuple[WeekShare, ...]
    wasted_plants: Estimate
    unit_fill_rate: Estimate
    years: int


@dataclass(frozen=True)
class CandidateRow(Measured):
    """A candidate in the search, with its verdict.

    "meets" and "misses" are about the target; "beaten" wastes more than one that meets it, or not
    fewer by what matters. `cells_per_head` are the cells seeded in the run per head ordered in it,
    of the crops that are ordered.
    """

    verdict: Verdict
    cells_per_head: float


@dataclass(frozen=True)
class Difference:
    """Chosen less another cadence, year by year under the same luck, with a 95 % interval."""

    mean: float
    low: float
    high: float
    years: int

    @property
    def verdict(self) -> str:
        """Whether the interval leaves zero out."""
        return "could be noise" if self.low <= 0.0 <= self.high else "real"


@dataclass(frozen=True)
class Compared:
    """A cadence in fresh years, and what the chosen one has more, or less, by measure.

    `differences` are those of `steadiness`, `wasted_plants` and `unit_fill_rate`; empty if it is
    the chosen one itself.
    """

    measured: Measured
    differences: Mapping[str, Difference]


@dataclass(frozen=True)
class Fresh:
    """Years that had no part in the choice: of the chosen one (or the nearest) and of others.

    `own` is the scenario's own cadence; `counted_back` are those of a grower without a tool.
    """

    chosen: Measured
    own: Compared
    counted_back: tuple[Compared, ...]


@dataclass(frozen=True)
class CadenceAnswer:
    """What `find_cadence` found.

    `verdict` is about the weeks that count; `impossible` weeks, which no cadence can meet, do not
    count, and with any of them `reachable` is False. `chosen` is None if no candidate was found
    to meet the target; then `nearest` is the row with the smallest worst shortfall (of equals, the
    smallest sum). `ties` met the target too and waste about the same. `pending` could still have
    changed the choice when the runs ended. `candidates` were listed, `rows` hold those simulated,
    in the order of the list, as `tried` does; `pruned` the others, `untried` of which broke no
    bound. `ceilings` are what arithmetic allows, beside what the chosen (or nearest) cadence takes
    of it in an ordinary week, and `least_waste` the plants that it wastes at least in a year.
    `runs` are all years, the fresh ones included. `seedings` is the dated list of the chosen.
    `allowance` says what may be wrong how often.
    """

    verdict: Found
    sentence: str
    chosen: Candidate | None
    seedings: tuple[Seeding, ...]
    fresh: Fresh
    own: CandidateRow
    nearest: CandidateRow | None
    ties: tuple[CandidateRow, ...]
    pending: tuple[CandidateRow, ...]
    impossible: tuple[ImpossibleWeek, ...]
    reachable: bool
    candidates: int
    pruned: tuple[Pruned, ...]
    untried: int
    ceilings: tuple[Taken, ...]
    least_waste: float
    rows: tuple[CandidateRow, ...]
    tried: tuple[Candidate, ...]
    runs: int
    target: Target
    allowance: str


def met_of(trials: Sequence[Trial], target: Target) -> Floats:
    """1 or 0 for each year and week that counts, shape [years, weeks]."""
    met = np.array([trial.met for trial in trials])[:, list(target.weeks)]
    return np.asarray(met == 1, dtype=np.float64)


def measured(name: str, trials: Sequence[Trial], target: Target) -> Measured:
    """The estimates of one cadence from its years."""
    met = met_of(trials, target)
    shares = [
        _week_share(monday, int(hits), len(trials))
        for monday, hits in zip(target.mondays, met.sum(axis=0), strict=True)
    ]
    shares.sort(key=lambda week: (week.met.mean, week.monday))
    return Measured(
        name=name,
        steadiness=mean_estimate(met.mean(axis=1)),
        weakest=shares[0],
        below=tuple(week for week in shares if week.met.mean < target.weakest_week),
        wasted_plants=mean_estimate(np.array([t.wasted_plants for t in trials])),
        unit_fill_rate=mean_estimate(np.array([t.unit_fill_rate for t in trials])),
        years=len(trials),
    )


def _week_share(monday: date, hits: int, years: int) -> WeekShare:
    low, high = exact_interval(hits, years)
    return WeekShare(monday, Estimate(hits / years, low, high, np.nan, np.nan, years))


def differences(
    chosen: Sequence[Trial], other: Sequence[Trial], target: Target
) -> dict[str, Difference]:
    """Paired differences, by measure; years of the same number have the same luck."""
    pairs = {
        "steadiness": met_of(chosen, target).mean(axis=1) - met_of(other, target).mean(axis=1),
        "wasted_plants": np.array([t.wasted_plants for t in chosen])
        - np.array([t.wasted_plants for t in other]),
        "unit_fill_rate": np.array([t.unit_fill_rate for t in chosen])
        - np.array([t.unit_fill_rate for t in other]),
    }
    found = {}
    for name, values in pairs.items():
        e = mean_estimate(values)
        found[name] = Difference(e.mean, e.low, e.high, e.n)
    return found


def sentence(
    verdict: Found,
    subject: Measured,
    target: Target,
    impossible: Sequence[ImpossibleWeek],
    *,
    pending: int,
    untried: int,
    none_passed: bool,
) -> str:
    """The answer in plain words; `subject` is the chosen or the nearest in its fresh years."""
    told = f"{subject.name}; {_told_numbers(subject, target)}."
    ruled_out = "Arithmetic rules out every cadence of the grid; those it rules out by the least "
    ruled_out = f"{ruled_out}were simulated. " if none_passed else ""
    if verdict == "meets":
        told = f"Meets the target with the fewest wasted plants: {told}"
        told += _told_open(pending, untried)
    elif verdict == "none meets":
        told = f"No candidate that was simulated meets the target. {ruled_out}Nearest: {told}"
        told += _told_open(0, untried)
    else:
        told = (
            f"Too close to call: the runs ended with {pending} candidates undecided and none "
            f"found to meet the target. {ruled_out}Nearest: {told} More runs may decide."
        )
    return _told_impossible(impossible, target) + told


def _told_open(pending: int, untried: int) -> str:
    """What the runs left open beside the answer."""
    parts = [f"the runs ended before {pending} others were decided"] if pending else []
    if untried:
        parts.append(f"{untried} that no bound keeps out, the least promising, were not tried")
    if not parts:
        return ""
    told = " and ".join(parts)
    return f" {told[0].upper()}{told[1:]}: one of them may do better."


def _told_numbers(subject: Measured, target: Target) -> str:
    return (
        f"in {subject.years} fresh simulated years {_percent(subject.steadiness.mean)} of the "
        f"weeks were met (target {_percent(target.steadiness)}), the weakest week, that of "
        f"{spoken(subject.weakest.monday)}, in {_percent(subject.weakest.met.mean)} of the years "
        f"(target {_percent(target.weakest_week)}, for each of {len(target.weeks)} weeks), and "
        f"{subject.wasted_plants.mean:,.0f} good plants a year were wasted"
    )


def _told_impossible(impossible: Sequence[ImpossibleWeek], target: Target) -> str:
    if not impossible:
        return ""
    weeks = "; ".join(
        f"week of {spoken(week.monday)}: {week.cause} for the delivery of {week.crop} on "
        f"{spoken(week.day)}" + (f" ({week.closure})" if week.closure else "")
        for week in impossible
    )
    return (
        f"The target cannot be reached in all weeks, whatever is seeded ({weeks}). "
        f"The rest is about the other {len(target.weeks)} weeks. "
    )


def _percent(share: float) -> str:
    return f"{100 * share:.1f}".removesuffix(".0") + " percent"
