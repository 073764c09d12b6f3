"""Cells as people fill them in: to text, numbers, dates and clock times.

A date may be a date cell, a spreadsheet's day number, or text such as 2026-09-05, 9/5/2026,
"Sep 5, 2026" or "Sat Sep 5". A number may have thousands marked ("1,104", "1 104") and a unit
behind it ("12 heads").
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import isfinite

from sim.school_year import spoken
from sim.written import clock_time

Cell = str | int | float | date | time | timedelta | None

MOST = 1e9  # the largest number that a cell may hold
_SPACES = re.compile(r"[\s\x00-\x1f\x7f\ufeff]+")
_NUMBER = re.compile(r"([-\u2212]?) ?([0-9.,][0-9 .,'\u2019]*?) ?([A-Za-z][A-Za-z ]*)?\.?")
_GROUPED = re.compile(r"[0-9]{1,3}(?:[ '\u2019][0-9]{3})+(?:[.,][0-9]+)?")
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SERIAL = (20_000, 80_000)  # day numbers of a spreadsheet that are taken for dates: 1954 to 2119
_DAY_ZERO = date(1899, 12, 30)  # a spreadsheet's day number 0
_AFTERNOON = 7  # an hour below this without am or pm is one of the afternoon
_DATES = tuple(
    re.compile(pattern, re.IGNORECASE | re.ASCII)
    for pattern in (
        r"(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})(?:[T ](?P<at>.+))?",
        r"(?P<y>\d{4})(?P<m>\d\d)(?P<d>\d\d)",
        r"(?:(?P<w>[a-z]+)[.,]* )?(?P<m>[a-z]{3,9})[. -]+(?P<d>\d{1,2})(?:st|nd|rd|th)?"
        r"(?:[, -]+(?P<y>\d{4}|\d{2}))?",
        r"(?:(?P<w>[a-z]+)[.,]* )?(?P<d>\d{1,2})(?:st|nd|rd|th|\.)?[ -]+(?P<m>[a-z]{3,9})"
        r"(?:[., -]+(?P<y>\d{4}|\d{2}))?",
    )
)
_SLASHED = re.compile(
    r"(?:([a-z]+)[.,]* )?(\d{1,2})([-/.])(\d{1,2})(?:\3(\d{4}|\d{2}))?\.?(?:,? (\d.+))?",
    re.IGNORECASE | re.ASCII,
)
_PLAIN_CLOCK = re.compile(r"([0-9]{1,2}):([0-5][0-9])(?::[0-5][0-9])?")


class WrongError(Exception):
    """A cell that cannot be used: what it must be, and what to do about it.

    `field` is the field of the cell, "" where the reader knows it.
    """

    def __init__(self, must: str, remedy: str, field: str = "") -> None:
        super().__init__(must, remedy, field)
        self.must, self.remedy, self.field = must, remedy, field


@dataclass(frozen=True, slots=True)
class Style:
    """How a file writes numbers and dates.

    `decimal` is its decimal mark; `day_first` says whether 9/5/2026 is the 9th of May. A date
    without a year is taken for the one between `first` and `last`.
    """

    decimal: str
    day_first: bool
    first: date
    last: date


def text(cell: Cell) -> str:
    """A cell as text on one line, without space around it; "" if it is empty."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < MOST:
        cell = int(cell)
    if isinstance(cell, datetime):
        midnight = cell.time() == time()
        return cell.date().isoformat() if midnight else cell.isoformat(" ", "minutes")
    return _SPACES.sub(" ", str(cell)).strip()


def number(cell: Cell, decimal: str) -> tuple[float, str]:
    """The number in a cell, and the unit written behind it ("" without one)."""
    wrong = WrongError("a number", "write the number alone, such as 12")
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        sign, digits, unit = "", "", ""
        value = float(cell) if abs(cell) <= MOST else MOST + 1
    else:
        found = _NUMBER.fullmatch(text(cell))
        if not found or not (digits := _plain(found[2], decimal)):
            raise wrong
        sign, unit = found[1], found[3] or ""
        value = float(digits)
    if not isfinite(value):
        raise wrong
    if abs(value) > MOST:
        raise WrongError("at most 1,000,000,000", "look for a digit too many")
    return (-value if sign else value), unit


def _plain(digits: str, decimal: str) -> str:
    """Digits with a point as their only mark; "" if they are no number."""
    if _GROUPED.fullmatch(digits):
        digits = re.sub("[ '\u2019]", "", digits)
    marks = [c for c in digits if c in ".,"]
    if not marks:
        return digits if digits.isdecimal() else ""
    whole, mark, rest = digits.rpartition(marks[-1])
    grouped = len(rest) == len("000") and mark != decimal
    if len(marks) == 1:
        grouped = grouped and bool(re.fullmatch("[1-9][0-9]{0,2}", whole))
    else:
        if not re.fullmatch(rf"[0-9]{{1,3}}(?:[{marks[0]}][0-9]{{3}})+", whole):
            return ""
        grouped, whole = marks[0] == mark, whole.replace(marks[0], "")
        if grouped and len(rest) != len("000"):
            return ""
    if not (whole + rest).isdecimal():
        return ""
    return whole + rest if grouped else f"{whole or 0}.{rest}"


