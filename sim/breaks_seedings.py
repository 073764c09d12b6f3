"""Dated seeding lists around a closure: written into a scenario, under a rule, and what changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sim.breaks_calendar import Closure
from sim.collisions import Collision, collisions, finished, last_seeding_for
from sim.order_book import Leaving, leavings
from sim.parts import WEEKDAYS, BreakRule, CadenceLine, Seeding
from sim.scenario import Scenario
from sim.school_year import monday, weekday
from sim.seeding import PlannedSeeding, seeding_list
from sim.timetable import Timetable

Seedings = list[PlannedSeeding]
Slot = tuple[str, int, int]
Fate = Literal["skipped", "waits", "lost"]
What = Literal["add", "skip", "move"]

_FATES: dict[bool, Fate] = {False: "waits", True: "lost"}


def listed(scenario: Scenario, rule: BreakRule | None = None) -> Seedings:
    """The dated seedings of a scenario's lines, under its own break rule unless one is given."""
    own = scenario.cadence
    change = {"added": (), "break_rule": rule or own.break_rule}
    scenario = scenario.model_copy(update={"cadence": own.model_copy(update=change)})
    table = Timetable(scenario)
    return seeding_list(table, leavings(scenario, table))


def slot(seeding: PlannedSeeding) -> Slot:
    """Crop, week and entry: what a seeding's luck hangs on."""
    return seeding.crop, seeding.week, seeding.entry


def same_seedings(one: Seedings, other: Seedings) -> bool:
    """Whether two lists seed the same trays on the same days, with the same luck."""
    first, second = ({(slot(s), s.day, s.trays) for s in seedings} for seedings in (one, other))
    return first == second


def dated(
    scenario: Scenario, seedings: Iterable[PlannedSeeding], added: Sequence[Seeding] = ()
) -> Scenario:
    """The scenario with these dated seedings for its lines, less those that nobody is there for.

    A seeding keeps its slot, and so its luck, unless it moved to another week, or another of the
    same crop and week is not among them. The scenario's seedings by hand stay, with the `added`
    ones after them.
    """
    first, own = scenario.start.toordinal(), scenario.cadence
    rows = []
    for s in seedings:
        day = date.fromordinal(first + s.day)
        moved = monday(day).toordinal() // 7 != s.week
        rows.append((moved, s.crop, s.week, s.entry, day, s.trays))
    change = {
        "lines": tuple(_line(crop, e, day, trays) for _, crop, _, e, day, trays in sorted(rows)),
        "break_rule": "if staffed",
        "skipped": (),
        "added": (*own.added, *added),
    }
    return scenario.model_copy(update={"cadence": own.model_copy(update=change)})


def _line(crop: str, entry: int, day: date, trays: int) -> CadenceLine:
    """A line of one day; weekdays that never come make the day's entry what it was."""
    before = WEEKDAYS[: min(entry % len(WEEKDAYS), day.weekday())]
    by_day = {**dict.fromkeys(before, 1), weekday(day): trays}
    return CadenceLine(crop=crop, trays=by_day, first_day=day, last_day=day)


def under_rule(usual: Seedings, open_: Scenario, closed: Scenario, rule: BreakRule) -> Seedings:
    """The usual list with what a break rule changes because of one closure.

    `open_` and `closed` are the scenario without and with that closure, each with the orders that
    its calendar makes; what the rule does in other breaks is the same in both.
    """
    before, after = ({slot(s): s for s in listed(x, rule)} for x in (open_, closed))
    changed = {
        key for key in before.keys() | after.keys() if _what(before, key) != _what(after, key)
    }
    kept = [s for s in usual if slot(s) not in changed]
    return kept + [s for key, s in after.items() if key in changed]


def _what(by_slot: dict[Slot, PlannedSeeding], key: Slot) -> tuple[int, int] | None:
    found = by_slot.get(key)
    return (found.day, found.trays) if found else None


@dataclass(frozen=True)
class Caught:
    """A seeding that a closure catches, if nothing is done.

    `step` is the task that falls due on the day `due` with nobody there. `what` becomes of it:
    a seeding is skipped; plants wait until `next_staffed`, or are lost because that is later than
    they keep, or than the run (None). `ready` is when its heads are ready at mean lengths if no
    step waits.
    """

    seeded: date
    crop: str
    trays: int
    step: str
    due: date
    what: Fate
    next_staffed: date | None
    ready: date


def split(usual: Seedings, table: Timetable) -> tuple[Seedings, Seedings]:
    """The seedings that somebody is there for, and those that are skipped."""
    done: Seedings = []
    gone: Seedings = []
    for s in usual:
        task = table.scenario.crops[s.crop].stages[0].moved_in_by
        (done if table.staffed(task, s.day) else gone).append(s)
    return done, gone


