"""Crews of the reference simulation: one pooled server a crew, one unit at a time."""

from __future__ import annotations

import bisect
from collections import defaultdict
from collections.abc import Generator
from typing import TYPE_CHECKING, Any

import simpy

from .jobs import Job
from .plan import PlannedShift
from .things import TICK

if TYPE_CHECKING:
    from .house import Reference


class Crews:
    """The list of jobs and the crews that take units from it."""

    def __init__(self, house: Reference) -> None:
        self.house, self.env, self.scenario = house, house.env, house.scenario
        self.may = house.plan.may
        self.jobs: list[Job] = []
        self.at_work: list[str] = []
        self.idle: list[tuple[int, simpy.Event]] = []
        self.minutes: defaultdict[str, float] = defaultdict(float)
        self.shift_minutes: list[tuple[float, float, float]] = []

    def add(self, job: Job) -> None:
        """Add a job where its priority and age put it."""
        bisect.insort(self.jobs, job, key=lambda j: j.key)

    def forget(self, job: Job) -> None:
        """Take a job off the list, if it is still there."""
        if job in self.jobs:
            self.jobs.remove(job)

    def nobody_needed(self) -> None:
        """Do at once what needs nobody, as far as it goes."""
        while True:
            job = next((j for j in self.jobs if j.task is None and j.ready()), None)
            if job is None:
                return
            job.begin()()

    def changed(self) -> None:
        """Something changed: do what needs nobody, then ask idle crews in file order."""
        self.nobody_needed()
        idle, self.idle = sorted(self.idle, key=lambda pair: pair[0]), []
        for _, wake in idle:
            wake.succeed()

    def shift(self, shift: PlannedShift) -> Generator[Any, None, None]:
        """One crew's shift: unit after unit, waiting when there is nothing it can do."""
        yield self.env.timeout(shift.starts - self.house.now)
        crew = self.scenario.crews[shift.crew]
        present = self.house.rng.binomial(crew.people, 1 - crew.absent_percent / 100)
        capacity = present * shift.minutes * crew.pace_percent / 100
        rate = capacity / (shift.ends - shift.starts)  # [person-minutes per day of clock time]
        worked, set_up = 0.0, set[str]()
        if capacity:
            self.at_work.append(shift.crew)
        yield self.env.timeout(0)  # so that every crew that begins now is seen at work
        while capacity and self.house.now < shift.ends - TICK:
            job = self.choose(shift, rate, set_up)
            if job is None:
                wake = self.env.event()
                self.idle.append((list(self.scenario.crews).index(shift.crew), wake))
                yield wake | self.env.timeout(shift.ends - self.house.now)
                self.idle = [pair for pair in self.idle if pair[1] is not wake]
                continue
            assert job.task is not None
            minutes = self._unit_minutes(job.task, set_up)
            set_up.add(job.task)
            finish = job.begin()
            yield self.env.timeout(minutes / rate)
            worked += minutes
            self._note_minutes(job.task, minutes)
            finish()
            self.changed()
        if capacity:
            self.at_work.remove(shift.crew)
        self.shift_minutes.append((shift.starts, worked, capacity))

    def _unit_minutes(self, task: str, set_up: set[str]) -> float:
        spec = self.scenario.tasks[task]
        return spec.minutes_each + (0.0 if task in set_up else spec.setup_minutes)

    def _note_minutes(self, task: str, minutes: float) -> None:
        if self.house.in_window():
            self.minutes[task] += minutes

    def choose(self, shift: PlannedShift, rate: float, set_up: set[str]) -> Job | None:
        """W3, W4: the first job by priority and age that can be done; restricted ones first."""
        left = shift.ends - self.house.now
        jobs = self.jobs
        if len(self.at_work) > 1:
            jobs = sorted(jobs, key=lambda j: all(self.may(c, j.task) for c in self.at_work))
        for job in jobs:
            if job.task is None or not self.may(shift.crew, job.task):
                continue
            needs = self._unit_minutes(job.task, set_up) / rate
            if needs <= min(left, job.until - self.house.now) + TICK and job.ready():
                return job
        return None
