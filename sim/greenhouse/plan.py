"""What is the same in every simulated year, worked out once for a scenario."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import accumulate, groupby, pairwise
from math import floor
from operator import attrgetter
from typing import NamedTuple

from sim.draws import StageDays, Stand, attendance_table, name_key
from sim.order_book import Leaving, SurplusDay, leavings, surplus_days
from sim.parts import MONTHS, Crop, Stage
from sim.records import Row
from sim.scenario import Scenario
from sim.seeding import PlannedSeeding, seeding_list, whole_list
from sim.timetable import DatedShift, Timetable

TICK = 1e-7  # a stint ends this much before its shift or its delivery's leaving [d]: 9 ms


class StagePlan:
    """A stage made ready for drawing: length, stand, rare event, pace."""

    def __init__(self, stage: Stage, timetable: Timetable) -> None:
        self.stage = stage
        self.next: StagePlan | None = None
        self.place = stage.place
        self.task = stage.moved_in_by
        self.keep_days = stage.keep_days
        self.loss_cause = stage.loss_cause
        self.days = StageDays(stage.days, stage.days_sd, stage.days_shape)
        self.stand = Stand(1.0 - stage.loss_percent / 100.0, stage.loss_sd_points / 100.0)
        self.cull = stage.move_loss_percent / 100.0
        self.cull_cause = stage.move_loss_cause
        event = stage.bad_event
        self.event_share = event.percent_of_batches / 100.0 if event else 0.0
        self.event_loss = event.loss_percent / 100.0 if event else 0.0
        self.event_cause = event.cause if event else ""
        self._before = timetable.before
        self._progress = self._season(timetable) if stage.pace_percent else []

    def _season(self, timetable: Timetable) -> list[float]:
        pace = [self.stage.pace_percent.get(month, 100.0) / 100.0 for month in MONTHS]
        numbers = range(-self._before, timetable.days + 1)
        days = (timetable.start + timedelta(days=n) for n in numbers)
        return [0.0, *accumulate(pace[day.month - 1] for day in days)]

    def finished(self, placed: int, length: float) -> int:
        """The day at whose 00:00 a part placed on day `placed` is finished (rules C3, C4) [d]."""
        if self._progress:
            placed += self._before
            goal = self._progress[placed] + length
            later = bisect_left(self._progress, goal)
            if later == len(self._progress):
                return later + 1  # after the end of the run
            before = self._progress[later - 1]
            length = later - 1 + (goal - before) / (self._progress[later] - before) - placed
            placed -= self._before
        return placed + max(1, floor(length + 0.5))

    def grown(self, placed: int) -> float:
        """How far plants placed on day `placed` have come by the start of the run [days].

        In days of a pace of 100 %; half a day less than all, since lengths are rounded.
        """
        if not self._progress:
            return -placed - 0.5
        now = self._progress[self._before]
        last = self._progress[self._before - 1]
        return now - self._progress[placed + self._before] - 0.5 * (now - last)


class CropPlan:
    """A crop made ready for drawing."""

    def __init__(self, name: str, crop: Crop, timetable: Timetable) -> None:
        self.name = name
        self.key = name_key(name)
        self.stages = [StagePlan(stage, timetable) for stage in crop.stages]
        for stage, following in pairwise(self.stages):
            stage.next = following
        self.harvest_task = crop.harvested_by
        self.when_ready = crop.harvest == "when ready"


Who = tuple[int, int, int]  # crew, date, and which eight shifts of the day


@dataclass(slots=True)
class ShiftPlan:
    """A dated shift made ready: its attendance, and who else is at work.

    `place` says where its attendance stands among eight random numbers, `table` holds the
    cumulative chances of 0, 1, ... people present. `alone` is False if another crew is at work at
    the same time. `turns` are the tasks to look for, in turn (rule W4). `time` is when the crew
    looks for work, those that begin together in the file's order; `last` is when its last stint
    must have ended [d]. `staffed_until` is the latest `last` of the shifts begun so far [d].
    """

    shift: DatedShift
    number: int
    crew: int
    place: int
    table: tuple[float, ...]
    alone: bool
    turns: tuple[frozenset[str], ...]
    time: float
    last: float
    staffed_until: float
    _rows: dict[int, Row] = field(default_factory=dict)

    def row(self, present: int) -> Row:
        """The shift's row when so many are present, made once for all years."""
        row = self._rows.get(present)
        if row is None:
            shift = self.shift
            row = self._rows[present] = (
                shift.end, "shift", "", "", "", "", shift.crew, "", present, 0,
                present * shift.minutes_each, shift.start, "",
            )  # fmt: skip
        return row


