"""The rooms put together, and one simulated year."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from operator import itemgetter
from typing import TYPE_CHECKING

from sim.draws import Luck
from sim.greenhouse.batch import SeedJob
from sim.greenhouse.clock import Clock
from sim.greenhouse.cold_store import Store
from sim.greenhouse.crews import Crew, roll_call
from sim.greenhouse.deliveries import Dispatch, Field, Handout
from sim.greenhouse.jobs import Board, Complete, Job
from sim.greenhouse.places import Room
from sim.greenhouse.plan import Midnight, Moment, Plan, ShiftPlan
from sim.greenhouse.standing import set_up
from sim.order_book import Leaving, SurplusDay
from sim.records import TIME, Row

if TYPE_CHECKING:
    from sim.seeding import PlannedSeeding


class House:
    """A greenhouse in one simulated year; `rows` is what happened so far."""

    def __init__(self, plan: Plan, luck: Luck) -> None:
        scenario = plan.scenario
        self.plan, self.luck, self.timetable = plan, luck, plan.timetable
        self.clock = Clock()
        self.rows: list[Row] = []
        self.note = self.rows.append  # called thousands of times a year
        self.tasks = {n: (t.minutes_each, t.setup_minutes) for n, t in scenario.tasks.items()}
        self.board = Board({name: task.priority for name, task in scenario.tasks.items()})
        self._agenda: list[list[Callable[[], None]]] = [[] for _ in range(plan.timetable.days + 1)]
        self._freeing = False
        self.rooms = {name: Room(name, place, self) for name, place in scenario.places.items()}
        self.store = Store(scenario.cold_store, list(scenario.crops), self)
        self.fields = {crop: Field(crop, self) for crop in scenario.crops}
        self.roll = roll_call(plan, luck)
        self._dispatches: dict[int, Dispatch | Handout] = {}
        self._crews = [Crew(self) for _ in scenario.crews]
        self.staffed_until = 0.0
        self.changes = 0
        if scenario.benches:
            set_up(self, scenario.benches)

    def run(self) -> list[Row]:
        """Run to the end; an event exactly at the end is not part of it (rule T2)."""
        reach, crews, agenda = self.clock.reach, self._crews, self._agenda
        for time, then, stop in self.plan.timeline:
            reach(time, then)
            if isinstance(stop, ShiftPlan):
                crews[stop.crew].begin(stop)
            elif not isinstance(stop, Midnight):
                self._pass(stop)
            elif stop.busy or agenda[stop.day]:
                self._begin_day(stop)
        self.store.expire()
        rows = self.rows
        rows += self.plan.shift_rows(self.roll)
        rows.sort(key=itemgetter(TIME))
        self._close()
        return rows

    def _close(self) -> None:
        """Let go of everything: nothing is left to the garbage collector, which is slow."""
        self.clock.close()
        self.__dict__.clear()

    def on_day(self, day: int, step: Callable[[], None]) -> None:
        """Do something at 00:00 of a day, today's if it is not over."""
        if day < self.timetable.days:  # at the end only what happened before it counts
            self._agenda[day].append(step)

    def stir(self) -> None:
        """Something changed: crews at work may find something to do."""
        self.changes += 1
        if self.clock.time < self.staffed_until:
            for crew in self._crews:
                crew.stir()

    def stock_changed(self, crop: str) -> None:
        """Heads left the cold store: open requests may want more, and there is space."""
        self.fields[crop].reckon()
        self.stir()
        self.do_free_steps()

    def do_free_steps(self) -> None:
        """Do all steps that need nobody, the oldest first, until none is left that can proceed."""
        if self._freeing:
            return
        self._freeing = True
        while self._free_step():
            pass
        self._freeing = False

    def _free_step(self) -> bool:
        for job in self.board.free:
            units = job.workable()
            if units > 0:
                job.begin(units)("", 0.0)
                return True
        return False

    def _begin_day(self, midnight: Midnight) -> None:
        day = midnight.day
        for seeding in midnight.seedings:
            self._seed(seeding)
        if midnight.check:
            self._check(day)
        while True:
            steps, self._agenda[day] = self._agenda[day], []
            for step in steps:
                step()
            if self.board.free:
                self.do_free_steps()
            if not self._agenda[day]:  # a step may have added another for today
                return

    def _seed(self, seeding: PlannedSeeding) -> None:
        job = SeedJob(self, seeding)
        self.board.add(job)
        self.on_day(seeding.day + self.plan.scenario.cadence.late_days + 1, job.lapse)

    def _check(self, day: int) -> None:
        job = Check(self, self.plan.scenario.daily_checks_by, day)
        self.board.add(job)
        self.on_day(day + 1, lambda: self.board.remove(job))

    def _pass(self, moment: Moment) -> None:
        """Open a harvest request, or let a delivery leave."""
        if moment.opens:
            dispatch = self._dispatches[moment.number] = self._dispatch(moment.leaving)
            dispatch.open()
        else:
            self._dispatches.pop(moment.number).leave()
        if self.board.free:
            self.do_free_steps()

    def _dispatch(self, leaving: Leaving | SurplusDay) -> Dispatch | Handout:
        field = self.fields[leaving.crop]
        return Dispatch(leaving, field) if isinstance(leaving, Leaving) else Handout(leaving, field)


class Check(Job):
    """The daily checks of one day."""

    __slots__ = ()

    def workable(self) -> int:
        """Once a day."""
        return 1

    def begin(self, units: int) -> Complete:
        """Do them."""
        self.house.board.remove(self)
        return partial(self._complete, units)

    def _complete(self, units: int, crew: str, minutes: float) -> None:
        house = self.house
        house.note(
            (house.clock.time, "checked", "", "", "", "", crew, "", units, 0, minutes, 0.0, "")
        )


def run_year(plan: Plan, seed: int, replication: int) -> list[Row]:
    """The rows of one simulated year, in order of time."""
    return House(plan, Luck(seed, replication)).run()
