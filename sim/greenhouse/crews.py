"""People: who is there, when, and which job comes next."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from sim.draws import Luck, binomial
from sim.greenhouse.jobs import Job
from sim.greenhouse.places import Room, Upkeep
from sim.greenhouse.plan import TICK, Plan, ShiftPlan

if TYPE_CHECKING:
    from sim.greenhouse.house import House

_TURN = 5.0 / 1440.0  # the longest stint of a crew that is not alone [d]
_EDGE = 1e-9


class Bell(simpy.Event):
    """An event that happens after a delay, told only when somebody knows it."""

    def ring(self, delay: float) -> None:
        """Let it happen after `delay` [d]."""
        self._ok, self._value = True, None
        self.env.schedule(self, delay=delay)


def roll_call(plan: Plan, luck: Luck) -> list[int]:
    """People present at each shift of the plan (rule W2)."""
    numbers = [luck.eight(*who, -1) for who in plan.whos]
    return [
        bisect_left(s.table, numbers[s.who][s.place])
        if s.table
        else binomial(numbers[s.who][s.place], s.shift.people, 1.0 - s.shift.absent)
        for s in plan.shifts
    ]


class Crew:
    """One crew's days: it sleeps until there is work, and works only in its shifts."""

    def __init__(self, number: int, house: House) -> None:
        self._house = house
        self._shifts = house.plan.shifts_of[number]
        self._ends = house.plan.ends_of[number]
        self._offset = number * TICK  # crews that begin together choose in the file's order
        self._may_do = self._shifts[0].shift.may_do if self._shifts else frozenset()
        self._next = 0
        self._begun: set[str] = set()
        self._short_of_time = False
        self._bell: Bell | None = None
        if self._shifts:
            house.env.process(self._life())

    def wake(self) -> None:
        """Let the crew come in at once if it is in a shift, otherwise at its next shift."""
        if self._bell is None or not self._house.board.has_work(self._may_do):
            return
        now = self._house.env.now
        place = max(self._next, bisect_right(self._ends, now + _EDGE))
        if place < len(self._shifts):
            if place != self._next:
                self._next, self._begun = place, set()
            bell, self._bell = self._bell, None
            self._house.asleep.remove(self)
            start = self._shifts[place].shift.start + self._offset
            bell.ring(start - now if start > now else 0.0)

    def _life(self) -> Generator[simpy.Event, None, None]:
        """Wait for work, then work the shift, or what is left of it, stint by stint."""
        house, env = self._house, self._house.env
        while True:
            self._bell = bell = Bell(env)
            house.asleep.append(self)
            if self._short_of_time:
                self.wake()
            yield bell
            plan = self._shifts[self._next]
            shift = plan.shift
            rate = house.roll[plan.number] * shift.minutes_each / (shift.end - shift.start)
            self._short_of_time = not rate
            while rate and house.board.size and (found := self._choose(plan, rate)):
                job, units, minutes = found
                self._begun.add(job.task or "")
                complete = job.begin(units)
                end = min(env.now + minutes / rate, shift.end - TICK, job.until - TICK)
                yield env.timeout(end - env.now)
                complete(shift.crew, minutes)
                if house.board.free:
                    house.do_free_steps()
            if self._short_of_time:
                self._next, self._begun = self._next + 1, set()

    def _choose(self, plan: ShiftPlan, rate: float) -> tuple[Job, int, float] | None:
        """The next job, how many units now, and their person-minutes [min] (rules W3, W4)."""
        self._short_of_time = False
        if plan.restricted:
            found = self._first(plan, plan.restricted, rate)
            if found:
                return found
        return self._first(plan, plan.shift.may_do, rate)

    def _first(
        self, plan: ShiftPlan, may_do: frozenset[str], rate: float
    ) -> tuple[Job, int, float] | None:
        now, tasks = self._house.env.now, self._house.tasks
        held_up: list[Job] = []
        for level in self._house.board.levels:
            for job in level:
                if job.task not in may_do:
                    continue
                units = job.workable()
                if units <= 0:
                    held_up.append(job)
                    continue
                each, setup = tasks[job.task]
                if job.task in self._begun:
                    setup = 0.0
                left = (min(plan.shift.end, job.until) - now) * rate - setup
                if not plan.alone:
                    left = min(left, max(each, _TURN * rate))
                if held_up and isinstance(job, Upkeep):
                    units = min(units, self._wanted(job.room, held_up, left, each))
                units = min(units, int(left / each + _EDGE))
                if units > 0:
                    return job, units, units * each + setup
                self._short_of_time = True
        return None

    def _wanted(self, room: Room, held_up: list[Job], left: float, each: float) -> int:
        """Containers to clean now so that what waits for them can still be done this shift."""
        containers = 0
        for job in held_up:
            needs = job.needs()
            if needs and needs[0] is room:
                containers += needs[1]
                each += self._house.tasks[job.task or ""][0] * job.units_each
        if not containers:
            return room.dirty or 2**62
        return max(1, min(containers, int(left / each)))
