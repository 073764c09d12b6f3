"""One row of the records: each cell understood, or told what it must be."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, time
from typing import TypeVar

from sim.agreement import advice
from sim.counts_amounts import amount, amounts, shown
from sim.counts_columns import Columns
from sim.counts_entries import CountProblem, Entry
from sim.counts_places import NOT_LISTED, Stay, stay_of
from sim.counts_shifts import Shifts
from sim.counts_values import Cell, Style, WrongError, clock, day, number, text, whole
from sim.counts_words import OTHER_CAUSE, Causes, Names, bare, kind_of
from sim.scenario import Scenario
from sim.school_year import clock as share_of_day
from sim.school_year import spoken

T = TypeVar("T")

AFTERNOON = "A clock time without am or pm, such as 1:10, was taken for the afternoon"
NO_CROP = frozenset({"washed", "cleared", "checked", "present", ""})  # kinds that have no crop
_SEEDED_NEAR = 14  # a batch's seeding date is at most this far from the day it was seeded [days]
_HIDDEN = frozenset({"crew", "people"})  # fields whose words are not repeated: they may be names
_NUMBERED = re.compile(r" ?\([0-9]+\)$")  # at the end of the name of a second batch of a day
SHARED = "Minutes of a row with several kinds of work were not used: nobody knows whose they are"
BESIDE = "Plants lost in a row that says what was moved or harvested were taken as lost there"
NEW_BATCH = "A seeding in a row that says what else was done was taken as a new batch of that day"
_WORK = frozenset({"seeded", "moved", "harvested", "washed"})
_WITH_CAUSE = frozenset({"lost", "dumped", "delivered"})  # of kinds with a column each
FREE_CAUSE = 'A cause in free words was kept as "other": words may hold names'
SHORTER_CAUSE = "Of a cause in free words only the words that say what happened were kept"


@dataclass(frozen=True)
class Context:
    """What all rows of a file are read by; `today` None does not look for days to come."""

    columns: Columns
    scenario: Scenario
    names: dict[str, Names]
    units: Mapping[str, str]
    causes: Causes
    shifts: Shifts
    style: Style
    today: date | None


@dataclass
class Line:
    """The cells of one row, what is wrong with them and what was assumed.

    `column` is the one of its count in a table with a column for each kind of work; `beside` are
    the other kinds that have a number in the same row.
    """

    context: Context
    row: int
    cells: Sequence[Cell]
    column: int = 0
    beside: frozenset[str] = frozenset()
    problems: list[CountProblem] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def cell(self, name: str) -> Cell:
        """The cell of a field, None if it is empty or has no column."""
        at = self.context.columns.at.get(name)
        return None if at is None else self.cells[at]

    def words(self, name: str) -> str:
        """The text of a field's cell."""
        if name == "what" and self.context.columns.what:
            return self.context.columns.what
        return text(self.cell(name))

    def numbers(self) -> list[tuple[Cell, str]]:
        """The counts that are filled in, each with the unit of its heading."""
        found = [(self.cells[at], unit) for at, unit in self.context.columns.counts]
        return [(cell, unit) for cell, unit in found if text(cell)]

    def get(self, name: str, read: Callable[[], T], otherwise: T) -> T:
        """What `read` makes of a field; what is wrong with it is kept."""
        try:
            return read()
        except WrongError as wrong:
            self.problems.append(self.problem(wrong, name))
            return otherwise

    def problem(self, wrong: WrongError, name: str = "") -> CountProblem:
        """What is wrong, with the cell of its field, or else of the field `name`."""
        name = wrong.field or name
        value = shown(self.numbers()) if name == "count" else self.words(name)
        if name in _HIDDEN and value[:1].isalpha():
            value = "(not shown)"
        heading = self.context.columns.heading(name)
        return CountProblem(self.row, heading, value[:60], wrong.must, wrong.remedy)

    def entry(self) -> Entry | None:
        """What the row says; None if something in it is wrong."""
        if self.context.columns.kinds:
            wrong = WrongError("a number of what was done", "write how many, or empty the row")
            self.problems.append(self.problem(wrong, "count"))
            return None
        kind = self.get("what", lambda: kind_of(self.words("what")), "")
        nothing: tuple[date, time | None] = self.context.style.first, None
        on, at = self.get("date", self._date, nothing)
        at = self.get("clock", self._clock, None) or at
        crop = "" if kind in NO_CROP else self.get("crop", self._crop, "")
        if self.problems:
            return None
        past = None if at is None else share_of_day(at)
        number_ = (on - self.context.style.first).days
        none: tuple[str, date | None] = "", None
        named, seeded = self.get("seeded", lambda: self._batch(kind, on), none)
        stay = self.get("place", lambda: self._stay(kind, crop), Stay("", "", ""))
        nobody: tuple[str, int | None] = "", None
        crew, shift = self.get("crew", lambda: self._shift(number_, past), nobody)
        people = self.get("people", self._people, None)
        minutes = self.get("minutes", lambda: self._minutes(kind), 0.0)
        if self.problems:
            return None
        count, containers = self.get("count", lambda: self._amount(kind, stay, people), (0, 0))
        if self.problems:
            return None
        return Entry(
            self.row, kind, number_, past, crop, named, seeded, *stay, crew,
            count, containers, minutes, count if kind == "present" else people,
            self._cause(kind), shift, column=self.column,
        )  # fmt: skip

    def seeding(self) -> date | None:
        """The date by which a refused row would have named its batch, None if it seeds none."""
        with suppress(WrongError):
            if kind_of(self.words("what")) == "seeded":
                column = "seeded" if self.words("seeded") else "date"
                return day(self.cell(column), self.context.style)[0]
        return None

    def _date(self) -> tuple[date, time | None]:
        """The row's date, which must be one of the run and not in the future."""
        if not self.words("date"):
            raise WrongError("a date", "write the date in every row")
        found, at = day(self.cell("date"), self.context.style)
        first, last = self.context.style.first, self.context.style.last
        if not first <= found <= last:
            ends = " to ".join(spoken(d, year=True) for d in (first, last))
            raise WrongError(f"a date of the run, {ends}", "mend the date, or the scenario's year")
        if self.context.today and found > self.context.today:
            today = spoken(self.context.today, year=True)
            raise WrongError(f"not after today, {today}", "mend the date; write what was done")
        return found, at

    def _clock(self) -> time | None:
        at, late = clock(self.cell("clock"))
        if late:
            self.said.append(AFTERNOON)
        return at

    def _crop(self) -> str:
        """The crop that the row, its batch or its customer names, or the only one there is."""
        names, crops = self.context.names["crop"], self.context.scenario.crops
        if written := self.words("crop"):
            return names.get(written)
        batch = label(self.words("batch"))
        of_batch = {c for c in crops if batch.startswith(f"{label(c)} ")}
        customer = self.context.names["customer"].find(self.words("customer") or self.words("to"))
        of_order = {o.crop for o in self.context.scenario.orders if o.customer == customer}
        for found in (set(crops), of_batch, of_order):
            if len(found) == 1:
                return found.pop()
        raise WrongError("a crop of the scenario", advice("", crops))

    def _batch(self, kind: str, on: date) -> tuple[str, date | None]:
        """What the row calls its batch, and its seeding date."""
        if kind == "seeded" and self.beside:
            self.said.append(NEW_BATCH)
            return "", None
        return label(self.words("batch")), self._seeded(kind, on)

    def _seeded(self, kind: str, on: date) -> date | None:
        """The seeding date that the row gives for its batch, in a column of its own or as a name.

        A batch's own code that is no such date gives none.
        """
        style, own = self.context.style, bool(self.words("seeded"))
        found = day(self.cell("seeded"), style)[0] if own else self._date_of_batch()
        must = ""
        if found and not style.first <= found <= style.last:
            must = "a date of the run"
        elif found and kind == "seeded" and abs((found - on).days) > _SEEDED_NEAR:
            must = f"at most {_SEEDED_NEAR} days from the row's date"
        if must and own:
            raise WrongError(must, "mend the batch's seeding date")
        return None if must else found

    def _date_of_batch(self) -> date | None:
        """The date that a batch is named by: "9/10", "lettuce 2026-09-10 (2)"."""
        cell = self.cell("batch")
        if isinstance(cell, str):
            cell = _NUMBERED.sub("", label(cell))
            for crop in self.context.scenario.crops:
                cell = cell.removeprefix(f"{label(crop)} ")
        with suppress(WrongError):
            return day(cell, self.context.style)[0]
        return None

    def _stay(self, kind: str, crop: str) -> Stay:
        written = Stay(self.words("place"), self.words("to"), self.words("customer"))
        if kind in ("lost", "dumped") and not written.place:
            written = written._replace(place=self._beside(crop))
        stay = stay_of(kind, crop, written, self.context.scenario, self.context.names)
        if kind == "surplus" and not stay.customer:
            self.said.append(NOT_LISTED)
        return stay

    def _beside(self, crop: str) -> str:
        """Where plants were lost in a row that also says what was moved or harvested; or ""."""
        places = [stage.place for stage in self.context.scenario.crops[crop].stages]
        of_move = places[0] if "moved" in self.beside and len(places) <= len(("from", "to")) else ""
        found = places[-1] if "harvested" in self.beside else of_move
        if found:
            self.said.append(BESIDE)
        return found

    def _shift(self, on: int, past: float | None) -> tuple[str, int | None]:
        """Crew and shift; a cell such as "class, period 1" names both."""
        shifts, names = self.context.shifts, self.context.names["crew"]
        written, _, rest = self.words("crew").partition(",")
        title = shifts.title(self.words("period") or rest.strip())
        if not written:
            crew = ""
        elif not (crew := names.find(written)):
            must = "a crew of the scenario, not a person"
            raise WrongError(must, advice(written, self.context.scenario.crews))
        found = shifts.find(on, past, crew, title)
        return crew or ("" if found is None else shifts.dated[found].crew), found

    def _people(self) -> int | None:
        if not self.words("people"):
            return None
        try:
            return whole(self.cell("people"), self.context.style.decimal)[0]
        except WrongError as wrong:
            remedy = "write only how many people were there, no names"
            raise WrongError(wrong.must, remedy) from None

    def _minutes(self, kind: str) -> float:
        """Person-minutes; in a row of several records those of its only work."""
        work = (self.beside | {kind}) & _WORK
        if not self.words("minutes") or (self.beside and work and kind not in work):
            return 0.0
        if self.beside and len(work) != 1:
            self.said.append(SHARED)
            return 0.0
        value, _ = number(self.cell("minutes"), self.context.style.decimal)
        if value < 0:
            raise WrongError("at least 0", "write the person-minutes worked")
        return value

    def _cause(self, kind: str) -> str:
        """A known cause; no free text. In a row of several records it is that of what was lost."""
        written = "" if self.beside and kind not in _WITH_CAUSE else self.words("cause")
        cause = self.context.causes.find(written)
        if cause == OTHER_CAUSE and bare(written) != OTHER_CAUSE:
            self.said.append(FREE_CAUSE)
        elif len(bare(written).split()) > len(bare(cause).split()) + 1:
            self.said.append(SHORTER_CAUSE)
        return cause

    def _amount(self, kind: str, stay: Stay, people: int | None) -> tuple[int, int]:
        context, cells = self.context, self.numbers()
        if kind == "present" and not cells and people is not None:
            return people, 0
        unit = self.words("unit")
        given = amounts(cells, unit, context.units, context.style.decimal)
        return amount(kind, given, context.scenario.places.get(stay.place), self.said)


def label(written: str) -> str:
    """What a batch is called, in small letters."""
    return " ".join(written.casefold().split())
