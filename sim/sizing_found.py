"""What the search for a size found: the sizes tested and told, and what more of each thing adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.cadence_answer import Measured, Target
from sim.candidates import Candidate
from sim.ceilings import Ceiling, ImpossibleWeek
from sim.replications import Estimate
from sim.sizing_more import Gain
from sim.sizing_orders import Largest, Tried
from sim.sizing_tests import Decided
from sim.sizing_things import Thing

BEND = (0.01, 0.05)  # steadiness and weakest week that a size beyond the bend may have more


@dataclass(frozen=True)
class Service:
    """What fresh years say of one size with one cadence; `cadence` is its number."""

    cadence: int
    measured: Measured
    heads_per_week: Estimate


@dataclass(frozen=True)
class Tested:
    """A size with the verdict on it, and the number of the cadence that suits it."""

    size: int
    cadence: int
    decided: Decided


@dataclass(frozen=True)
class Row:
    """One size that is told: its verdict, its service and its ceilings, the lowest first.

    `best` is the service with the cadence that suits the size, `own` with the scenario's own.
    `largest` are the largest orders that the size delivers, None where they were not looked for.
    """

    tested: Tested
    best: Service
    own: Service
    ceilings: tuple[Ceiling, ...]
    largest: Largest | None = None

    @property
    def size(self) -> int:
        """The size."""
        return self.tested.size

    @property
    def ceiling(self) -> float | None:
        """The lowest ceiling [heads a full week], None if nothing is full."""
        return self.ceilings[0].heads_per_week if self.ceilings else None


@dataclass(frozen=True)
class Gains:
    """What more of each thing adds to one size of the orders at the present size.

    `heads_short` are those not delivered a week without it; `tried` are the orders, None for the
    present ones.
    """

    gains: tuple[Gain, ...]
    heads_short: Estimate
    years: int
    tried: Tried | None = None


@dataclass(frozen=True)
class Sizing:
    """What `sizing.size_of` found.

    `least` is the size that arithmetic needs at least, None if no size would do. `enough` is the
    smallest size that was shown to reach the target, None if none was. `bend` is the smallest of
    `rows` than which no larger one gains more than `BEND`. `cadences` are those tried at every
    size, the scenario's own first. `gains` are those of the present size with its cadence, first
    for the present orders, then for some that it does not meet (if any were tried).
    `heads_ordered` are per week of the window, `heads_full_week` those of a week without pauses.
    `impossible` weeks do not count: at no size looked at can they be met. `years` tell each size,
    `orders_years` judge orders, told apart by `orders_step` heads; `runs` are all years; `tests`
    were planned, and each has its share of `alpha`.
    """

    thing: Thing
    least: int | None
    enough: int | None
    bend: int
    tested: tuple[Tested, ...]
    rows: tuple[Row, ...]
    cadences: tuple[Candidate, ...]
    gains: tuple[Gains, ...]
    target: Target
    impossible: tuple[ImpossibleWeek, ...]
    heads_ordered: float
    heads_full_week: float
    orders_step: int
    years: int
    orders_years: int
    runs: int
    tests: int
    alpha: float

    def row(self, size: int) -> Row:
        """The row of a size that is told."""
        return next(row for row in self.rows if row.size == size)


def bend_of(rows: Sequence[Row]) -> int:
    """The smallest size than which no larger one gains more than `BEND`."""
    steady = [row.best.measured.steadiness.mean for row in rows]
    weakest = [row.best.measured.weakest.met.mean for row in rows]
    return next(
        row.size
        for n, row in enumerate(rows)
        if max(steady[n:]) - steady[n] <= BEND[0] + 1e-9
        and max(weakest[n:]) - weakest[n] <= BEND[1] + 1e-9
    )


def to_tell(
    sizes: Sequence[int], first: Sequence[int], present: int, enough: int | None
) -> list[int]:
    """Which of the sizes tested are told: where the service rises, and few beyond it.

    `first` are those looked at first. Told are the smallest that is enough with its neighbors,
    the present one, the next above it, and the largest.
    """
    if enough is None:
        return sorted({*first, present})
    at = sizes.index(enough)
    below = [size for size in first if size < enough]
    above = [size for size in sizes if size > max(present, enough)]
    return sorted({*below, *sizes[max(0, at - 1) : at + 2], present, *above[:1], *sizes[-1:]})
