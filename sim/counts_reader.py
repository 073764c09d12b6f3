"""The rows of a sheet, sorted: what was read, what was refused, what is blank or no record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from sim.counts_columns import Listing
from sim.counts_entries import CountProblem, Entry, Said
from sim.counts_line import Context, Line
from sim.counts_shifts import Shifts
from sim.counts_values import Cell, Style, WrongError, dates_open_to_doubt, day, text
from sim.counts_words import HEADINGS, KIND_WORDS, TOTALS, Causes, bare, names_of, units_of
from sim.timetable import Timetable

_EXAMPLES = 3  # dates of a kind that are told
_PREFILLED = frozenset(
    {"date", "clock", "crop", "batch", "seeded", "what", "place", "to", "customer", "unit"}
)


@dataclass
class Lines:
    """How the rows below the headings were used; together they are all of them.

    `blank` are empty, or a work list's rows that nobody filled in; `aside` are totals, notes and
    repeated headings, with the reason. `unseeded` are the rows of seedings that were refused, by
    date; `of_entry` are the lines of the entries, by row and column, `refused` those of others;
    `number` says how many lines there are. In a table with a column for each kind of work each
    number is a line.
    """

    entries: list[Entry] = field(default_factory=list)
    blank: list[int] = field(default_factory=list)
    aside: list[tuple[int, str]] = field(default_factory=list)
    unseeded: dict[date, int] = field(default_factory=dict)
    of_entry: dict[tuple[int, int], Line] = field(default_factory=dict)
    refused: set[tuple[int, int]] = field(default_factory=set)
    said: Said = field(default_factory=Said)
    number: int = 0

    def refuse(self, entry: Entry, wrong: WrongError) -> None:
        """Tell what is wrong with a line that was understood."""
        at = entry.row, entry.column
        self.refuse_line(self.of_entry[at], [self.of_entry[at].problem(wrong)])

    def refuse_line(self, line: Line, problems: list[CountProblem]) -> None:
        """Note what is wrong with a line."""
        self.refused.add((line.row, line.column))
        self.said.problems += problems


def style_of(listing: Listing, timetable: Timetable) -> tuple[Style, str]:
    """How the sheet writes dates and numbers, and what to tell of it."""
    at = listing.columns.at
    columns = [at[name] for name in ("date", "seeded") if name in at]
    cells = [cells[number] for _, cells in listing.lines for number in columns]
    day_first, month_first, either = dates_open_to_doubt(cells)
    swapped = len(day_first) > len(month_first)
    last = timetable.start + timedelta(days=timetable.days - 1)
    style = Style(listing.sheet.decimal, swapped, timetable.start, last)
    if swapped:
        return style, f"Dates were read day first, as in {_few(day_first)}."
    if either and not month_first:
        told = f"{_few(either)} could be either; they were read month first, as in the US"
        return style, f"Dates such as {told}."
    return style, ""


def _few(dates: Sequence[str]) -> str:
    return ", ".join(list(dict.fromkeys(dates))[:_EXAMPLES])


def read_lines(listing: Listing, timetable: Timetable, style: Style, today: date | None) -> Lines:
    """Read every row below the headings."""
    scenario, lines = timetable.scenario, Lines()
    context = Context(
        listing.columns, scenario, names_of(scenario), units_of(scenario), Causes(scenario),
        Shifts(timetable), style, today,
    )  # fmt: skip
    seen: dict[Entry, int] = {}
    for row, cells in listing.lines:
        for line in _lines(context, row, cells):
            lines.number += 1
            if not any(text(cell) for cell in cells) or _left_open(line):
                lines.blank.append(row)
            elif why := _no_record(line):
                lines.aside.append((row, why))
            else:
                _read(line, lines, seen)
    return lines


def _lines(context: Context, row: int, cells: Sequence[Cell]) -> list[Line]:
    """The records of a row: one, or one for each kind of work that has a number in its column."""
    whole = Line(context, row, cells)
    columns = context.columns
    if not columns.kinds or not any(text(cell) for cell in cells) or _no_record(whole):
        return [whole]
    filled = [one for one in columns.kinds if _counts(text(cells[one[0]]), one[1])]
    if not filled and whole.words("people"):
        filled = [(columns.at["people"], "present", "people")]
    said = frozenset(kind for _, kind, _ in filled)
    return [
        Line(replace(context, columns=columns.of_kind(*one)), row, cells, one[0], said - {one[1]})
        for one in filled
    ] or [whole]


def _counts(written: str, kind: str) -> bool:
    """Whether a cell of a kind's column says that something was done; 0 and a dash do not.

    But 0 ready says that somebody looked.
    """
    return bool(written.strip("-\N{EN DASH}\N{EM DASH} ")) and (written != "0" or kind == "ready")


def _left_open(line: Line) -> bool:
    """Whether a row of a work list's sheet was not filled in."""
    at, filled = line.context.columns.at, {n for n, c in enumerate(line.cells) if text(c)}
    if bare(line.words("what")) in KIND_WORDS["ready"]:
        return False  # nobody has to count what is ready
    if line.context.columns.kinds:
        return not filled & {at[n] for n in ("minutes", "cause") if n in at}
    return line.context.columns.form and filled <= {at[n] for n in _PREFILLED if n in at}


def _no_record(line: Line) -> str:
    """Why a row is no record: a total, a note, headings again; "" if it may be one."""
    filled = [cell for cell in line.cells if text(cell)]
    words = [bare(text(cell)) for cell in filled if isinstance(cell, str)]
    fields = [name for name in ("date", "what") if name in line.context.columns.at]
    if all(bare(line.words(name)) in HEADINGS[name] for name in fields):
        return "headings again"
    if bare(line.words("what")).split(" ")[0] in TOTALS:
        return "a total"
    if _has_date(line):
        return ""
    if any(word.split(" ")[0] in TOTALS for word in words):
        return "a total"
    return "a note" if len(filled) == len(words) == 1 else ""


def _has_date(line: Line) -> bool:
    try:
        day(line.cell("date"), line.context.style)
    except WrongError:
        return False
    return True


def _read(line: Line, lines: Lines, seen: dict[Entry, int]) -> None:
    entry = line.entry()
    if entry is None:
        lines.refuse_line(line, line.problems)
        if (seeded := line.seeding()) is not None:
            lines.unseeded[seeded] = line.row
        return
    same = seen.setdefault(replace(entry, row=0, column=0), line.row)
    if same != line.row:
        must = f"another record than row {same}, which says the same"
        remedy = "take one out; if both were done, write their times, or add them up in one row"
        lines.refuse_line(line, [line.problem(WrongError(must, remedy, "date"))])
        return
    for text_ in line.said:
        lines.said.assume(text_, line.row)
    lines.entries.append(entry)
    lines.of_entry[line.row, line.column] = line
