"""The parts of a batch on their way through the places: seeded, finished, moved, dumped."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from sim.greenhouse.fate import WHOLE, Batch
from sim.greenhouse.jobs import Complete, Job

if TYPE_CHECKING:
    from sim.greenhouse.house import House
    from sim.greenhouse.places import Room
    from sim.greenhouse.plan import Sowing


class Part:
    """What one batch moved into one place on one date.

    `there` plants stand in the place, `left` of them are not spoken for, `held` containers are
    taken. `of` and `containers` are the plants and containers at the last count (rule P2). When
    it waits to be moved, `to_set` plants will be set and `culls` thrown out.
    """

    __slots__ = (
        "batch", "containers", "culls", "day", "deadline", "fate", "held", "house", "job", "left",
        "number", "of", "placed", "room", "stage", "there", "to_set",
    )  # fmt: skip

    def __init__(self, batch: Batch, number: int, room: Room, house: House) -> None:
        self.batch, self.number, self.room, self.house = batch, number, room, house
        self.stage, self.fate = batch.crop.stages[number], batch.fates[number]
        self.placed = house.clock.time
        self.day = int(self.placed)
        self.there = self.left = self.of = self.containers = self.held = 0
        self.deadline = -1
        self.job: MoveJob | None = None
        batch.targets[number] = self

    @property
    def spare_sites(self) -> int:
        """Free sites in the containers of a part that is still being filled."""
        return self.containers * self.room.sites - self.of

    def fill(self, plants: int) -> int:
        """Set aside sites for plants that are on their way; the number of new containers."""
        room = self.room
        self.of += plants
        taken = -(-self.of // room.sites) - self.containers
        self.containers += taken
        self.held += taken
        room.free -= taken
        return taken

    def arrive(self, plants: int) -> None:
        """Let plants stand here; the first ones set the day when the part is finished."""
        house = self.house
        if not self.there:
            house.on_day(self.stage.finished(self.day, self.fate.length), self.finish)
        there = self.there = self.left = self.there + plants
        # the mean time of arrival: plants x time since then is right, however many stints it took
        self.placed += (house.clock.time - self.placed) * plants / there

    def leave(self, plants: int, *, dumped: bool = False) -> None:
        """Take plants out and give up the containers that this empties."""
        self.there -= plants
        holds = -(-self.there * self.containers // self.of) if self.there else 0
        emptied = self.held - holds
        if emptied:
            self.held = holds
            self.room.emptied(emptied, self.batch, dumped)

    def finish(self) -> None:
        """Count the stage's losses, then wait for the move or the harvest."""
        batch, house, stage = self.batch, self.house, self.stage
        if batch.targets.get(self.number) is self:
            del batch.targets[self.number]  # and with it a circle of references
        whole = self.there == self.fate.total
        luck = WHOLE if whole else batch.split_luck(self.number)
        good, lost, hit = self.fate.of_part(self.there, luck)
        name, crop, place = batch.name, batch.crop.name, self.room.name
        now, rows, since = house.clock.time, house.rows, self.placed
        if lost:
            cause = stage.loss_cause
            rows.append((now, "lost", name, crop, place, "", "", "", lost, 0, 0.0, since, cause))
        if hit:
            cause = stage.event_cause
            rows.append((now, "lost", name, crop, place, "", "", "", hit, 0, 0.0, since, cause))
        rows.append((now, "finished", name, crop, place, "", "", "", good, 0, 0.0, since, ""))
        self.of = self.there = self.left = good
        if not good:
            self.leave(0)
            return
        if stage.keep_days is not None:
            self.deadline = int(now) + stage.keep_days
            house.on_day(self.deadline, self.expire)
        if stage.next is None:
            house.fields[crop].ripen(self)
        else:
            self._await_move(luck)

    def _await_move(self, luck: list[float]) -> None:
        self.to_set = self.fate.set_of_part(self.left, luck)
        self.culls = self.left - self.to_set
        if self.to_set:
            self.job = MoveJob(self)
            self.house.board.add(self.job)
        else:
            self.cull(self.culls)
            self.leave(self.there)

    def _note(self, kind: str, plants: int, cause: str) -> None:
        """Note what became of plants where they stand."""
        batch, house = self.batch, self.house
        house.rows.append(
            (house.clock.time, kind, batch.name, batch.crop.name, self.room.name, "", "", "",
             plants, 0, 0.0, self.placed, cause)
        )  # fmt: skip

    def cull(self, plants: int) -> None:
        """Count plants that do not outlive the move; they have still to leave."""
        assert self.stage.next
        self._note("lost", plants, self.stage.next.cull_cause)
        self.culls -= plants

    def expire(self) -> None:
        """Dump what still waits: overgrown seedlings, over-mature heads (rule C6)."""
        if not self.there:
            return
        batch, house = self.batch, self.house
        if self.job:
            house.board.remove(self.job)
            cause = "overgrown"
        else:
            house.fields[batch.crop.name].drop(self)
            cause = "over-mature"
        self._note("dumped", self.there, cause)
        self.left = 0
        self.leave(self.there, dumped=True)
        house.stir()


