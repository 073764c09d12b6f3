"""What a school's records lack for the measures to say what happened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sim.agreement import COLD_STORE
from sim.counts import Counts
from sim.measures import WORK, Frame
from sim.order_book import leavings
from sim.parts import Stage
from sim.records import BATCH, COUNT, CROP, KIND, PLACE, TIME, TO
from sim.school_year import spoken
from sim.timetable import Timetable

DELIVERIES = ("unit_fill_rate", "order_fill_rate", "steadiness", "heads_per_week")
SITES = ("bench_fill", "useful_bench_share")
WASTE = ("wasted_plants",)
LABOR = ("labor_use",)
_TOLD = 3  # deliveries without a row that are told
_OUT = frozenset({"moved", "lost", "harvested", "dumped", "delivered", "surplus"})


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that is missing, and the measures that need it."""

    measures: tuple[str, ...]
    what: str


def missing_in(counts: Counts, timetable: Timetable) -> list[Missing]:
    """What is missing in the records, by the measures that need it."""
    told: list[tuple[tuple[str, ...], str]]
    told = [(DELIVERIES, text) for text in _deliveries(counts, timetable)]
    written = {kind.kind for kind in counts.kinds}
    for kind in ("moved", "lost", "harvested"):
        if kind not in written:
            told.append((SITES, f"no row says what was {kind}"))
    told += _standing(counts, timetable)
    if "dumped" not in written:
        told.append((WASTE, "no row says what was dumped; if nothing was, nothing is missing"))
    told += [(WASTE, text) for text in _stored(counts, timetable)]
    told += [(LABOR, text) for text in _minutes(counts, timetable)]
    return [Missing(measures, text) for measures, text in told]


def _deliveries(counts: Counts, timetable: Timetable) -> Iterator[str]:
    ordered, book = counts.ordered, leavings(timetable.scenario, timetable)
    if not book:
        return
    if ordered is None:
        yield "no row says what was delivered"
        return
    due = _weeks((leaving.time for leaving in book), timetable)
    written = _weeks((row[TIME] for row in counts.rows if row[KIND] == "due"), timetable)
    if gone := sorted(due - written):
        yield (
            f"{len(gone)} of {len(due)} measured weeks with deliveries are outside the records, "
            f"the first that of {spoken(timetable.week_monday(gone[0]), year=True)}"
        )
    if unknown := ordered.without_row:
        told = ", ".join(f"{spoken(day)} {customer}" for day, customer in unknown[:_TOLD])
        more = ", ..." if len(unknown) > _TOLD else ""
        yield (
            f"{len(unknown)} of {ordered.due} deliveries due have no row and count as not "
            f"delivered: {told}{more}"
        )


def _weeks(times: Iterable[float], timetable: Timetable) -> set[int]:
    """The measured weeks that hold any of these times [d]."""
    first, last = timetable.window_start, timetable.window_end
    return {int(time - first) // 7 for time in times if first <= time < last}


def _standing(counts: Counts, timetable: Timetable) -> Iterator[tuple[tuple[str, ...], str]]:
    """Plants that came into a place longer ago than any stay there, and never left."""
    there: defaultdict[tuple[str, str, str], int] = defaultdict(int)
    came: dict[tuple[str, str, str], float] = {}
    for row in counts.rows:
        at = row[CROP], row[BATCH]
        if row[KIND] in ("seeded", "moved"):
            into = (*at, row[TO] or row[PLACE])
            there[into] += row[COUNT]
            came[into] = row[TIME]
        if row[KIND] in _OUT:
            there[*at, row[PLACE]] -= row[COUNT]
    now = timetable.day_of(counts.last) if counts.last else 0
    lost: defaultdict[str, list[int]] = defaultdict(list)
    for (crop, batch, place), plants in there.items():
        if plants > 0:
            stages = timetable.scenario.crops[crop].stages
            longest = max(_longest(stage) for stage in stages if stage.place == place)
            if now - came[crop, batch, place] > longest:
                lost[place].append(plants)
    finishing = Frame.of(timetable).finishing
    for place, left in lost.items():
        yield SITES if place in finishing else WASTE, (
            f"{sum(left):,} plants of {len(left)} batch{'es' if len(left) > 1 else ''} came into "
            f"{place} and, by the rows, never left: write what was moved, harvested, lost or dumped"
        )  # fmt: skip


def _longest(stage: Stage) -> float:
    """The longest that plants stay in a stage, waiting included [d]."""
    slowest = min([100.0, *stage.pace_percent.values()]) / 100.0
    waits = 7.0 if stage.keep_days is None else stage.keep_days
    return (stage.days + 4.0 * stage.days_sd) / slowest + waits + 1.0


def _stored(counts: Counts, timetable: Timetable) -> Iterator[str]:
    """Heads cut longer ago than they keep, that are in no delivery and were not dumped."""
    keep = timetable.scenario.cold_store.keep_days
    now = timetable.day_of(counts.last) if counts.last else 0
    cut = sum(
        r[COUNT] for r in counts.rows if r[KIND] == "harvested" and r[TIME] < now - keep
    )  # fmt: skip
    gone = sum(r[COUNT] for r in counts.rows if r[KIND] in _OUT and r[PLACE] == COLD_STORE)
    if cut > gone:
        yield f"{cut - gone:,} heads were cut and are in no delivery: were they dumped?"


def _minutes(counts: Counts, timetable: Timetable) -> Iterator[str]:
    if not timetable.scenario.crews or counts.first is None or counts.last is None:
        return
    for kind in counts.kinds:
        if kind.kind in WORK and kind.without_minutes:
            yield f"{kind.without_minutes:,} of {kind.rows:,} rows {kind.kind} give no minutes"
    first, last = timetable.day_of(counts.first), timetable.day_of(counts.last)
    held = sum(first <= shift.day <= last for shift in timetable.shifts)
    known = sum(row[KIND] == "shift" for row in counts.rows)
    if known < held:
        yield f"people present are written down for {known:,} of {held:,} shifts"
