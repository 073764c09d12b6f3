"""What can still be done about weak weeks to come, each thing as a variant of the scenario."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Literal

import numpy as np

from sim.outlook_futures import Ahead, Due, Futures
from sim.parts import IN_SESSION, WEEKDAYS, Crew, Dates, DayKind, Seeding, Shift
from sim.scenario import Scenario
from sim.school_year import MINUTES_PER_DAY, spoken
from sim.timetable import DatedShift

SOON = 14  # days ahead in which something can be done
COVERS = 4  # unstaffed days on which cover is tried
COVER_PEOPLE, COVER_HOURS, COVER_STARTS = 2, 4, time(8)
SEEDING_DAYS = 2  # next seeding days with one tray more
BUSY_DAYS = 2  # busiest days with an hour more of one adult
PAUSES = 3  # deliveries tried, of which one is paused
NOTICE = timedelta(days=7)  # that a customer is told before a delivery that does not come
_REACH = 6  # days by which a seeding is moved at most
_EVERY_DAY: tuple[DayKind, ...] = (*IN_SESSION, "closed")

Kind = Literal["cover", "seed more", "move", "pause", "extra hour"]
Hours = tuple[date, time, time]  # a day, and from when to when


@dataclass(frozen=True)
class Action:
    """Something to do: in words, on which days, and the scenario in which it is done.

    `name` says it shortly, `more` adds to it. `by` is the last day to decide it: the first of its
    days, or when a customer has to be told.
    """

    kind: Kind
    name: str
    more: str
    days: tuple[date, ...]
    by: date
    scenario: Scenario
    person_hours: float = 0.0
    trays: int = 0


class Candidates:
    """The actions that are worth a try.

    `skipped` are seedings of days to come on which nobody is there to seed, `under_cover` says
    whether they are done if somebody comes. `weak` are the weeks to be helped, the weakest first.
    """

    def __init__(
        self, ahead: Ahead, base: Futures, skipped: Sequence[Seeding], *, under_cover: bool
    ) -> None:
        self._ahead, self._base = ahead, base
        self._skipped, self._under_cover = skipped, under_cover
        self._scenario, self._table = ahead.plan.scenario, ahead.table
        self._soon = min(SOON, ahead.days)

    def all(self, weak: Sequence[int]) -> list[Action]:
        """Every action, those of a kind together."""
        return [
            *self._covers(), *self._seed_more(weak), *self._moved(), *self._extra_hours(),
            *self._pauses(weak),
        ]  # fmt: skip

    def _shifts(self) -> dict[date, list[DatedShift]]:
        """The shifts of the days in which something can be done."""
        found: dict[date, list[DatedShift]] = {
            self._table.date_of(day): [] for day in range(self._soon)
        }
        for shift in self._table.shifts:
            if shift.day < self._soon:
                found[self._table.date_of(shift.day)].append(shift)
        return found

    def _covers(self) -> Iterator[Action]:
        """Adults on a day without anybody: closed school days, then Saturdays, then Sundays."""
        empty = [day for day, shifts in self._shifts().items() if not shifts]
        empty.sort(key=lambda day: (max(4, day.weekday()), day))
        ends = COVER_STARTS.replace(hour=COVER_STARTS.hour + COVER_HOURS)
        for day in empty[:COVERS]:
            seeded = [s for s in self._skipped if s.day == day and self._under_cover]
            staffed = self._with_crew(COVER_PEOPLE, [(day, COVER_STARTS, ends)])
            yield Action(
                "cover", f"{COVER_PEOPLE} adults for {COVER_HOURS} hours",
                f"who also seed the {_trays(seeded)} of that day" if seeded else "",
                (day,), day, _added(staffed, seeded),
                float(COVER_PEOPLE * COVER_HOURS), sum(s.trays for s in seeded),
            )  # fmt: skip

    def _with_crew(self, people: int, hours: Sequence[Hours]) -> Scenario:
        """The scenario with a crew of adults more, who may do everything."""
        name = "added adults"
        while name in self._scenario.crews:
            name += "*"
        shifts = tuple(
            Shift(
                weekdays=WEEKDAYS, starts=starts, ends=ends, on=_EVERY_DAY,
                only=(Dates(first_day=day, last_day=day),),
            )
            for day, starts, ends in hours
        )  # fmt: skip
        crews = {**self._scenario.crews, name: Crew(people=people, shifts=shifts)}
        tasks = {
            task: t.model_copy(update={"who": (*t.who, name)}) if t.who else t
            for task, t in self._scenario.tasks.items()
        }
        return self._scenario.model_copy(update={"crews": crews, "tasks": tasks})

    def _seed_more(self, weak: Sequence[int]) -> Iterator[Action]:
        """One tray more on each of the next seeding days of the crop that is short most."""
        short = self._base.short.sum(axis=0)
        of_crop: dict[str, float] = {}
        for due, heads in zip(self._ahead.due, short, strict=True):
            if due.week in weak:
                of_crop[due.crop] = of_crop.get(due.crop, 0.0) + heads
        crop = max(of_crop, key=lambda name: of_crop[name], default=None)
        coming = sorted({s.day for s in self._ahead.plan.seedings if s.crop == crop})
        days = tuple(self._table.date_of(d) for d in coming[:SEEDING_DAYS] if d < self._ahead.days)
        if crop is not None and days:
            more = [Seeding(day=day, crop=crop, trays=1) for day in days]
            times = f"on each of the next {len(days)} seeding days" if len(days) > 1 else ""
            scenario = _added(self._scenario, more)
            name = f"one tray of {crop} more"
            yield Action("seed more", name, times, days, days[0], scenario, trays=len(days))

    def _moved(self) -> Iterator[Action]:
        """The next seeding that is skipped because nobody is there, on the nearest staffed day."""
        last = self._table.date_of(self._soon)
        for s in [s for s in self._skipped if s.day < last][:1]:
            task = self._scenario.crops[s.crop].stages[0].moved_in_by
            near = self._table.nearest_staffed(task, self._table.day_of(s.day), _REACH)
            if near is not None:
                day = self._table.date_of(near)
                name, why = f"seed the {_trays([s])} of {spoken(s.day)}", "when nobody is there"
                scenario = _added(self._scenario, [s.model_copy(update={"day": day})])
                yield Action("move", name, why, (day,), day, scenario, trays=s.trays)

    def _extra_hours(self) -> Iterator[Action]:
        """An hour more of one adult on the busiest days, from the first shift's start on."""
        used = self._base.worked / np.maximum(self._base.there, 1e-9)
        staffed = {day: shifts for day, shifts in self._shifts().items() if shifts}
        busiest = sorted(staffed, key=lambda d: (-used[self._table.day_of(d)], d))[:BUSY_DAYS]
        hours = [_hour_from(min(s.start for s in staffed[d]), d) for d in sorted(busiest)]
        if hours:
            days = tuple(day for day, _, _ in hours)
            name, which = "one adult more for an hour", "on the busiest of the next days"
            staffed_more = self._with_crew(1, hours)
            yield Action("extra hour", name, which, days, days[0], staffed_more, float(len(days)))

    def _pauses(self, weak: Sequence[int]) -> Iterator[Action]:
        """A delivery of a weak week that does not leave: the largest, or the one short most."""
        short, due = self._base.short.mean(axis=0), self._ahead.due
        found: dict[int, Due] = {}
        for week in weak:
            there = [n for n, d in enumerate(due) if d.week == week]
            for n in (
                max(there, key=lambda n: due[n].heads),
                max(there, key=lambda n: float(short[n])),
            ):
                found.setdefault(n, due[n])
        for one in list(found.values())[:PAUSES]:
            day = one.leaves.date()
            told = max(self._table.start, day - NOTICE)
            heads = f"{one.heads:,} heads of {one.crop}"
            scenario = _paused(self._scenario, one)
            yield Action("pause", f"pause {one.customer}", heads, (day,), told, scenario)


