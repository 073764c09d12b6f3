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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import nan

from sim.parts import Place
from sim.records import BATCH, COUNT, MINUTES, PLACE, SINCE, TIME, TO, Row
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


def by_kind(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Rows sorted into lists by their kind."""
    kinds: dict[str, list[Row]] = {
        kind: []
        for kind in (
            "seeded", "moved", "harvested", "washed", "cleared", "checked", "lost", "dumped",
            "due", "short", "delivered", "surplus", "shift", "missed", "finished", "emptied", "freed",
        )
    }  # fmt: skip
    for row in rows:
        kinds[row[1]].append(row)
    return kinds


def weeks_met(kinds: dict[str, list[Row]], frame: Frame) -> list[int]:
    """For each week of the window 1 if met, 0 if not, -1 if nothing was due."""
    met = [-1] * frame.weeks
    for row in kinds["due"]:
        if frame.start <= row[TIME] < frame.end:
            met[int((row[TIME] - frame.start) // 7)] = 1
    for row in kinds["short"]:
        if frame.start <= row[TIME] < frame.end:
            met[int((row[TIME] - frame.start) // 7)] = 0
    return met


def year_measures(kinds: dict[str, list[Row]], frame: Frame, met: list[int]) -> dict[str, float]:
    """All measures of one year but the weakest week, by name."""
    start, end = frame.start, frame.end
    due = [r[COUNT] for r in kinds["due"] if start <= r[TIME] < end]
    short = [r[COUNT] for r in kinds["short"] if start <= r[TIME] < end]
    ordered, missing = sum(due), sum(short)
    counted = len(met) - met.count(-1)
    worked = sum(sum([r[MINUTES] for r in kinds[k] if start <= r[TIME] < end]) for k in WORK)
    there = sum([r[MINUTES] for r in kinds["shift"] if start < r[TIME] <= end])
    site_days = frame.sites * (end - start)
    return {
        "unit_fill_rate": _share(ordered - missing, ordered),
        "order_fill_rate": _share(len(due) - len(short), len(due)),
        "steadiness": _share(met.count(1), counted),
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
    total = 0.0
    for row in kinds["moved"]:
        if row[TIME] < end:
            later = end - max(row[TIME], start)
            total += row[COUNT] * later * ((row[TO] in places) - (row[PLACE] in places))
    for row in kinds["seeded"]:
        if row[PLACE] in places and row[TIME] < end:
            total += row[COUNT] * (end - max(row[TIME], start))
    for kind in ("lost", "harvested", "dumped"):
        for row in kinds[kind]:
            if row[PLACE] in places and row[TIME] < end:
                total -= row[COUNT] * (end - max(row[TIME], start))
    return total


def _delivered_days(kinds: dict[str, list[Row]], start: float, end: float) -> float:
    """Days that heads later delivered stood in their finishing place [head-days]."""
    cut: dict[tuple[str, float], tuple[float, int]] = {}
    for row in kinds["harvested"]:
        stay = min(row[TIME], end) - max(row[SINCE], start)
        if stay > 0:
            days, heads = cut.get((row[BATCH], row[TIME]), (0.0, 0))
            cut[row[BATCH], row[TIME]] = (days + stay * row[COUNT], heads + row[COUNT])
    total = 0.0
    for row in kinds["delivered"]:
        found = cut.get((row[BATCH], row[SINCE]))
        if found:
            total += found[0] * row[COUNT] / found[1]
    return total


def _wasted(kinds: dict[str, list[Row]], end: float) -> int:
    late = {row[BATCH] for row in kinds["seeded"] if row[TIME] >= end}
    return sum(row[COUNT] for row in kinds["dumped"] if row[BATCH] not in late)


def measures_of(rows: Sequence[Row], timetable: Timetable) -> dict[str, float]:
    """All measures of one year's rows but the weakest week, by name."""
    kinds, frame = by_kind(rows), Frame.of(timetable)
    return year_measures(kinds, frame, weeks_met(kinds, frame))
