"""How large a run would be, roughly, and the refusal of what would take hours."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sim.errors import TooLargeError
from sim.parts import Crop, Dates
from sim.scenario import Scenario

LONGEST_YEAR = 600.0  # a simulated year may take this long [s]
MOST_ROWS = 5_000_000  # about 2 GB of rows
LONGEST_RUN = 20 * 366  # days in a run [d]
_NO_LIMIT_WAIT = 7.0  # days that plants without a limit are taken to wait [d]


@dataclass(frozen=True, slots=True)
class RunSize:
    """What one run holds: days, days of closures, shifts, seedings and delivery lines."""

    days: float
    closed_days: float
    shifts: float
    seedings: float
    deliveries: float

    @property
    def rows(self) -> float:
        """Rows that the run records, roughly."""
        return (
            self.days
            + self.closed_days
            + 2 * self.shifts
            + 12 * self.seedings
            + 3 * self.deliveries
        )

    @property
    def seconds(self) -> float:
        """Time that the run takes [s]: 10 us a shift, 60 a seeding, 30 a delivery line.

        Rough figures of a small machine: good enough to tell a second from an hour.
        """
        passes = 5 * self.days + self.closed_days + 10 * self.shifts
        return 1e-6 * (passes + 60 * self.seedings + 30 * self.deliveries)


def run_size(scenario: Scenario) -> RunSize:
    """The size of one run, from the calendar's length and the numbers per week."""
    planned = (scenario.last_planned - scenario.start).days + 1
    days = planned + max((_longest(crop) for crop in scenario.crops.values()), default=0.0)
    shifts = sum(len(s.weekdays) for crew in scenario.crews.values() for s in crew.shifts)
    deliveries = sum(len(o.heads) for o in scenario.orders)
    deliveries += sum(len(o.heads) for o in scenario.surplus)
    lines = scenario.cadence.lines
    seedings = sum(len({*k.trays, *k.heads_wanted}) / k.every_weeks for k in lines)
    closed = [*scenario.school.closed, *scenario.school.special]
    closed += [stretch for order in scenario.orders for stretch in order.paused]
    weeks = days / 7
    return RunSize(
        days=days,
        closed_days=_length(closed),
        shifts=shifts * weeks,
        seedings=seedings * weeks + len(scenario.cadence.added),
        deliveries=deliveries * weeks,
    )


def estimate_seconds(scenario: Scenario) -> float:
    """Roughly how long one simulated year takes [s]."""
    size = run_size(scenario)
    return size.seconds * min(1.0, 366 / max(size.days, 1.0))


def refuse_too_large(scenario: Scenario, where: str) -> None:
    """Raise TooLargeError if a run would take hours or fill the memory."""
    size = run_size(scenario)
    if size.days > LONGEST_RUN:
        raise TooLargeError(
            f"{where}: the run would last {size.days:,.0f} days, but may last at most "
            f"{LONGEST_RUN:,}; mend the years of [school] and [window], or the days of a stage."
        )
    seconds = estimate_seconds(scenario)
    if seconds > LONGEST_YEAR or size.rows > MOST_ROWS:
        raise TooLargeError(
            f"{where}: the run is too large: about {seconds:,.0f} seconds a simulated year and "
            f"{size.rows:,.0f} rows (at most {LONGEST_YEAR:,.0f} seconds and {MOST_ROWS:,} rows). "
            f"It holds {size.days:,.0f} days, {size.shifts:,.0f} shifts, {size.seedings:,.0f} "
            f"seedings and {size.deliveries:,.0f} deliveries; shorten the run or give fewer "
            "shifts, seedings or orders."
        )


def _longest(crop: Crop) -> float:
    """Days from seeding to the last ready head, spread and waits included [d]."""
    return sum(
        s.days + 4 * s.days_sd + (_NO_LIMIT_WAIT if s.keep_days is None else s.keep_days)
        for s in crop.stages
    )


def _length(stretches: Iterable[Dates]) -> float:
    return float(sum((s.last_day - s.first_day).days + 1 for s in stretches))
