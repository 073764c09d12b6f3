"""The demo school's calendar: its closures, exam weeks and quirks."""

from datetime import date

import holidays
from calendar_text import DEMO, FIRST, LAST, OCT_12, ORDINARY, days, unclear

from sim.ical import read_ical
from sim.parts import School
from sim.school_year import SchoolYear


def demo():
    return read_ical(DEMO, FIRST, LAST, "maple-hollow.ics")


def test_the_demo_school_has_its_closures_exam_weeks_and_180_session_days():
    reading = demo()
    assert [(one.first_day, one.last_day) for one in reading.closed] == [
        (date(2026, 9, 7), date(2026, 9, 7)),
        (OCT_12, OCT_12),
        (date(2026, 11, 11), date(2026, 11, 11)),
        (date(2026, 11, 25), date(2026, 11, 27)),
        (date(2026, 12, 21), date(2027, 1, 1)),
        (date(2027, 1, 18), date(2027, 1, 18)),
        (date(2027, 2, 15), date(2027, 2, 15)),
        (date(2027, 3, 15), date(2027, 3, 19)),
        (date(2027, 4, 2), date(2027, 4, 2)),
        (date(2027, 4, 5), date(2027, 4, 5)),
    ]
    assert [(one.first_day, one.last_day, one.kind) for one in reading.special] == [
        (date(2026, 12, 14), date(2026, 12, 18), "exam"),
        (date(2027, 5, 24), date(2027, 5, 28), "exam"),
    ]
    school = School(first_day=FIRST, last_day=LAST, closed=reading.closed, special=reading.special)
    assert SchoolYear(school).session_days() == 180


def test_the_demo_calendar_lists_its_one_unclear_day_and_its_missing_version():
    reading = demo()
    staff_day = date(2026, 10, 23)
    assert unclear(reading) == [(staff_day, staff_day, "Staff Day", ORDINARY)]
    assert reading.repaired == ("The file has no VERSION line; read as version 2.0.",)
    held = read_ical(DEMO.replace(b"STATUS:CANCELLED\r\n", b""), FIRST, LAST, "x")
    assert [one.name for one in held.unclear] == ["Staff Day", "Snow make-up day"]


def test_the_demo_calendar_carries_the_quirks_of_a_published_file():
    assert DEMO.count(b"\r\n") == DEMO.count(b"\n")
    assert all(len(line) <= 75 for line in DEMO.split(b"\r\n"))
    for quirk in (b"\r\n ", b"DTSTART:20261012\r\n", b"EXDATE;TZID=", b"RRULE:FREQ=WEEKLY"):
        assert quirk in DEMO
    assert b"\r\nVERSION:" not in DEMO


def test_the_demo_school_closes_on_federal_holidays_except_one():
    """Source: the federal holidays of the United States in the `holidays` package.

    The invented school stays open on Memorial Day, May 31, in its last week.
    """
    federal = holidays.country_holidays("US", years=[2026, 2027])
    in_year = {day for day in federal if FIRST <= day <= LAST and day.weekday() < 5}
    assert len(in_year) >= 8
    assert in_year - set(days(demo())) == {date(2027, 5, 31)}
