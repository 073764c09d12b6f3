"""Whatever is in a file: it is read, or refused in words, and every row is accounted for."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from counts_school import COLUMNS, cells, csv_of, school_form
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from worklist_example import bench

from sim.counts import Counts, read_counts
from sim.counts_missing import missing_in
from sim.errors import RecordsError
from sim.records import KINDS
from sim.records_file import read_rows, write_rows
from sim.timetable import Timetable
from sim.year import run

FOLDER = Path(tempfile.mkdtemp(prefix="counts-"))
SCENARIO = bench(FOLDER).scenario
TABLE = Timetable(SCENARIO)
ROWS = 90  # of the file that is damaged: five weeks of the bench
NASTY = (
    "", " ", "0", "-1", "4.5", "1,104", "99999999", "1e999", "nan", "\u0661", "Total", "note",
    "Date", "What", "seeded", "moved", "harvested", "delivered", "dumped", "counted", "present",
    "lost", "ready", "Lost", "lettuce", "basil", "bench", "nursery", "cold store", "=HALL & <co>",
    "trays", "plants",
    "boxes", "1/5/2026", "1/12/2026", "13/13/2026", "5/1/2026", "2/29/2026", "1/1/1900", "46027",
    "99999999999", "9:00 am", "25:99", "\x00", "\x1b[31m", "\ud7ff", "x" * 500, '"', "a,b;c\td",
    "(2)", "#REF!", "-",
)  # fmt: skip
OUT = ("moved", "lost", "harvested", "dumped", "delivered", "surplus")


@cache
def table() -> list[list[str]]:
    """The first weeks of a simulated year as a school writes them."""
    written = school_form(run(SCENARIO, seed=1).events, SCENARIO.start)
    return [list(COLUMNS), *map(cells, written[:ROWS])]


def read(content: bytes) -> Counts | None:
    """What is read of these bytes; None if the whole file is refused, in words."""
    file = FOLDER / "r.csv"
    file.write_bytes(content)
    try:
        counts = read_counts(file, SCENARIO)
    except RecordsError as error:
        message = str(error)
    else:
        check(counts)
        return counts
    assert message.startswith("r.csv")
    assert len(message) < 600
    return None


def check(counts: Counts) -> None:
    """Every row of the file once; every problem with its remedy; nothing leaves that never came."""
    aside = [row for row, _ in counts.aside]
    refused = {problem.row for problem in counts.problems}
    assert counts.in_file == counts.read + counts.refused + counts.blank + len(aside)
    assert counts.refused == len(refused) or (counts.by_columns and counts.refused > len(refused))
    assert counts.read == sum(kind.rows for kind in counts.kinds)
    assert all(p.must and p.remedy and p.column for p in counts.problems)
    assert all(row[1] in KINDS for row in counts.rows)
    assert [row[0] for row in counts.rows] == sorted(row[0] for row in counts.rows)
    there: Counter[tuple[str, str]] = Counter()
    for row in counts.rows:
        if row[1] in OUT and row[2]:
            there[row[2], row[4]] -= row[8]
        if row[1] in ("seeded", "moved", "harvested"):
            there[row[2], row[5] or ("cold store" if row[1] == "harvested" else row[4])] += row[8]
    assert all(plants >= 0 for plants in there.values())
    text = io.StringIO()
    write_rows(counts.rows, counts.start, text)
    text.seek(0)
    assert read_rows(text, counts.start) == counts.rows
    assert all(one.what and one.measures for one in missing_in(counts, TABLE))


def test_the_file_that_is_damaged_is_whole():
    counts = read(csv_of(table()).encode())
    assert counts is not None
    assert (counts.read, counts.problems) == (ROWS, ())


places = st.tuples(st.integers(0, ROWS), st.integers(0, len(COLUMNS) - 1))
words = st.sampled_from(NASTY) | st.text(max_size=6)


def mutated(changes: list[tuple[tuple[int, int], str]], order: list[int]) -> list[list[str]]:
    """The table with some cells replaced, and some rows again at the end."""
    rows = [list(row) for row in table()]
    for (row, column), word in changes:
        rows[row][column] = word
    return rows + [rows[row] for row in order]


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    changes=st.lists(st.tuples(places, words), min_size=1, max_size=12),
    order=st.lists(st.integers(0, ROWS), max_size=4),
    separator=st.sampled_from(",;\t"),
)
def test_cells_replaced_are_read_or_refused(changes, order, separator):
    """Cells replaced by others, rows written twice, any separator."""
    read(csv_of(mutated(changes, order), separator).encode("utf-8", "replace"))


WIDE = """No,Date,Batch,Place,Seeded,Moved,Ready,Lost,Harvested,Cause,Minutes,People
1,1/5/2026,,,1,,,,,,15,1
2,1/12/2026,1/5,,1,36,,4,,did not come up,25,1
3,1/19/2026,1/12,,,37,,,,,10,1
4,1/26/2026,1/5,bench,,,0,1,,wilted,,1
5,1/26/2026,1/5,bench,,,35,,,,,1
6,1/30/2026,1/5,,,,,,30,,30,1
7,2/2/2026,,,,,,,,,,
"""


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    changes=st.lists(
        st.tuples(st.integers(0, 7), st.integers(0, 11), words), min_size=0, max_size=8
    ),
    order=st.lists(st.integers(0, 7), max_size=3),
)
def test_tables_with_a_column_for_each_kind_are_read_or_refused(changes, order):
    """Cells and headings replaced, rows written twice."""
    rows = [line.split(",") for line in WIDE.splitlines()]
    for row, column, word in changes:
        rows[row][column] = word
    counts = read(csv_of(rows + [rows[n] for n in order]).encode("utf-8", "replace"))
    if not changes and not order:
        assert counts is not None
        assert (counts.read, counts.blank, counts.problems) == (9, 1, ())


@settings(deadline=None, derandomize=True, max_examples=50)
@given(
    encoding=st.sampled_from(["utf-8", "utf-16", "cp1252"]),
    damage=st.lists(
        st.tuples(st.integers(0, 12_000), st.integers(0, 60), st.binary(max_size=3)),
        min_size=1, max_size=6,
    ),
)  # fmt: skip
def test_bytes_damaged_are_read_or_refused(encoding, damage):
    """Bytes taken out, put in and changed."""
    content = csv_of(table()).encode(encoding)
    for at, length, piece in damage:
        content = content[:at] + piece + content[at + length :]
    read(content)


@cache
def book() -> dict[str, bytes]:
    """The parts of a workbook of the table."""
    made, data = Workbook(), io.BytesIO()
    sheet = made.active
    assert sheet is not None
    for row in table()[:25]:
        sheet.append(row)
    made.save(data)
    with zipfile.ZipFile(data) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


@settings(deadline=None, derandomize=True, max_examples=40)
@given(
    part=st.sampled_from(["worksheets/sheet1.xml", "_rels/workbook.xml.rels", "workbook.xml"]),
    damage=st.lists(
        st.tuples(st.integers(0, 9000), st.integers(0, 20), st.binary(max_size=3)),
        min_size=1, max_size=3,
    ),
)  # fmt: skip
def test_workbooks_damaged_are_read_or_refused(part, damage):
    """Bytes of a workbook's parts taken out, put in and changed, the packing left whole."""
    parts, data, part = dict(book()), io.BytesIO(), f"xl/{part}"
    for at, length, piece in damage:
        at %= len(parts[part])  # noqa: PLW2901 - somewhere in this part
        parts[part] = parts[part][:at] + piece + parts[part][at + length :]
    with zipfile.ZipFile(data, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    read(data.getvalue())


@pytest.mark.proof
@settings(deadline=None, derandomize=True, max_examples=3000)
@given(
    changes=st.lists(st.tuples(places, words), min_size=1, max_size=40),
    order=st.lists(st.integers(0, ROWS), max_size=10),
    separator=st.sampled_from(",;\t|"),
)
def test_many_more_cells_replaced_are_read_or_refused(changes, order, separator):
    """Cells replaced by others, over many more files."""
    read(csv_of(mutated(changes, order), separator).encode("utf-8", "replace"))