def caught(usual: Seedings, closure: Closure, table: Timetable) -> list[Caught]:
    """The seedings that a closure catches; `table` is that of the scenario with nothing done."""
    done, gone = split(usual, table)
    found = [_left_out(table, s) for s in gone]
    batches = {s.batch: s for s in done}
    for c in collisions(table, batches.values()):
        after = c.next_staffed is None or c.next_staffed > closure.first_day
        if c.due <= closure.last_day and after:
            found.append(_stopped(table, batches[c.batch], c))
    return sorted(found, key=lambda c: (c.due, c.seeded, c.crop))


def _left_out(table: Timetable, s: PlannedSeeding) -> Caught:
    day, task = table.date_of(s.day), table.scenario.crops[s.crop].stages[0].moved_in_by
    ready = _ready(table, s)
    return Caught(day, s.crop, s.trays, task or "seeding", day, "skipped", None, ready)


def _stopped(table: Timetable, s: PlannedSeeding, c: Collision) -> Caught:
    ready, what = _ready(table, s), _FATES[c.lost]
    return Caught(c.seeded, c.crop, c.trays, c.task, c.due, what, c.next_staffed, ready)


def _ready(table: Timetable, seeding: PlannedSeeding) -> date:
    day = seeding.day
    for stage in table.scenario.crops[seeding.crop].stages:
        day = finished(table, stage, day)
    return table.date_of(day)


def dates_to_act(
    table: Timetable, due: Sequence[Leaving], week: date, first_day: date = date.min
) -> dict[str, date]:
    """By crop, the last date on which a seeding is ready for its first delivery in a week.

    Crops for which that is before `first_day` are left out.
    """
    first: dict[str, date] = {}
    for leaving in due:
        day = table.date_of(leaving.time)
        if monday(day) == week:
            first.setdefault(leaving.crop, day)
    found = {crop: last_seeding_for(table, crop, day) for crop, day in first.items()}
    return {crop: day for crop, day in found.items() if day is not None and day >= first_day}


def one_more_tray(
    usual: Seedings, table: Timetable, act: dict[str, date], times: int, first_day: date = date.min
) -> tuple[Seeding, ...]:
    """One more tray on each of the last so many seeding days of a crop up to its date to act.

    Only days from `first_day` on are taken.
    """
    found = []
    for crop, last in act.items():
        days = {table.date_of(s.day) for s in usual if s.crop == crop}
        chosen = sorted(day for day in days if first_day <= day <= last)[-times:]
        found += [Seeding(day=day, crop=crop, trays=1) for day in chosen]
    return tuple(found)


def skipped_ones(usual: Seedings, closure: Closure, table: Timetable) -> tuple[Seeding, ...]:
    """The trays skipped in a closure, on the first day after it with somebody there to seed."""
    late: Counter[tuple[date, str]] = Counter()
    for s in split(usual, table)[1]:
        task = table.scenario.crops[s.crop].stages[0].moved_in_by
        after = range(table.day_of(closure.last_day) + 1, table.days)
        if closure.holds(table.date_of(s.day)):
            day = next((n for n in after if table.staffed(task, n)), None)
            if day is not None:
                late[table.date_of(day), s.crop] += s.trays
    return tuple(Seeding(day=day, crop=crop, trays=n) for (day, crop), n in late.items())


@dataclass(frozen=True)
class SeedingChange:
    """A dated change to the seeding list: trays added, skipped, or moved from `day` to `to`."""

    day: date
    crop: str
    what: What
    trays: int
    to: date | None = None


def seeding_changes(
    own: Seedings, other: Seedings, added: Iterable[Seeding], table: Timetable
) -> list[SeedingChange]:
    """What turns the scenario's own list into another, in order of day."""
    before, after = ({slot(s): s for s in seedings} for seedings in (own, other))
    trays: Counter[tuple[date, str, What, date | None]] = Counter()
    for s in added:
        trays[s.day, s.crop, "add", None] += s.trays
    for key in before.keys() | after.keys():
        for day, what, to, number in _changes(before.get(key), after.get(key), table):
            trays[day, key[0], what, to] += number
    found = [SeedingChange(day, crop, what, n, to) for (day, crop, what, to), n in trays.items()]
    return sorted(found, key=lambda c: (c.day, c.crop, c.what, c.to or date.min))


def _changes(
    old: PlannedSeeding | None, new: PlannedSeeding | None, table: Timetable
) -> Iterator[tuple[date, What, date | None, int]]:
    """What becomes of a seeding: day, what, to which day, trays."""
    if old and new and old.day != new.day:
        yield table.date_of(old.day), "move", table.date_of(new.day), min(old.trays, new.trays)
    more = (new.trays if new else 0) - (old.trays if old else 0)
    if more and (there := new or old):
        yield table.date_of(there.day), "add" if more > 0 else "skip", None, abs(more)
