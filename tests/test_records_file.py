"""Rows to a file and back: nothing is lost, people can read it, and a bad file is explained."""

from __future__ import annotations

import csv
import io
import re
from contextlib import suppress
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.examples import two_stage

from sim.errors import OutputError, RecordsError
from sim.records import COLUMNS, KINDS, Row
from sim.records_file import HEADER, read_rows, write_rows
from sim.year import run

MONDAY = date(2026, 9, 7)
SEEDED: Row = (
    3.37876984126984, "seeded", "lettuce 2026-09-10", "lettuce", "nursery", "", "class", "",
    400, 2, 24.0, 0.0, "",
)  # fmt: skip
DUMPED: Row = (
    9.0, "dumped", "lettuce 2026-08-31", "lettuce", "bench", "", "", "", 1, 0, 0.0, 2.375,
    "over-mature",
)  # fmt: skip
NOBODY: Row = (3.5, "shift", "", "", "", "", "class", "", 0, 0, 0.0, 3.375, "")

letters = st.characters(min_codepoint=0x20, exclude_characters="\x7f", exclude_categories=("Cs",))
names = st.text(letters | st.sampled_from("\"',;= \x85\u2028"), max_size=12)
moments = st.floats(0, 4000) | st.integers(0, 4000)
numbers = st.integers(0, 10**18)
rows = st.tuples(
    moments, st.sampled_from(list(KINDS)), names, names, names, names, names, names, numbers,
    numbers, st.floats(0, 1e9) | st.integers(0, 1440), st.just(0.0) | moments, names,
)  # fmt: skip


def written(*of: Row) -> str:
    """These rows as the text of a file."""
    stream = io.StringIO()
    write_rows(of, MONDAY, stream)
    return stream.getvalue()


def read(text: str) -> list[Row]:
    """The rows of a file's text."""
    return read_rows(io.StringIO(text), MONDAY)


def with_cell(column: str, value: str, row: Row = SEEDED) -> str:
    """The text of a file of one row, with one cell changed."""
    (cells,) = csv.DictReader(io.StringIO(written(row)))
    stream = io.StringIO()
    table = csv.DictWriter(stream, HEADER)
    table.writeheader()
    table.writerow(cells | {column: value})
    return stream.getvalue()


@settings(deadline=None, derandomize=True, max_examples=300)
@given(some=st.lists(rows, max_size=5))
def test_rows_written_and_read_are_the_same_rows(some: list[Row]) -> None:
    """Round trip: read(write(rows)) == rows, every float to its last bit, every name as it was."""
    assert read(written(*some)) == some


@pytest.mark.proof
@settings(deadline=None, derandomize=True, max_examples=20_000)
@given(some=st.lists(rows, max_size=3))
def test_many_more_rows_written_and_read_are_the_same(some: list[Row]) -> None:
    """Round trip, over many more rows."""
    assert read(written(*some)) == some


def test_a_years_rows_survive_a_file(tmp_path: Path) -> None:
    """Round trip of a whole simulated year through the disk."""
    scenario = two_stage(10, 4, 25)
    year = run(scenario)
    write_rows(year.events, scenario.start, tmp_path / "events.csv")
    again = read_rows(tmp_path / "events.csv", scenario.start)
    assert again == year.events
    assert len({row[1] for row in again}) > 12
    assert all(type(row[8]) is int and type(row[0]) is float for row in again)


def test_people_can_read_a_row() -> None:
    """A file has dates, clock times and units, and nothing where there is nothing to say."""
    header, seeded, dumped, nobody = written(SEEDED, DUMPED, NOBODY).splitlines()
    assert header == (
        "date [YYYY-MM-DD],time [HH:MM:SS],day number [days],kind,batch,crop,place,to,crew,"
        "customer,count [number],containers [number],minutes [min],since date [YYYY-MM-DD],"
        "since time [HH:MM:SS],since day number [days],cause"
    )
    assert seeded == (
        "2026-09-10,09:05:26,3.37876984126984,seeded,lettuce 2026-09-10,lettuce,nursery,,class,,"
        "400,2,24.0,,,,"
    )
    assert dumped == (
        "2026-09-16,00:00:00,9.0,dumped,lettuce 2026-08-31,lettuce,bench,,,,1,,,"
        "2026-09-09,09:00:00,2.375,over-mature"
    )
    assert nobody == ("2026-09-10,12:00:00,3.5,shift,,,,,class,,0,,0.0,2026-09-10,09:00:00,3.375,")


