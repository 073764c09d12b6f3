"""The work of a term as an iCalendar file (RFC 5545), to open with a phone's calendar.

One event for each seeding, move, harvest and delivery. Work stands in the shift where most of it
is to be expected; its description says where else. Clock times are local ones without a zone
("floating", RFC 5545, 3.3.5), as the scenario's are. An event is the same (UID) as long as the
scenario's name, its kind and its batch or leaving are, so that a later plan of the same name
replaces an earlier one. DTSTAMP is 00:00 UTC of the run's first day: the same scenario gives the
same bytes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from sim.answers import plain
from sim.cautions import COLD, COLD_ROOM, ESTIMATES
from sim.school_year import spoken
from sim.telling import Answer, whole
from sim.telling_worklist import clock, delivery, many, period, what
from sim.worklist_tasks import WorkDay, WorkDelivery, WorkShift, WorkTask, WorkWeek

if TYPE_CHECKING:
    from icalendar import Calendar

_OURS = UUID("5b3c2b0e-6a8f-4f0c-9a55-2f6d8f1f7c41")  # the space of names of these events
_STAYS = timedelta(minutes=15)  # how long a delivery's leaving stands in the calendar
_WORTH = 0.05  # share of a step from which another shift of it is told


@dataclass(frozen=True, slots=True)
class Place:
    """When a step can be done: a shift of a day, how much [units, min], in how many years."""

    day: WorkDay
    shift: WorkShift
    amount: float
    minutes: float
    years: int


@dataclass(frozen=True, slots=True)
class _Event:
    key: tuple[str, ...]
    start: datetime | date
    end: datetime | date
    summary: str
    lines: tuple[str, ...]

    @property
    def day(self) -> date:
        return self.start.date() if isinstance(self.start, datetime) else self.start


def calendar(week: WorkWeek, weeks: int | None = None) -> bytes:
    """The events from a week's Monday on, of so many weeks or to the end of the run."""
    from icalendar import Calendar  # noqa: PLC0415 - needed for this file only

    book = Calendar()
    book.add("prodid", "-//seedbeat//work list//EN")
    book.add("version", "2.0")
    book.add("x-wr-calname", f"{week.scenario}: greenhouse work")
    last = week.monday + timedelta(weeks=weeks) if weeks else date.max
    for event in sorted(_events(week), key=lambda e: (e.day, str(e.start), e.key)):
        if week.monday <= event.day < last:
            _add(book, event, week)
    return bytes(book.to_ical())


def _add(book: Calendar, event: _Event, week: WorkWeek) -> None:
    from icalendar import Event  # noqa: PLC0415

    entry = Event()
    entry.add("uid", str(uuid5(_OURS, "\n".join((week.scenario, *event.key)))))
    entry.add("dtstamp", datetime.combine(week.run[0].day, time.min, UTC))
    entry.add("dtstart", event.start)
    entry.add("dtend", event.end)
    entry.add("summary", event.summary)
    entry.add("description", "\n".join(event.lines))
    book.add_component(entry)


def _events(week: WorkWeek) -> Iterator[_Event]:
    steps: defaultdict[tuple[str, ...], list[tuple[WorkTask, Place]]] = defaultdict(list)
    cuts: defaultdict[tuple[str, datetime], list[tuple[WorkTask, Place]]] = defaultdict(list)
    for day in week.run:
        for shift, task in day.all_tasks:
            if task.batch:
                place = Place(day, shift, task.amount, task.minutes, task.years)
                steps[task.name].append((task, place))
            for leaves in sorted({o.leaves for o in task.orders}):
                heads = sum(o.heads for o in task.orders if o.leaves == leaves)
                minutes = task.minutes * heads / task.amount
                place = Place(day, shift, heads, minutes, task.years)
                cuts[task.crop, leaves].append((task, place))
        yield from (_delivery(d) for d in day.deliveries)
    for found in steps.values():
        yield _step(found, week.years)
    for (crop, leaves), found in cuts.items():
        yield _harvest(crop, leaves, found, week.years)


def _step(found: list[tuple[WorkTask, Place]], years: int) -> _Event:
    """The event of seeding or moving a batch."""
    task, places = found[0][0], [place for _, place in found]
    whole_task = replace(
        task,
        amount=sum(p.amount for p in places),
        containers=sum(t.containers for t, _ in found),
        minutes=sum(p.minutes for p in places),
    )
    usual = _usual(places)
    words = what(plain(asdict(whole_task)), {"day": usual.day.day.isoformat()})
    return _event(task.name, usual, words, _places(places, task.unit, years))


def _harvest(
    crop: str, leaves: datetime, found: list[tuple[WorkTask, Place]], years: int
) -> _Event:
    """The event of harvesting a crop for what leaves at one time."""
    places = [place for _, place in found]
    heads: defaultdict[str, float] = defaultdict(float)
    for task, _ in found:
        for order in task.orders:
            if order.leaves == leaves:
                heads[order.customer] += order.heads
    at = f"{spoken(leaves.date())} {clock(str(leaves))}"
    words = f"Harvest {many(sum(heads.values()), 'head')} of {crop} to leave {at}"
    shares = ", ".join(f"{customer} ({whole(n)})" for customer, n in heads.items())
    lines = (f"For {shares}; the oldest first.", *_places(places, "head", years), COLD, COLD_ROOM)
    return _event(("harvested", crop, leaves.isoformat()), _usual(places), words, lines)


def _delivery(d: WorkDelivery) -> _Event:
    key = ("delivered", d.customer, d.crop, d.leaves.isoformat())
    told: Answer = plain(asdict(d))
    lines = (ESTIMATES, COLD, COLD_ROOM)
    return _Event(key, d.leaves, d.leaves + _STAYS, delivery(told), lines)


def _usual(places: list[Place]) -> Place:
    """Where most of a step is to be expected, the earliest of equals."""
    return max(places, key=lambda p: p.amount)


def _event(key: tuple[str, ...], at: Place, summary: str, lines: tuple[str, ...]) -> _Event:
    day, shift = at.day.day, at.shift
    if shift.starts is None or shift.ends is None:
        return _Event(key, day, day + timedelta(days=1), summary, lines)
    start, end = datetime.combine(day, shift.starts), datetime.combine(day, shift.ends)
    return _Event(key, start, end, summary, lines)


def _places(places: list[Place], unit: str, years: int) -> tuple[str, ...]:
    """How long a step takes, and which share of it is to be expected where."""
    total = sum(p.amount for p in places)
    minutes = sum(p.minutes for p in places)
    lines = [f"{whole(minutes)} person-minutes. {ESTIMATES}"] if minutes else [ESTIMATES]
    for p in places:
        if p.amount >= _WORTH * total:
            when = f"{spoken(p.day.day)}, {_period(p.shift)}"
            lines.append(f"{when}: {many(p.amount, unit)}, in {p.years} of {years} years")
    return tuple(lines)


def _period(shift: WorkShift) -> str:
    times: Answer = {"starts": shift.starts, "ends": shift.ends}
    return period(plain({"crew": shift.crew, "name": shift.name, **times}))
