"""One row of a benches file: its cells by field, and what they say stands there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Final

from sim.agreement import advice
from sim.benches import Standing, Stored, ToClean, ToSeed
from sim.collisions import finished
from sim.counts_values import Cell, Style, WrongError, text, whole
from sim.counts_values import day as day_in
from sim.counts_words import bare, names_of
from sim.parts import Stage
from sim.scenario_file import Assumption
from sim.school_year import spoken
from sim.timetable import Timetable
from sim.written import shown

HEADER: Final = (
    "what", "batch", "crop", "place", "trays or channels", "plants", "seeded on", "moved on",
    "ready", "living",
)  # fmt: skip
WHAT: Final = ("growing", "to wash", "to clear", "stored", "to seed")
COUNTED_ON: Final = "counted on"
_READ_AS: Final = {
    "what": "what", "batch": "batch", "crop": "crop", "variety": "crop", "place": "place",
    "where": "place", "trays or channels": "containers", "containers": "containers",
    "trays": "containers", "channels": "containers", "rafts": "containers", "plants": "plants",
    "heads": "plants", "plants or heads": "plants", "seeded on": "seeded", "seeded": "seeded",
    "moved on": "moved", "moved": "moved", "since": "moved", "ready": "ready",
    "ready since": "ready", "living": "living", COUNTED_ON: "day",
}  # fmt: skip
_ALSO: Final = {"": "growing", "plants": "growing", "dirty": "to wash", "heads": "stored"}
_YES: Final = frozenset(("yes", "y", "true", "x", "1"))
_NO: Final = frozenset(("no", "n", "false", "0"))

Thing = Standing | ToClean | Stored | ToSeed


def fields(row: Sequence[Cell]) -> dict[str, int]:
    """Which field stands in which column, if the row is one of headings."""
    found: dict[str, int] = {}
    for column, cell in enumerate(row):
        if name := _READ_AS.get(bare(text(cell))):
            found.setdefault(name, column)
    return found


@dataclass
class Line:
    """One row of a file: its number, its cells by field, and the heading of each field.

    `column` is the field that was looked at last.
    """

    number: int
    cells: dict[str, Cell]
    headings: dict[str, str] = field(default_factory=dict)
    column: str = "what"

    def look(self, name: str) -> Cell:
        """The cell of a field."""
        self.column = name
        return self.cells.get(name)

    def words(self, name: str) -> str:
        """The cell of a field as text."""
        return text(self.look(name))

    @property
    def heading(self) -> str:
        """The heading of the field that was looked at last."""
        return self.headings.get(self.column, self.column)

    def told(self, file: str, wrong: WrongError) -> str:
        """What is wrong with the cell that was looked at last."""
        cell = text(self.cells.get(self.column))
        was = f"it is {shown(cell)}" if cell else "the cell is empty"
        end = "" if wrong.remedy.endswith("?") else "."
        where = f'{file}, row {self.number}, column "{self.heading}"'
        return f"{where}: must be {wrong.must}, but {was}; {wrong.remedy}{end}"


class LineReader:
    """Reads the rows of one file; `day` is that of the benches.

    `assumed` is what had to be taken for granted. Every reading may raise WrongError.
    """

    def __init__(self, file: str, table: Timetable, style: Style, day: date) -> None:
        self._file, self._table, self._style, self._day = file, table, style, day
        self._scenario = table.scenario
        self._names = names_of(table.scenario)
        self.assumed: list[Assumption] = []

    def read(self, line: Line) -> Iterator[Thing]:
        """What a row says stands there; nothing if it counts 0."""
        word = bare(line.words("what"))
        what = word if word in WHAT else _ALSO.get(word, "")
        if what == "growing":
            yield from self._standing(line)
        elif what in ("to wash", "to clear"):
            place = self._name(line, "place")
            if count := self._count(line, "containers"):
                yield ToClean(place=place, **{what.replace(" ", "_"): count})
        elif what == "stored":
            crop = self._name(line, "crop")
            if heads := self._count(line, "plants"):
                batch = text(line.cells.get("batch")) or None
                yield Stored(crop=crop, heads=heads, since=self._since(line), batch=batch)
        elif what == "to seed":
            crop = self._name(line, "crop")
            if trays := self._count(line, "containers"):
                yield ToSeed(crop=crop, trays=trays, day=self._past(line, "seeded"))
        else:
            raise WrongError(f"one of {', '.join(WHAT)}", advice(word, WHAT))

    def _standing(self, line: Line) -> Iterator[Standing]:
        """Plants of a batch in a place."""
        crop = self._name(line, "crop")
        number, stage = self._stage(line, crop)
        containers = self._count(line, "containers") if line.words("containers") else None
        plants, living = self._plants(line, stage, containers, first=number == 0)
        if not plants:
            return
        seeded = self._past(line, "seeded")
        moved = seeded
        if number or line.words("moved"):
            moved = self._past(line, "moved")
        if moved < seeded:
            raise WrongError(f"{seeded}, when it was seeded, or later", "mend one of the dates")
        yield Standing(
            crop=crop, place=stage.place, plants=plants, seeded=seeded, moved=moved,
            ready=self._ready(line, stage, moved), containers=containers, living=living,
            batch=text(line.cells.get("batch")),
        )  # fmt: skip

    def _stage(self, line: Line, crop: str) -> tuple[int, Stage]:
        """The stage of a crop that stands in the row's place, and its number."""
        name, stages = self._name(line, "place"), self._scenario.crops[crop].stages
        for number, stage in enumerate(stages):
            if stage.place == name:
                return number, stage
        told = ", ".join(stage.place for stage in stages)
        raise WrongError(f"a place where {crop} stands ({told})", "mend the place or the crop")

    def _plants(
        self, line: Line, stage: Stage, containers: int | None, *, first: bool
    ) -> tuple[int, bool]:
        """How many plants, and whether they were counted as they stand."""
        place = self._scenario.places[stage.place]
        most = None if containers is None else containers * place.sites_each
        living = self._yes(line, "living", empty=True)
        if first and most is not None and not line.words("plants"):
            return most, False
        plants = self._count(line, "plants")
        if most is not None and plants > most:
            told = f"{containers:,} {place.container}{'s' if containers != 1 else ''}"
            remedy = f"count again; a {place.container} has {place.sites_each:,}"
            raise WrongError(f"at most {most:,}, the sites of {told}", remedy)
        return plants, living

    def _name(self, line: Line, what: str) -> str:
        """The name of a place or crop; the only one if the cell is empty."""
        written, names = line.words(what), self._names[what]
        return names.only if not written and names.only else names.get(written)

    def _count(self, line: Line, name: str) -> int:
        return whole(line.look(name), self._style.decimal)[0]

    def _past(self, line: Line, name: str) -> date:
        """A date before the day of the benches, and not long before it."""
        found = day_in(line.look(name), self._style)[0]
        if found >= self._day:
            told = spoken(self._day, year=True)
            raise WrongError(f"before {told}, the day of these benches", "mend the date")
        if found < self._style.first:
            told = spoken(self._style.first, year=True)
            raise WrongError(f"{told} or later", "look at the year")
        return found

    def _since(self, line: Line) -> datetime:
        """When heads were put into the store; noon if no clock time is written."""
        found, at = self._past(line, "moved"), day_in(line.look("moved"), self._style)[1]
        if at is None:
            self._assume(line, "12:00 pm", "the time at which these heads were stored is not said")
        return datetime.combine(found, at or time(12))

    def _ready(self, line: Line, stage: Stage, moved: date) -> date | None:
        """Since when plants are ready, None if they still grow."""
        word = bare(line.words("ready"))
        if not word or word in _NO:
            return None
        if word in _YES:
            mean = self._table.date_of(finished(self._table, stage, self._table.day_of(moved)))
            found = max(moved, min(mean, self._day))
            self._assume(line, str(found), "ready since then at mean lengths; no date is written")
            return found
        found = day_in(line.look("ready"), self._style)[0]
        if not moved <= found <= self._day:
            must = f"a date from {moved}, when they were moved in, to {self._day}"
            raise WrongError(must, 'mend the date, or write "no" if they still grow')
        return found

    def _yes(self, line: Line, name: str, *, empty: bool) -> bool:
        word = bare(line.words(name))
        if word and word not in _YES | _NO:
            raise WrongError("yes or no", "write yes if the plants were counted as they stand")
        return word in _YES if word else empty

    def _assume(self, line: Line, value: str, why: str) -> None:
        key = f"{self._file}, row {line.number}, {line.heading}"
        self.assumed.append(Assumption(key, value, why))
