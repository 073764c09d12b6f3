"""Jobs of the reference simulation: what a unit needs, and what it does when it is done."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from .plan import Delivery
from .things import Batch, Container, Part, Plant

if TYPE_CHECKING:
    from .house import Reference

Finish = Callable[[], None]


class Job:
    """Work in units, on the list of jobs until its last unit is begun or given up."""

    until = math.inf  # a unit must end by then [d]

    def __init__(self, house: Reference, task: str | None) -> None:
        self.task = task
        spec = house.scenario.tasks[task] if task else None
        self.key: tuple[int, float, float] = (
            spec.priority if spec else 0,
            house.now,
            house.next_number(),
        )

    def ready(self) -> bool:
        """Whether a unit can start now."""
        raise NotImplementedError

    def begin(self) -> Finish:
        """Take what a unit needs; returns what happens at its end."""
        raise NotImplementedError


class OneUnit(Job):
    """A job of a single unit: one container to clear or wash, one day's checks."""

    def __init__(self, house: Reference, task: str | None, finish: Finish) -> None:
        super().__init__(house, task)
        self.house, self.finish = house, finish

    def ready(self) -> bool:
        """Whether a unit can start now."""
        return True

    def begin(self) -> Finish:
        """Take what a unit needs; returns what happens at its end."""
        self.house.crews.forget(self)
        return self.finish


class SeedingJob(Job):
    """A dated seeding: one tray after another while a tray space is free."""

    def __init__(self, house: Reference, day: int, trays: int) -> None:
        super().__init__(house, house.crop.stages[0].moved_in_by)
        self.house, self.day, self.trays = house, day, trays
        self.batch = Batch(house.next_number())
        self.room = house.room_of(0)

    def ready(self) -> bool:
        """Whether a unit can start now."""
        return self.trays > 0 and self.room.has_free()

    def begin(self) -> Finish:
        """Take what a unit needs; returns what happens at its end."""
        self.trays -= 1
        if not self.trays:
            self.house.crews.forget(self)
        part = self.house.part_placed_today(self.batch, 0)
        container = self.room.take(self.house.now)
        part.containers.append(container)
        return lambda: self._seeded(part, container)

    def _seeded(self, part: Part, container: Container) -> None:
        self.house.batches.setdefault(self.batch, self.house.now)
        for _ in range(self.room.spec.sites_each):
            plant = Plant(self.house.now)
            self.house.plants.append(plant)
            self.house.put(plant, part, container)


class MovingJob(Job):
    """The move of a finished part, one plant a unit, into the next place."""

    def __init__(self, house: Reference, part: Part) -> None:
        super().__init__(house, house.crop.stages[part.step + 1].moved_in_by)
        self.house, self.part = house, part
        self.to_move = sum(not plant.culled for plant in part.plants)
        self.room = house.room_of(part.step + 1)

    def ready(self) -> bool:
        """Whether a unit can start now."""
        target = self.house.part_placed_today(self.part.batch, self.part.step + 1)
        return self.to_move > 0 and (self._has_room(target) or self.room.has_free())

    def _has_room(self, target: Part) -> bool:
        return bool(target.containers) and target.containers[-1].filled < self.room.spec.sites_each

    def begin(self) -> Finish:
        """Take what a unit needs; returns what happens at its end."""
        self.cull()
        plant = self.part.plants.pop()
        self.to_move -= 1
        target = self.house.part_placed_today(self.part.batch, self.part.step + 1)
        if not self._has_room(target):
            target.containers.append(self.room.take(self.house.now))
        container = target.containers[-1]
        container.filled += 1
        return lambda: self._moved(plant, target, container)

    def _moved(self, plant: Plant, target: Part, container: Container) -> None:
        self.house.note_wait(self.part)
        self.house.lift(plant)
        self.house.put(plant, target, container)
        if not self.to_move:
            self.cull()
            self.house.crews.forget(self)

    def cull(self) -> None:
        """Take out the culled plants that come before the next one to move."""
        cause = self.house.crop.stages[self.part.step + 1].move_loss_cause
        while self.part.plants and self.part.plants[-1].culled:
            plant = self.part.plants.pop()
            plant.fate = ("lost", cause)
            self.house.lift(plant)


class HarvestJob(Job):
    """Harvest, one head a unit: for one delivery, or of whatever is ready."""

    def __init__(self, house: Reference, delivery: Delivery | None) -> None:
        super().__init__(house, house.crop.harvested_by)
        self.house, self.delivery, self.in_hand = house, delivery, 0
        if delivery:
            self.key = (self.key[0], self.key[1], delivery.leaves)
            self.until = delivery.leaves

    def ready(self) -> bool:
        """Whether a unit can start now."""
        store = self.house.store
        wanted = self.delivery is None or store.still_wanted(self.delivery) > 0
        return wanted and bool(self.house.ready_parts) and store.has_room()

    def begin(self) -> Finish:
        """Take a head of the oldest ready part; returns what happens at the unit's end."""
        part = self.house.ready_parts[0]
        plant = part.plants.pop()
        if not part.plants:
            self.house.ready_parts.remove(part)
        self.in_hand += 1
        return lambda: self._harvested(plant, part)

    def _harvested(self, plant: Plant, part: Part) -> None:
        self.in_hand -= 1
        self.house.note_wait(part)
        self.house.lift(plant)
        self.house.store.put(plant)
