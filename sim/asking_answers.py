"""What an answer of `seedbeat new` may say, and what is offered when nothing is said.

An answer is the text that was typed; a parse function makes a value of it, or says what is wrong.
What is known so far (earlier values, the folder, today) may set a limit or a default.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time, timedelta
from itertools import pairwise
from math import ceil
from pathlib import Path
from typing import Any

from sim.errors import SeedbeatError
from sim.ical import read_ical
from sim.parts import WEEKDAYS, Weekday
from sim.scenario_file import ICS_LIMIT
from sim.school_year import monday, spoken, weekday
from sim.toml_file import content
from sim.written import clock_time, shown

SHORTEST_YEAR, LONGEST_YEAR = 28, 420  # days from the first to the last day of school [d]
MOST_A_DAY = 100_000  # heads, or trays
SLACK = 7  # days after the first batch is ready until heads are promised [d]
EXTRA_CELLS = 1.3  # cells seeded for each head ordered: some do not come up, some are lost
_FULL = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_NUMBER = r"[0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,9}"


class BadAnswerError(Exception):
    """An answer that cannot be used: what it must be, what it was, what to do."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known when a question is asked: where the file will be, today, earlier values."""

    folder: Path
    today: date
    values: dict[str, Any]


Parse = Callable[[str, Known], Any]


def bad(must_be: str, was: str, do: str) -> BadAnswerError:
    """An unusable answer in one sentence."""
    told = shown(was) if was else "nothing"
    return BadAnswerError(f"Must be {must_be}, but it was {told}; {do}.")


# -- what answers may say ---------------------------------------------------------------------


def whole(least: int, most: int) -> Parse:
    """A whole number between two, both included."""
    return lambda text, _: _whole(text, least, most)


def _whole(text: str, least: int, most: int, limit: str = "") -> int:
    found = int(text.replace(",", "")) if re.fullmatch(_NUMBER, text) else None
    if found is None or not least <= found <= most:
        must_be = f"a whole number from {least:,} to {most:,}{limit}"
        do = "write the number alone, in digits" if found is None else "correct the number"
        raise bad(must_be, text, do)
    return found


def a_date(text: str, last_year: int = 2101) -> date:
    """A date from the year 2000 on, written 2026-08-24 or 8/24/2026."""
    iso = re.fullmatch(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})", text)
    us = re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4})", text)
    parts = iso.groups() if iso else (us[3], us[1], us[2]) if us else ("0", "0", "0")
    try:
        found = date(*map(int, parts))
    except ValueError:
        found = date.min
    if not 2000 <= found.year <= last_year:
        must_be = f"a date of the years 2000 to {last_year}, such as 2026-08-24 or 8/24/2026"
        raise bad(must_be, text, "write year-month-day or month/day/year")
    return found


def name(text: str, what: str) -> str:
    """A name of 1 to 80 characters on one line; runs of spaces become one."""
    found = " ".join(text.split())
    odd = any(unicodedata.category(letter) == "Cc" for letter in found)
    if not 1 <= len(found) <= 80 or odd:
        raise bad(f"{what}, 1 to 80 characters on one line", found, "write a shorter, plain one")
    return found


def by_weekday(example: str) -> Parse:
    """Whole numbers by weekday, in the order of the week."""

    def parse(text: str, _: Known) -> dict[Weekday, int]:
        parts = re.split(r"(?:\s*[,;]\s*|\s+)(?=[A-Za-z])", re.sub(r"\s+and\s+", ", ", text))
        found: dict[Weekday, int] = {}
        for part in parts:
            pair = re.fullmatch(rf"([A-Za-z]{{3,9}})\.?\s*[:=]?\s*({_NUMBER})", part)
            day = _weekday(pair[1]) if pair else None
            count = int(pair[2].replace(",", "")) if pair else 0
            if day is None or day in found or not 1 <= count <= MOST_A_DAY:
                limits = f"each once, with a number from 1 to {MOST_A_DAY:,}"
                must_be = f'weekdays, {limits}, such as "{example}"'
                raise bad(must_be, text, "give every day its own number")
            found[day] = count
        return {day: found[day] for day in WEEKDAYS if day in found}

    return parse


def _weekday(text: str) -> Weekday | None:
    found = [n for n, full in enumerate(_FULL) if full.startswith(text.lower())]
    return WEEKDAYS[found[0]] if found else None


def clock_text(at: time) -> str:
    """A clock time as people write it: "3:00 pm"."""
    return f"{at.hour % 12 or 12}:{at.minute:02d} {'pm' if at.hour >= 12 else 'am'}"


# -- the school -------------------------------------------------------------------------------


def first_day_offered(known: Known) -> str:
    """The fourth Monday of August of this school year, from May on of the coming one."""
    year = known.today.year - (known.today.month < 5)
    return str(monday(date(year, 8, 28)))


def last_day_offered(known: Known) -> str:
    """The first Friday of the next June."""
    first: date = known.values["first_day"]
    year = first.year + (first.month >= 5)
    june = date(year, 6, 7)
    return str(june - timedelta(days=(june.weekday() - 4) % 7))


def parse_last_day(text: str, known: Known) -> date:
    """A date that makes a school year of four weeks to fourteen months."""
    first, last = known.values["first_day"], a_date(text)
    if not SHORTEST_YEAR <= (last - first).days <= LONGEST_YEAR:
        must_be = (
            f"{SHORTEST_YEAR} to {LONGEST_YEAR} days after the first day of class "
            f"({spoken(first, year=True)})"
        )
        raise bad(must_be, text, "look at the year")
    return last