def test_every_column_of_a_row_has_its_place_in_the_file() -> None:
    """A file's columns are those of a row; each of the two moments takes three."""
    moments_apart = [re.sub(r" \[.*", "", heading) for heading in HEADER]
    assert len(HEADER) == len(COLUMNS) + 4
    assert set(COLUMNS) <= set(moments_apart) | {"since"}


def test_a_clock_time_stays_on_its_date() -> None:
    """A moment just before midnight is written as 23:59:59 of its day, and read back exactly."""
    late = (2.9999999, *DUMPED[1:11], 1.99999999, "")
    assert written(late).splitlines()[1].startswith("2026-09-09,23:59:59,2.9999999,dumped")
    assert read(written(late)) == [late]


def test_a_log_kept_by_hand_needs_no_day_numbers() -> None:
    """Without a day number, a row's time is its date and clock time; without minutes 0."""
    cells = "2026-09-10,9:06,,harvested,A,lettuce,bench,,class,,30,,,2026-09-08,09:00,,"
    (row,) = read(",".join(HEADER) + "\n" + cells + "\n")
    assert row[:2] == (pytest.approx(3 + (9 + 6 / 60) / 24), "harvested")
    assert row[8:12] == (30, 0, 0.0, pytest.approx(1.375))


def test_what_a_spreadsheet_adds_is_passed_over() -> None:
    """A byte order mark, CRLF, empty rows, quoted cells, more columns and another order."""
    first, *rest = (line.split(",") for line in written(SEEDED, DUMPED).splitlines())
    lines = [[*reversed(cells), "a note, with a comma"] for cells in rest]
    stream = io.StringIO()
    table = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    table.writerow([*reversed(first), "notes"])
    table.writerows([lines[0], [""] * 18, lines[1], []])
    assert read(stream.getvalue()) == [SEEDED, DUMPED]


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    """A byte order mark before the first heading is not part of it."""
    file = tmp_path / "events.csv"
    file.write_bytes(b"\xef\xbb\xbf" + written(SEEDED).encode())
    assert read_rows(file, MONDAY) == [SEEDED]


BAD_CELLS = {
    ("kind", "seded"): 'must be a kind of row, but it is "seded"; did you mean "seeded"?',
    ("kind", ""): "must be a kind of row, but the cell is empty; choose from",
    ("count [number]", "-4"): 'must be a whole number of at least 0, but it is "-4"; write the',
    ("count [number]", ""): "must be a whole number of at least 0, but the cell is empty",
    ("count [number]", "4.5"): 'must be a whole number of at least 0, but it is "4.5"',
    ("count [number]", "1,200"): 'must be a whole number of at least 0, but it is "1,200"',
    ("count [number]", "\u0664"): "must be a whole number of at least 0",
    ("containers [number]", "two"): 'must be a whole number of at least 0, but it is "two"',
    ("minutes [min]", "half an hour"): 'must be a number, but it is "half an hour"; write the',
    ("minutes [min]", "nan"): 'must be a number, but it is "nan"',
    ("minutes [min]", "1e999"): 'must be a number, but it is "1e999"',
    ("minutes [min]", "-3"): 'must be at least 0, but it is "-3"; write the person-minutes',
    ("date [YYYY-MM-DD]", "9/10/2026"): 'must be a date, but it is "9/10/2026"; write it as 2026',
    ("date [YYYY-MM-DD]", "2026-02-30"): 'must be a date, but it is "2026-02-30"',
    ("date [YYYY-MM-DD]", ""): "must be a date, but the cell is empty",
    ("time [HH:MM:SS]", "25:00"): 'must be a clock time from 00:00 to 23:59:59, but it is "25:00"',
    ("time [HH:MM:SS]", "9 am"): 'must be a clock time from 00:00 to 23:59:59, but it is "9 am"',
    ("day number [days]", "4.5"): "must be the same moment as 2026-09-10 09:05:26, which is 3.37",
    ("day number [days]", "inf"): 'must be a number, but it is "inf"',
    ("since date [YYYY-MM-DD]", "soon"): 'must be a date, but it is "soon"',
    ("batch", "A\x1b[31m"): 'must be text on one line, but it is "A\\u001b[31m"; take the control',
    ("cause", "a\nb"): 'must be text on one line, but it is "a\\nb"',
}


