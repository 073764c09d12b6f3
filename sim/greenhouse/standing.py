"""A run that starts from benches: what stands there goes on, given the age already reached.

A stage's length is drawn from those above the time that has passed (`StageDays.beyond`), never
from the beginning. Each batch keeps the luck of its slot where the cadence knows it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from sim.benches import Benches, Standing, ToSeed
from sim.greenhouse.batch import MoveJob, Part, SeedJob
from sim.greenhouse.cold_store import NAME
from sim.greenhouse.fate import WHOLE, Batch, Fate
from sim.school_year import MINUTES_PER_DAY, monday
from sim.seeding import PlannedSeeding

if TYPE_CHECKING:
    from sim.greenhouse.house import House

_UNPLANNED = 1000  # entries of batches that the cadence does not know start here


def set_up(house: House, benches: Benches) -> None:
    """Put everything in its place at the start of the run."""
    batches: defaultdict[str, list[Standing]] = defaultdict(list)
    for row in sorted(benches.standing, key=lambda s: (s.seeded, s.crop, s.ready or date.max)):
        batches[row.batch or f"{row.crop} {row.seeded}"].append(row)
    for name, rows in batches.items():
        _set_batch(house, name, rows)
    for clean in benches.to_clean:
        dirty = clean.to_clear + clean.to_wash
        _note(house, ("", "", clean.place), (0, dirty), 0.0)
        house.rooms[clean.place].left_to_clean(clean.to_clear, clean.to_wash)
    for lot in sorted(benches.stored, key=lambda s: s.since):
        at = lot.since.hour * 60 + lot.since.minute + lot.since.second / 60.0
        since = house.timetable.day_of(lot.since.date()) + at / MINUTES_PER_DAY
        name = lot.batch or f"{lot.crop} stored {lot.since:%Y-%m-%d}"
        _note(house, (name, lot.crop, NAME), (lot.heads, 0), since)
        house.store.put_before(lot.crop, name, lot.heads, since)
    for late in benches.to_seed:
        _still_to_seed(house, late)
    house.do_free_steps()


def _note(house: House, what: tuple[str, str, str], numbers: tuple[int, int], since: float) -> None:
    """Note what was there: of which batch and crop, where; how many, in how many containers."""
    house.rows.append((0.0, "standing", *what, "", "", "", *numbers, 0.0, since, ""))


def _slot(house: House, crop: str, name: str, seeded: date) -> PlannedSeeding:
    """The seeding that a batch came of: the cadence's own, or one of its own slot."""
    known = house.plan.past.get(name)
    if known and known.crop == crop:
        return known
    day = house.timetable.day_of(seeded)
    week, entry = monday(seeded).toordinal() // 7, _UNPLANNED + seeded.weekday()
    return PlannedSeeding(day, crop, 0, week, entry, name)


class StandingBatch(Batch):
    """A batch of which plants stand in one or more stages when the run begins."""

    __slots__ = ()

    def __init__(self, house: House, name: str, rows: list[Standing]) -> None:
        seeding = _slot(house, rows[0].crop, name, rows[0].seeded)
        self.name = name
        self.crop = house.plan.crops[rows[0].crop]
        self._luck = house.luck
        self._week, self._entry = seeding.week, seeding.entry
        self._parts = 0
        self.targets = {}
        self.fates = []
        coming = 0
        for number, stage in enumerate(self.crop.stages):
            here = [row for row in rows if row.place == stage.place]
            growing = [row for row in here if not row.ready]
            luck = house.luck.eight(self.crop.key, self._week, self._entry, number)
            there = sum(row.plants for row in growing)
            fate = Fate(stage, there + coming, luck, self._to_go(house, number, growing))
            if growing:
                oldest = house.timetable.day_of(min(row.moved for row in growing))
                fate.length = stage.days.beyond(stage.grown(oldest), luck[0])
            fate.kept += sum(row.plants for row in here if row.ready)
            fate.left_to_move = fate.left_to_set = fate.kept
            self.fates.append(fate)
            if stage.next:
                coming = fate.will_set(luck[5], stage.next)

    def _to_go(self, house: House, number: int, rows: list[Standing]) -> float:
        """The share of a stage's losses that is still to come, for plants counted as they stand."""
        if not any(row.living for row in rows):
            return 1.0
        stage = self.crop.stages[number]
        oldest = house.timetable.day_of(min(row.moved for row in rows))
        return max(0.0, 1.0 - stage.grown(oldest) / stage.stage.days)


def _set_batch(house: House, name: str, rows: list[Standing]) -> None:
    batch = StandingBatch(house, name, rows)
    for number, stage in enumerate(batch.crop.stages):
        for row in rows:
            if row.place == stage.place:
                _set_part(house, batch, number, row)


def _set_part(house: House, batch: Batch, number: int, row: Standing) -> None:
    """Let the plants of one row stand where they stand."""
    room = house.rooms[row.place]
    part = Part(batch, number, room, house)
    part.day = house.timetable.day_of(row.moved)
    part.placed = float(part.day)
    needed = -(-row.plants // room.sites)
    part.fill(row.plants)
    more = max(row.containers or needed, needed) - needed
    part.containers += more
    part.held += more
    room.free -= more
    part.there = part.left = row.plants
    what = batch.name, batch.crop.name, room.name
    _note(house, what, (row.plants, part.held), part.placed)
    if row.ready:
        _set_ready(house, part, house.timetable.day_of(row.ready))
    else:
        day = part.stage.finished(part.day, part.fate.length)
        house.on_day(max(0, day), part.finish)


def _set_ready(house: House, part: Part, ready: int) -> None:
    """Plants that were ready before the run, and wait to be moved or harvested."""
    del part.batch.targets[part.number]
    stage = part.stage
    if stage.keep_days is not None:
        part.deadline = max(0, ready + stage.keep_days)
        house.on_day(part.deadline, part.expire)
    if stage.next is None:
        house.fields[part.batch.crop.name].ripen(part)
        return
    whole = part.left == part.fate.left_to_move
    luck = WHOLE if whole else part.batch.split_luck(part.number)
    part.to_set = part.fate.set_of_part(part.left, luck)
    part.culls = part.left - part.to_set
    if part.to_set:
        part.job = MoveJob(part)
        part.job.age = float(ready)
        house.board.add(part.job)
    else:
        part.cull(part.culls)
        part.leave(part.there)


def _still_to_seed(house: House, late: ToSeed) -> None:
    """Trays of a seeding before the run that may still be seeded."""
    day = house.timetable.day_of(late.day)
    planned: Iterable[PlannedSeeding] = house.plan.past.values()
    known = [s for s in planned if s.crop == late.crop and s.day == day]
    slot = known[0] if known else _slot(house, late.crop, f"{late.crop} {late.day}", late.day)
    seeding = PlannedSeeding(day, late.crop, late.trays, slot.week, slot.entry, slot.batch)
    sowing = house.plan.sowing(seeding)
    job = SeedJob(house, sowing, house.luck.each(sowing.identities).tolist())
    house.board.add(job)
    house.on_day(max(0, day + house.plan.scenario.cadence.late_days + 1), job.lapse)
