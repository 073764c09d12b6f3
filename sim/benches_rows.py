"""Today's benches from a table of events: what was set in, less what left."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from sim.benches import Benches, Standing, Stored, ToClean, ToSeed
from sim.greenhouse.cold_store import NAME
from sim.greenhouse.plan import Plan
from sim.records import (
    BATCH,
    CONTAINERS,
    COUNT,
    CROP,
    KIND,
    PLACE,
    SINCE,
    TIME,
    TO,
    Row,
)
from sim.school_year import MINUTES_PER_DAY

_OUT = ("moved", "lost", "harvested", "dumped")


@dataclass
class _Group:
    """Plants of one batch that were set into one place on one day; `of` as at the last count."""

    crop: str
    plants: int = 0
    of: int = 0
    containers: int = 0
    ready: int | None = None


class _Book:
    """Keeps count of everything while the rows go by."""

    def __init__(self) -> None:
        self.groups: dict[tuple[str, str, int], _Group] = {}
        self.seeded: dict[str, int] = {}
        self.trays: defaultdict[str, int] = defaultdict(int)
        self.lots: defaultdict[tuple[str, str, float], int] = defaultdict(int)
        self.to_clear: defaultdict[str, int] = defaultdict(int)
        self.to_wash: defaultdict[str, int] = defaultdict(int)

    def take(self, row: Row, before: Row | None, *, cleared: bool) -> None:
        """Note one row; `before` is the one before it, `cleared` whether its place is cleared."""
        kind, batch, place = row[KIND], row[BATCH], row[PLACE]
        if kind in ("seeded", "moved"):
            into = place if kind == "seeded" else row[TO]
            group = self.groups.setdefault((batch, into, int(row[TIME])), _Group(row[CROP]))
            group.plants += row[COUNT]
            group.of += row[COUNT]
            group.containers += row[CONTAINERS]
        if kind == "seeded":
            self.seeded.setdefault(batch, int(row[TIME]))
        if kind in ("seeded", "missed"):
            self.trays[batch] += row[CONTAINERS]
        if kind in _OUT and place != NAME:
            self.groups[batch, place, int(row[SINCE])].plants -= row[COUNT]
        if kind == "finished":
            group = self.groups[batch, place, int(row[SINCE])]
            group.ready, group.of = int(row[TIME]), row[COUNT]
        self._store(row)
        self._clean(row, before, cleared=cleared)

    def _store(self, row: Row) -> None:
        kind = row[KIND]
        if kind == "harvested":
            self.lots[row[CROP], row[BATCH], row[TIME]] += row[COUNT]
        elif kind in ("delivered", "surplus") or (kind == "dumped" and row[PLACE] == NAME):
            self.lots[row[CROP], row[BATCH], row[SINCE]] -= row[COUNT]

    def _clean(self, row: Row, before: Row | None, *, cleared: bool) -> None:
        kind, place, containers = row[KIND], row[PLACE], row[CONTAINERS]
        if kind == "emptied":
            dumped = before is not None and before[KIND] == "dumped" and before[PLACE] == place
            (self.to_clear if dumped and cleared else self.to_wash)[place] += containers
        elif kind == "cleared":
            self.to_clear[place] -= containers
            self.to_wash[place] += containers
        elif kind == "freed":
            self.to_wash[place] -= containers


def benches_of(plan: Plan, rows: Sequence[Row], day: int) -> Benches:
    """What stands in the greenhouse at 00:00 of a day [d], from all rows before it.

    The rows must begin with an empty greenhouse. Containers that rest count as still to be
    washed.
    """
    scenario, table, book = plan.scenario, plan.timetable, _Book()
    before: Row | None = None
    for row in rows:
        if row[TIME] >= day:
            break
        place = scenario.places.get(row[PLACE])
        book.take(row, before, cleared=bool(place and place.cleared_by))
        before = row
    return Benches(
        day=table.date_of(day),
        standing=tuple(_standing(plan, book)),
        to_clean=tuple(
            ToClean(place=name, to_clear=book.to_clear[name], to_wash=book.to_wash[name])
            for name in scenario.places
            if book.to_clear[name] or book.to_wash[name]
        ),
        stored=tuple(
            Stored(crop=crop, heads=heads, since=_moment(plan, since), batch=batch)
            for (crop, batch, since), heads in book.lots.items()
            if heads > 0
        ),
        to_seed=tuple(_to_seed(plan, book, day)),
    )


def _standing(plan: Plan, book: _Book) -> list[Standing]:
    date_of = plan.timetable.date_of
    return [
        Standing(
            crop=group.crop, place=place, plants=group.plants, seeded=date_of(book.seeded[batch]),
            moved=date_of(moved), ready=None if group.ready is None else date_of(group.ready),
            containers=-(-group.plants * group.containers // group.of), batch=batch,
        )
        for (batch, place, moved), group in book.groups.items()
        if group.plants > 0
    ]  # fmt: skip


def _to_seed(plan: Plan, book: _Book, day: int) -> list[ToSeed]:
    late = plan.scenario.cadence.late_days
    found = []
    for seeding in plan.seedings:
        left = seeding.trays - book.trays[seeding.batch]
        if day - late <= seeding.day < day and left > 0:
            when = plan.timetable.date_of(seeding.day)
            found.append(ToSeed(crop=seeding.crop, trays=left, day=when))
    return found


def _moment(plan: Plan, at: float) -> datetime:
    midnight = datetime.combine(plan.timetable.start, time.min)
    return midnight + timedelta(minutes=at * MINUTES_PER_DAY)
