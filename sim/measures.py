"""Rows to the few numbers a decision rests on.

Definitions, all over whole weeks of the measuring window, each for one simulated year:

- `unit_fill_rate`: heads delivered / heads ordered.
- `order_fill_rate`: deliveries complete / deliveries due (a delivery is one customer, crop, date).
- `steadiness`: weeks met / weeks with a delivery due; a week is met when every delivery due in
  it was complete.
- `bench_fill`: time-average share of the finishing sites (the places of each crop's last stage)
  that hold a plant.
- `useful_bench_share`: share of the finishing sites' time that was spent by heads later delivered
  ("sites filled with heads that were delivered").
- `heads_per_week`: heads delivered per week.
- `wasted_plants`: good plants dumped (overgrown, over-mature, kept too long), of all batches
  seeded before the window's end.
- `labor_use`: person-minutes worked / person-minutes there were.

A rate whose denominator is zero is nan. `weakest_week` is a measure of many years; see
`replications`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import nan
from operator import itemgetter
from typing import Literal

from sim.parts import Place
from sim.records import BATCH, COUNT, KINDS, MINUTES, PLACE, SINCE, TIME, TO, Row
from sim.timetable import Timetable

MEASURES = (
    "unit_fill_rate", "order_fill_rate", "steadiness", "weakest_week", "bench_fill",
    "useful_bench_share", "heads_per_week", "wasted_plants", "labor_use",
)  # fmt: skip
WORK = {
    "checked": "daily checks", "harvested": "harvest", "moved": "moving", "seeded": "seeding",
    "washed": "washing", "cleared": "clearing",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Frame:
    """What the measures need to know of a scenario: the window [d] and the finishing sites."""

    start: int
    end: int
    weeks: int
    finishing: frozenset[str]
    sites: float

    @classmethod
    def of(cls, timetable: Timetable) -> Frame:
        """The frame of a timetable; `sites` is nan if any finishing place is unlimited."""
        scenario = timetable.scenario
        finishing = frozenset(crop.stages[-1].place for crop in scenario.crops.values())
        sites = sum((sites_of(scenario.places[name]) for name in finishing), 0.0)
        start, end = timetable.window_start, timetable.window_end
        return cls(start, end, timetable.weeks, finishing, sites)


def sites_of(place: Place) -> float:
    """Sites of a place, nan if it is unlimited."""
    return nan if place.count is None else float(place.count * place.sites_each)


_time, _count, _minutes = itemgetter(TIME), itemgetter(COUNT), itemgetter(MINUTES)


def by_kind(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Rows, given in order of time, sorted into lists by their kind."""
    kinds: dict[str, list[Row]] = {kind: [] for kind in KINDS}
    add = {kind: found.append for kind, found in kinds.items()}
    for row in rows:
        add[row[1]](row)
    return kinds


def within(rows: list[Row], frame: Frame) -> list[Row]:
    """Those of the rows, given in order of time, that lie in the window."""
    first = bisect_left(rows, frame.start, key=_time)
    return rows[first : bisect_left(rows, frame.end, first, key=_time)]


def weeks_met(kinds: dict[str, list[Row]], frame: Frame) -> list[int]:
    """For each week of the window 1 if met, 0 if not, -1 if nothing was due."""
    met = [-1] * frame.weeks
    start = frame.start
    for row in within(kinds["due"], frame):
        met[int((row[TIME] - start) // 7)] = 1
    for row in within(kinds["short"], frame):
        met[int((row[TIME] - start) // 7)] = 0
    return met


def year_measures(kinds: dict[str, list[Row]], frame: Frame, met: list[int]) -> dict[str, float]:
    """All measures of one year but the weakest week, by name."""
    start, end = frame.start, frame.end
    due, short = within(kinds["due"], frame), within(kinds["short"], frame)
    ordered, missing = sum(map(_count, due)), sum(map(_count, short))
    worked = sum(sum(map(_minutes, within(kinds[kind], frame))) for kind in WORK)
    shifts = kinds["shift"]  # a shift's row is of its end, so that on the window's end is inside
    ended = [bisect_right(shifts, day, key=_time) for day in (start, end)]
    there = sum(map(_minutes, shifts[slice(*ended)]))
    site_days = frame.sites * (end - start)
    return {
        "unit_fill_rate": _share(ordered - missing, ordered),
        "order_fill_rate": _share(len(due) - len(short), len(due)),
        "steadiness": _share(met.count(1), len(met) - met.count(-1)),
        "bench_fill": _share(plant_days(kinds, frame.finishing, start, end), site_days),
        "useful_bench_share": _share(_delivered_days(kinds, start, end), site_days),
        "heads_per_week": (ordered - missing) / frame.weeks,
        "wasted_plants": float(_wasted(kinds, end)),
        "labor_use": _share(worked, there),
    }


def _share(part: float, whole: float) -> float:
    return part / whole if whole else nan


def plant_days(
    kinds: dict[str, list[Row]], places: frozenset[str], start: float, end: float
) -> float:
    """Time-integral of the plants standing in these places between two times [plant-days]."""
    days = _days_to_end(kinds["moved"], TO, places, start, end)
    for kind in ("seeded", "standing"):
        days += _days_to_end(kinds[kind], PLACE, places, start, end)
    for kind in ("moved", "lost", "harvested", "dumped"):
        days -= _days_to_end(kinds[kind], PLACE, places, start, end)
    return days


def _days_to_end(
    rows: list[Row], column: Literal[4, 5], places: frozenset[str], start: float, end: float
) -> float:
    """Plant-days between `start` and `end` if the plants of each row stay from its time on.

    Only rows that name one of the places in `column` count.
    """
    first = bisect_left(rows, start, key=_time)
    last = bisect_left(rows, end, first, key=_time)
    early = sum([row[COUNT] for row in rows[:first] if row[column] in places])
    later = [row[COUNT] * (end - row[TIME]) for row in rows[first:last] if row[column] in places]
    return early * (end - start) + sum(later)


def _delivered_days(kinds: dict[str, list[Row]], start: float, end: float) -> float:
    """Days that heads later delivered stood in their finishing place [head-days].

    Heads of one batch cut at one time are one lot; whatever leaves takes its share of the days.
    """
    lots: dict[tuple[str, float], tuple[float, int]] = {}
    for row in kinds["harvested"]:
        came, cut, heads = row[SINCE], row[TIME], row[COUNT]
        stay = (cut if cut < end else end) - (came if came > start else start)
        days = stay * heads if stay > 0.0 else 0.0
        lot = row[BATCH], cut
        if lot in lots:
            more, others = lots[lot]
            lots[lot] = days + more, heads + others
        else:
            lots[lot] = days, heads
    total = 0.0
    for row in kinds["delivered"]:
        found = lots.get((row[BATCH], row[SINCE]))
        if found:
            total += found[0] * row[COUNT] / found[1]
    return total


def _wasted(kinds: dict[str, list[Row]], end: float) -> int:
    seeded = kinds["seeded"]
    late = {row[BATCH] for row in seeded[bisect_left(seeded, end, key=_time) :]}
    return sum([row[COUNT] for row in kinds["dumped"] if row[BATCH] not in late])


def measures_of(rows: Sequence[Row], timetable: Timetable) -> dict[str, float]:
    """All measures of one year's rows but the weakest week, by name."""
    kinds, frame = by_kind(sorted(rows, key=_time)), Frame.of(timetable)
    return year_measures(kinds, frame, weeks_met(kinds, frame))