def _trays(seedings: Sequence[Seeding]) -> str:
    """Trays in words: "4 trays of lettuce"."""
    told = [f"{s.trays} tray{'s' if s.trays > 1 else ''} of {s.crop}" for s in seedings]
    return " and ".join(told)


def _added(scenario: Scenario, seedings: Sequence[Seeding]) -> Scenario:
    """The scenario with seedings by hand more."""
    added = (*scenario.cadence.added, *seedings)
    cadence = scenario.cadence.model_copy(update={"added": added})
    return scenario.model_copy(update={"cadence": cadence})


def _hour_from(start: float, day: date) -> Hours:
    """The hour that begins at a time [d], or the last hour of the day."""
    minute = min(round(start % 1 * MINUTES_PER_DAY), MINUTES_PER_DAY - 61)
    begins = datetime.combine(day, time(minute // 60, minute % 60))
    return day, begins.time(), (begins + timedelta(hours=1)).time()


def _paused(scenario: Scenario, due: Due) -> Scenario:
    """The scenario in which a customer gets nothing of a crop on the day of one delivery."""
    pause = Dates(first_day=due.leaves.date(), last_day=due.leaves.date())
    orders = tuple(
        o.model_copy(update={"paused": (*o.paused, pause)})
        if (o.customer, o.crop) == (due.customer, due.crop)
        else o
        for o in scenario.orders
    )
    return scenario.model_copy(update={"orders": orders})