def whole(cell: Cell, decimal: str) -> tuple[int, str]:
    """The whole number of at least 0 in a cell, and the unit written behind it."""
    value, unit = number(cell, decimal)
    if value < 0:
        raise WrongError("at least 0", "write how many there were")
    if not value.is_integer():
        must = "a whole number"
        raise WrongError(must, "count whole trays, plants and heads; write 1,104 as 1104")
    return int(value), unit


def clock(cell: Cell) -> tuple[time | None, bool]:
    """The clock time in a cell (None if it is empty), and whether it was taken for the afternoon.

    Without am or pm an hour of one figure below 7 is one of the afternoon: 1:10, but not 01:10.
    """
    if isinstance(cell, datetime):
        cell = cell.time()
    if isinstance(cell, time):
        return cell.replace(second=0, microsecond=0, tzinfo=None), False
    if isinstance(cell, float) and 0 <= cell < 1:
        minute = min(round(cell * 1440), 1439)
        return time(minute // 60, minute % 60), False
    written = text(cell)
    if not written:
        return None, False
    if at := clock_time(re.sub(r"(:\d\d):\d\d", r"\1", written)):
        return at, False
    found = _PLAIN_CLOCK.fullmatch(written)
    if not found or int(found[1]) > 23:
        raise WrongError("a clock time", "write it as 9:40 am or 13:10")
    hour, late = int(found[1]), int(found[1]) < _AFTERNOON
    return time(hour + 12 * late, int(found[2])), late


def day(cell: Cell, style: Style) -> tuple[date, time | None]:
    """The date in a cell, and the clock time if it holds one too."""
    if isinstance(cell, datetime):
        at = cell.time().replace(second=0, microsecond=0, tzinfo=None)
        return cell.date(), at if at != time() else None
    if isinstance(cell, date):
        return cell, None
    written = text(cell)
    if re.fullmatch(r"[0-9]{5}(?:[.,][0-9]+)?", written):
        return _of_serial(written.replace(",", "."))
    found = _SLASHED.fullmatch(written)
    if found and (found[5] or found[3] != "."):  # 4.5 is a number, not a day of a month
        first, second = int(found[2]), int(found[4])
        month, number_ = (second, first) if style.day_first else (first, second)
        return _date(found[5], month, number_, found[1], style), clock(found[6])[0]
    for pattern in _DATES:
        if found := pattern.fullmatch(written):
            return _of_words(found.groupdict(), style)
    raise _no_date()


def _no_date(problem: str = "") -> WrongError:
    return WrongError(f"a date{problem}", "write it as 2026-10-05 or 10/5/2026")


def _of_serial(digits: str) -> tuple[date, time | None]:
    days = float(digits)
    if not _SERIAL[0] <= days < _SERIAL[1]:
        raise _no_date()
    at = clock(days % 1)[0]
    return _DAY_ZERO + timedelta(days=int(days)), at if at != time() else None


def _of_words(parts: dict[str, str | None], style: Style) -> tuple[date, time | None]:
    month, at = parts["m"] or "", clock(parts.get("at"))[0]
    number_ = int(month) if month.isdecimal() else _place_of(month, _MONTHS) + 1
    return _date(parts["y"], number_, int(parts["d"] or 0), parts.get("w"), style), at


def _place_of(word: str, names: tuple[str, ...]) -> int:
    """Which of the names begins with a word of three letters or more."""
    for place, name in enumerate(names):
        if len(word) >= len("Mon") and name.startswith(word.casefold()):
            return place
    raise _no_date()


def _date(year: str | None, month: int, number_: int, named: str | None, style: Style) -> date:
    """A date from its parts; without a year that of the run, of the right weekday if it is named.

    Raises WrongError if there is no such date, or it is another weekday.
    """
    wanted = _place_of(named, _WEEKDAYS) if named else None
    years = [int(year) + 2000 * (len(year) == 2)] if year else _years(style)
    found = [d for y in years if (d := _real(y, month, number_))]
    if not found:
        raise _no_date(" of the calendar")
    inside = [d for d in found if style.first <= d <= style.last] or found
    for one in inside:
        if wanted is None or one.weekday() == wanted:
            return one
    raise _no_date(f" of that weekday ({spoken(inside[0], year=True)} is the date)")


def _years(style: Style) -> list[int]:
    return list(range(style.first.year, style.last.year + 1))


def _real(year: int, month: int, number_: int) -> date | None:
    try:
        return date(year, month, number_)
    except ValueError:
        return None


def dates_open_to_doubt(cells: Iterable[Cell]) -> tuple[list[str], list[str], list[str]]:
    """Dates such as 9/5/2026: those that must be day first, those month first, and all others.

    Dates that are the same both ways, such as 5/5/2026, are in none of the three.
    """
    day_first, month_first, either = [], [], []
    for cell in cells:
        found = _SLASHED.fullmatch(text(cell)) if isinstance(cell, str) else None
        if found and (ends := (int(found[2]), int(found[4]))) and ends[0] != ends[1]:
            if ends[0] > 12 >= ends[1]:
                day_first.append(text(cell))
            elif ends[1] > 12 >= ends[0]:
                month_first.append(text(cell))
            else:
                either.append(text(cell))
    return day_first, month_first, either
