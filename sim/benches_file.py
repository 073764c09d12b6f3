"""Today's benches as a table that people fill in: CSV or .xlsx, read and written.

A row is the plants of one batch in one place, or what else stands there (`benches_line.WHAT`).
The day stands in a line "counted on,2027-01-11" above the headings, in a column of that name, or
is given beside the file; what is written is what stands there before that day's work. Rows that
begin with # are passed over. Cells that may be empty:

- batch: it is then that of the crop's seeding on that day;
- trays or channels: as many as the plants need;
- plants, in the place where a crop is seeded: all cells of the trays;
- moved on, in that place: the seeding;
- ready: no. "yes" without a date is taken for the day of mean lengths;
- living: yes, the plants were counted as they stand. "no" says that they are those set in.

Stored heads stand in the column of the plants, and since when in "moved on"; trays still to be
seeded in that of the trays, and the day they were meant for in "seeded on".
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from pydantic import ValidationError

from sim.agreement import DisagreementError
from sim.benches import Benches, Standing, Stored, ToClean, ToSeed
from sim.benches_line import COUNTED_ON, HEADER, WHAT, Line, LineReader, Thing, fields
from sim.counts_file import Rows, read_sheets
from sim.counts_values import Cell, Style, WrongError, dates_open_to_doubt, text
from sim.counts_values import day as day_in
from sim.counts_words import bare
from sim.errors import RecordsError
from sim.scenario import Scenario
from sim.scenario_file import MOST_LINES, Assumption, LoadedScenario
from sim.school_year import spoken
from sim.timetable import Timetable

_LONGEST = timedelta(days=400)  # before the day; a seeding earlier than this is a slip
_LOOKED_AT = 60  # rows in which the headings are looked for


def read_benches(path: str | Path, scenario: Scenario, day: date | None = None) -> Benches:
    """What stands in the greenhouse according to a file; `day` if the file does not say it.

    Raises RecordsError, whose message lists the first problems: where, what it must be, what it
    was, and what to do.
    """
    return _read(Path(path), scenario, day)[0]


def with_benches(
    loaded: LoadedScenario, path: str | Path, day: date | None = None
) -> LoadedScenario:
    """The scenario that starts from the benches in a file, with what was assumed of them.

    Raises RecordsError as `read_benches` does.
    """
    benches, assumed = _read(Path(path), loaded.scenario, day)
    scenario = starting_from(loaded.scenario, benches, Path(path).name)
    return replace(loaded, scenario=scenario, assumed=(*loaded.assumed, *assumed))


def starting_from(scenario: Scenario, benches: Benches, file: str) -> Scenario:
    """The scenario that starts from benches, which came from `file`.

    Raises RecordsError if they do not agree with it.
    """
    given = {key: getattr(scenario, key) for key in Scenario.model_fields}
    try:
        return Scenario.model_validate({**given, "benches": benches})
    except ValidationError as error:
        cause = (error.errors()[0].get("ctx") or {}).get("error")
        problems = cause.problems if isinstance(cause, DisagreementError) else []
        told = "\n".join(f"{file}: {problem.told()}." for problem in problems[:MOST_LINES])
        raise RecordsError(told or f"{file}: {error}") from None


def benches_csv(benches: Benches, scenario: Scenario, note: str = "") -> str:
    """Benches of a scenario as a CSV file that `read_benches` reads back.

    `note` becomes lines that are passed over. Trays with all their cells are counted by the tray.
    """
    written = io.StringIO(newline="")
    written.writelines(f"# {line}\n" for line in note.splitlines())
    table = csv.writer(written, lineterminator="\n")
    table.writerow([COUNTED_ON, benches.day])
    table.writerow(HEADER)
    empty = ""
    for s in benches.standing:
        plants = empty if _whole_trays(s, scenario) else s.plants
        table.writerow([
            WHAT[0], s.batch, s.crop, s.place, s.containers or empty, plants, s.seeded, s.moved,
            s.ready or "no", "yes" if s.living else "no",
        ])  # fmt: skip
    for clean in benches.to_clean:
        for what, count in ((WHAT[1], clean.to_wash), (WHAT[2], clean.to_clear)):
            if count:
                table.writerow([what, empty, empty, clean.place, count, *[empty] * 5])
    for lot in benches.stored:
        since, batch = lot.since.isoformat(" ", "minutes"), lot.batch or empty
        row = [WHAT[3], batch, lot.crop, empty, empty, lot.heads, empty, since, empty, empty]
        table.writerow(row)
    for late in benches.to_seed:
        row = [WHAT[4], empty, late.crop, empty, late.trays, empty, late.day, *[empty] * 3]
        table.writerow(row)
    return written.getvalue()


def _whole_trays(s: Standing, scenario: Scenario) -> bool:
    """Whether these are all cells of the trays in which they were seeded."""
    cells = (s.containers or 0) * scenario.places[s.place].sites_each
    return s.place == scenario.crops[s.crop].stages[0].place and s.plants == cells and not s.living


def _read(
    path: Path, scenario: Scenario, day: date | None
) -> tuple[Benches, tuple[Assumption, ...]]:
    """The benches of one file, and what was assumed in reading it."""
    file, table = path.name, Timetable(scenario.model_copy(update={"benches": None}))
    rows, decimal = _sheet(path)
    top, lines = _lines(file, rows)
    day_first, month_first, _ = dates_open_to_doubt(cell for row in rows for cell in row)
    swapped = bool(day_first) and not month_first
    run = Style(decimal, swapped, table.start, scenario.last_planned)
    of = _day(file, top, lines, run, day)
    reader = LineReader(file, table, Style(decimal, swapped, of - _LONGEST, of), of)
    problems: list[str] = []
    found: list[Thing] = []
    for line in lines:
        try:
            found += reader.read(line)
        except WrongError as wrong:
            problems.append(line.told(file, wrong))
    found_of = _Sorted.of(found)
    _refuse(problems or found_of.too_many(file, scenario))
    benches = Benches(
        day=of, standing=found_of.standing, to_clean=found_of.to_clean, stored=found_of.stored,
        to_seed=found_of.to_seed,
    )  # fmt: skip
    return benches, tuple(reader.assumed)


def _refuse(problems: Sequence[str]) -> None:
    if problems:
        more = len(problems) - MOST_LINES
        rest = [f"and {more} more"] if more > 0 else []
        raise RecordsError("\n".join([*problems[:MOST_LINES], *rest]))


def _sheet(path: Path) -> tuple[Rows, str]:
    """The rows of the sheet with most of the headings, and its decimal mark."""
    sheets = read_sheets(path, _known)
    best = max(sheets, key=lambda sheet: _known(sheet.rows))
    return best.rows, best.decimal


def _known(rows: Rows) -> int:
    """How many headings the best of the first rows has."""
    return max((len(fields(row)) for row in rows[:_LOOKED_AT]), default=0)


def _lines(file: str, rows: Rows) -> tuple[list[tuple[int, Sequence[Cell]]], list[Line]]:
    """The rows above the headings with their numbers, and those below them."""
    numbered = [(n, row) for n, row in enumerate(rows, start=1) if _says(row)]
    at, head = max(numbered, key=lambda one: len(fields(one[1])), default=(0, []))
    found = fields(head)
    missing = [name for name in ("crop", "place", "plants") if name not in found]
    if missing:
        raise RecordsError(
            f"{file}: must have a row of headings with crop, place and plants, but "
            f"{', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing; the headings "
            f"are {', '.join(HEADER)}, and seedbeat benches --out writes them."
        )
    headings = {name: text(head[column]) for name, column in found.items()}
    lines = [
        Line(n, {k: row[c] if c < len(row) else None for k, c in found.items()}, headings)
        for n, row in numbered
        if n > at
    ]
    return [(n, row) for n, row in numbered if n < at], lines


def _says(row: Sequence[Cell]) -> bool:
    """Whether a row says anything, and is not passed over."""
    said = [text(cell) for cell in row if text(cell)]
    return bool(said) and not said[0].startswith("#")


def _day(
    file: str,
    top: Sequence[tuple[int, Sequence[Cell]]],
    lines: Sequence[Line],
    style: Style,
    given: date | None,
) -> date:
    """The day of the benches, from the rows above the headings, a column, and beside the file."""
    heads = {"day": COUNTED_ON}
    said = [line for line in lines if text(line.cells.get("day"))]
    for number, row in top:
        first, *rest = [cell for cell in row if text(cell)]
        if bare(text(first)) == COUNTED_ON:
            said.append(Line(number, {"day": rest[0] if rest else None}, heads))
    days = {given} if given else set()
    for line in said:
        try:
            days.add(day_in(line.look("day"), style)[0])
        except WrongError as wrong:
            raise RecordsError(line.told(file, wrong)) from None
    if len(days) == 1:
        return days.pop()
    told = " and ".join(spoken(day, year=True) for day in sorted(days))
    problem = f"it and --on say {told}" if given else f"it says {told}" if told else "it says none"
    raise RecordsError(
        f"{file}: must be of one day, but {problem}; write the day in the first line, such as "
        f"{COUNTED_ON},2027-01-11, or give it as --on 2027-01-11."
    )


@dataclass(frozen=True)
class _Sorted:
    """What the rows say, by kind."""

    standing: tuple[Standing, ...]
    to_clean: tuple[ToClean, ...]
    stored: tuple[Stored, ...]
    to_seed: tuple[ToSeed, ...]

    @classmethod
    def of(cls, found: Sequence[Thing]) -> _Sorted:
        """Sort them, containers to clean together by place."""
        return cls(
            tuple(one for one in found if isinstance(one, Standing)),
            _together(one for one in found if isinstance(one, ToClean)),
            tuple(one for one in found if isinstance(one, Stored)),
            tuple(one for one in found if isinstance(one, ToSeed)),
        )

    def too_many(self, file: str, scenario: Scenario) -> list[str]:
        """Places that would hold more containers than there are."""
        taken: Counter[str] = Counter()
        for s in self.standing:
            taken[s.place] += max(
                s.containers or 0, -(-s.plants // scenario.places[s.place].sites_each)
            )
        for c in self.to_clean:
            taken[c.place] += c.to_clear + c.to_wash
        told = []
        for name, number in taken.items():
            place = scenario.places[name]
            if place.count is not None and number > place.count:
                told.append(
                    f"{file}: {name}: must be at most {place.count:,} {place.container}s, taken "
                    f"or dirty, but the rows add up to {number:,}; count again, or mend the count "
                    f"of {name} in the scenario."
                )
        return told


def _together(clean: Iterable[ToClean]) -> tuple[ToClean, ...]:
    """Containers to clean, a row for each place."""
    clear: Counter[str] = Counter()
    wash: Counter[str] = Counter()
    for c in clean:
        clear[c.place] += c.to_clear
        wash[c.place] += c.to_wash
    return tuple(
        ToClean(place=name, to_clear=clear[name], to_wash=wash[name])
        for name in dict.fromkeys([*clear, *wash])
    )
