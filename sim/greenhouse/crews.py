"""People: who is there, when, and which job comes next."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

import simpy

from sim.draws import Luck, binomial
from sim.greenhouse.clock import Alarm
from sim.greenhouse.jobs import Complete, Job
from sim.greenhouse.places import Room, Upkeep
from sim.greenhouse.plan import TICK, Plan, ShiftPlan

if TYPE_CHECKING:
    from sim.greenhouse.house import House

_TURN = 5.0 / 1440.0  # the longest stint of a crew that is not alone [d]
_EDGE = 1e-9


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
        self._rate = 0.0
        self._short_of_time = False
        if self._shifts:
            house.asleep.append(self)

    def wake(self) -> None:
        """If there is work, come in: at once in a shift, otherwise at the next shift."""
        house = self._house
        if not house.board.has_work(self._may_do):
            return
        now = house.clock.now
        place = bisect_right(self._ends, now + _EDGE, self._next)
        if place < len(self._shifts):
            if place != self._next:
                self._next, self._begun = place, set()
            house.asleep.remove(self)
            start = self._shifts[place].shift.start + self._offset
            Alarm(house.clock, max(start, now), self._come_in)

    def _come_in(self, _event: simpy.Event) -> None:
        plan = self._shifts[self._next]
        shift = plan.shift
        present = self._house.roll[plan.number]
        self._rate = present * shift.minutes_each / (shift.end - shift.start)
        self._short_of_time = not self._rate
        self._work(plan)

    def _work(self, plan: ShiftPlan) -> None:
        """Work the shift, or what is left of it, stint by stint."""
        house, rate = self._house, self._rate
        clock, board, shift = house.clock, house.board, plan.shift
        while rate and board.size and (found := self._choose(plan, rate)):
            job, units, minutes = found
            self._begun.add(job.task or "")
            complete = job.begin(units)
            now = clock.now
            end = min(now + minutes / rate, shift.end - TICK, job.until - TICK)
            if not clock.skip_to(now + (end - now)):
                Alarm(clock, end, lambda _: self._go_on(plan, complete, minutes))
                return
            self._finish(complete, shift.crew, minutes)
        if self._short_of_time:
            self._next, self._begun = self._next + 1, set()
        house.asleep.append(self)
        if self._short_of_time:
            self.wake()

    def _go_on(self, plan: ShiftPlan, complete: Complete, minutes: float) -> None:
        self._finish(complete, plan.shift.crew, minutes)
        self._work(plan)

    def _finish(self, complete: Complete, crew: str, minutes: float) -> None:
        complete(crew, minutes)
        if self._house.board.free:
            self._house.do_free_steps()

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
        now, tasks = self._house.clock.now, self._house.tasks
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
