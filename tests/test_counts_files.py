"""Records as schools make them: encodings, separators, dates, numbers, headings, workbooks."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time
from pathlib import Path

import pytest
from openpyxl import Workbook
from worklist_example import bench

from sim.counts import Counts, read_counts
from sim.counts_values import Style, WrongError, clock, day, number, text, whole
from sim.errors import RecordsError

HEAD = "Date,What,Batch,Place,Count,Minutes\n"
ROWS = "1/5/2026,seeded,,,4,60\n1/19/2026,moved,1/5,,140,35\n"
STYLE = Style(".", False, date(2026, 8, 24), date(2027, 8, 1))


def read(folder: Path, content: str | bytes | Workbook, name: str = "r.csv") -> Counts:
    """The records in a file of the small bench."""
    file = folder / name
    if isinstance(content, Workbook):
        content.save(file)
    else:
        file.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_counts(file, bench(folder).scenario)


def rows_of(counts: Counts) -> list[tuple]:
    """Day, kind, count and minutes of what was done; nothing may have been refused."""
    assert counts.problems == ()
    done = ("seeded", "moved", "lost", "harvested", "delivered", "washed")
    return [(int(r[0]), r[1], r[8], r[10]) for r in counts.rows if r[1] in done]


USUAL = [(0, "seeded", 160, 60.0), (14, "moved", 140, 35.0)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_encodings_and_separators(tmp_path, encoding, separator):
    """UTF-8 with and without a mark, UTF-16, Windows text; four separators; three line ends."""
    content = ("Résumé of the term\n" + HEAD + ROWS).replace(",", separator)
    for end in ("\n", "\r\n", "\r"):
        counts = read(tmp_path, content.replace("\n", end).encode(encoding))
        assert rows_of(counts) == USUAL
        assert (counts.header_row, counts.in_file) == (2, 2)


def test_thousands_and_decimals_by_the_files_own_marks(tmp_path):
    """1,104 and 1 104 are thousands; with semicolons 1.104 is, and 12,5 is twelve and a half."""
    content = HEAD + ROWS.replace("4,60", '4,"1,104.5"').replace("140,35", '140,"1 104"')
    assert [row[3] for row in rows_of(read(tmp_path, content))] == [1104.5, 1104]
    content = (HEAD + ROWS).replace("4,60", "4,1.104").replace(",", ";").replace(";35", ";12,5")
    assert [row[3] for row in rows_of(read(tmp_path, content))] == [1104, 12.5]


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1,104", ".", 1104), ("1.104", ",", 1104), ("1 104", ".", 1104), ("1'104", ".", 1104),
        ("1\u00a0104", ".", 1104), ("1,104,000", ".", 1104000), ("1.104,5", ".", 1104.5),
        ("1,104.5", ",", 1104.5), ("12,5", ".", 12.5), ("0,125", ".", 0.125), ("5.", ".", 5),
        (".5", ".", 0.5), (12.0, ".", 12), (7, ".", 7), ("12 heads", ".", 12), ("-3", ".", -3),
    ],
)  # fmt: skip
def test_numbers(cell, decimal, value):
    assert number(cell, decimal)[0] == value


@pytest.mark.parametrize(
    "cell",
    ["1,10,4", "twelve", "12 3", "~12", "1-2", "(12)", "", None, ".", ",", True, "1e9", "\u0661",
     float("inf"), 1e300, 10**400, "9" * 400, time(1, 30)],
)  # fmt: skip
def test_no_numbers(cell):
    """What is not plainly one number is none, however it is stored."""
    with pytest.raises(WrongError):
        number(cell, ".")


def test_counts_are_whole_and_not_negative():
    assert whole("1,104", ".") == (1104, "")
    for cell in ("1.104", 4.5, "-1", -1):
        with pytest.raises(WrongError):
            whole(cell, ".")


@pytest.mark.parametrize(
    "cell",
    ["2026-09-05", "2026-9-5", "2026/09/05", "20260905", "9/5/2026", "9/5/26", "9-5-2026", "9/5",
     "Sep 5, 2026", "September 5 2026", "Sept. 5th, 2026", "Sat, Sep 5, 2026", "Sat Sep 5", "Sep 5",
     "5 Sep 2026", "5-Sep-26", "5-Sep", "5. September 2026", "46270", 46270, 46270.0,
     date(2026, 9, 5), datetime(2026, 9, 5), "2026-09-05T00:00:00", " 9/5/2026 "],
)  # fmt: skip
def test_one_day_written_in_many_ways(cell):
    """Day numbers as spreadsheets count them: 46,270 is September 5, 2026 (day 1 is 1900-01-01)."""
    assert day(cell, STYLE)[0] == date(2026, 9, 5)


@pytest.mark.parametrize("cell", ["9/5/2026 1:10 PM", "2026-09-05 13:10", 46270 + 79 / 144])
def test_a_date_with_a_time(cell):
    assert day(cell, STYLE) == (date(2026, 9, 5), time(13, 10))


@pytest.mark.parametrize(
    "cell",
    ["soon", "", None, "2/30/2026", "25/9/2026", "Sun Sep 5, 2026", "Sunday", "Sep", 5, 4.5, "4.5",
     99999, "99999", "0/0/0", "Foo 5, 2026", "1/2/3/4", True, "#VALUE!", "########"],
)  # fmt: skip
def test_no_dates(cell):
    """No such day, another weekday than is named, and what is no date at all."""
    with pytest.raises(WrongError):
        day(cell, STYLE)


def test_a_date_without_a_year_is_one_of_the_run():
    assert day("5/5", STYLE)[0] == date(2027, 5, 5)
    assert day("Mon Nov 9", STYLE)[0] == date(2026, 11, 9)


@pytest.mark.parametrize(
    ("cell", "at", "guessed"),
    [("9:40 am", (9, 40), False), ("1:10 PM", (13, 10), False), ("13:10", (13, 10), False),
     ("1:10", (13, 10), True), ("9:40", (9, 40), False), ("09:40:30", (9, 40), False),
     (0.5, (12, 0), False), (time(9, 40, 12), (9, 40), False), ("9 am", (9, 0), False)],
)  # fmt: skip
def test_clock_times(cell, at, guessed):
    """Without am or pm 1:10 is taken for the afternoon, and that is told."""
    assert clock(cell) == (time(*at), guessed)


def test_day_first_dates_are_found_and_told(tmp_path):
    """19/1/2026 says how 5/1/2026 is meant."""
    counts = read(tmp_path, HEAD + "5/1/2026,seeded,,,4,60\n19/1/2026,moved,5/1,,140,35\n")
    assert rows_of(counts) == USUAL
    assert counts.notes[0] == "Dates were read day first, as in 19/1/2026."


def test_dates_that_could_be_either_are_month_first_and_told(tmp_path):
    """Nothing in the file says whether 1/5 is January 5 or May 1."""
    counts = read(tmp_path, HEAD + "1/5/2026,seeded,,,4,60\n")
    assert rows_of(counts) == USUAL[:1]
    assert counts.notes[0].startswith("Dates such as 1/5/2026 could be either; they were read mon")


def test_every_row_is_accounted_for(tmp_path):
    """Titles above, blank rows, headings again, totals and notes: counted, and told with why."""
    content = "Our lettuce\n,,,,,\n" + HEAD + ROWS + "\n,,,,,\n" + HEAD + "Total,,,,144,\n"
    content += "1/20/2026,lost,1/5,,9999,\n,,,,,thanks to all\n1/31/2026,Total for Jan,,,144,\n"
    counts = read(tmp_path, content)
    assert (counts.header_row, counts.in_file) == (3, 9)
    assert (counts.read, counts.refused, counts.blank) == (2, 1, 2)
    assert counts.aside == ((8, "headings again"), (9, "a total"), (11, "a note"), (12, "a total"))
    assert [problem.row for problem in counts.problems] == [10]


def test_columns_in_any_order_and_by_other_names(tmp_path):
    """Upper case, other words, units in brackets, columns that are not needed."""
    content = "HEADS;WHY;min.;Weather;Task;DAY\n"
    content += "160;;60;sunny;Sowed;1/5/2026\n140;;35;;transplant;1/19/2026\n"
    counts = read(tmp_path, content)
    assert rows_of(counts) == USUAL
    assert 'Columns passed over and not kept: "Weather".' in counts.notes
    assert '"min." was read as person-minutes: people times minutes.' in counts.notes


def test_headings_in_two_rows(tmp_path):
    """A merged heading over several columns, their own headings below it."""
    content = ",,Counted,,\nDate,What,trays,cells,plants\n1/5/2026,seeded,4,160,\n"
    counts = read(tmp_path, content + "1/19/2026,moved,,,140\n")
    assert [row[:3] for row in rows_of(counts)] == [row[:3] for row in USUAL]
    content = "Date,What,Count,,\n,,trays,cells,plants\n1/5/2026,seeded,4,160,\n"
    counts = read(tmp_path, content + "1/19/2026,moved,,,140\n")
    assert [row[:3] for row in rows_of(counts)] == [row[:3] for row in USUAL]
    assert counts.header_row == 2


def book_of(**sheets: list[list[object]]) -> Workbook:
    """A workbook of sheets of rows."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


