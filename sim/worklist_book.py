"""A week's work list as a workbook: a sheet to work by, and a sheet to fill in what was counted."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time
from math import ceil
from typing import TYPE_CHECKING, Literal

from sim.agreement import COLD_STORE
from sim.telling import Answer, iso
from sim.telling_worklist import (
    HOW_TO,
    come_over,
    delivery,
    fits,
    how_sure,
    main_batches,
    plural,
    shortages,
    start_with,
    what,
    who,
)

if TYPE_CHECKING:
    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

Value = str | int | float | date | time | None

WEEK = (
    "Date", "Starts", "Ends", "Who", "What to do", "Expected count", "Unit",
    "Time [person-minutes]", "Years it came up in [of {years}]", "Count when it comes up", "Done",
    "Counted",
)  # fmt: skip
COUNTS = (
    "Date", "Starts", "Crop", "Batch seeded on", "What", "Place", "To place or customer", "Unit",
    "Count", "Cause", "Time [person-minutes]", "People present [number, no names]",
)  # fmt: skip
WHAT = ("seeded", "moved", "ready", "harvested", "washed", "cleared", "checked", "delivered",
        "lost", "dumped")  # fmt: skip
_WEEK_WIDTHS = (12, 10, 10, 21, 60, 10, 11, 17, 10, 11, 7, 10)
_COUNTS_WIDTHS = (12, 10, 18, 13, 11, 16, 20, 11, 9, 24, 17, 14)
_EMPTY_ROWS = 12  # rows of the counts that are left free for losses and surprises
_FORMATS: dict[type, str] = {date: "ddd mmm d", time: "h:mm AM/PM", float: "#,##0.0"}
_LINE = 14.0  # height of a line of print [pt]
_SAVED = datetime(2000, 1, 1)  # what the file says of when it was written: always the same


def workbook(answer: Answer) -> bytes:
    """The workbook of a week, sheets "Week" and "Counts"; the same answer gives the same bytes."""
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import, needed for this file only

    book = Workbook()
    week = book.active
    assert week is not None
    week.title = "Week"
    _week_sheet(Sheet(week, _WEEK_WIDTHS), answer)
    _counts_sheet(Sheet(book.create_sheet("Counts"), _COUNTS_WIDTHS), answer)
    book.properties.creator, book.properties.created = "seedbeat", _SAVED
    book.properties.title = _title(answer)
    saved = io.BytesIO()
    book.save(saved)
    return _dated(saved)


def _title(answer: Answer) -> str:
    return f"{answer['scenario']}: work of the week of {iso(answer['week_of'], year=True)}"


def _dated(saved: io.BytesIO) -> bytes:
    """The same file with all its dates set to one day."""
    stamp, then = rb"(<dcterms:modified[^>]*>)[^<]*", _SAVED.isoformat().encode() + b"Z"
    written = io.BytesIO()
    with zipfile.ZipFile(saved) as old, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(stamp, rb"\g<1>" + then, content)
            new.writestr(zipfile.ZipInfo(name, _SAVED.timetuple()[:6]), content, new.compression)
    return written.getvalue()


def _week_sheet(sheet: Sheet, answer: Answer) -> None:
    sheet.paragraph(_title(answer), bold=True)
    sheet.paragraph(start_with(answer))
    sheet.head([name.format(years=answer["years"]) for name in WEEK])
    for day in answer["days"]:
        for row in _week_rows(day, answer["years"]):
            sheet.row(row)
    sheet.paragraph("How to read this list", bold=True)
    for text in (HOW_TO, how_sure(answer), fits(answer), *shortages(answer)):
        sheet.paragraph(text)
    sheet.paragraph("Cautions", bold=True)
    for caution in answer["cautions"]:
        sheet.paragraph(caution)


def _week_rows(day: Answer, years: int) -> Iterator[tuple[Value, ...]]:
    on = date.fromisoformat(day["day"])
    for shift in day["shifts"]:
        starts, ends = _times(shift)
        for t in shift["tasks"]:
            there = t["amount"] * years / t["years"]
            minutes = t["minutes"] if t["task"] else None
            yield (on, starts, ends, who(shift), what(t, day), t["amount"], plural(t["unit"]),
                   minutes, t["years"], there, None, None)  # fmt: skip
    for d in day["deliveries"]:
        leaves = datetime.fromisoformat(d["leaves"]).time()
        yield (on, leaves, None, "leaves", delivery(d), d["heads"], "heads", None, None, None, None,
               None)  # fmt: skip
    if more := come_over(day):
        yield (on, None, None, None, more, *[None] * 7)


def _times(shift: Answer) -> tuple[time | None, time | None]:
    if not shift["starts"]:
        return None, None
    return time.fromisoformat(shift["starts"]), time.fromisoformat(shift["ends"])


def _counts_sheet(sheet: Sheet, answer: Answer) -> None:
    sheet.head(COUNTS)
    for day in answer["days"]:
        for row in _counts_rows(day):
            sheet.row((*row, *[None] * 4))
    for _ in range(_EMPTY_ROWS):
        sheet.row([None] * len(COUNTS))
    sheet.allow("list", f'"{",".join(WHAT)}"', "E")
    sheet.allow("whole", "0", "IL")
    sheet.allow("decimal", "0", "K")


def _counts_rows(day: Answer) -> Iterator[tuple[Value, ...]]:
    on = date.fromisoformat(day["day"])
    for shift in day["shifts"]:
        starts, _ = _times(shift)
        for t in shift["tasks"]:
            for seeded in _seeding_dates(t):
                of, unit = t["crop"] or None, plural(t["unit"])
                yield on, starts, of, seeded, t["kind"], t["place"], t["to"] or None, unit
    for d in day["deliveries"]:
        leaves = datetime.fromisoformat(d["leaves"]).time()
        yield on, leaves, d["crop"], None, "delivered", COLD_STORE, d["customer"], "heads"


def _seeding_dates(task: Answer) -> list[date | None]:
    """When the batch was seeded; of a harvest, the batches that it mainly comes from."""
    dates = [b["seeded"] for b in main_batches(task)] or [task["seeded"]]
    return [date.fromisoformat(d) if d else None for d in dict.fromkeys(dates)]


class Sheet:
    """A worksheet that is filled from the top, with these widths of columns [characters]."""

    def __init__(self, sheet: Worksheet, widths: Sequence[int]) -> None:
        from openpyxl.worksheet.properties import PageSetupProperties  # noqa: PLC0415

        self._sheet, self._widths, self._number = sheet, widths, 0
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top = sheet.page_margins.bottom = 0.6
        if (footer := sheet.oddFooter) is not None:
            footer.center.text = "&A, page &P of &N"
        for column, width in enumerate(widths):
            sheet.column_dimensions["ABCDEFGHIJKLMNOPQRSTUVWXYZ"[column]].width = width

    def head(self, names: Sequence[str]) -> None:
        """A header row that stays in view, and is on every printed page."""
        self.row(names, bold=True)
        self._sheet.freeze_panes = f"A{self._number + 1}"
        self._sheet.print_title_rows = f"{self._number}:{self._number}"

    def row(self, values: Sequence[Value], *, bold: bool = False) -> None:
        """A ruled row, high enough for its texts."""
        from openpyxl.styles import Border, Side  # noqa: PLC0415

        self._number += 1
        line = Side(style="thin", color="888888")
        for column, value in enumerate(values, start=1):
            cell = self._cell(column, value, bold=bold)
            cell.border = Border(bottom=line, top=line, left=line, right=line)
        self._set_height(map(_lines, values, self._widths))

    def paragraph(self, text: str, *, bold: bool = False) -> None:
        """A text across all columns."""
        self._number += 1
        self._cell(1, text, bold=bold)
        self._sheet.merge_cells(None, self._number, 1, self._number, len(self._widths))
        self._set_height([_lines(text, sum(self._widths))])

    def allow(self, kind: Literal["list", "whole", "decimal"], rule: str, columns: str) -> None:
        """Let the rows so far take only words of a list, or numbers from a least one."""
        from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

        allowed = DataValidation(kind, rule, operator="greaterThanOrEqual", allow_blank=True)
        allowed.showErrorMessage = True
        self._sheet.add_data_validation(allowed)
        for column in columns:
            allowed.add(f"{column}2:{column}{self._number}")

    def _cell(self, column: int, value: Value, *, bold: bool) -> Cell:
        from openpyxl.styles import Alignment, Font  # noqa: PLC0415

        cell = self._sheet.cell(self._number, column, value)
        if isinstance(value, str):
            cell.data_type = "s"  # a name that begins like a formula is still a name
        elif formats := [f for kind, f in _FORMATS.items() if isinstance(value, kind)]:
            cell.number_format = formats[0]
        number = isinstance(value, int | float)
        side: Literal["left", "right"] = "right" if number else "left"
        cell.alignment = Alignment(side, vertical="top", wrap_text=True)
        cell.font = Font(name="Arial", size=10, bold=bold)
        return cell

    def _set_height(self, lines: Iterable[int]) -> None:
        self._sheet.row_dimensions[self._number].height = _LINE * max(lines) + 3


def _lines(value: Value, width: int) -> int:
    """Lines that a text takes in a width, which is counted in figures, wider than most letters."""
    return ceil(0.9 * len(value) / width) if isinstance(value, str) and value else 1