class Midnight(NamedTuple):
    """00:00 of a day [d], with the seedings of that day and whether its checks are to be done.

    `busy` says whether there is either.
    """

    time: float
    day: int
    seedings: list[PlannedSeeding]
    check: bool
    busy: bool


class Moment(NamedTuple):
    """When a harvest request opens, or its delivery leaves [d]."""

    time: float
    opens: bool
    number: int
    leaving: Leaving | SurplusDay


class Plan:
    """A scenario worked out: days, shifts, deliveries, seedings. Shared by all replications."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.timetable = Timetable(scenario)
        self.leavings: list[Leaving] = leavings(scenario, self.timetable)
        self.seedings: list[PlannedSeeding] = seeding_list(self.timetable, self.leavings)
        past = whole_list(self.timetable) if scenario.benches else []
        self.past = {s.batch: s for s in past if s.day < 0}  # seeded before the run
        self.crops = {
            name: CropPlan(name, crop, self.timetable) for name, crop in scenario.crops.items()
        }
        self.shifts = _with_company(self.timetable.shifts)
        self.full_roll = [s.shift.people for s in self.shifts]
        self._full_rows = [s.row(s.shift.people) for s in self.shifts]
        self.uncertain = self._uncertain()
        self.timeline = self._timeline()

    def _timeline(self) -> list[tuple[float, float, Midnight | Moment | ShiftPlan]]:
        """What is known to happen, each with its time and that of what follows [d].

        Of equal times midnights come first, then openings and leavings, then shifts.
        """
        stops: list[Midnight | Moment | ShiftPlan] = sorted(
            [*self._midnights(), *self._moments(), *self.shifts], key=attrgetter("time")
        )
        times = [stop.time for stop in stops]
        return list(zip(times, [*times[1:], times[-1]], stops, strict=True))

    def _midnights(self) -> list[Midnight]:
        seedings: dict[int, list[PlannedSeeding]] = {}
        for seeding in self.seedings:
            seedings.setdefault(seeding.day, []).append(seeding)
        task, staffed = self.scenario.daily_checks_by, self.timetable.staffed
        found = []
        for day in range(self.timetable.days + 1):  # the last one is the end of the run
            seeded, check = seedings.get(day, []), task is not None and staffed(task, day)
            busy = (bool(seeded) or check) and day < self.timetable.days
            found.append(Midnight(float(day), day, seeded, check, busy))
        return found

    def _moments(self) -> list[Moment]:
        moments: list[Moment] = []
        handouts = surplus_days(self.scenario, self.timetable)
        both: list[Leaving | SurplusDay] = [*self.leavings, *handouts]
        for number, leaving in enumerate(both):
            moments.append(Moment(leaving.opens, True, number, leaving))
            moments.append(Moment(leaving.time, False, number, leaving))
        return sorted(moments, key=attrgetter("time", "number"))

    def _uncertain(self) -> dict[Who, list[ShiftPlan]]:
        """Shifts from which people may be absent, by whose random numbers tell."""
        found: dict[Who, list[ShiftPlan]] = {}
        first = self.timetable.start.toordinal()
        for plan in self.shifts:
            shift = plan.shift
            if shift.absent > 0.0:
                who = (name_key(shift.crew), first + shift.day, shift.number // 8)
                found.setdefault(who, []).append(plan)
        return found

    def shift_rows(self, roll: list[int]) -> list[Row]:
        """One row for each shift, given the people present."""
        rows = self._full_rows.copy()
        for shifts in self.uncertain.values():
            for plan in shifts:
                rows[plan.number] = plan.row(roll[plan.number])
        return rows


def _with_company(shifts: list[DatedShift]) -> list[ShiftPlan]:
    """Find, for each shift, the crews at work at the same time; no shift crosses midnight."""
    plans: list[ShiftPlan] = []
    latest = 0.0
    for _, group in groupby(shifts, key=attrgetter("day")):
        day = list(group)
        for shift in day:
            company = [s.may_do for s in day if s.start < shift.end and shift.start < s.end]
            restricted = shift.may_do - frozenset.intersection(*company)
            turns = (restricted, shift.may_do) if restricted else (shift.may_do,)
            table = attendance_table(shift.people, shift.absent)
            latest = max(latest, shift.end - TICK)
            plans.append(
                ShiftPlan(
                    shift, len(plans), shift.crew_number, shift.number % 8, table,
                    len(company) == 1, turns,
                    shift.start + shift.crew_number * TICK, shift.end - TICK, latest,
                )
            )  # fmt: skip
    return plans
