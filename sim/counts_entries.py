"""What one row of a school's records says, what is wrong with it, what was assumed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Final

ALL: Final = -1  # count of a row that says "ready" without a number: all of them
SEEN_READY: Final = "seen ready"  # cause of rows `finished`: their plants were not counted


@dataclass(frozen=True, slots=True)
class CountProblem:
    """A row that cannot be used: its number in the file, the cell, what it must be, the remedy.

    `value` is what the cell holds, unless it may be somebody's name; "" if it is empty.
    """

    row: int
    column: str
    value: str
    must: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Stand:
    """Plants counted alive in a place on a day; `batch` is "" for those of all batches."""

    row: int
    day: date
    batch: str
    crop: str
    place: str
    plants: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the records, its cells understood.

    `day` [days since the run's first] and `clock` [share of a day, None if not written]. `label`
    and `seeded` are what the row says of its batch. `count` in cells, plants, heads or times;
    `containers` are trays or channels; `minutes` are person-minutes [min], `people` those present.
    `shift` is the number of the dated shift it belongs to, None if that is not known. `column` is
    the one that it stands in, if a row has columns for several kinds of work, otherwise 0.
    """

    row: int
    kind: str
    day: int
    clock: float | None
    crop: str
    label: str
    seeded: date | None
    place: str
    to: str
    customer: str
    crew: str
    count: int
    containers: int
    minutes: float
    people: int | None
    cause: str
    shift: int | None = None
    batch: str = ""
    column: int = 0


@dataclass(slots=True)
class Said:
    """What is told of the reading: problems by row, and what was assumed in which rows."""

    problems: list[CountProblem] = field(default_factory=list)
    assumed: dict[str, list[int]] = field(default_factory=dict)

    def assume(self, text: str, row: int) -> None:
        """Note that something was assumed in a row."""
        self.assumed.setdefault(text, []).append(row)
