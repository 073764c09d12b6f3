"""The dated work of a scenario for people: what is to be done in which shift, by simulation.

The counts are those of many simulated years, divided by the years: they are what is to be
expected, and they add up to all that the simulated years did.

A task is a shift's own if it came up there in at least a third of the years (OFTEN), or if it
seeds or moves a batch and came up in no other shift more often; and if it takes a person-minute
on average (LEAST) or needs nobody. All else is gathered as what may come over from another shift.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from itertools import pairwise

from sim.answers import Answer, about, around, plain
from sim.cautions import CHEMICALS, COLD, COLD_ROOM, STUDENTS
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario
from sim.school_year import MINUTES_PER_DAY, spoken
from sim.school_year import monday as monday_of
from sim.seeding import PlannedSeeding
from sim.timetable import DatedShift
from sim.worklist_sums import Leaving, Name, Spot, Sum, Tally
from sim.worklist_tasks import (
    ForOrder,
    FromBatch,
    WorkDay,
    WorkDelivery,
    WorkShift,
    WorkTask,
    WorkWeek,
)

OFTEN = 1 / 3  # share of the years from which a task is a shift's own
LEAST = 1.0  # person-minutes that a shift's own task takes, unless it needs nobody [min]
Progress = Callable[[int, int, str], None]  # hears years done, all years, a note
_CAUTIONS = {"harvested": (COLD, COLD_ROOM), "washed": (CHEMICALS,)}  # by kind of row
_LEAVING = (COLD, COLD_ROOM)  # cautions where a delivery leaves


def work_of(
    scenario: Scenario,
    *,
    monday: date | None = None,
    today: date,
    years: int = 40,
    seed: int = 1,
    progress: Progress | None = None,
) -> WorkWeek:
    """The work of the week that holds the date `monday`, expected over so many simulated years.

    By default it is the week of `today`, or, if that is no day of the run, the first week with
    something to do. Raises SeedbeatError if `monday` is outside the run, and ScenarioError if no
    whole week can be measured.
    """
    plan = Plan(scenario)
    table = plan.timetable
    first, last = table.start, table.date_of(table.days - 1)
    if monday and not first <= monday <= last:
        raise SeedbeatError(
            f"--week {monday}: must be a day of the run, from {spoken(first, year=True)} to "
            f"{spoken(last, year=True)}, but it is {spoken(monday, year=True)}; choose one between."
        )
    run = Means(_counted(plan, years, seed, progress)).days()
    given = monday or (today if first <= today <= last else None)
    chosen = given or next((day.day for day in run if day.busy), first)
    return WorkWeek(scenario.name, monday_of(chosen), years, seed, run)


def _counted(plan: Plan, years: int, seed: int, progress: Progress | None) -> Tally:
    """The sums of so many simulated years."""
    tally = Tally(plan)
    for replication in range(years):
        tally.add(run_year(plan, seed, replication))
        if progress:
            progress(replication + 1, years, "")
    return tally


def _standing(plan: Plan) -> list[PlannedSeeding]:
    """The seedings of what stood on the benches when the run began."""
    benches = plan.scenario.benches
    rows = benches.standing if benches else ()
    day_of = plan.timetable.day_of
    found = [
        PlannedSeeding(day_of(r.seeded), r.crop, 0, 0, 0, r.batch or f"{r.crop} {r.seeded}")
        for r in rows
    ]
    return [*found, *plan.past.values()]


class Means:
    """The sums of a tally as means of a year, day by day."""

    def __init__(self, tally: Tally) -> None:
        self._tally, self._years = tally, tally.years
        self._scenario, self._table = tally.plan.scenario, tally.plan.timetable
        self._batches = {s.batch: s for s in (*_standing(tally.plan), *tally.plan.seedings)}
        self._usual = self._usual_spots()

    def _usual_spots(self) -> dict[Name, Spot]:
        """The spot where each step of a batch comes up most often, the earliest of equals."""
        usual: dict[Name, tuple[int, Spot]] = {}
        for spot, sums in sorted(self._tally.work.items()):
            for name, total in sums.items():
                if name[2] and total.years > usual.get(name, (0, 0))[0]:
                    usual[name] = total.years, spot
        return {name: spot for name, (_, spot) in usual.items()}

    def days(self) -> tuple[WorkDay, ...]:
        """Every day of the run."""
        shifts: defaultdict[int, list[WorkShift]] = defaultdict(list)
        for spot in sorted(s for s in self._tally.work if s < 0):
            shifts[-1 - spot].append(self._unstaffed(spot))
        for spot, dated in enumerate(self._tally.spots.shifts):
            shifts[dated.day].append(self._shift(spot, dated))
        deliveries: defaultdict[int, list[WorkDelivery]] = defaultdict(list)
        for leaving in sorted({*self._tally.due, *self._tally.surplus}):
            deliveries[int(leaving[0])].append(self._delivery(leaving))
        year, date_of = self._table.school_year, self._table.date_of
        return tuple(
            WorkDay(
                date_of(day), year.kind(date_of(day)), year.closure(date_of(day)),
                tuple(shifts[day]), tuple(deliveries[day]),
            )
            for day in range(self._table.days)
        )  # fmt: skip

    def _shift(self, spot: Spot, dated: DatedShift) -> WorkShift:
        shift = self._scenario.crews[dated.crew].shifts[dated.number]
        own, lesser = self._tasks(spot)
        return WorkShift(
            dated.crew, shift.name, dated.students, shift.starts, shift.ends,
            dated.people * (1.0 - dated.absent), dated.expected_minutes,
            sum(t.minutes for t in (*own, *lesser)),
            self._tally.undone[spot] / self._years, own, lesser,
        )  # fmt: skip

    def _unstaffed(self, spot: Spot) -> WorkShift:
        own, lesser = self._tasks(spot)
        return WorkShift("", "", False, None, None, 0.0, 0.0, 0.0, 0.0, own, lesser)

    def _tasks(self, spot: Spot) -> tuple[tuple[WorkTask, ...], tuple[WorkTask, ...]]:
        """The shift's own tasks, and those that may come over from another one."""
        found = self._tally.work.get(spot, {})
        tasks = [self._task(name, total) for name, total in found.items()]
        own, lesser = (
            sorted((t for t in tasks if self._own(spot, t) == wanted), key=self._urgency)
            for wanted in (True, False)
        )
        return tuple(own), tuple(lesser)

    def _own(self, spot: Spot, task: WorkTask) -> bool:
        """Whether a task is a shift's own or may only come over to it."""
        often = task.years >= OFTEN * self._years or self._usual.get(task.name) == spot
        return often and (task.task is None or task.minutes >= LEAST)

    def _urgency(self, task: WorkTask) -> tuple[int, datetime, tuple[str, ...]]:
        """The order of work: by the task's priority, then the oldest."""
        priority = self._scenario.tasks[task.task].priority if task.task else 0
        seeded = datetime.combine(task.seeded, time.min) if task.seeded else datetime.max
        return priority, min((o.leaves for o in task.orders), default=seeded), task.name

    def _task(self, name: Name, total: Sum) -> WorkTask:
        kind, crop, batch, place, to = name
        seeding = self._batches.get(batch)
        unit = {"moved": "plant", "harvested": "head", "checked": "check"}.get(kind, "")
        container = self._scenario.places[to or place].container if place else ""
        return WorkTask(
            kind, self._task_name(name), crop, batch,
            self._table.date_of(seeding.day) if seeding else None,
            seeding.trays if seeding else None, place, to, unit or container,
            (total.count if unit else total.containers) / self._years, container,
            total.containers / self._years, total.minutes / self._years, total.years,
            self._from_batches(total), self._for_orders(total),
        )  # fmt: skip

    def _task_name(self, name: Name) -> str | None:
        """The scenario's name of a task, None if it needs nobody."""
        kind, crop, _, place, to = name
        if kind == "checked":
            return self._scenario.daily_checks_by
        if kind in ("washed", "cleared"):
            given = self._scenario.places[place]
            return given.washed_by if kind == "washed" else given.cleared_by
        given_crop = self._scenario.crops[crop]
        if kind == "harvested":
            return given_crop.harvested_by
        stages = given_crop.stages
        if kind == "seeded":
            return stages[0].moved_in_by
        steps = pairwise(stages)
        return next(b.moved_in_by for a, b in steps if (a.place, b.place) == (place, to))

    def _from_batches(self, total: Sum) -> tuple[FromBatch, ...]:
        found = [
            FromBatch(batch, self._table.date_of(self._batches[batch].day), heads / self._years)
            for batch, heads in total.batches.items()
        ]
        return tuple(sorted(found, key=lambda b: (b.seeded, b.batch)))

    def _for_orders(self, total: Sum) -> tuple[ForOrder, ...]:
        return tuple(
            ForOrder(customer, self._moment(at), heads / self._years)
            for (at, customer), heads in sorted(total.orders.items())
        )

    def _delivery(self, leaving: Leaving) -> WorkDelivery:
        at, customer, crop = leaving
        tally, years = self._tally, self._years
        ordered = tally.due[leaving] / years if leaving in tally.due else None
        heads = tally.due[leaving] - tally.short[leaving] + tally.surplus[leaving]
        complete = years - tally.incomplete[leaving]
        return WorkDelivery(self._moment(at), customer, crop, ordered, heads / years, complete)

    def _moment(self, at: float) -> datetime:
        """A simulated time [d] as a date and clock time, to the minute."""
        midnight = datetime.combine(self._table.start, time.min)
        return midnight + timedelta(minutes=round(at * MINUTES_PER_DAY))


