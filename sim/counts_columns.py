"""Which row of a sheet holds the headings, and which column holds what."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from sim.counts_file import Rows, Sheet
from sim.counts_values import Cell, text
from sim.counts_words import (
    COLUMN_KINDS,
    COUNT_HEADINGS,
    HEADINGS,
    KIND_WORDS,
    NAMES_OF_PEOPLE,
    bare,
    in_brackets,
    is_somebody,
)
from sim.errors import RecordsError

_FIRST_ROWS = 60  # the headings stand in one of these
_FORM = {"batch seeded on", "to place or customer", "people present"}  # of the work list's sheet
_KNOWN = {
    name: (field, rank) for field, names in HEADINGS.items() for rank, name in enumerate(names)
}
_KIND_OF = {word: kind for kind in COLUMN_KINDS for word in KIND_WORDS[kind]}
_PASSED_OVER = 40  # letters of a heading that is told


@dataclass(frozen=True, slots=True)
class Columns:
    """Where what stands: the column of each field, and of each count with its heading's unit.

    `form` says that this is the sheet of a work list, whose rows without a count were not done.
    `kinds` are columns that hold the counts of a kind each, with its unit; a table that has them
    has no column What. `what` is the kind of the one such column that is looked at.
    """

    at: dict[str, int]
    counts: tuple[tuple[int, str], ...]
    headings: dict[int, str]
    unused: tuple[str, ...]
    form: bool
    kinds: tuple[tuple[int, str, str], ...] = ()
    what: str = ""

    @property
    def known(self) -> int:
        """How many columns are understood."""
        return len(self.at) + len(self.counts) - ("count" in self.at) + len(self.kinds)

    @property
    def enough(self) -> bool:
        """Whether there is what every record needs: a date, what was done, and a count."""
        return "date" in self.at and bool(self.kinds or ("what" in self.at and self.counts))

    def of_kind(self, number: int, kind: str, unit: str) -> Columns:
        """The columns of the records of one kind, in a table with a column for each."""
        return replace(self, counts=((number, unit),), kinds=(), what=kind)

    def heading(self, field: str) -> str:
        """The file's heading of a field, or the usual one if it has no such column."""
        counts = [number for number, *_ in self.counts or self.kinds]
        at = counts[0] if field == "count" and counts else self.at.get(field)
        return HEADINGS[field][0].capitalize() if at is None else self.headings[at]


@dataclass(frozen=True, slots=True)
class Listing:
    """A sheet with its headings found: the rows below them, each with its number in the file."""

    sheet: Sheet
    header_row: int
    columns: Columns
    lines: list[tuple[int, Sequence[Cell]]]


def known_headings(rows: Rows) -> int:
    """How many headings are known in the row that has most of them."""
    return max((columns.known for _, columns in _header_rows(rows)), default=0)


def find_listing(file: str, sheets: Sequence[Sheet]) -> tuple[Listing, list[str]]:
    """The sheet whose headings say most, and the names of others that look like records.

    Raises RecordsError if no sheet has the headings that are needed.
    """
    found = [(sheet, *best) for sheet in sheets if (best := _best(sheet.rows))]
    if not found or not max(c.enough for _, _, c in found):
        raise RecordsError(_no_headings(file, [c for _, _, c in found]))
    found = [one for one in found if one[2].enough]
    sheet, row, columns = max(found, key=lambda one: one[2].known)
    lines: list[tuple[int, Sequence[Cell]]] = [
        (number, _padded(cells, columns))
        for number, cells in enumerate(sheet.rows[row:], start=row + 1)
    ]
    others = [other.name for other, _, _ in found if other is not sheet]
    return Listing(sheet, row, columns, lines), others


def _padded(cells: Sequence[Cell], columns: Columns) -> Sequence[Cell]:
    return [*cells, *[None] * (max(columns.headings) + 1 - len(cells))]


def _no_headings(file: str, found: list[Columns]) -> str:
    best = max(found, key=lambda columns: columns.known, default=None)
    needs = {"date": "Date", "what": "What (seeded, moved, harvested ...)"}
    missing = [word for key, word in needs.items() if not best or key not in best.at]
    if not best or not best.counts:
        missing.append("Count")
    told = ", ".join(missing)
    return (
        f"{file}: must have a row of headings with Date, What and Count, but {told} "
        f"{'is' if len(missing) == 1 else 'are'} missing; put the headings over the columns, "
        'as on the sheet "Counts" of seedbeat worklist --out. A table with a column for each kind '
        "of work is read too (Date, Batch, Seeded, Moved, Lost, Harvested); one with a column for "
        "each date or place is not: give each number a row, such as 9/10/2026, moved, 700."
    )


