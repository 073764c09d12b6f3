"""Days, dates, clock times and weeks; which days are in session.

Simulated time is in days [d] from 00:00 local on the scenario's first day. Weeks start on
Monday. Clock times are wall-clock times; there is no daylight-saving shift.
"""

from __future__ import annotations

from datetime import date, time, timedelta

from sim.parts import WEEKDAYS, Dates, DayKind, School, Weekday

MINUTES_PER_DAY = 1440


def weekday(day: date) -> Weekday:
    """Short name of the weekday, Mon ... Sun."""
    return WEEKDAYS[day.weekday()]


def monday(day: date) -> date:
    """The Monday of the week that holds `day`."""
    return day - timedelta(days=day.weekday())


def clock(at: time) -> float:
    """Share of a day that has passed at a clock time [d]."""
    return (at.hour * 60 + at.minute) / MINUTES_PER_DAY


def spoken(day: date, *, year: bool = False) -> str:
    """A date as people say it: "Mon Oct 5", with the year if asked."""
    text = f"{weekday(day)} {day:%b} {day.day}"
    return f"{text}, {day.year}" if year else text


def days_of(stretch: Dates) -> list[date]:
    """All days of a stretch, both ends included."""
    length = (stretch.last_day - stretch.first_day).days + 1
    return [stretch.first_day + timedelta(days=n) for n in range(length)]


class SchoolYear:
    """Answers, for any date, whether school is in session and what kind of day it is."""

    def __init__(self, school: School) -> None:
        self.school = school
        self._closed = {day: s.name for s in school.closed for day in days_of(s)}
        self._special = {day: s for s in school.special for day in days_of(s)}

    def kind(self, day: date) -> DayKind:
        """`closed`, or the kind of day in session; days outside the year are closed."""
        school = self.school
        in_year = school.first_day <= day <= school.last_day
        if not in_year or day in self._closed or weekday(day) not in school.weekdays:
            return "closed"
        special = self._special.get(day)
        return special.kind if special else "regular"

    def in_session(self, day: date) -> bool:
        """Whether students are in class that day."""
        return self.kind(day) != "closed"

    def closure(self, day: date) -> str:
        """The name of the closure on that day, or "" when no closure covers it."""
        return self._closed.get(day, "")

    def session_days(self) -> int:
        """Number of days in session in the school year."""
        length = (self.school.last_day - self.school.first_day).days + 1
        first = self.school.first_day
        return sum(self.in_session(first + timedelta(days=n)) for n in range(length))
