"""The tables of a capacity justification as a workbook (.xlsx): a sheet each, real numbers."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from datetime import date
from math import ceil
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from sim.grant_packed import SAVED, undated
from sim.grant_parts import Boxed, Grid, Kind, Section, Value, grids

_FORMATS: dict[Kind, str] = {
    "count": "#,##0", "number": "#,##0.0", "share": "0.0%", "points": '+0.0;-0.0;0.0',
    "signed": "+#,##0.0;-#,##0.0;0", "dollars": "$#,##0.00", "per head": "$#,##0.000",
    "date": "ddd mmm d, yyyy", "month": "mmm yyyy", "text": "#,##0.######",
}  # fmt: skip
_WIDEST, _NARROWEST = 60, 9  # widths of columns [characters]
_LINE = 13.5  # height of a line of print [pt]
_INDEX = "Contents"


def workbook(title: str, sections: Sequence[Section], cautions: Sequence[str]) -> bytes:
    """The workbook: its sheets listed between warnings and cautions, then a sheet for each table.

    The same tables give the same bytes.
    """
    book = Workbook()
    index = book.active
    assert index is not None
    index.title = _INDEX
    found = list(grids(sections))
    boxed = [p.text for s in sections for p in s.parts if isinstance(p, Boxed)]
    rows: list[tuple[Value, ...]] = [("", "warning", text) for text in dict.fromkeys(boxed)]
    rows += [(g.sheet, g.title, g.under) for g in found]
    rows += [("", "caution", text) for text in cautions]
    _fill(index, ["sheet", title, "note"], [("text",) * 3] * len(rows), rows)
    for grid in found:
        _fill(book.create_sheet(grid.sheet), headers(grid), *_cells(grid))
    book.properties.creator, book.properties.created = "seedbeat", SAVED
    book.properties.title = title
    saved = io.BytesIO()
    book.save(saved)
    return undated(saved.getvalue())


def headers(grid: Grid) -> list[str]:
    """The header of each column of the sheet, units in brackets; a span has two columns."""
    found = []
    for column in grid.columns:
        unit = f" [{column.unit}]" if column.unit else ""
        ends = (", from", ", to") if column.span else ("",)
        found += [f"{column.head}{end}{unit}" for end in ends]
    return found


def _cells(grid: Grid) -> tuple[list[tuple[Kind, ...]], list[tuple[Value, ...]]]:
    """What the cells of each row are, and their values."""
    kinds, rows = [], []
    for number, row in enumerate(grid.every or grid.rows):
        of_row: list[Kind] = []
        values: list[Value] = []
        for column, value in enumerate(row):
            kind = grid.kind(number, column)
            ends = _ends(value) if grid.columns[column].span else (value,)
            values += [_number(end, kind) for end in ends]
            of_row += [kind] * len(ends)
        kinds.append(tuple(of_row))
        rows.append(tuple(values))
    return kinds, rows


def _ends(value: Value) -> tuple[Value, ...]:
    return value if isinstance(value, tuple) else (None, None)


def _number(value: Value, kind: Kind) -> Any:
    """The value of a cell: dates as dates, differences of shares in points."""
    if isinstance(value, str):
        return date.fromisoformat(value) if kind in ("date", "month") else value
    return 100 * value if kind == "points" and isinstance(value, int | float) else value


def _fill(
    sheet: Worksheet,
    names: Sequence[str],
    kinds: Sequence[tuple[Kind, ...]],
    rows: Sequence[tuple[Value, ...]],
) -> None:
    """A header that stays in view and on every printed page, and the rows below it."""
    widths = list(_widths(names, kinds, rows))
    line = Side(style="thin", color="999999")
    for number, row in enumerate((tuple(names), *rows), start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column, value)  # type: ignore[arg-type]
            kind = kinds[number - 2][column - 1] if number > 1 else "text"
            if isinstance(value, str):
                cell.data_type = "s"  # a name that begins like a formula is still a name
            elif value is not None:
                cell.number_format = _FORMATS[kind]
            like = rows[0][column - 1] if number == 1 else value  # a header, like what is below it
            number_like = isinstance(like, int | float)
            side: Any = "right" if number_like else "left"
            cell.alignment = Alignment(
                side, vertical="top", wrap_text=True, indent=int(not number_like)
            )
            cell.font = Font(name="Arial", size=10, bold=number == 1)
            cell.border = Border(bottom=line)
        lines = max(_lines(v, w) for v, w in zip(row, widths, strict=True))
        sheet.row_dimensions[number].height = _LINE * lines + 3
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    _set_page(sheet)


def _set_page(sheet: Worksheet) -> None:

    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = 1  # US Letter
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    assert sheet.oddFooter is not None
    sheet.oddFooter.center.text = "&A, page &P of &N"


def _widths(
    names: Sequence[str], kinds: Sequence[tuple[Kind, ...]], rows: Sequence[tuple[Value, ...]]
) -> Iterator[int]:
    """As wide as the widest text up to a limit, but never narrower than the longest word."""
    for column, name in enumerate(names):
        texts = [_text(row[column], of[column]) for of, row in zip(kinds, rows, strict=True)]
        words = [w for text in (name, *texts) for w in text.split()]
        longest = max((len(text) for text in texts), default=0)
        least = max(_NARROWEST, *(len(word) + 2 for word in words))
        yield max(least, min(_WIDEST, longest + 2))


def _text(value: Value, kind: Kind) -> str:
    """A text about as long as the cell is wide; a number is not broken."""
    if isinstance(value, str) or value is None:
        return value or ""
    if isinstance(value, date):
        return "Www Mmm 00, 0000"[: 16 if kind == "date" else 8].replace(" ", "_")
    return f"{value:+,.3f}" if kind != "text" else f"{value:,.10g}"


def _lines(value: Value, width: int) -> int:
    """Lines that a text takes; letters are narrower than the figures that widths count."""
    return ceil(0.9 * len(value) / (width - 1)) if isinstance(value, str) and value else 1