class MoveJob(Job):
    """Plants of one part that wait to be moved; the unit is a plant set."""

    __slots__ = ("part", "plants", "room")

    def __init__(self, part: Part) -> None:
        assert part.stage.next
        Job.__init__(self, part.house, part.stage.next.task, part.house.clock.time)
        self.part = part
        self.room = part.house.rooms[part.stage.next.place]
        self.plants = part.to_set

    @property
    def units_each(self) -> int:  # type: ignore[override]
        """Plants that fit one container."""
        return self.room.sites

    def workable(self) -> int:
        """Plants for which a site is free now."""
        sites = self.room.free * self.room.sites
        if sites >= self.plants:
            return self.plants
        target = self.part.batch.target(self.part.number + 1, self.house.clock.time)
        return min(self.plants, sites + target.spare_sites if target else sites)

    def needs(self) -> tuple[Room, int]:
        """The containers it still wants."""
        return self.room, -(-self.plants // self.room.sites)

    def begin(self, units: int) -> Complete:
        """Set sites aside; done, the plants are set and the culls met on the way thrown out."""
        self.plants -= units
        if not self.plants:
            self.house.board.remove(self)
        batch, number, house = self.part.batch, self.part.number + 1, self.house
        onto = batch.target(number, house.clock.time) or Part(batch, number, self.room, house)
        return partial(self._complete, units, onto, onto.fill(units))

    def _complete(self, units: int, onto: Part, taken: int, crew: str, minutes: float) -> None:
        part, batch, house = self.part, self.part.batch, self.house
        house.rows.append(
            (house.clock.time, "moved", batch.name, batch.crop.name, part.room.name,
             self.room.name, crew, "", units, taken, minutes, part.placed, "")
        )  # fmt: skip
        culls = part.culls * units // part.to_set
        part.to_set -= units
        if culls:
            part.cull(culls)
        onto.arrive(units)
        part.leave(units + culls)
        if not part.there:
            part.job = None  # ends a circle of references


class SeedJob(Job):
    """Trays of one batch that wait to be seeded; the unit is a tray."""

    __slots__ = ("batch", "room", "trays")

    def __init__(self, house: House, sowing: Sowing, numbers: list[list[float]]) -> None:
        first, seeding = sowing.crop.stages[0], sowing.seeding
        Job.__init__(self, house, first.task, float(seeding.day))
        self.room = house.rooms[first.place]
        self.trays = seeding.trays
        self.batch = Batch(sowing, numbers, house.luck)

    def workable(self) -> int:
        """Trays for which there is a free tray space."""
        return self.trays if self.trays < self.room.free else self.room.free

    def needs(self) -> tuple[Room, int]:
        """The tray spaces it still wants."""
        return self.room, self.trays

    def begin(self, units: int) -> Complete:
        """Take the tray spaces; done, the cells stand in the nursery."""
        self.trays -= units
        if not self.trays:
            self.house.board.remove(self)
        batch, house = self.batch, self.house
        onto = batch.target(0, house.clock.time) or Part(batch, 0, self.room, house)
        onto.fill(units * self.room.sites)
        return partial(self._complete, units, onto)

    def _complete(self, units: int, onto: Part, crew: str, minutes: float) -> None:
        self._note("seeded", units, "", crew, minutes)
        onto.arrive(units * self.room.sites)

    def lapse(self) -> None:
        """Record what could not be done in time (rule K4)."""
        if self.trays:
            self.house.board.remove(self)
            staffed = self.house.timetable.staffed
            days = range(int(self.age), int(self.house.clock.time))
            cause = "not enough minutes"
            if not any(staffed(self.task, day) for day in days):
                cause = "nobody there"
            elif self.room.free <= 0:
                cause = f"no free {self.house.plan.scenario.places[self.room.name].container}"
            self._note("missed", self.trays, cause)
            self.trays = 0

    def _note(
        self, kind: str, trays: int, cause: str, crew: str = "", minutes: float = 0.0
    ) -> None:
        batch, house, room = self.batch, self.house, self.room
        house.rows.append(
            (house.clock.time, kind, batch.name, batch.crop.name, room.name, "", crew, "",
             trays * room.sites, trays, minutes, 0.0, cause)
        )  # fmt: skip
