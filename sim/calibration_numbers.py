"""A number of a scenario as its records show it, and what it is worth to know it better."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isnan, nan
from typing import Literal

from sim.agreement import KeyPath
from sim.calibration_work import task_of
from sim.records import COUNT, CROP, KIND, Row
from sim.swings_inputs import INPUTS
from sim.timetable import Timetable, cycle_days

Kind = Literal[
    "stand", "growing loss", "moving loss", "loss spread", "rare share", "rare loss", "days",
    "days spread", "minutes", "absence",
]  # fmt: skip

LEAST_BATCHES = 5  # for a mean
LEAST_FOR_SPREAD = 10  # batches
LEAST_FOR_RARE = 30  # batches for the share that a rare event hits
LEAST_HIT = 5  # batches hit for what it takes of them
LEAST_TIMED = 5  # shifts in which a task was timed
LEAST_SHIFTS = 10  # shifts with people counted

_RANGES = {  # the input of `sim.swings_inputs` whose range stands for a number not counted
    "stand": "stand", "growing loss": "grow-out-loss", "moving loss": "moving-loss",
    "minutes": "task-minutes", "absence": "absence", "days": "grow-out-days",
}  # fmt: skip
TOUCHES: dict[str, str] = {  # what a number's effect is a share of
    "stand": "heads", "growing loss": "heads", "moving loss": "heads", "days": "bench time",
    "minutes": "minutes of work", "absence": "crew minutes",
}  # fmt: skip


@dataclass(frozen=True)
class Number:
    """One number of a scenario: as it was, as measured, its 90 % interval, and from how much.

    `path` is its key; values are in the scenario's units, nan where nothing was measured. `count`
    records `of` a kind (batches, shifts) tell it. `kept` says why it was not moved, "" if it was.
    """

    path: KeyPath
    kind: Kind
    where: str
    old: float
    new: float
    low: float
    high: float
    count: int
    of: str
    kept: str = ""

    @property
    def measured(self) -> bool:
        """Whether it has an interval."""
        return not isnan(self.low)

    @property
    def moved(self) -> bool:
        """Whether the new scenario is to say another value."""
        return not self.kept and self.new != self.old

    @property
    def source(self) -> str:
        """The note that is written beside it."""
        return f"measured here, n = {self.count} {self.of}"


def kept(
    path: KeyPath, kind: Kind, where: str, old: float, why: str, *, count: int = 0,
    of: str = "batches",
) -> Number:  # fmt: skip
    """A number of which the records say too little."""
    return Number(path, kind, where, old, old, nan, nan, count, of, why)


def rounded(kind: Kind, value: float) -> float:
    """A value as it is written: minutes to 3 figures, everything else to 2 decimals."""
    return float(f"{value:.3g}") if kind == "minutes" else round(value, 2)


@dataclass(frozen=True)
class Weights:
    """How much hangs on each crop (plants seeded), task (minutes) and crew (minutes) [shares]."""

    crops: Mapping[str, float]
    tasks: Mapping[str, float]
    crews: Mapping[str, float]


def weights_of(rows: Iterable[Row], timetable: Timetable) -> Weights:
    """From what was done in the season, at the minutes that the scenario says."""
    scenario = timetable.scenario
    seeded, work = dict.fromkeys(scenario.crops, 0.0), dict.fromkeys(scenario.tasks, 0.0)
    for row in rows:
        if row[KIND] == "seeded" and row[CROP] in seeded:
            seeded[row[CROP]] += row[COUNT]
        task, units = task_of(row, scenario)
        if task in work:
            work[task] += units * scenario.tasks[task].minutes_each
    staffed: defaultdict[str, float] = defaultdict(float)
    for shift in timetable.shifts:
        staffed[shift.crew] += shift.expected_minutes
    return Weights(_shares(seeded), _shares(work), _shares(staffed))


def _shares(amounts: Mapping[str, float]) -> dict[str, float]:
    total = sum(amounts.values()) or 1.0
    return {name: amount / total for name, amount in amounts.items()}


def effect(number: Number, value: float, weights: Weights, timetable: Timetable) -> float:
    """What `value` instead of the old one changes [% of what `TOUCHES` says]; 0 for spreads.

    By proportion alone: heads as plants come through, bench time as the days from seeding to
    ready, minutes as work is done; weighted by how much of the season hangs on it.
    """
    name, old = str(number.path[1]), number.old
    if number.kind in ("stand", "growing loss", "moving loss", "absence"):
        of = weights.crews if number.kind == "absence" else weights.crops
        return (old - value) / (100.0 - old) * 100.0 * of.get(name, 0.0) if old < 100.0 else 0.0
    if number.kind == "days":
        cycle = cycle_days(timetable.scenario.crops[name])
        return (value - old) / cycle * 100.0 * weights.crops.get(name, 0.0)
    if number.kind == "minutes":
        return (value / old - 1.0) * 100.0 * weights.tasks.get(name, 0.0)
    return 0.0


def open_part(number: Number, weights: Weights, timetable: Timetable) -> float:
    """What the number's uncertainty leaves open [% of what `TOUCHES` says].

    The larger half of its interval; of a number that was not measured, or not moved, the larger
    end of the range that `seedbeat swings` takes for a guess.
    """
    if number.kind not in TOUCHES:
        return 0.0
    ends = [number.low - number.new, number.high - number.new]
    if number.kept or not number.measured:
        ends = _guessed(number)
    return max(abs(effect(number, number.old + end, weights, timetable)) for end in ends)


def _guessed(number: Number) -> list[float]:
    given = next(one for one in INPUTS if one.key == _RANGES[number.kind])
    if given.how == "percent":
        return [number.old * by / 100.0 for by in given.range]
    return list(given.range)


def most_open(
    numbers: Sequence[Number], weights: Weights, timetable: Timetable
) -> tuple[Number, float] | None:
    """The number that leaves most open, and how much [%]; None if all are known."""
    open_parts = [(open_part(n, weights, timetable), n) for n in numbers]
    most, number = max(open_parts, key=lambda pair: pair[0], default=(0.0, None))
    return (number, most) if number and most > 0.0 else None