def parse_calendar(text: str, known: Known) -> str:
    """The name of a calendar file beside the scenario that can be read; "" for none."""
    if text.lower() in ("none", "no"):
        return ""
    must_be = "none, or the name of a calendar file (.ics) in the folder of the new scenario"
    if any(mark in text for mark in "/\\"):
        raise bad(must_be, text, "put the file there and give its name alone")
    first, last = known.values["first_day"], known.values["last_day"]
    file = known.folder / name(text, "a file name")
    try:
        read_ical(content(file, ICS_LIMIT, "calendar", ""), first, last, file.name)
    except SeedbeatError as error:
        raise BadAnswerError(f"Must be {must_be}, but: {error}") from None
    return file.name


def parse_closure(text: str, known: Known) -> tuple[date, date, str]:
    """First day, last day and name of days without class inside the school year."""
    first, last = known.values["first_day"], known.values["last_day"]
    day = r"([0-9]+-[0-9]+-[0-9]+|[0-9]+/[0-9]+/[0-9]+)"
    then = r"(?:[\s,:]+((?!to\b|[-\u20130-9]).*))?"  # a name, not the rest of a date
    found = re.fullmatch(rf"{day}(?:\s*(?:\bto\b|-|\u2013)\s*{day})?{then}", text)
    if not found:
        do = "begin with one whole date or two; the name may be left out"
        raise bad(f'days such as "{closure_example(known)}"', text, do)
    start = a_date(found[1])
    end = a_date(found[2]) if found[2] else start
    if not first <= start <= end <= last:
        must_be = f"days in order between the first and the last day of class, {first} to {last}"
        raise bad(must_be, text, "look at the dates")
    return start, end, name(found[3], "the closure's name") if found[3] else ""


def closure_example(known: Known) -> str:
    """A closure as it is typed, in the year of the first day."""
    year = known.values["first_day"].year
    return f"{year}-11-25 to {year}-11-27 Thanksgiving"


# -- the class --------------------------------------------------------------------------------


def parse_periods(text: str, _: Known) -> list[tuple[time, time]]:
    """Class periods in the order of the day; none overlaps another."""
    must_be = 'class periods such as "9:40 am-10:28 am, 1:10 pm-1:58 pm"'
    periods = []
    for part in re.split(r"\s*[,;]\s*", text):
        both = [clock_time(one) for one in re.split(r"\s*(?:-|\u2013|\bto\b)\s*", part)]
        if len(both) != 2 or both[0] is None or both[1] is None:
            raise bad(must_be, text, "give each clock time am or pm, and a comma between periods")
        if both[1] <= both[0]:
            raise bad(f"{must_be}, each ending after it starts", text, "look at am and pm")
        periods.append((both[0], both[1]))
    periods.sort()
    if any(later[0] < earlier[1] for earlier, later in pairwise(periods)):
        raise bad(f"{must_be}, one after the other", text, "take out the one that overlaps")
    return periods


def _length(start: time, end: time) -> int:
    return end.hour * 60 + end.minute - start.hour * 60 - start.minute


def _shortest_period(known: Known) -> int:
    return min(_length(*period) for period in known.values["periods"])


def minutes_offered(known: Known) -> str:
    """Eighteen minutes of a period go into set-up and clean-up, but at most half of it."""
    length = _shortest_period(known)
    return str(max(1, length - min(18, length // 2)))


def parse_working_minutes(text: str, known: Known) -> int:
    """Minutes of which every period has enough [min]."""
    return _whole(text, 1, _shortest_period(known), " (the shortest period)")


# -- the orders and the seeding ---------------------------------------------------------------


def parse_leaves(text: str, _: Known) -> str:
    """A clock time, spelled with am or pm."""
    at = clock_time(text)
    if at is None:
        raise bad('a clock time such as "3:00 pm"', text, "add am or pm")
    return clock_text(at)


def parse_pause(text: str, _: Known) -> str:
    """Whether an order pauses, in the scenario's word for it."""
    if text.lower() not in ("yes", "y", "no", "n"):
        raise bad("yes or no", text, "write yes if nothing is to be delivered on closed days")
    return "pause" if text.lower().startswith("y") else "deliver"


def first_delivery_offered(known: Known) -> str:
    """The order's first weekday on which heads of the first seeding are ready, with some slack."""
    values = known.values
    days = values["days_to_transplant"] + values["days_to_ready"] + SLACK
    ready = values["first_day"] + timedelta(days=days)
    week = (ready + timedelta(days=n) for n in range(7))
    found: date = next(day for day in week if weekday(day) in values["heads"])
    return str(min(found, values["last_day"]))


def parse_first_delivery(text: str, known: Known) -> date:
    """A date of the school year."""
    found, first, last = a_date(text), known.values["first_day"], known.values["last_day"]
    if not first <= found <= last:
        must_be = f"between the first and the last day of class, {first} to {last}"
        raise bad(must_be, text, "look at the year")
    return found


def trays_offered(known: Known) -> str:
    """Enough trays for the orders of a week, on Monday and Thursday."""
    heads = sum(sum(order["heads"].values()) for order in known.values["orders"])
    trays = min(ceil(EXTRA_CELLS * heads / known.values["cells_per_tray"]), MOST_A_DAY)
    return f"Mon {ceil(trays / 2)}" + (f", Thu {trays // 2}" if trays > 1 else "")