def _best(rows: Rows) -> tuple[int, Columns] | None:
    """The number of the row with the headings, and the columns; the first of equals."""
    return max(_header_rows(rows), key=lambda one: (one[1].enough, one[1].known), default=None)


def _header_rows(rows: Rows) -> Iterator[tuple[int, Columns]]:
    """Every one of the first rows read as headings, and with the row above it where they fit."""
    above: list[str] = []
    for number, cells in enumerate(rows[:_FIRST_ROWS], start=1):
        names = [text(cell) if isinstance(cell, str) else "" for cell in cells]
        if any(names):
            yield number, _columns(names)
            if above and all(bare(name) in _KNOWN or _unit(name) for name in names if name):
                width = max(len(names), len(above))
                both = zip(_filled(names, width), _filled(above, width), strict=True)
                yield number, _columns([low or high for low, high in both])
        above = names


def _filled(names: list[str], width: int) -> list[str]:
    return [*names, *[""] * (width - len(names))]


def _unit(name: str) -> str:
    """The unit that a heading itself is, such as "Heads"; "" if it is none."""
    word = bare(name)
    return word if word in COUNT_HEADINGS or f"{word}s" in COUNT_HEADINGS else ""


def _field(name: str) -> tuple[str, int]:
    """The field of a heading, and how sure that is (0 is surest); ("", 0) for an unknown one."""
    field, rank = _KNOWN.get(bare(name), ("", 0))
    if field == "clock" and "min" in in_brackets(name):
        return "minutes", 0
    return field, rank


def _columns(names: list[str]) -> Columns:
    """What each column holds; of several for one field the surest, the first of equals."""
    at: dict[str, int] = {}
    for number in sorted(range(len(names)), key=lambda n: _field(names[n])[1]):
        if field := _field(names[number])[0]:
            at.setdefault(field, number)
    counts = [(number, unit) for number, name in enumerate(names) if (unit := _unit(name))]
    kinds = [] if "what" in at else kind_columns(names)
    if kinds:
        counts = []
        at.pop("count", None)
    elif "count" in at:
        unit = in_brackets(names[at["count"]])
        counts.insert(0, (at["count"], unit if _unit(unit) else ""))
    used = {*at.values(), *(number for number, *_ in (*counts, *kinds))}
    return Columns(
        at,
        tuple(counts),
        {number: name for number, name in enumerate(names) if name},
        tuple(n[:_PASSED_OVER] for number, n in enumerate(names) if n and number not in used),
        {bare(name) for name in names} >= _FORM,
        tuple(kinds),
    )


def kind_columns(names: Sequence[str]) -> list[tuple[int, str, str]]:
    """Columns that are a kind of work, such as "Moved", "Seeded (trays)" or "Heads cut".

    Of several for one kind only the first is one.
    """
    found: dict[str, tuple[int, str, str]] = {}
    for number, name in enumerate(names):
        words, unit = bare(name).split(), in_brackets(name)
        units = [word for word in words if _unit(word)]
        if len(units) == 1 and len(words) > 1:
            words.remove(units[0])
            unit = units[0]
        kind = _KIND_OF.get(" ".join(words), "")
        if kind and bare(name) not in _KNOWN:
            found.setdefault(kind, (number, kind, unit if _unit(unit) else ""))
    return list(found.values())


def refuse_names(file: str, listing: Listing, known: Collection[str]) -> None:
    """Raise RecordsError if a column holds the names of people; the names are not repeated.

    `known` are the words that may stand in such a column: crews, shifts, customers and so on.
    """
    for number, heading in listing.columns.headings.items():
        if bare(heading) not in NAMES_OF_PEOPLE:
            continue
        for row, cells in listing.lines:
            if is_somebody(text(cells[number]), known):
                raise RecordsError(
                    f'{file}, row {row}, column "{heading}": must not hold names of people; no '
                    "names are kept, only how many people were there. Delete the column, save the "
                    "file, and give the command again."
                )
