"""A whole scenario; its parts must agree on names, shifts and dates."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from hashlib import sha256
from itertools import chain
from typing import Self

from pydantic import Field, model_validator

from sim.agreement import (
    DisagreementError,
    KeyPath,
    Problem,
    benches_problems,
    cadence_problems,
    date_problems,
    double_tasks,
    order_problems,
    overlapping_shifts,
    reserved_names,
    same_stages,
    task_problems,
    task_uses,
    unknown_names,
)
from sim.benches import Benches
from sim.parts import (
    Cadence,
    ColdStore,
    Crew,
    Crop,
    Dates,
    Day,
    Model,
    Name,
    Order,
    Place,
    School,
    Surplus,
    Task,
)


class Scenario(Model):
    """A whole greenhouse, its people, its orders and its cadence.

    Raises pydantic's ValidationError, a ValueError, if a value is out of its limits or the
    parts do not agree.
    """

    name: Name = "greenhouse"
    school: School
    places: dict[Name, Place]
    crops: dict[Name, Crop]
    tasks: dict[Name, Task] = Field(default_factory=dict)
    crews: dict[Name, Crew] = Field(default_factory=dict)
    daily_checks_by: str | None = None
    orders: tuple[Order, ...] = ()
    surplus: tuple[Surplus, ...] = ()
    cold_store: ColdStore = ColdStore()
    cadence: Cadence = Cadence()
    window: Dates | None = None
    run_first_day: Day | None = None
    benches: Benches | None = None

    @property
    def start(self) -> date:
        """First simulated day."""
        return self.benches.day if self.benches else self.rhythm_start

    @property
    def rhythm_start(self) -> date:
        """The day from which the weeks of a cadence count that seeds every few weeks."""
        return self.run_first_day or self.school.first_day

    def fingerprint(self) -> str:
        """The same 16 letters and digits for the same content, in any process (part of SHA-256)."""
        return sha256(self.model_dump_json().encode()).hexdigest()[:16]

    @property
    def last_planned(self) -> date:
        """Last day of school or of the measuring window, whichever is later."""
        return max(self.school.last_day, self.window.last_day if self.window else date.min)

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        problems = list(
            chain(
                self._unknown_names(),
                reserved_names(self.places),
                task_problems(self.tasks, self.crews),
                same_stages(self.crops),
                double_tasks(self._task_uses()),
                *(overlapping_shifts(name, crew) for name, crew in self.crews.items()),
                date_problems(
                    self.school, self.window, self.rhythm_start, self.run_first_day is not None
                ),
                order_problems(self.orders),
                self._benches_problems(),
                cadence_problems(self.cadence, self.rhythm_start, self.last_planned),
            )
        )
        if problems:
            raise DisagreementError(problems)
        return self

    def _benches_problems(self) -> Iterator[Problem]:
        if self.benches:
            yield from benches_problems(self.benches, self.places, self.crops, self.last_planned)

    def _task_uses(self) -> Iterator[tuple[KeyPath, str, str]]:
        """Key path, task and kind of work, wherever a task is named."""
        yield from task_uses(self.crops)
        for name, place in self.places.items():
            if place.washed_by is not None:
                yield ("places", name, "washed_by"), place.washed_by, "washing containers"
            if place.cleared_by is not None:
                yield ("places", name, "cleared_by"), place.cleared_by, "clearing containers"
        if self.daily_checks_by is not None:
            yield ("daily_checks_by",), self.daily_checks_by, "daily checks"

    def _unknown_names(self) -> Iterator[Problem]:
        stages: list[tuple[KeyPath, str]] = [
            (("crops", name, "stages", number, "place"), stage.place)
            for name, crop in self.crops.items()
            for number, stage in enumerate(crop.stages)
        ]
        yield from unknown_names(stages, self.places, "place")
        uses = ((path, task) for path, task, _ in self._task_uses())
        yield from unknown_names(uses, self.tasks, "task")
        wanted: dict[KeyPath, tuple[Order | Surplus, ...]] = {
            ("orders",): self.orders,
            ("surplus",): self.surplus,
        }
        crops: list[tuple[KeyPath, str]] = [
            ((*at, number, "crop"), entry.crop)
            for at, entries in wanted.items()
            for number, entry in enumerate(entries)
        ]
        lines, added = self.cadence.lines, self.cadence.added
        crops += [(("cadence", "lines", n, "crop"), line.crop) for n, line in enumerate(lines)]
        crops += [(("cadence", "added", n, "crop"), entry.crop) for n, entry in enumerate(added)]
        places: list[tuple[KeyPath, str]] = []
        if self.benches:
            for key in ("standing", "stored", "to_seed"):
                listed = enumerate(getattr(self.benches, key))
                crops += [(("benches", key, n, "crop"), entry.crop) for n, entry in listed]
            for key in ("standing", "to_clean"):
                listed = enumerate(getattr(self.benches, key))
                places += [(("benches", key, n, "place"), entry.place) for n, entry in listed]
        yield from unknown_names(crops, self.crops, "crop")
        yield from unknown_names(places, self.places, "place")
