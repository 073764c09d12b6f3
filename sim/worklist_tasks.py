"""A week's work as a list: days, shifts, tasks, deliveries.

All counts and minutes are means over the simulated years, unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sim.parts import DayKind
from sim.school_year import monday


@dataclass(frozen=True, slots=True)
class FromBatch:
    """Heads of a harvest that come from one batch, which was seeded on that day [heads]."""

    batch: str
    seeded: date
    heads: float


@dataclass(frozen=True, slots=True)
class ForOrder:
    """Heads of a harvest that later leave for one customer [heads]."""

    customer: str
    leaves: datetime
    heads: float


@dataclass(frozen=True, slots=True)
class WorkTask:
    """One task of one shift.

    `kind` is a kind of row (`records.KINDS`), `task` the scenario's name for it (None if it needs
    nobody). `amount` is counted in `unit`: trays seeded, plants moved, heads harvested, containers
    washed or cleared, times checked. A move takes `containers` of the kind `container`. `years` is
    the number of simulated years with this task in this shift. `trays` is what the seeding list
    says for the whole batch. A harvest names its batches and orders.
    """

    kind: str
    task: str | None
    crop: str
    batch: str
    seeded: date | None
    trays: int | None
    place: str
    to: str
    unit: str
    amount: float
    container: str
    containers: float
    minutes: float
    years: int
    batches: tuple[FromBatch, ...] = ()
    orders: tuple[ForOrder, ...] = ()

    @property
    def name(self) -> tuple[str, str, str, str, str]:
        """What makes it the same task in another shift."""
        return self.kind, self.crop, self.batch, self.place, self.to


@dataclass(frozen=True, slots=True)
class WorkShift:
    """One shift of one crew, or (without a crew and times) what needs nobody that day.

    `people` and `staffed`, the person-minutes, are those to be expected, attendance and pace
    included; `minutes` is what the crew worked; `undone` what it lacked for heads that were then
    short, or trays that were then missed, for want of minutes [min]. `tasks` are the shift's
    own, the most urgent first; `lesser` are those that may come over from another shift
    (`worklist.OFTEN` says which).
    """

    crew: str
    name: str
    students: bool
    starts: time | None
    ends: time | None
    people: float
    staffed: float
    minutes: float
    undone: float
    tasks: tuple[WorkTask, ...]
    lesser: tuple[WorkTask, ...]

    @property
    def wanted(self) -> float:
        """Person-minutes of everything that is to be done in the shift [min]."""
        return self.minutes + self.undone

    @property
    def over(self) -> bool:
        """Whether that is more than there is, in whole minutes."""
        return bool(self.crew) and round(self.wanted) > round(self.staffed)


@dataclass(frozen=True, slots=True)
class WorkDelivery:
    """Heads that leave for one customer; `ordered` is None where an outlet takes surplus.

    `complete` is the number of simulated years in which nothing was missing.
    """

    leaves: datetime
    customer: str
    crop: str
    ordered: float | None
    heads: float
    complete: int


@dataclass(frozen=True, slots=True)
class WorkDay:
    """One day: what kind of day, the name of the closure, its shifts and deliveries by time."""

    day: date
    kind: DayKind
    closure: str
    shifts: tuple[WorkShift, ...]
    deliveries: tuple[WorkDelivery, ...]

    @property
    def all_tasks(self) -> Iterator[tuple[WorkShift, WorkTask]]:
        """Every task of the day with its shift, the lesser ones too."""
        for shift in self.shifts:
            for task in (*shift.tasks, *shift.lesser):
                yield shift, task

    @property
    def busy(self) -> bool:
        """Whether there is anything to do."""
        return bool(self.deliveries) or any(True for _ in self.all_tasks)


@dataclass(frozen=True, slots=True)
class WorkWeek:
    """The work of the week that starts on `monday`, out of `run`, all days of the simulated run."""

    scenario: str
    monday: date
    years: int
    seed: int
    run: tuple[WorkDay, ...]

    @property
    def days(self) -> tuple[WorkDay, ...]:
        """The days of this week."""
        return tuple(d for d in self.run if monday(d.day) == self.monday)

    @property
    def next_busy(self) -> date | None:
        """The Monday of the next week with something to do."""
        later = self.monday + timedelta(days=7)
        return next((monday(d.day) for d in self.run if d.day >= later and d.busy), None)
