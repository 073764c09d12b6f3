"""People: who is there, when, and which job comes next."""

from __future__ import annotations

from bisect import bisect_left
from functools import partial
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
    roll = plan.full_roll.copy()
    drawn = luck.each(list(plan.uncertain)).tolist()
    for numbers, shifts in zip(drawn, plan.uncertain.values(), strict=True):
        for s in shifts:
            u = numbers[s.place]
            if s.table:
                roll[s.number] = bisect_left(s.table, u)
            else:
                roll[s.number] = binomial(u, s.shift.people, 1.0 - s.shift.absent)
    return roll


class Crew:
    """One crew: it works in its shifts only, and in them waits while there is nothing to do."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._plan: ShiftPlan | None = None  # the shift it is in, unless that has no time left
        self._begun: set[str | None] = set()
        self._short_of_time = False
        self._waits = True
        self.seen = -1  # changes in the house when it last found nothing to do

    def begin(self, plan: ShiftPlan) -> None:
        """Begin a shift."""
        house = self._house
        self._plan = plan
        if self._begun:
            self._begun = set()
        if not house.board.has_work(plan.shift.may_do):
            self.seen = house.changes
        elif house.changes != self.seen:
            self._work()
            return
        house.watched = True

    def stir(self) -> None:
        """If there is work now, come in once what happens at this moment is over."""
        house, plan = self._house, self._plan
        if not self._waits or not plan or house.clock.time + _EDGE >= plan.last:
            return
        if house.board.has_work(plan.shift.may_do):
            self._waits = False
            Alarm(house.clock, house.clock.time, self._work)

    def _work(self, _event: simpy.Event | None = None) -> None:
        """Work the shift, or what is left of it, stint by stint."""
        house, plan = self._house, self._plan
        assert plan
        clock, free, shift, last = house.clock, house.board.free, plan.shift, plan.last
        alarms = clock.alarms
        rate = house.roll[plan.number] * shift.minutes_each / (shift.end - shift.start)
        self._waits = False
        if plan.alone:
            house.watched = False
        self._short_of_time = not rate
        while rate and (found := self._choose(plan, rate)):
            job, units, minutes = found
            complete = job.begin(units)
            end = clock.time + minutes / rate
            if end > last or end > job.until - TICK:
                end = min(last, job.until - TICK)
            if end >= clock.then or (alarms and alarms[0][0] <= end):
                Alarm(clock, end, partial(self._go_on, complete, minutes))
                return
            clock.time = end
            complete(shift.crew, minutes)
            if free:
                house.do_free_steps()
        if self._short_of_time:
            self._plan, self.seen = None, -1
        else:
            self.seen = house.changes
            house.watched = True
        self._waits = True

    def _go_on(self, complete: Complete, minutes: float, _event: simpy.Event) -> None:
        assert self._plan
        complete(self._plan.shift.crew, minutes)
        if self._house.board.free:
            self._house.do_free_steps()
        self._work()

    def _choose(self, plan: ShiftPlan, rate: float) -> tuple[Job, int, float] | None:
        """The next job, how many units now, and their person-minutes [min] (rules W3, W4)."""
        self._short_of_time = False
        for may_do in plan.turns:
            held_up: list[Job] = []
            for level in self._house.board.levels:
                for job in level:
                    if job.task in may_do:
                        units = job.workable()
                        if units <= 0:
                            held_up.append(job)
                        elif found := self._stint(job, units, plan, rate, held_up):
                            return found
        return None

    def _stint(
        self, job: Job, units: int, plan: ShiftPlan, rate: float, held_up: list[Job]
    ) -> tuple[Job, int, float] | None:
        """What of a job is done now; None if the time is too short for one unit."""
        house, task = self._house, job.task
        each, setup = house.tasks[task]
        if setup and task in self._begun:
            setup = 0.0
        end = plan.end if plan.end < job.until else job.until
        left = (end - house.clock.time) * rate - setup
        if not plan.alone:
            turn = _TURN * rate if _TURN * rate > each else each
            left = turn if turn < left else left
        if held_up and type(job) is Upkeep:
            units = min(units, self._wanted(job.room, held_up, left, each))
        fit = int(left / each + _EDGE)
        units = fit if fit < units else units
        if units <= 0:
            self._short_of_time = True
            return None
        if setup:
            self._begun.add(task)
        return job, units, units * each + setup

    def _wanted(self, room: Room, held_up: list[Job], left: float, each: float) -> int:
        """Containers to clean now so that what waits for them can still be done this shift."""
        containers = 0
        for job in held_up:
            needs = job.needs()
            if needs and needs[0] is room:
                containers += needs[1]
                each += self._house.tasks[job.task][0] * job.units_each
        if not containers:
            return room.dirty or 2**62
        return max(1, min(containers, int(left / each)))
