"""The rooms put together, and one simulated year."""

from __future__ import annotations

from collections.abc import Callable, Generator
from operator import itemgetter
from typing import TYPE_CHECKING

import simpy

from sim.draws import Luck
from sim.greenhouse.batch import SeedJob
from sim.greenhouse.cold_store import Store
from sim.greenhouse.crews import Crew, roll_call
from sim.greenhouse.deliveries import Dispatch, Field, Handout
from sim.greenhouse.jobs import Board, Complete, Job
from sim.greenhouse.places import Room
from sim.greenhouse.plan import Plan
from sim.order_book import Leaving, SurplusDay
from sim.records import TIME, Row

if TYPE_CHECKING:
    from sim.seeding import PlannedSeeding


class House:
    """A greenhouse in one simulated year; `rows` is what happened so far."""

    def __init__(self, plan: Plan, luck: Luck) -> None:
        scenario = plan.scenario
        self.plan, self.luck, self.timetable = plan, luck, plan.timetable
        self.env = simpy.Environment()
        self.rows: list[Row] = []
        self.tasks = {n: (t.minutes_each, t.setup_minutes) for n, t in scenario.tasks.items()}
        self.board = Board({name: task.priority for name, task in scenario.tasks.items()})
        self._agenda: dict[int, list[Callable[[], None]]] = {}
        self._freeing = False
        self.asleep: list[Crew] = []
        self.rooms = {name: Room(name, place, self) for name, place in scenario.places.items()}
        self.store = Store(scenario.cold_store, list(scenario.crops), self)
        self._fields = {crop: Field(crop, self) for crop in scenario.crops}
        self.roll = roll_call(plan, luck)
        self._fill_agenda()
        self.env.process(self._midnights())
        self.env.process(self._leavings())
        for number in range(len(scenario.crews)):
            Crew(number, self)

    def _fill_agenda(self) -> None:
        for seeding in self.plan.seedings:
            self.on_day(seeding.day, lambda seeding=seeding: self._seed(seeding))  # type: ignore[misc]
        for day in self.plan.check_days:
            self.on_day(day, lambda day=day: self._check(day))  # type: ignore[misc]

    def run(self) -> list[Row]:
        """Run to the end; an event exactly at the end is not part of it (rule T2)."""
        self.env.run(until=self.timetable.days)
        self.store.expire()
        self._record_shifts()
        self.rows.sort(key=itemgetter(TIME))
        return self.rows

    def on_day(self, day: int, step: Callable[[], None]) -> None:
        """Do something at 00:00 of a day."""
        self._agenda.setdefault(day, []).append(step)

    def field(self, crop: str) -> Field:
        """The ready heads of a crop."""
        return self._fields[crop]

    def record(  # noqa: PLR0917 - one argument per column, by how often it is given
        self, kind: str, batch: str, crop: str, place: str, number: int = 0, since: float = 0.0,
        cause: str = "", containers: int = 0, crew: str = "", minutes: float = 0.0,
        customer: str = "", to: str = "", at: float | None = None,
    ) -> None:  # fmt: skip
        """Append one row, of now unless `at` names another time [d]."""
        self.rows.append(
            (self.env.now if at is None else at, kind, batch, crop, place, to, crew, customer,
             number, containers, minutes, since, cause)
        )  # fmt: skip

    def stir(self) -> None:
        """Something changed: wake the crews that wait."""
        if self.asleep:
            for crew in self.asleep[:]:
                crew.wake()

    def stock_changed(self, crop: str) -> None:
        """Heads left the cold store: open requests may want more, and there is space."""
        self._fields[crop].reckon()
        self.stir()
        self.do_free_steps()

    def do_free_steps(self) -> None:
        """Do all steps that need nobody, until none is left that can proceed."""
        if self._freeing:
            return
        self._freeing = True
        moved = True
        while moved:
            moved = False
            for job in list(self.board.free):
                units = job.workable() if job.listed else 0
                if units > 0:
                    job.begin(units)("", 0.0)
                    moved = True
        self._freeing = False

    def _midnights(self) -> Generator[simpy.Event, None, None]:
        for day in range(self.timetable.days):
            for step in self._agenda.pop(day, ()):
                step()
            if self.board.free:
                self.do_free_steps()
            yield self.env.timeout(1)

    def _seed(self, seeding: PlannedSeeding) -> None:
        job = SeedJob(self, seeding)
        self.board.add(job)
        self.on_day(seeding.day + self.plan.scenario.cadence.late_days + 1, job.lapse)

    def _check(self, day: int) -> None:
        job = Check(self, self.plan.scenario.daily_checks_by, day)
        self.board.add(job)
        self.on_day(day + 1, lambda: self.board.remove(job))

    def _leavings(self) -> Generator[simpy.Event, None, None]:
        """Open each harvest request, and let each delivery leave, in order of time."""
        dispatches: dict[int, Dispatch | Handout] = {}
        for moment in self.plan.moments:
            if moment.time > self.env.now:
                yield self.env.timeout(moment.time - self.env.now)
            if moment.opens:
                dispatch = dispatches[moment.number] = self._dispatch(moment.leaving)
                dispatch.open()
            else:
                dispatches.pop(moment.number).leave()
            if self.board.free:
                self.do_free_steps()

    def _dispatch(self, leaving: Leaving | SurplusDay) -> Dispatch | Handout:
        field = self._fields[leaving.crop]
        return Dispatch(leaving, field) if isinstance(leaving, Leaving) else Handout(leaving, field)

    def _record_shifts(self) -> None:
        for plan, present in zip(self.plan.shifts, self.roll, strict=True):
            shift = plan.shift
            self.rows.append(
                (shift.end, "shift", "", "", "", "", shift.crew, "", present, 0,
                 present * shift.minutes_each, shift.start, "")
            )  # fmt: skip


class Check(Job):
    """The daily checks of one day."""

    def workable(self) -> int:
        """Once a day."""
        return 1

    def begin(self, units: int) -> Complete:
        """Do them."""
        self.house.board.remove(self)
        return lambda crew, minutes: self.house.record(
            "checked", "", "", "", units, crew=crew, minutes=minutes
        )


def run_year(plan: Plan, seed: int, replication: int) -> list[Row]:
    """The rows of one simulated year, in order of time."""
    return House(plan, Luck(seed, replication)).run()
