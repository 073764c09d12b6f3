"""The greenhouse of the reference simulation: days, plants and containers."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Generator

import numpy as np
import simpy

from sim.scenario import Scenario

from .crews import Crews
from .jobs import HarvestJob, Job, MovingJob, OneUnit, SeedingJob
from .plan import Plan
from .store import Store
from .things import Batch, Container, Part, Plant, Room


class Reference:
    """The greenhouse of the reference: rooms, jobs, crews and cold store of one run."""

    def __init__(self, scenario: Scenario, seed: int) -> None:
        self.scenario, self.plan = scenario, Plan(scenario)
        self.crop = self.plan.crop
        self.env = simpy.Environment()
        self.rng = np.random.default_rng(seed)
        self.rooms = {name: Room(p, self.within) for name, p in scenario.places.items()}
        self.numbers = 0
        self.parts: dict[tuple[Batch, int, int], Part] = {}
        self.due: defaultdict[int, list[Part]] = defaultdict(list)
        self.deadlines: defaultdict[int, list[tuple[Part, Job | None]]] = defaultdict(list)
        self.ready_parts: list[Part] = []
        self.plants: list[Plant] = []
        self.batches: dict[Batch, float] = {}
        self.missed_trays: list[tuple[int, int]] = []
        self.waits: defaultdict[str, list[float]] = defaultdict(list)
        self.crews, self.store = Crews(self), Store(self)
        self.env.process(self._days())

    @property
    def now(self) -> float:
        """Days since the scenario's first day began [d]."""
        return float(self.env.now)

    def next_number(self) -> int:
        """A number for the order of creation."""
        self.numbers += 1
        return self.numbers

    def within(self, start: float, end: float) -> float:
        """Days of a stretch of time that lie inside the measuring window [d]."""
        return max(0.0, min(end, self.plan.closes) - max(start, self.plan.opens))

    def in_window(self) -> bool:
        """Whether it is now inside the measuring window."""
        return self.plan.opens <= self.now < self.plan.closes

    def _days(self) -> Generator[simpy.Event, None, None]:
        """What happens at 00:00 of each day, in this order; then the day's shifts."""
        seedings = defaultdict(list)
        for day, trays in self.plan.seedings:
            seedings[day].append(trays)
        for day in range(self.plan.end):
            self._miss_late_seedings(day)
            for part in self.due.pop(day, []):
                self._finish_stage(part)
            self.crews.nobody_needed()
            self._dump_overdue(day)
            for trays in seedings[day]:
                self.crews.add(SeedingJob(self, day, trays))
            self._daily_checks(day)
            for shift in self.plan.shifts[day]:
                self.env.process(self.crews.shift(shift))
            self.crews.changed()
            yield self.env.timeout(day + 1 - self.now)

    def _miss_late_seedings(self, day: int) -> None:
        for job in [job for job in self.crews.jobs if isinstance(job, SeedingJob)]:
            if day > job.day + self.scenario.cadence.late_days:
                self.missed_trays.append((job.day, job.trays))
                self.crews.forget(job)

    def _daily_checks(self, day: int) -> None:
        """One unit on each day with a shift that may do it; what was not done lapses."""
        task = self.scenario.daily_checks_by
        if task:
            self.crews.jobs = [job for job in self.crews.jobs if job.task != task]
            if self.plan.staffed(day, task):
                self.crews.add(OneUnit(self, task, lambda: None))

    def room_of(self, step: int) -> Room:
        """The place of a stage."""
        return self.rooms[self.crop.stages[step].place]

    def part_placed_today(self, batch: Batch, step: int) -> Part:
        """The part that plants of a batch join when they come into a place now."""
        today = math.floor(self.now)
        key = (batch, step, today)
        if key not in self.parts:
            self.parts[key] = Part(batch, step, today)
        return self.parts[key]

    def put(self, plant: Plant, part: Part, container: Container) -> None:
        """Put a plant into a container; its part finishes whole days after today."""
        if not part.plants:
            stage = self.crop.stages[part.step]
            if part.step not in part.batch.lengths:
                part.batch.lengths[part.step] = self.rng.normal(stage.days, stage.days_sd)
            drawn = part.batch.lengths[part.step]
            part.finished = part.placed + self.plan.whole_days(stage, drawn, part.placed)
            self.due[int(part.finished)].append(part)
        plant.part, plant.spot, plant.entered = part, container, self.now
        part.plants.append(plant)
        container.plants.add(plant)

    def lift(self, plant: Plant) -> None:
        """Take a plant out of its container; emptied ones go to be washed."""
        part, container = plant.part, plant.spot
        assert part is not None
        assert container is not None
        container.room.plant_days += self.within(plant.entered, self.now)
        container.plants.remove(plant)
        plant.part = plant.spot = None
        self._give_back(part)

    def _give_back(self, part: Part) -> None:
        while part.containers and not part.containers[-1].plants:
            self._to_wash(part.containers.pop())

    def _stand(self, batch: Batch, step: int) -> tuple[float, float]:
        """A batch's chances that a plant comes through a stage, and through a bad event."""
        if step not in batch.stands:
            stage = self.crop.stages[step]
            mean, sd = 1 - stage.loss_percent / 100, stage.loss_sd_points / 100
            if sd > 0:
                weight = mean * (1 - mean) / sd**2 - 1
                mean = self.rng.beta(mean * weight, (1 - mean) * weight)
            event, spared = stage.bad_event, 1.0
            if event and self.rng.random() < event.percent_of_batches / 100:
                spared = 1 - event.loss_percent / 100
            batch.stands[step] = (mean, spared)
        return batch.stands[step]

    def _finish_stage(self, part: Part) -> None:
        """C5: count the losses plant by plant, then open the move or the harvest."""
        stage = self.crop.stages[part.step]
        stand, spared = self._stand(part.batch, part.step)
        alive = []
        luck = self.rng.random((len(part.plants), 3))
        last = part.step + 1 == len(self.crop.stages)
        culls = 0.0 if last else self.crop.stages[part.step + 1].move_loss_percent / 100
        for plant, (growing, event, moving) in zip(part.plants, luck, strict=True):
            if growing < stand and event < spared:
                plant.culled = moving < culls
                alive.append(plant)
                continue
            bad = stage.bad_event.cause if stage.bad_event else ""
            plant.fate = ("lost", stage.loss_cause if growing >= stand else bad)
            self.room_of(part.step).plant_days += self.within(plant.entered, self.now)
            plant.part = plant.spot = None
        part.plants = alive
        part.spread()
        if not alive:
            self._give_back(part)
        elif last:
            self._open_harvest(part)
        else:
            self._open_move(part)

    def _open_move(self, part: Part) -> None:
        job = MovingJob(self, part)
        if job.to_move:
            self.crews.add(job)
            self._set_deadline(part, job)
        else:
            job.cull()

    def _open_harvest(self, part: Part) -> None:
        self.ready_parts.append(part)
        self.ready_parts.sort(key=lambda p: (p.finished, p.placed, p.batch.number))
        self._set_deadline(part, None)
        if self.crop.harvest == "when ready" and not any(
            isinstance(job, HarvestJob) for job in self.crews.jobs
        ):
            self.crews.add(HarvestJob(self, None))

    def _set_deadline(self, part: Part, job: Job | None) -> None:
        keep = self.crop.stages[part.step].keep_days
        if keep is not None:
            self.deadlines[int(part.finished) + keep].append((part, job))

    def _dump_overdue(self, day: int) -> None:
        """C6: at 00:00 of the deadline what is left is dumped; its containers are cleared."""
        for part, job in self.deadlines.pop(day, []):
            cause = "overgrown" if job else "over-mature"
            for plant in part.plants:
                plant.fate = ("dumped", cause)
                self.room_of(part.step).plant_days += self.within(plant.entered, self.now)
                plant.part = plant.spot = None
            part.plants = []
            while part.containers:
                part.containers[-1].plants.clear()
                self._to_clear(part.containers.pop())
            if job:
                self.crews.forget(job)
            elif part in self.ready_parts:
                self.ready_parts.remove(part)

    def note_wait(self, part: Part) -> None:
        """Note how long a plant that moves on now has waited since it was finished."""
        if self.in_window():
            self.waits[self.crop.stages[part.step].name].append(self.now - part.finished)

    def _to_clear(self, container: Container) -> None:
        if container.room.spec.cleared_by:
            container.turn("to clear", self.now)
            task = container.room.spec.cleared_by
            self.crews.add(OneUnit(self, task, lambda: self._to_wash(container)))
        else:
            self._to_wash(container)

    def _to_wash(self, container: Container) -> None:
        if container.room.spec.washed_by:
            container.turn("to wash", self.now)
            task = container.room.spec.washed_by
            self.crews.add(OneUnit(self, task, lambda: self._to_rest(container)))
        else:
            self._to_rest(container)

    def _to_rest(self, container: Container) -> None:
        if container.room.spec.rest_hours:
            container.turn("resting", self.now)
            self.env.process(self._rest(container))
        else:
            self._free(container)

    def _rest(self, container: Container) -> Generator[simpy.Event, None, None]:
        yield self.env.timeout(container.room.spec.rest_hours / 24)
        self._free(container)
        self.crews.changed()

    def _free(self, container: Container) -> None:
        container.turn("free", self.now)
        container.room.free.append(container)
