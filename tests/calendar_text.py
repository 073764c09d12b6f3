"""Small iCalendar texts for the tests, and what was read from them."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from sim.errors import CalendarError
from sim.ical import read_ical
from sim.school_year import days_of

FIRST, LAST = date(2026, 8, 24), date(2027, 6, 4)
DEMO = (Path(__file__).parent.parent / "scenarios" / "maple-hollow.ics").read_bytes()
HEAD = "VERSION:2.0\nPRODID:-//test//EN"
OCT_12, OCT_13 = date(2026, 10, 12), date(2026, 10, 13)
WEEKLY = ("DTSTART;VALUE=DATE:20260904", "RRULE:FREQ=WEEKLY;BYDAY=FR;UNTIL=20261002")
FRIDAYS = [date(2026, 9, 4) + timedelta(weeks=n) for n in range(5)]
ORDINARY = "taken as an ordinary school day"


def event(*lines, name="No School"):
    """The lines of one event."""
    return "\n".join(["BEGIN:VEVENT", f"SUMMARY:{name}", *lines, "END:VEVENT"])


def calendar(*events, head=HEAD, end="\r\n"):
    """The bytes of a calendar with those events."""
    text = "\n".join(["BEGIN:VCALENDAR", head, *events, "END:VCALENDAR", ""])
    return text.replace("\n", end).encode()


def read(*events, **options):
    """What is read from a calendar with those events."""
    return read_ical(calendar(*events, **options), FIRST, LAST, "school.ics")


def days(reading):
    """All closed days of a reading, in order."""
    return sorted(day for stretch in reading.closed for day in days_of(stretch))


def unclear(reading):
    """What was unclear, as plain tuples."""
    return [(one.first_day, one.last_day, one.name, one.assumed) for one in reading.unclear]


def refused(data):
    """The message with which bytes are refused; it names the file."""
    with pytest.raises(CalendarError) as caught:
        read_ical(data, FIRST, LAST, "school.ics")
    assert str(caught.value).startswith("school.ics: ")
    return str(caught.value)
