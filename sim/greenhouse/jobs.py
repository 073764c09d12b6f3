"""Jobs, and the board they wait on."""

from __future__ import annotations

from abc import ABC, abstractmethod
from bisect import insort
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.greenhouse.house import House
    from sim.greenhouse.places import Room

FOREVER = float("inf")

Complete = Callable[[str, float], None]  # takes the crew's name and the person-minutes [min]


class Job(ABC):
    """Work of one kind that waits: so many equal units, of which some can be done now.

    `until` is the time by which a unit must be done [d]; `age` orders jobs of equal priority,
    the smallest first. A job without a task needs nobody.
    """

    def __init__(self, house: House, task: str | None, age: float, until: float = FOREVER) -> None:
        self.house = house
        self.task = task
        self.age = age
        self.until = until
        self.listed = False
        self.units_each = 1  # units that fit one container of the room it needs

    @abstractmethod
    def workable(self) -> int:
        """Units that could be worked now."""

    @abstractmethod
    def begin(self, units: int) -> Complete:
        """Set aside what these units use; return what lets the work take effect."""

    def needs(self) -> tuple[Room, int] | None:
        """The room whose containers hold this job up, and how many it still wants."""
        return None


_by_age = attrgetter("age")


class Board:
    """All waiting jobs, by priority and age; jobs without a task are apart."""

    def __init__(self, priorities: dict[str, int]) -> None:
        self._priority = priorities
        self._levels: dict[int, list[Job]] = {p: [] for p in sorted(set(priorities.values()))}
        self.levels = list(self._levels.values())
        self.free: list[Job] = []
        self.size = 0

    def add(self, job: Job) -> None:
        """Put a job up and wake whoever waits for work."""
        job.listed = True
        if job.task is None:
            self.free.append(job)
        else:
            self.size += 1
            insort(self._levels[self._priority[job.task]], job, key=_by_age)
        job.house.stir()

    def remove(self, job: Job) -> None:
        """Take a job down: done, lapsed or dumped. Taking it down twice is harmless."""
        if job.listed:
            job.listed = False
            if job.task is None:
                self.free.remove(job)
            else:
                self.size -= 1
                self._levels[self._priority[job.task]].remove(job)

    def has_work(self, may_do: frozenset[str]) -> bool:
        """Whether any waiting job is one of these tasks."""
        for level in self.levels:
            for job in level:
                if job.task in may_do:
                    return True
        return False
