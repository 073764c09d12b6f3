"""The rooms put together, and one simulated year."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from operator import itemgetter

from sim.draws import Luck
from sim.greenhouse.batch import SeedJob
from sim.greenhouse.clock import Clock
from sim.greenhouse.cold_store import Store
from sim.greenhouse.crews import Crew, roll_call
from sim.greenhouse.deliveries import Dispatch, Field, Handout
from sim.greenhouse.jobs import Board, Complete, Job
from sim.greenhouse.places import Room
from sim.greenhouse.plan import Midnight, Moment, Plan, Sowing
from sim.greenhouse.standing import set_up
from sim.measures import by_kind
from sim.order_book import Leaving
from sim.records import TIME, Row

_time = itemgetter(TIME)


class House:
    """A greenhouse in one simulated year; `rows` is what happened so far."""

    def __init__(self, plan: Plan, luck: Luck) -> None:
        scenario = plan.scenario
        self.plan, self.luck, self.timetable = plan, luck, plan.timetable
        self.clock = Clock()
        self.rows: list[Row] = []
        self.tasks: dict[str | None, tuple[float, float]] = plan.tasks
        self.board = Board({name: task.priority for name, task in scenario.tasks.items()})
        self._agenda: dict[int, list[Callable[[], None]]] = {}  # steps at 00:00 by day
        self._freeing = False
        self.rooms = {name: Room(name, place, self) for name, place in scenario.places.items()}
        self.store = Store(scenario.cold_store, list(scenario.crops), self)
        self.fields = {crop: Field(crop, self) for crop in scenario.crops}
        self.roll = roll_call(plan, luck)
        self._drawn = luck.each(plan.identities)
        self._dispatches: dict[int, Dispatch | Handout] = {}
        self._crews = [Crew(self) for _ in scenario.crews]
        self.watched = False  # whether a crew may be there that waits for work
        self.changes = 0
        if scenario.benches:
            set_up(self, scenario.benches)

    def run(self) -> tuple[list[Row], list[Row]]:
        """What happened, and the shifts by their ends.

        An event exactly at the end is not part of it (rule T2). A shift is passed over if its crew
        found nothing to do before, and nothing changes in it.
        """
        reach, alarms, crews = self.clock.reach, self.clock.alarms, self._crews
        for at, after, stop, begins, alike in self.plan.timeline:
            reach(at, after)
            if isinstance(stop, Moment):
                self._pass(stop)
            elif stop.busy or stop.day in self._agenda:
                self._begin_day(stop)
            for time, then, longer, number, shift in begins:
                crew = crews[number]
                if crew.seen != self.changes or alarms or longer:
                    reach(time, then)
                    crew.begin(shift)
                elif alike:
                    break
        self.store.expire()
        rows, shifts = self.rows, self.plan.shift_rows(self.roll)
        self._close()
        return rows, shifts

    def _close(self) -> None:
        """Let go of everything: nothing is left to the garbage collector, which is slow."""
        self.clock.close()
        self.__dict__.clear()

    def on_day(self, day: int, step: Callable[[], None]) -> None:
        """Do something at 00:00 of a day, today's if it is not over."""
        if day < self.plan.days:  # at the end only what happened before it counts
            self._agenda.setdefault(day, []).append(step)

    def stir(self) -> None:
        """Something changed: crews at work may find something to do."""
        self.changes += 1
        if self.watched:
            self.wake()

    def wake(self) -> None:
        """Let crews that wait look whether there is work."""
        for crew in self._crews:
            crew.stir()

    def stock_changed(self, crop: str) -> None:
        """Heads left the cold store: open requests may want more, and there is space."""
        self.fields[crop].reckon()
        self.stir()
        if self.board.free:
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
        day, agenda = midnight.day, self._agenda
        self.watched = False  # no shift crosses midnight
        for sowing in midnight.seedings:
            self._seed(sowing)
        if midnight.check:
            self._check(day)
        while True:
            for step in agenda.pop(day, ()):
                step()
            if self.board.free:
                self.do_free_steps()
            if day not in agenda:  # a step may have added another for today
                return

    def _seed(self, sowing: Sowing) -> None:
        job = SeedJob(self, sowing, self._drawn[sowing.place].tolist())
        self.board.add(job)
        self.on_day(sowing.seeding.day + self.plan.scenario.cadence.late_days + 1, job.lapse)

    def _check(self, day: int) -> None:
        job = Check(self, self.plan.scenario.daily_checks_by, day)
        self.board.add(job)
        self.on_day(day + 1, lambda: self.board.remove(job))

    def _pass(self, moment: Moment) -> None:
        """Open a harvest request, or let a delivery leave."""
        if moment.opens:
            dispatch = self._dispatches[moment.number] = self._dispatch(moment)
            dispatch.open()
        else:
            self._dispatches.pop(moment.number).leave()
        if self.board.free:
            self.do_free_steps()

    def _dispatch(self, moment: Moment) -> Dispatch | Handout:
        leaving, field = moment.leaving, self.fields[moment.leaving.crop]
        if isinstance(leaving, Leaving):
            return Dispatch(leaving, moment.due, field)
        return Handout(leaving, field)


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
        house.rows.append(
            (house.clock.time, "checked", "", "", "", "", crew, "", units, 0, minutes, 0.0, "")
        )


def run_year(plan: Plan, seed: int, replication: int) -> list[Row]:
    """The rows of one simulated year, in order of time."""
    rows, shifts = House(plan, Luck(seed, replication)).run()
    rows += shifts
    rows.sort(key=_time)
    return rows


def run_by_kind(plan: Plan, seed: int, replication: int) -> dict[str, list[Row]]:
    """The rows of one simulated year by their kinds, each in order of time."""
    rows, shifts = House(plan, Luck(seed, replication)).run()
    rows.sort(key=_time)
    return by_kind(rows) | {"shift": shifts}
