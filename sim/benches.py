"""What stands in the greenhouse on a day: plants, containers to clean, stored heads.

A scenario that holds benches starts on their day, at 00:00, with what stands there; one without
starts empty. How a stage goes on is drawn given the age already reached (`greenhouse.standing`).
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Annotated, Self

from pydantic import Field, model_validator

from sim.parts import Amount, Count, Day, Model, Name


class Standing(Model):
    """Plants of one batch that were set into one place on one day.

    `plants` are those that were set in (cells, in the first stage) and have not left: the losses
    of a stage are taken at its end. With `living` they were counted as they stand, and what
    this stage still takes is less by the share of it that is over. `containers` None is as many
    as the plants need. `ready` is the day on which they were ready to move or to harvest, None if
    they still grow. `seeded` and `moved` (into this place) are days.
    """

    crop: str
    place: str
    plants: Count
    seeded: Day
    moved: Day
    ready: Day | None = None
    containers: Count | None = None
    living: bool = False
    batch: str = ""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.seeded <= self.moved <= (self.ready or self.moved):
            raise ValueError(
                f"seeded ({self.seeded}), moved ({self.moved}) and ready ({self.ready}) must "
                "follow each other; mend the dates"
            )
        return self


class ToClean(Model):
    """Containers of a place without plants: `to_clear` of dumped ones first, `to_wash`."""

    place: str
    to_clear: Amount = 0
    to_wash: Amount = 0


class Stored(Model):
    """Heads of one crop in the cold store, put in at one time; `seeded` names the batch."""

    crop: str
    heads: Count
    since: Annotated[datetime, Field(strict=True)]
    batch: Name | None = None


class ToSeed(Model):
    """Trays that were to be seeded on a day before and still wait for it."""

    crop: str
    trays: Count
    day: Day


class Benches(Model):
    """What stands in the greenhouse at 00:00 of a day."""

    day: Day
    standing: tuple[Standing, ...] = ()
    to_clean: tuple[ToClean, ...] = ()
    stored: tuple[Stored, ...] = ()
    to_seed: tuple[ToSeed, ...] = ()

    @model_validator(mode="after")
    def _before_the_day(self) -> Self:
        days = [(s.moved, f"{s.crop} in {s.place}") for s in self.standing]
        days += [
            (s.ready - timedelta(days=1), f"{s.crop}, ready") for s in self.standing if s.ready
        ]
        days += [(s.since.date() - timedelta(days=1), f"{s.crop}, stored") for s in self.stored]
        days += [(s.day, f"{s.crop} to seed") for s in self.to_seed]
        for day, what in days:
            if day >= self.day:
                raise ValueError(
                    f"{what}: must be before the day of the benches, {self.day}, but it is of "
                    f"{day}; mend the date, or the day of the benches"
                )
        return self

    def date_range(self) -> tuple[date, date]:
        """The first date that anything here goes back to, and the day itself."""
        first = [s.seeded for s in self.standing] + [s.day for s in self.to_seed]
        return min([*first, self.day]), self.day