TABLE = [
    ["Date", "What", "Batch", "Count", "Minutes"],
    [date(2026, 1, 5), "seeded", None, 4, 60],
    [datetime(2026, 1, 19), "moved", datetime(2026, 1, 5), 140, 35],
]


def test_the_sheet_with_the_headings_is_read_and_named(tmp_path):
    """Of several sheets the one whose headings say most; another one like it is told."""
    book = book_of(Notes=[["hello"]], Term=TABLE, Old=[["Date", "What", "Count"], ["1/1", "x", 1]])
    counts = read(tmp_path, book, "r.xlsx")
    assert rows_of(counts) == USUAL
    assert counts.read_as == 'sheet "Term"'
    assert rows_of(read(tmp_path, book, "term.csv")) == USUAL  # whatever its name says
    assert (
        'Not read, although they look like records: "Old". Give each its own file.' in counts.notes
    )


def test_merged_cells(tmp_path):
    """A merged title above; a date merged down stands for each of its rows, a number for one."""
    rows = [["Lettuce"], TABLE[0], [date(2026, 1, 5), "seeded", None, 4, 60],
            [None, "checks", None, None, 5]]  # fmt: skip
    book = book_of(Term=rows)
    book["Term"].merge_cells("A1:E1")
    book["Term"].merge_cells("A3:A4")
    counts = read(tmp_path, book, "r.xlsx")
    assert counts.problems == ()
    assert [r[1] for r in counts.rows] == ["seeded", "checked"]
    book["Term"].merge_cells("D3:D4")
    assert [k.count for k in read(tmp_path, book, "r.xlsx").kinds] == [160, 1]


