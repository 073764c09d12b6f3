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

    __slots__ = ("age", "house", "listed", "task", "until")

    units_each = 1  # units that fit one container of the room it needs

    def __init__(self, house: House, task: str | None, age: float, until: float = FOREVER) -> None:
        self.house = house
        self.task = task
        self.age = age
        self.until = until
        self.listed = False

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
        levels: dict[int, list[Job]] = {p: [] for p in sorted(set(priorities.values()))}
        self._level_of = {task: levels[priority] for task, priority in priorities.items()}
        self.levels = list(levels.values())
        self.free: list[Job] = []

    def add(self, job: Job) -> None:
        """Put a job up and wake whoever waits for work."""
        job.listed = True
        task = job.task
        if task is None:
            self.free.append(job)
        else:
            level = self._level_of[task]
            if level and level[-1].age > job.age:
                insort(level, job, key=_by_age)
            else:
                level.append(job)
        house = job.house
        house.changes += 1  # what `stir` does, without a call
        if house.watched:
            house.wake()

    def remove(self, job: Job) -> None:
        """Take a job down: done, lapsed or dumped. Taking it down twice is harmless."""
        if job.listed:
            job.listed = False
            task = job.task
            if task is None:
                self.free.remove(job)
            else:
                self._level_of[task].remove(job)

    def has_work(self, may_do: frozenset[str]) -> bool:
        """Whether any waiting job is one of these tasks."""
        for level in self.levels:
            for job in level:
                if job.task in may_do:
                    return True
        return False
