"""What became of a batch in one simulated year, told from its rows.

Nothing is simulated here. Times are in days since the scenario's first day [d].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.collisions import finished
from sim.flows import ordered
from sim.greenhouse.cold_store import NAME
from sim.greenhouse.plan import Plan
from sim.parts import Crop
from sim.records import BATCH, CAUSE, CONTAINERS, COUNT, KIND, PLACE, TIME, TO, Row
from sim.seeding import PlannedSeeding
from sim.timetable import Timetable
from sim.workload import crop_needs

_TAKES = {"seeded": 1, "moved": 1, "freed": -1}  # what a row of a kind does to the containers
_EMPTIES = {"emptied": 1, "freed": -1}


@dataclass(frozen=True)
class Wait:
    """Plants of a batch that waited for a move: since when, till when [d], how many, and for what.

    `moved` is None if they were never moved.
    """

    place: str
    ready: float
    moved: float | None
    plants: int
    why: str


@dataclass(frozen=True)
class Story:
    """What became of the heads that one seeding was to give by a time `until` [d].

    `expected` heads at mean losses; the others say where they went, in heads, and add up to it:
    not seeded, lost beyond the mean (negative if fewer were lost), dumped before, not yet ready,
    gone to others before the time `since` [d], and those that were there.
    """

    seeding: PlannedSeeding
    expected: float
    not_seeded: float
    lost_more: float
    dumped: float
    not_ready: float
    gone: int
    there: int
    missed_because: str
    dumped_because: tuple[str, ...]
    seeded: float | None
    ready: float | None
    waits: tuple[Wait, ...]


class Counted:
    """Sums over some rows of one batch."""

    def __init__(self, rows: list[Row]) -> None:
        self._rows = rows

    def count(self, kind: str, place: str | None = None) -> int:
        """Cells, plants or heads of the rows of one kind, in one place or everywhere."""
        rows = (row for row in self._rows if row[KIND] == kind)
        return sum(row[COUNT] for row in rows if place in (None, row[PLACE]))

    def into(self, place: str) -> int:
        """Plants moved into a place."""
        return sum(row[COUNT] for row in self._rows if row[KIND] == "moved" and row[TO] == place)


def _first(rows: list[Row], kind: str, place: str) -> float | None:
    """The time of the first row of a kind in a place [d]."""
    return next((row[TIME] for row in rows if row[KIND] == kind and row[PLACE] == place), None)


class Stories:
    """Tells the story of any batch of one simulated year."""

    def __init__(self, plan: Plan, rows: Sequence[Row]) -> None:
        self._plan, self._rows = plan, rows
        self._scenario, self._table = plan.scenario, plan.timetable
        self._of: dict[str, list[Row]] = {}
        for row in rows:
            self._of.setdefault(row[BATCH], []).append(row)
        needs = crop_needs(self._table, ordered(self._table, plan.leavings))
        self._chains = {need.chain.crop: need.chain for need in needs}

    def story(self, seeding: PlannedSeeding, since: float, until: float) -> Story:
        """Of one planned seeding, for deliveries between two times."""
        crop = self._scenario.crops[seeding.crop]
        rows = self._of.get(seeding.batch, [])
        first, last = crop.stages[0].place, crop.stages[-1].place
        cells = seeding.trays * self._scenario.places[first].sites_each
        before = Counted([row for row in rows if row[TIME] < until])
        each = self._chains[seeding.crop].heads_per_cell
        seeded, dumped = before.count("seeded"), self._dumped(seeding.crop, before)
        standing = self._not_ready(seeding.crop, crop, before)
        earlier = Counted([row for row in rows if row[TIME] < since])
        gone = earlier.count("delivered") + earlier.count("surplus")
        came = before.count("finished", last) - before.count("dumped", last)
        there = came - gone - before.count("dumped", NAME)
        not_seeded = (cells - seeded) * each
        return Story(
            seeding,
            cells * each,
            not_seeded,
            cells * each - not_seeded - dumped - standing - gone - there,
            dumped,
            standing,
            gone,
            there,
            next((row[CAUSE] for row in rows if row[KIND] == "missed"), ""),
            tuple(dict.fromkeys(row[CAUSE] for row in rows if row[KIND] == "dumped")),
            _first(rows, "seeded", first),
            _first(rows, "finished", last),
            tuple(self._waits(crop, rows)),
        )

    def _not_ready(self, name: str, crop: Crop, before: Counted) -> float:
        """Heads that plants on their way will give at mean losses."""
        chain, heads = self._chains[name], 0.0
        for step, stage, after in zip(
            chain.steps, crop.stages, [*(s.place for s in crop.stages[1:]), None], strict=True
        ):
            came = before.count("seeded") if stage is crop.stages[0] else before.into(stage.place)
            stand = came - before.count("lost", stage.place)
            done = before.count("finished", stage.place)
            if after is None:
                stand -= done
            else:
                stand -= before.into(after) + before.count("dumped", stage.place)
            share = step.plants_finished if done else step.plants_set
            heads += stand * chain.heads_per_cell / share
        return heads

    def _dumped(self, name: str, before: Counted) -> float:
        """Heads that dumped plants would have given at mean losses."""
        chain = self._chains[name]
        heads = sum(
            before.count("dumped", step.place) * chain.heads_per_cell / step.plants_finished
            for step in chain.steps
        )
        return heads + before.count("dumped", NAME)

    def _waits(self, crop: Crop, rows: list[Row]) -> Iterator[Wait]:
        """Each move for which plants waited a day or longer."""
        for stage, after in zip(crop.stages, crop.stages[1:], strict=False):
            ready = [row for row in rows if row[KIND] == "finished" and row[PLACE] == stage.place]
            moves = [row for row in rows if row[KIND] == "moved" and row[PLACE] == stage.place]
            if not ready:
                continue
            since = ready[0][TIME]
            late = [row for row in moves if row[TIME] - since >= 1.0]
            if not moves or late:
                till = late[-1][TIME] if late else None
                plants = sum(row[COUNT] for row in late) if late else ready[0][COUNT]
                why = self._why_waited(after.place, after.moved_in_by, since, till)
                yield Wait(after.place, since, till, plants, why)

    def _why_waited(self, place: str, task: str | None, since: float, till: float | None) -> str:
        """What held a move up: nobody there, no free container, or other work."""
        end = int(till) if till is not None else min(self._table.days - 1, int(since) + 7)
        staffed = [day for day in range(int(since), end) if self._table.staffed(task, day)]
        if not staffed:
            closure = self._table.school_year.closure(self._table.date_of(int(since)))
            return f"nobody there ({closure})" if closure else "nobody there"
        free, dirty = self.containers(place, staffed[0] + 1.0)
        word = self._scenario.places[place].container
        if free > 0:
            return "not enough minutes"
        return f"no clean {word}, {dirty} wait to be washed" if dirty else f"no free {word}"

    def containers(self, place: str, time: float) -> tuple[float, int]:
        """Containers of a place that are free just before a time, and those yet to be cleaned.

        Infinitely many are free in a place without a limit.
        """
        taken = empty = 0
        for row in self._rows:
            if row[TIME] >= time:
                break
            kind, containers = row[KIND], row[CONTAINERS]
            if place == (row[TO] if kind == "moved" else row[PLACE]):
                taken += containers * _TAKES.get(kind, 0)
                empty += containers * _EMPTIES.get(kind, 0)
        count = self._scenario.places[place].count
        return (float("inf") if count is None else count - taken), empty


def ready_day(timetable: Timetable, crop: Crop, seeded: int) -> int:
    """The day on which plants seeded on a day would be ready, were nobody ever waited for [d]."""
    day = seeded
    for stage in crop.stages:
        day = finished(timetable, stage, day)
    return day
