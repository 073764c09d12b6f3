"""The closures of a run: stretches of closed school days, exam weeks, summer, surprise weeks."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Literal

from sim.agreement import nearest
from sim.errors import SeedbeatError
from sim.school_year import SchoolYear, monday, spoken, weekday
from sim.timetable import Timetable

Kind = Literal["break", "single day", "exam week", "summer", "surprise"]

_ASIDE = re.compile(r"\([^)]*\)|\b(no school|school closed)\b", re.IGNORECASE)
_SUMMER = "summer"


@dataclass(frozen=True)
class Closure:
    """A stretch of school days without class, or of exam days.

    `days` are its school days in order, at least one; weekends between them belong to it.
    """

    name: str
    kind: Kind
    days: tuple[date, ...]

    @property
    def first_day(self) -> date:
        """The first of its school days."""
        return self.days[0]

    @property
    def last_day(self) -> date:
        """The last of its school days."""
        return self.days[-1]

    @property
    def weeks(self) -> list[list[date]]:
        """Its school days week by week."""
        return [list(days) for _, days in groupby(self.days, key=monday)]

    def holds(self, day: date) -> bool:
        """Whether a date lies in it, weekends included."""
        return self.first_day <= day <= self.last_day


def closures_of(table: Timetable) -> list[Closure]:
    """All closures from the first day of the run to the last measured one, in order of time.

    School days that follow each other without class are one closure, whatever their names; so are
    exam days. Days outside the school year are summer.
    """
    year = table.school_year
    days = [table.date_of(n) for n in range(table.window_end)]
    days = [day for day in days if weekday(day) in year.school.weekdays]
    found = []
    for kind, stretch in groupby(days, key=year.kind):
        if kind in ("closed", "exam"):
            found.append(_closure(year, tuple(stretch)))
    return found


def _closure(year: SchoolYear, days: tuple[date, ...]) -> Closure:
    names = [name for day in days if (name := _name(year, day))]
    kind: Kind = "single day" if len(days) == 1 else "break"
    if year.in_session(days[0]):
        kind = "exam week"
    elif _SUMMER in names:
        kind = "summer"
    plain = {"single day": "closed day", "break": "closed days"}.get(kind, kind)
    return Closure(" and ".join(dict.fromkeys(names)) or plain, kind, days)


def _name(year: SchoolYear, day: date) -> str:
    """What the calendar calls a day without class or an exam day, asides left out."""
    if not year.school.first_day <= day <= year.school.last_day:
        return _SUMMER
    given = year.closure(day)
    if year.in_session(day):
        special = year.school.special
        given = next((s.name for s in special if s.first_day <= day <= s.last_day), "")
    return " ".join(_ASIDE.sub("", given).split()).strip(" -:,;")


def surprises(table: Timetable) -> list[Closure]:
    """A surprise closure from Monday to Friday for each week with class in the run."""
    first = monday(table.start)
    found = []
    for week in range((table.window_end + table.start.weekday()) // 7):
        days = [first + timedelta(days=7 * week + n) for n in range(5)]
        days = [day for day in days if day >= table.start and table.school_year.in_session(day)]
        if days:
            found.append(Closure(f"week of {spoken(days[0])}", "surprise", tuple(days)))
    return found


def find_surprise(day: date, table: Timetable) -> Closure:
    """The surprise closure of the week that a date lies in.

    Raises SeedbeatError for a week outside the run or without class.
    """
    weeks = surprises(table)
    found = next((week for week in weeks if monday(week.first_day) == monday(day)), None)
    if found:
        return found
    first, last = table.start, table.date_of(table.window_end - 1)
    if not monday(first) <= day <= last:
        raise SeedbeatError(
            f"--surprise: must be a date in the run, from {first} to {last}, the last measured "
            f"day, but it is {day}; choose another week, or mend the window."
        )
    raise SeedbeatError(
        f"--surprise: the week of {spoken(day, year=True)} has no class anyway, so no closure of "
        f"it can surprise; --closure {day} studies the closure in the calendar."
    )


def find_closure(closures: Sequence[Closure], wanted: str, table: Timetable) -> Closure:
    """The closure of this name or on this ISO date.

    A name may be given in part, in any case. Raises SeedbeatError if there is none, or several.
    """
    text = " ".join(wanted.split())
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return _on(closures, text, table)
    names = [c.name.lower() for c in closures]
    found = [c for c in closures if c.name.lower() == text.lower()]
    found = found or [c for c in closures if text and text.lower() in c.name.lower()]
    if len(found) == 1:
        return found[0]
    if found:
        raise SeedbeatError(
            f'--closure: must name one closure, but {len(found)} are called "{text}". Give one of '
            f"the dates: {', '.join(c.first_day.isoformat() for c in found)}."
        )
    near = nearest(text, names)
    hint = f'Did you mean "{closures[names.index(near)].name}"? ' if near else ""
    raise SeedbeatError(
        f'--closure: must be the name or a date of a closure in this run, but it is "{text}". '
        f"{hint}{_listed(closures)}"
    )


def _on(closures: Sequence[Closure], text: str, table: Timetable) -> Closure:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise SeedbeatError(
            f"--closure: must be a date such as 2027-03-15, but {text} is not in the calendar; "
            "mend it."
        ) from None
    found = next((c for c in closures if c.holds(day)), None)
    if found:
        return found
    last = table.date_of(table.window_end - 1)
    if not table.start <= day <= last:
        raise SeedbeatError(
            f"--closure: must lie in the run, from {table.start} to {last}, the last measured day, "
            f"but it is {text}; choose another closure, or mend the window. {_listed(closures)}"
        )
    raise SeedbeatError(
        f"--closure: {text} ({spoken(day)}) is in no closure; --surprise {text} studies what "
        f"happens if nobody comes in its week. {_listed(closures)}"
    )


def _listed(closures: Sequence[Closure]) -> str:
    if not closures:
        return "The calendar of this run has no closure."
    told = "; ".join(f"{c.name} ({c.first_day})" for c in closures)
    return f"The closures are: {told}."