def worklist_answer(loaded: LoadedScenario, week: WorkWeek, seed: int) -> Answer:
    """Everything `seedbeat worklist` says of a week.

    A task's or a delivery's `cautions` are places in the answer's `cautions`, from 0.
    """
    around_it = around(loaded)
    cautions: list[str] = around_it["cautions"]
    answer = {
        **about(loaded, "worklist"),
        "seed": seed,
        "years": week.years,
        "week_of": week.monday,
        "first_day": week.run[0].day,
        "last_day": week.run[-1].day,
        "next_week": week.next_busy,
        "days": [_day(d, cautions) for d in week.days],
        **around_it,
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _day(day: WorkDay, cautions: list[str]) -> Answer:
    leaving = _places(_LEAVING, cautions)
    return {
        **asdict(day),
        "busy": day.busy,
        "shifts": [_shift(s, cautions) for s in day.shifts],
        "deliveries": [{**asdict(d), "cautions": leaving} for d in day.deliveries],
    }


def _shift(shift: WorkShift, cautions: list[str]) -> Answer:
    listed = {
        name: [
            {**asdict(t), "cautions": _places(_CAUTIONS.get(t.kind, ()), cautions)} for t in tasks
        ]
        for name, tasks in (("tasks", shift.tasks), ("lesser", shift.lesser))
    }
    students = _places((STUDENTS,) if shift.students else (), cautions)
    more = {"wanted": shift.wanted, "over": shift.over, "cautions": students}
    return {**asdict(shift), **more, **listed}


def _places(wanted: tuple[str, ...], cautions: list[str]) -> list[int]:
    return [cautions.index(caution) for caution in wanted if caution in cautions]
