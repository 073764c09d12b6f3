"""A cadence becomes a dated seeding list; break rules are siblings with one verb, `apply`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil, floor
from statistics import median

from sim.order_book import Leaving, leavings
from sim.parts import WEEKDAYS, BreakRule, CadenceLine, Crop, Weekday
from sim.school_year import monday, weekday
from sim.timetable import Timetable, cycle_days

_ADDED = 100  # entries of seedings added by hand start here, apart from those of lines
_REACH = 6  # a rule that moves a seeding looks at most this many days around it


@dataclass(frozen=True, slots=True)
class PlannedSeeding:
    """One seeding to be done: on which day [d], of which crop, how many trays.

    `week` and `entry` are its slot, the identity its luck hangs on; they stay when it is moved.
    """

    day: int
    crop: str
    trays: int
    week: int
    entry: int
    batch: str = ""


class BreakContext:
    """What a break rule may look at."""

    def __init__(self, timetable: Timetable, leavings: list[Leaving]) -> None:
        self.timetable = timetable
        self.leavings = leavings

    def crop(self, seeding: PlannedSeeding) -> Crop:
        """The crop of a seeding."""
        return self.timetable.scenario.crops[seeding.crop]

    def staffed(self, seeding: PlannedSeeding) -> bool:
        """Whether anybody is there to seed on its day."""
        return self.timetable.staffed(self.crop(seeding).stages[0].moved_in_by, seeding.day)

    def wait(self, seeding: PlannedSeeding, day: int) -> int:
        """Days that plants seeded on `day` wait, in all, for a staffed day at each step [d]."""
        crop, waited, at = self.crop(seeding), 0, float(day)
        tasks = [*(s.moved_in_by for s in crop.stages[1:]), crop.harvested_by]
        for stage, task in zip(crop.stages, tasks, strict=True):
            at += stage.days
            ready = floor(at + 0.5)
            while at - ready < 30 and not self.timetable.staffed(task, floor(at + 0.5)):
                at += 1
            waited += floor(at + 0.5) - ready
        return waited


Rule = Callable[[list[PlannedSeeding], BreakContext], list[PlannedSeeding]]


def if_staffed(seedings: list[PlannedSeeding], context: BreakContext) -> list[PlannedSeeding]:
    """Keep the day if anybody is there to seed, otherwise skip the seeding."""
    return [s for s in seedings if context.staffed(s)]


def nearest_staffed_day(
    seedings: list[PlannedSeeding], context: BreakContext
) -> list[PlannedSeeding]:
    """Move to the nearest day with somebody there, at most six days away; else skip."""
    moved = []
    for seeding in seedings:
        task = context.crop(seeding).stages[0].moved_in_by
        day = context.timetable.nearest_staffed(task, seeding.day, _REACH)
        if day is not None:
            moved.append(replace(seeding, day=day))
    return moved


def fit_transplant_and_harvest(
    seedings: list[PlannedSeeding], context: BreakContext
) -> list[PlannedSeeding]:
    """Move by at most six days so that moving and harvest wait least for a staffed day."""
    moved = []
    for seeding in seedings:
        around = range(max(0, seeding.day - _REACH), seeding.day + _REACH + 1)
        days = [d for d in around if context.staffed(replace(seeding, day=d))]
        if days:
            best = min(days, key=lambda d: (context.wait(seeding, d), abs(d - seeding.day), d))
            moved.append(replace(seeding, day=best))
    return moved


def seed_more_before(seedings: list[PlannedSeeding], context: BreakContext) -> list[PlannedSeeding]:
    """Add the trays of a day without anybody to the crop's last seeding before it."""
    kept: list[PlannedSeeding] = []
    for seeding in seedings:
        if context.staffed(seeding):
            kept.append(seeding)
        elif kept:
            kept[-1] = replace(kept[-1], trays=kept[-1].trays + seeding.trays)
    return kept


def skip_paused_weeks(
    seedings: list[PlannedSeeding], context: BreakContext
) -> list[PlannedSeeding]:
    """Skip what would be ready in a week with less than half of the usual orders."""
    heads: Counter[tuple[str, date]] = Counter()
    for leaving in context.leavings:
        heads[leaving.crop, monday(context.timetable.date_of(leaving.time))] += leaving.heads
    kept = []
    for seeding in if_staffed(seedings, context):
        weeks = {week: n for (crop, week), n in heads.items() if crop == seeding.crop}
        ready = seeding.day + cycle_days(context.crop(seeding))
        week = monday(context.timetable.date_of(ready))
        inside = bool(weeks) and min(weeks) <= week <= max(weeks)
        if not inside or weeks.get(week, 0) >= median(weeks.values()) / 2:
            kept.append(seeding)
    return kept


