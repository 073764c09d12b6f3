"""What is the same in every simulated year, worked out once for a scenario."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import accumulate, groupby, pairwise
from math import floor
from operator import attrgetter

from sim.draws import Binomial, StageDays, Stand, attendance_table, identity, name_key
from sim.order_book import Leaving, SurplusDay, leavings, surplus_days
from sim.parts import MONTHS, Crop, Stage
from sim.records import COLD_STORE, Row
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
        self.moved = Binomial(1.0 - self.cull)
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
        days = floor(length + 0.5)
        return placed + days if days > 1 else placed + 1

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


@dataclass(frozen=True, slots=True)
class Sowing:
    """A planned seeding made ready: its crop, its cells, what the luck of each stage hangs on.

    `place` is where its stages stand among those of all planned seedings.
    """

    seeding: PlannedSeeding
    crop: CropPlan
    cells: int
    identities: list[bytes]
    place: slice


@dataclass(slots=True)
class ShiftPlan:
    """A dated shift made ready: its attendance, and who else is at work.

    `place` says where its attendance stands among eight random numbers, `table` holds the
    cumulative chances of 0, 1, ... people present. `alone` is False if another crew is at work at
    the same time. `turns` are the tasks to look for, in turn (rule W4). `time` is when the crew
    looks for work, those that begin together in the file's order; `end` is when it ends, and
    `last` when its last stint must have ended [d].
    """

    shift: DatedShift
    number: int
    crew: int
    place: int
    table: tuple[float, ...]
    alone: bool
    turns: tuple[frozenset[str], ...]
    time: float
    end: float
    last: float
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


# When a shift begins and what follows does [d]; whether it lasts longer than that; its crew.
Begin = tuple[float, float, bool, int, ShiftPlan]


@dataclass(frozen=True, slots=True)
class Midnight:
    """00:00 of a day [d], with the seedings of that day and whether its checks are to be done.

    `busy` says whether there is either.
    """

    time: float
    day: int
    seedings: list[Sowing]
    check: bool
    busy: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """When a harvest request opens, or its delivery leaves [d]; `due` says what is to leave."""

    time: float
    opens: bool
    number: int
    leaving: Leaving | SurplusDay
    due: list[Row]


# A midnight, opening or leaving with its time and that of what follows [d]; the shifts that begin
# before the next one, and whether all are of one crew and end before it.
Stop = tuple[float, float, Midnight | Moment, list[Begin], bool]


class Plan:
    """A scenario worked out: days, shifts, deliveries, seedings. Shared by all replications."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.timetable = Timetable(scenario)
        self.days = self.timetable.days
        self.leavings: list[Leaving] = leavings(scenario, self.timetable)
        self.seedings: list[PlannedSeeding] = seeding_list(self.timetable, self.leavings)
        past = whole_list(self.timetable) if scenario.benches else []
        self.past = {s.batch: s for s in past if s.day < 0}  # seeded before the run
        self.crops = {
            name: CropPlan(name, crop, self.timetable) for name, crop in scenario.crops.items()
        }
        self.tasks: dict[str | None, tuple[float, float]] = {
            name: (task.minutes_each, task.setup_minutes) for name, task in scenario.tasks.items()
        }
        self.shifts = _with_company(self.timetable.shifts)
        self.full_roll = [s.shift.people for s in self.shifts]
        self._by_end = sorted(self.shifts, key=lambda s: s.end)
        self._full_rows = [s.row(s.shift.people) for s in self._by_end]
        self.uncertain = self._uncertain()
        self.sowings: list[Sowing] = []
        self.identities: list[bytes] = []  # of all their stages
        for seeding in self.seedings:
            self.sowings.append(self.sowing(seeding, len(self.identities)))
            self.identities += self.sowings[-1].identities
        self.timeline = self._timeline()

    def sowing(self, seeding: PlannedSeeding, first: int = 0) -> Sowing:
        """A seeding made ready; `first` stages are those of others."""
        crop = self.crops[seeding.crop]
        cells = seeding.trays * self.scenario.places[crop.stages[0].place].sites_each
        slot = crop.key, seeding.week, seeding.entry
        identities = [identity(*slot, number) for number in range(len(crop.stages))]
        return Sowing(seeding, crop, cells, identities, slice(first, first + len(identities)))

    def _timeline(self) -> list[Stop]:
        """What is known to happen.

        Of equal times midnights come first, then openings and leavings, then shifts.
        """
        stops: list[Midnight | Moment | ShiftPlan] = sorted(
            [*self._midnights(), *self._moments(), *self.shifts], key=attrgetter("time")
        )
        found: list[tuple[float, float, Midnight | Moment, list[Begin]]] = []
        for stop, following in zip(stops, [*stops[1:], stops[-1]], strict=True):
            time, then = stop.time, following.time
            if isinstance(stop, ShiftPlan):
                found[-1][3].append((time, then, then < stop.last, stop.crew, stop))
            else:
                found.append((time, then, stop, []))
        return [(*stop, _alike(stop[3])) for stop in found]

    def _midnights(self) -> list[Midnight]:
        seedings: dict[int, list[Sowing]] = {}
        for sowing in self.sowings:
            seedings.setdefault(sowing.seeding.day, []).append(sowing)
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
            due = _due(leaving) if isinstance(leaving, Leaving) else []
            moments.append(Moment(leaving.opens, True, number, leaving, due))
            moments.append(Moment(leaving.time, False, number, leaving, due))
        return sorted(moments, key=attrgetter("time", "number"))

    def _uncertain(self) -> dict[bytes, list[ShiftPlan]]:
        """Shifts from which people may be absent, by what their random numbers hang on."""
        found: dict[bytes, list[ShiftPlan]] = {}
        first = self.timetable.start.toordinal()
        for plan in self.shifts:
            shift = plan.shift
            if shift.absent > 0.0:
                who = identity(name_key(shift.crew), first + shift.day, shift.number // 8, -1)
                found.setdefault(who, []).append(plan)
        return found

    def shift_rows(self, roll: list[int]) -> list[Row]:
        """One row for each shift, by their ends, given the people present."""
        if self.uncertain:
            return [shift.row(roll[shift.number]) for shift in self._by_end]
        return self._full_rows.copy()


def _alike(begins: list[Begin]) -> bool:
    crews = {number for _, _, _, number, _ in begins}
    return len(crews) == 1 and not any(longer for _, _, longer, _, _ in begins)


def _due(leaving: Leaving) -> list[Row]:
    """A row for each delivery, the same in all years."""
    time, crop = leaving.time, leaving.crop
    return [
        (time, "due", "", crop, COLD_STORE, "", "", d.customer, d.heads, 0, 0.0, 0.0, "")
        for d in leaving.deliveries
    ]


def _with_company(shifts: list[DatedShift]) -> list[ShiftPlan]:
    """Find, for each shift, the crews at work at the same time; no shift crosses midnight."""
    plans: list[ShiftPlan] = []
    for _, group in groupby(shifts, key=attrgetter("day")):
        day = list(group)
        for shift in day:
            company = [s.may_do for s in day if s.start < shift.end and shift.start < s.end]
            restricted = shift.may_do - frozenset.intersection(*company)
            turns = (restricted, shift.may_do) if restricted else (shift.may_do,)
            table = attendance_table(shift.people, shift.absent)
            plans.append(
                ShiftPlan(
                    shift, len(plans), shift.crew_number, shift.number % 8, table,
                    len(company) == 1, turns,
                    shift.start + shift.crew_number * TICK, shift.end, shift.end - TICK,
                )
            )  # fmt: skip
    return plans
