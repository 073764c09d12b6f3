"""The things of the reference simulation: containers, rooms, plants, parts, batches."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable

from sim.parts import Place

TICK = 1e-9  # [d] work that ends within 0.1 ms of a limit ends on time


class Container:
    """One container: free, in use, to clear, to wash or resting."""

    def __init__(self, room: Room) -> None:
        self.room, self.state, self.since = room, "free", 0.0
        self.plants: set[Plant] = set()
        self.filled = 0  # plants put in, or on their way, since it was taken

    def turn(self, state: str, now: float) -> None:
        """Note the days spent in the state that ends, and begin the next."""
        self.room.days[self.state] += self.room.within(self.since, now)
        self.state, self.since = state, now


class Room:
    """A place: its containers, and the container-days and plant-days within the window."""

    def __init__(self, spec: Place, within: Callable[[float, float], float]) -> None:
        self.spec, self.within = spec, within
        self.containers = [Container(self) for _ in range(spec.count or 0)]
        self.free = list(self.containers)
        self.days: defaultdict[str, float] = defaultdict(float)
        self.plant_days = 0.0

    def take(self, now: float) -> Container:
        """A free container, now in use."""
        if not self.free and self.spec.count is None:
            self.containers.append(Container(self))
            self.free.append(self.containers[-1])
        container = self.free.pop(0)
        container.turn("in use", now)
        container.filled = 0
        return container

    def has_free(self) -> bool:
        """Whether a container could be taken now."""
        return bool(self.free) or self.spec.count is None


class Batch:
    """Plants seeded together, with the luck they share: drawn lengths, stand, bad event."""

    def __init__(self, number: int) -> None:
        self.number = number
        self.lengths: dict[int, float] = {}
        self.stands: dict[int, tuple[float, float]] = {}


class Plant:
    """One cell from its seeding to its fate: lost, dumped or delivered, with the cause."""

    __slots__ = ("culled", "delivered", "entered", "fate", "harvested", "part", "seeded", "spot")

    def __init__(self, seeded: float) -> None:
        self.seeded = self.entered = seeded
        self.fate: tuple[str, str] | None = None
        self.part: Part | None = None
        self.spot: Container | None = None
        self.harvested = self.delivered = math.nan
        self.culled = False


class Part:
    """The plants of a batch that came into one place on one date, container by container."""

    def __init__(self, batch: Batch, step: int, placed: int) -> None:
        self.batch, self.step, self.placed = batch, step, placed
        self.containers: list[Container] = []
        self.plants: list[Plant] = []  # the last one leaves first
        self.finished = math.nan

    def spread(self) -> None:
        """Spread the n plants left over the c containers held: m left hold ceil(m c / n)."""
        held, plants = len(self.containers), len(self.plants)
        for container in self.containers:
            container.plants.clear()
        for index, plant in enumerate(self.plants):
            plant.spot = self.containers[-(-(index + 1) * held // plants) - 1]
            plant.spot.plants.add(plant)