def skip_closed_days(seedings: list[PlannedSeeding], context: BreakContext) -> list[PlannedSeeding]:
    """Skip every seeding on a day when school is closed, even if cover is there."""
    table = context.timetable
    return [
        s
        for s in if_staffed(seedings, context)
        if table.school_year.in_session(table.date_of(s.day))
    ]


BREAK_RULES: dict[BreakRule, Rule] = {
    "if staffed": if_staffed,
    "nearest staffed day": nearest_staffed_day,
    "fit transplant and harvest": fit_transplant_and_harvest,
    "seed more before": seed_more_before,
    "skip paused weeks": skip_paused_weeks,
    "skip closed days": skip_closed_days,
}


def seeding_list(timetable: Timetable, leavings: list[Leaving]) -> list[PlannedSeeding]:
    """The dated seeding list of the scenario's cadence, in order of day.

    Lines are expanded, dated skips taken out, the break rule applied crop by crop, and dated
    additions put in as they are. A run that starts from benches seeds what a run from the
    beginning would seed from that day on.
    """
    if timetable.scenario.benches:
        return [s for s in whole_list(timetable) if s.day >= 0]
    cadence, context = timetable.scenario.cadence, BreakContext(timetable, leavings)
    rule = BREAK_RULES[cadence.break_rule]
    planned = planned_seedings(timetable, leavings)
    listed: list[PlannedSeeding] = []
    for crop in timetable.scenario.crops:
        listed += rule([s for s in planned if s.crop == crop], context)
    for number, added in enumerate(cadence.added):
        day, week = timetable.day_of(added.day), monday(added.day).toordinal() // 7
        listed.append(PlannedSeeding(day, added.crop, added.trays, week, _ADDED + number))
    listed.sort(key=lambda s: (s.day, s.crop, s.week, s.entry))
    return _named([s for s in listed if 0 <= s.day < timetable.days], timetable)


def whole_list(timetable: Timetable) -> list[PlannedSeeding]:
    """The seedings of a run that starts from benches, those of the days before it too [d < 0]."""
    scenario = timetable.scenario.model_copy(update={"benches": None})
    whole = Timetable(scenario)
    before = (timetable.start - whole.start).days
    listed = seeding_list(whole, leavings(scenario, whole))
    return [replace(s, day=s.day - before) for s in listed]


def _named(seedings: list[PlannedSeeding], timetable: Timetable) -> list[PlannedSeeding]:
    """Name each batch by crop and seeding date, with a number where there are several."""
    seen: Counter[str] = Counter()
    named = []
    for seeding in seedings:
        name = f"{seeding.crop} {timetable.date_of(seeding.day)}"
        seen[name] += 1
        suffix = f" ({seen[name]})" if seen[name] > 1 else ""
        named.append(replace(seeding, batch=name + suffix))
    return named


def planned_seedings(timetable: Timetable, leavings: list[Leaving]) -> list[PlannedSeeding]:
    """The lines' seedings before any break rule, in order of day."""
    planned: list[PlannedSeeding] = []
    taken: set[tuple[str, int, int]] = set()
    for line in timetable.scenario.cadence.lines:
        first, last = _span(line, timetable, leavings)
        trays = trays_by_weekday(line, timetable)
        days = [w for w in WEEKDAYS if trays.get(w, 0) > 0]
        for offset in range((last - first).days + 1):
            day = first + timedelta(days=offset)
            week = monday(day).toordinal() // 7
            turn = week - monday(first).toordinal() // 7
            if weekday(day) not in days or turn % line.every_weeks:
                continue
            entry = days.index(weekday(day))
            while (line.crop, week, entry) in taken:
                entry += len(WEEKDAYS)
            taken.add((line.crop, week, entry))
            if day not in timetable.scenario.cadence.skipped:
                number = timetable.day_of(day)
                planned.append(PlannedSeeding(number, line.crop, trays[weekday(day)], week, entry))
    return sorted(planned, key=lambda s: s.day)


def trays_by_weekday(line: CadenceLine, timetable: Timetable) -> dict[Weekday, int]:
    """Trays by weekday, worked out from heads wanted where the line gives those."""
    trays = dict(line.trays)
    first = timetable.scenario.crops[line.crop].stages[0]
    cells = timetable.scenario.places[first.place].sites_each
    for day, heads in line.heads_wanted.items():
        trays[day] = trays.get(day, 0) + ceil(heads * line.cells_per_head / cells)
    return trays


def _span(line: CadenceLine, timetable: Timetable, leavings: list[Leaving]) -> tuple[date, date]:
    """First and last day of a line; by default from the start to the last useful seeding."""
    scenario = timetable.scenario
    start = scenario.rhythm_start
    first = max(line.first_day or start, start)
    last = timetable.date_of(timetable.days - 1)
    times = [x.time for x in leavings if x.crop == line.crop]
    if line.last_day:
        last = min(last, line.last_day)
    elif times:
        last = timetable.date_of(max(0.0, max(times) - cycle_days(scenario.crops[line.crop])))
    return first, last
