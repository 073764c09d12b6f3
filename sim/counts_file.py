"""Files as schools make them, to sheets of cells: CSV in any usual form, and .xlsx workbooks."""

from __future__ import annotations

import codecs
import csv
import io
import warnings
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.counts_values import Cell, text
from sim.errors import RecordsError, ScenarioError
from sim.toml_file import content

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

Rows = list[list[Cell]]

FILE_LIMIT = 10_000_000  # bytes
ROW_LIMIT = 100_000  # rows of a sheet
_CELL_LIMIT = 2_000_000  # cells of a sheet, the empty ones counted
_UNPACKED_LIMIT = 50_000_000  # bytes of the tables in a workbook
_LOOKED_AT = 60  # rows in which the headings are looked for
_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_OLD_BOOK = b"\xd0\xcf\x11\xe0"  # compound file: .xls, or a workbook under a password
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SAVE_AS = "save it as .xlsx or as CSV, and give that file"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of cells; `decimal` is the decimal mark of its text, `name` "" for a CSV file."""

    name: str
    rows: Rows
    decimal: str = "."
    read_as: str = ""


def read_sheets(path: str | Path, fits: Callable[[Rows], int]) -> list[Sheet]:
    """All sheets of a file; `fits` says how many headings it knows among some rows.

    Raises RecordsError if the file is not there, too large, or no table.
    """
    file = Path(path)
    try:
        data = content(file, FILE_LIMIT, "log", "")
    except ScenarioError as error:
        raise RecordsError(str(error)) from None
    if data.startswith(b"PK\x03\x04"):
        return list(_book(file.name, data))
    if data.startswith(_OLD_BOOK):
        raise RecordsError(
            f"{file.name}: is a workbook in the old .xls form, or under a password; take the "
            f"password off, or {_SAVE_AS}."
        )
    return [_table(file.name, data, fits)]


def _table(name: str, data: bytes, fits: Callable[[Rows], int]) -> Sheet:
    """The one sheet of a text file, with the separator that shows most headings."""
    written, encoding = _decoded(name, data)
    start = written[:20_000]
    separator = max(_SEPARATORS, key=lambda mark: fits(_first_rows(start, mark)))
    if separator == "," and not fits(_first_rows(start, ",")):
        separator = max(_SEPARATORS, key=start.count)
    table = csv.reader(io.StringIO(written, newline=""), delimiter=separator, strict=True)
    rows: Rows = []
    try:
        for row in table:
            rows.append([cell if cell.strip() else None for cell in row])
            _not_too_long(name, len(rows))
    except csv.Error as error:
        raise RecordsError(
            f"{name}: row {len(rows) + 1}: must be cells with {_SEPARATORS[separator]} between "
            f"them, but {error}; close every quotation mark, or save the table as CSV again."
        ) from None
    read_as = f"text ({encoding}) with {_SEPARATORS[separator]} between its cells"
    return Sheet("", rows, "," if separator == ";" else ".", read_as)


def _first_rows(start: str, separator: str) -> Rows:
    table = csv.reader(io.StringIO(start, newline=""), delimiter=separator)
    rows: Rows = []
    try:
        for row in table:
            rows.append(list(row))
            if len(rows) == _LOOKED_AT:
                break
    except csv.Error:
        pass  # the whole is read again, and explained
    return rows


def _decoded(name: str, data: bytes) -> tuple[str, str]:
    """The text of a file, and its encoding."""
    wanted = [encoding for mark, encoding in _MARKS if data.startswith(mark)]
    zeros = data[:2000].count(0)
    if not wanted and zeros > len(data[:2000]) / 4:  # letters of two bytes, without a mark
        wanted = ["utf-16-le" if data[1:2] == b"\0" else "utf-16-be"]
    for encoding in wanted or ("utf-8", "cp1252"):
        try:
            written = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        strange = sum(c < " " and c not in "\t\n\r\f" for c in written[:20_000])
        if "\0" not in written and strange <= len(written[:20_000]) / 100:
            return written, encoding.removesuffix("-sig")
    raise RecordsError(f"{name}: must be a table, as text or .xlsx, but it is neither; {_SAVE_AS}.")


def _not_too_long(name: str, rows: int) -> None:
    if rows > ROW_LIMIT:
        raise RecordsError(
            f"{name}: has more than {ROW_LIMIT:,} rows, too many for the records of a school; "
            "give the right file, or a file for each year."
        )


def _book(name: str, data: bytes) -> Iterator[Sheet]:
    """The sheets of a workbook."""
    _unpacks(name, data)
    from openpyxl import load_workbook  # noqa: PLC0415 - slow to import, needed for .xlsx only

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts of the workbook that hold no cells
            book: Any = load_workbook(io.BytesIO(data), data_only=True, keep_links=False)
        sheets = [(sheet.title, sheet) for sheet in book.worksheets]
    except Exception as error:  # whatever the library meets in a damaged file
        raise RecordsError(
            f"{name}: is a workbook that cannot be read ({type(error).__name__}); open it in "
            f"your spreadsheet program, {_SAVE_AS}."
        ) from None
    for title, sheet in sheets:
        yield Sheet(title, _cells(name, sheet), ".", f'sheet "{title}"')


def _unpacks(name: str, data: bytes) -> None:
    """Refuse packed files that are no workbook, or unpack to more than a school writes."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise RecordsError(
            f"{name}: is damaged ({error}); {_SAVE_AS}."
        ) from None  # fmt: skip
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        raise RecordsError(f"{name}: is not a workbook of the .xlsx form; {_SAVE_AS}.")
    if sum(part.file_size for part in parts if part.filename.endswith(".xml")) > _UNPACKED_LIMIT:
        raise RecordsError(
            f"{name}: unpacks to more than {_UNPACKED_LIMIT // 1_000_000} MB, too much for the "
            "records of a school; give the right file, or delete the sheets that are no records."
        )


def _cells(name: str, sheet: Worksheet) -> Rows:
    """The cells of a sheet; text and dates merged down over rows stand in each of them."""
    _not_too_long(name, sheet.max_row)
    if sheet.max_row * sheet.max_column > _CELL_LIMIT:
        raise RecordsError(
            f'{name}, sheet "{sheet.title}": is {sheet.max_column:,} columns wide; delete what '
            "stands to the right of the table."
        )
    rows: list[list[Any]] = [list(row) for row in sheet.iter_rows(values_only=True)]
    for merged in sheet.merged_cells.ranges:
        value = rows[merged.min_row - 1][merged.min_col - 1]
        if not isinstance(value, int | float):
            for row in rows[merged.min_row : merged.max_row]:
                row[merged.min_col - 1] = value
    return [[cell if text(cell) else None for cell in row] for row in rows]
