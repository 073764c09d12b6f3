"""What a school wrote down of its season, read as the rows of a run.

A real season and a simulated one are then read by the same code. What a school cannot write is
worked out: what was due and short from the scenario's orders, containers emptied and freed from
plants that left and from washing. A row that says "ready" becomes one of the kind `finished` with
the cause `SEEN_READY`: the day is known, the number of plants is what the other rows leave.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sim.counts_columns import (
    Listing,
    find_listing,
    kind_columns,
    known_headings,
    refuse_names,
)
from sim.counts_entries import CountProblem, Entry, Stand
from sim.counts_file import read_sheets
from sim.counts_orders import Ordered
from sim.counts_reader import Lines, read_lines, style_of
from sim.counts_season import Making, Season
from sim.counts_words import KIND_WORDS, bare
from sim.records import Row
from sim.scenario import Scenario
from sim.timetable import Timetable

_ROWS_TOLD = 5  # numbers of rows that a note gives


@dataclass(frozen=True, slots=True)
class KindSum:
    """What the rows of one kind come to: plants, heads, people or times; containers; minutes.

    `without_minutes` are the rows that give no person-minutes.
    """

    kind: str
    rows: int
    count: int
    containers: int
    minutes: float
    without_minutes: int


@dataclass(frozen=True, slots=True)
class Counts:
    """A season as it was written down, and how its file was used.

    In a table with a column for each kind of work (`by_columns`) what is said here of rows goes
    for the numbers in those columns.

    `rows` are those of a run that starts on `start`, in order of time; `stands` are plants that
    were counted where they stood. Of the `in_file` rows below the headings (row `header_row`)
    `read` were used, those of `problems` refused, `blank` were empty, and `aside` were no records;
    together these are all. `batches` are the names of all batches seeded.
    """

    file: str
    read_as: str
    start: date
    rows: list[Row]
    stands: tuple[Stand, ...]
    problems: tuple[CountProblem, ...]
    notes: tuple[str, ...]
    header_row: int
    in_file: int
    read: int
    refused: int
    blank: int
    aside: tuple[tuple[int, str], ...]
    kinds: tuple[KindSum, ...]
    first: date | None
    last: date | None
    batches: tuple[str, ...]
    ordered: Ordered | None
    by_columns: bool


def read_counts(path: str | Path, scenario: Scenario, *, today: date | None = None) -> Counts:
    """Read a school's records of a season of a scenario, CSV or .xlsx, from the run's first day on.

    With `today`, rows of days to come are refused. Raises RecordsError if the file cannot be read,
    has no headings, or holds names of people; ScenarioError if the scenario has no whole week to
    be measured.
    """
    file = Path(path).name
    timetable = Timetable(scenario.model_copy(update={"benches": None}))
    listing, others = find_listing(file, read_sheets(path, known_headings))
    refuse_names(file, listing, _may_stand_for_people(scenario))
    style, told = style_of(listing, timetable)
    lines = read_lines(listing, timetable, style, today)
    making = Making(timetable, lines.said, lines.refuse)
    season = making.season(lines.entries, lines.unseeded)
    return _counts(file, timetable, (listing, lines, season), _notes(listing, lines, told, others))


def _may_stand_for_people(scenario: Scenario) -> list[str]:
    """Words in a column about people that are no names of people."""
    crews = scenario.crews.items()
    words = [*scenario.crews, *scenario.crops, *scenario.places]
    words += [order.customer for order in scenario.orders]
    for name, crew in crews:
        words += [w for shift in crew.shifts for w in (shift.name, f"{name} {shift.name}")]
    return [bare(word) for word in words if bare(word)]


def _counts(
    file: str, timetable: Timetable, parts: tuple[Listing, Lines, Season], notes: tuple[str, ...]
) -> Counts:
    listing, lines, season = parts
    problems = sorted(lines.said.problems, key=lambda problem: problem.row)
    days = [timetable.date_of(entry.day) for entry in season.used]
    return Counts(
        file, listing.sheet.read_as, timetable.start, season.rows, season.stands, tuple(problems),
        notes, listing.header_row, lines.number, len(season.used),
        len(lines.refused), len(lines.blank), tuple(lines.aside),
        _sums(season.used), min(days, default=None), max(days, default=None),
        tuple(dict.fromkeys(e.batch for e in season.used if e.kind == "seeded")), season.ordered,
        bool(listing.columns.kinds),
    )  # fmt: skip


def _sums(entries: Iterable[Entry]) -> tuple[KindSum, ...]:
    """The entries by kind, in the order of `KIND_WORDS`."""
    by_kind: defaultdict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_kind[entry.kind].append(entry)
    return tuple(
        KindSum(
            kind, len(found), sum(e.count for e in found), sum(e.containers for e in found),
            sum(e.minutes for e in found), sum(not e.minutes for e in found),
        )
        for kind in KIND_WORDS
        if (found := by_kind[kind])
    )  # fmt: skip


def _notes(listing: Listing, lines: Lines, dates: str, others: list[str]) -> tuple[str, ...]:
    """How the file was read, where that is not plain."""
    columns = listing.columns
    notes = [dates] if dates else []
    if others:
        told = ", ".join(f'"{name}"' for name in others)
        notes.append(f"Not read, although they look like records: {told}. Give each its own file.")
    if "minutes" in columns.at and "person" not in columns.heading("minutes").casefold():
        heading = columns.heading("minutes")
        notes.append(f'"{heading}" was read as person-minutes: people times minutes.')
    if columns.kinds:
        told = ", ".join(f'"{columns.headings[number]}"' for number, *_ in columns.kinds)
        notes.append(f"Each number in the columns {told} was read as a record of its own.")
    if columns.unused:
        told = ", ".join(f'"{name}"' for name in columns.unused)
        lost = " Numbers in them are lost: give each a row." if kind_columns(columns.unused) else ""
        notes.append(f"Columns passed over and not kept: {told}.{lost}")
    for text, rows in lines.said.assumed.items():
        notes.append(f"{text} ({_rows(rows)}).")
    return tuple(notes)


def _rows(rows: list[int]) -> str:
    """Rows told: "row 7", "rows 7, 9 and 12 more"."""
    numbers = sorted(set(rows))
    told = ", ".join(str(number) for number in numbers[:_ROWS_TOLD])
    more = f" and {len(numbers) - _ROWS_TOLD} more" if len(numbers) > _ROWS_TOLD else ""
    return f"row{'s' if len(numbers) > 1 else ''} {told}{more}"