@pytest.mark.parametrize(("cell", "message"), BAD_CELLS.items(), ids=str)
def test_a_bad_cell_is_named_with_its_value_and_a_remedy(
    cell: tuple[str, str], message: str
) -> None:
    """A message says the row, the column, what the cell must be, what it was, what to do."""
    column, value = cell
    with pytest.raises(RecordsError) as caught:
        read(with_cell(column, value))
    assert str(caught.value).startswith(f'the table, row 2, column "{column}": {message}')


def test_the_row_in_a_message_is_the_spreadsheets_row() -> None:
    """The header is row 1, and empty rows count."""
    lines = written(SEEDED, SEEDED, DUMPED).splitlines()
    lines.insert(2, "")
    with pytest.raises(RecordsError, match=r"row 5, column .kind."):
        read("\n".join(lines).replace("dumped", "eaten"))


def test_a_row_before_the_first_day_is_refused() -> None:
    """No row happens before the run: the wrong first day, or a wrong year, is told."""
    with pytest.raises(RecordsError, match=r"must be Mon Sep 7, 2026 or later, but it is .2025"):
        read(with_cell("date [YYYY-MM-DD]", "2025-09-10").replace("3.37876984126984", ""))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the table: is empty; its first row must be date "),
        ("\n\n", "the table: is empty"),
        ("a,b\n1,2\n", r'row 1: the column "date \[YYYY-MM-DD\]" must be there once, but it is '),
        (written(SEEDED).replace("batch", "crop", 1), '"batch" must be there once, but it is'),
        (written(SEEDED).replace("cause", "crop", 1), '"crop" must be there once, but it is'),
        (written(SEEDED).replace(",", ";"), "must be there once, but it is there 0 times"),
        (written(SEEDED)[:-30], "row 2: must have as many cells as the first row, but it has 7"),
        (written(SEEDED) + '"never closed', "must be a table with commas between its cells"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_table_of_rows_is_explained(text: str, message: str) -> None:
    """Empty, without its columns, with another separator, cut off, or with an open quotation."""
    with pytest.raises(RecordsError, match=message):
        read(text)


@pytest.mark.parametrize(
    "content", [b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "date".encode("utf-16"), b"\x00" * 64]
)
def test_a_binary_file_is_refused(tmp_path: Path, content: bytes) -> None:
    """A picture, another encoding or zeros are no table, and do not end in a traceback."""
    file = tmp_path / "events.csv"
    file.write_bytes(content)
    with pytest.raises(RecordsError, match=r"^events.csv.*(UTF-8|first row must)"):
        read_rows(file, MONDAY)


def test_a_file_that_cannot_be_opened_is_named(tmp_path: Path) -> None:
    """A file that is not there, and a folder that is not there to write into."""
    with pytest.raises(RecordsError, match=r"^events.csv: cannot be read \(No such file"):
        read_rows(tmp_path / "events.csv", MONDAY)
    with pytest.raises(RecordsError, match="cannot be read"):
        read_rows(tmp_path, MONDAY)
    with pytest.raises(OutputError, match=r"cannot be written \(No such file.*choose a folder"):
        write_rows([SEEDED], MONDAY, tmp_path / "nowhere" / "events.csv")


@settings(deadline=None, derandomize=True, max_examples=200)
@given(data=st.data())
def test_a_damaged_file_is_read_or_refused_in_words(data: st.DataObject) -> None:
    """Bytes taken out of, put into or changed in a file give rows or one RecordsError."""
    text = written(SEEDED, DUMPED, NOBODY)
    at = data.draw(st.integers(0, len(text)))
    length = data.draw(st.integers(0, 5))
    damaged = text[:at] + data.draw(st.text(max_size=3)) + text[at + length :]
    with suppress(RecordsError):
        assert all(len(row) == len(COLUMNS) for row in read(damaged))