def test_dates_and_times_of_a_spreadsheet(tmp_path):
    """Day numbers without a date's format, and clock times as cells."""
    rows = [["Date", "Time", "What", "Count"], [46027, time(9, 0), "seeded", 4]]
    counts = read(tmp_path, book_of(Term=rows), "r.xlsx")
    assert [row[:3] for row in rows_of(counts)] == [USUAL[0][:3]]
    assert counts.rows[0][0] == 0.375


UNREADABLE = {
    "": "is empty",
    "\x89PNG\r\n\x1a\n" + "\0" * 99: "must be a table, as text or .xlsx",
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600: "old .xls form, or under a password",
    b"%PDF-1.7\n\x80\x81\x8d\x00\x01\x02": "must be a table",
    b"PK\x03\x04 nothing": "is damaged",
    "hello\nworld\n": "must have a row of headings with Date, What and Count, but Date, What",
    "Date,What\n1/5/2026,seeded\n": "but Count is missing",
    "When,Heads\n1/5/2026,4\n": "but What (seeded, moved, harvested ...) is missing",
    HEAD + '1/5/2026,"seeded,,,4,60\n': "close every quotation mark",
    "x" * 10_000_001: "is larger than 10 MB",
    HEAD + "\n" * 100_001: "has more than 100,000 rows",
}


@pytest.mark.parametrize(("content", "message"), UNREADABLE.items(), ids=lambda x: str(x)[:12])
def test_a_file_that_is_no_table_is_explained(tmp_path, content, message):
    """Empty, a picture, the old form, damaged, too large, without headings: one message."""
    with pytest.raises(RecordsError) as caught:
        read(tmp_path, content)
    assert str(caught.value).startswith("r.csv: ")
    assert message in str(caught.value)


def packed(**files: bytes) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in files.items():
            made.writestr(name.replace("__", "/"), content)
    return data.getvalue()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (packed(content=b"x"), "is not a workbook of the .xlsx form; save it as .xlsx"),
        (packed(**{"xl__workbook.xml": b"x"}), "is a workbook that cannot be read"),
        (
            packed(**{"xl__workbook.xml": b"x", "xl__big.xml": bytes(51_000_000)}),
            "unpacks to more than 50 MB",
        ),
    ],
)
def test_a_packed_file_that_is_no_workbook_is_explained(tmp_path, content, message):
    with pytest.raises(RecordsError, match=message):
        read(tmp_path, content, "r.xlsx")


def test_a_sheet_that_is_too_wide_is_explained(tmp_path):
    book = book_of(Term=TABLE)
    book["Term"].cell(9000, 300).value = "far out"
    with pytest.raises(RecordsError, match=r'sheet "Term": is 300 columns wide'):
        read(tmp_path, book, "r.xlsx")


def test_a_file_that_is_not_there(tmp_path):
    """The nearest name in the folder is suggested; a folder is no file."""
    read(tmp_path, HEAD, "records.csv")
    with pytest.raises(RecordsError, match=r'no such file; did you mean "records.csv"'):
        read_counts(tmp_path / "record.csv", bench(tmp_path).scenario)
    with pytest.raises(RecordsError, match="is a folder"):
        read_counts(tmp_path, bench(tmp_path).scenario)


def test_text_is_one_line_without_control_characters():
    assert text(" a\r\n b\x00\u2028c\ufeff ") == "a b c"
