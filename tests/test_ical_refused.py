"""Calendars that cannot be read are refused with one clear message; time stays bounded."""

import subprocess
import sys
import time
from pathlib import Path

import pytest
from calendar_text import DEMO, FIRST, LAST, WEEKLY, calendar, days, event, read, refused
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import CalendarError
from sim.ical import CalendarReading, read_ical
from sim.ical_text import MAX_BYTES


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "the file is empty"),
        (b" \r\n\r\n", "the file is empty"),
        (b"<html><body>Calendar</body></html>", "no line BEGIN:VCALENDAR"),
        (bytes(range(1, 256)), "no line BEGIN:VCALENDAR"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not plain text"),
        (DEMO.decode().encode("utf-16"), "not plain text"),
        (calendar(), "holds no event"),
        (calendar().replace(b"END:VCALENDAR", b""), "cut short or mixed up at line"),
        (calendar(event("DTSTART:20261012")).replace(b"END:VEVENT", b"END:VTODO"), "cut short"),
        (calendar(event("DTSTART:20261012")) + b" " * MAX_BYTES, f"at most {MAX_BYTES:,} bytes"),
        (calendar(event("LOCATION:Gym")), 'the event "No School" (line 4) has no start'),
        (calendar(event("DTSTART:20261301")), "line 6 of the event"),
        (calendar(event("DTSTART:2026-10-12")), "a date such as 20261012"),
        (calendar(event("DTSTART:10/12/2026")), "it holds '10/12/2026'"),
        (calendar(event("DTSTART:00010101")), "from 1900 to 2100"),
        (calendar(event("DTSTART:20261012", "DTEND:soon")), "line 7 of the event"),
        (calendar(event("DTSTART:20261012", "DTEND:20261010")), "before it starts"),
        (calendar(event("DTSTART:20261012", "DURATION:-P1D")), "before it starts"),
        (calendar(event("DTSTART:20261012", "DURATION:1 day")), "a length such as P1D"),
        (calendar(event("DTSTART:20261012", "DURATION:P9999999999D")), "a length such as P1D"),
        (calendar(event("DTSTART;VALUE:20261012")), "line 6 must be of the form NAME:value"),
        (calendar(event(*WEEKLY, "EXDATE:never")), "it holds 'never'"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_one_clear_message(data, says):
    message = refused(data)
    assert says in message
    assert "\n" not in message


def test_control_characters_never_reach_a_name_or_a_message():
    (one,) = read(event("DTSTART:20261012", name="No\tSchool \x1b[31m")).closed
    assert one.name == "No School [31m"
    assert "\x1b" not in refused(calendar(event("DTSTART:\x1b[31m", name="\x1b[31m")))


@pytest.mark.parametrize("cut", [1, 40, 700, len(DEMO) // 2, len(DEMO) - 20])
def test_a_calendar_cut_short_is_refused(cut):
    assert "cut short" in refused(DEMO[:cut]) or "BEGIN:VCALENDAR" in refused(DEMO[:cut])


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=SECONDLY",
        "FREQ=MINUTELY",
        "FREQ=HOURLY;COUNT=3",
        "FREQ=DAILY;BYHOUR=1,2,3;BYSECOND=1,2,3",
        "FREQ=DAILY;INTERVAL=0",
        "FREQ=DAILY;INTERVAL=-1",
        "FREQ=DAILY;COUNT=99999999",
        "FREQ=DAILY;COUNT=0",
        "FREQ=DAILY;COUNT=2;UNTIL=20261012",
        "COUNT=2",
        "every Friday",
        "",
        "FREQ=WEEKLY;BYDAY=XX",
        "FREQ=DAILY;UNTIL=20261399",
    ],
)
def test_a_runaway_or_unreadable_repeat_is_refused_quickly(rule):
    begun = time.monotonic()
    assert 'the event "No School"' in refused(calendar(event("DTSTART:20261012", f"RRULE:{rule}")))
    assert time.monotonic() - begun < 2


def test_repeats_that_never_come_are_given_up_in_bounded_time(monkeypatch):
    monkeypatch.setattr("sim.ical.MAX_SECONDS", 0.2)
    never = event("DTSTART:20261012", "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30")
    begun = time.monotonic()
    assert "takes too long to work out" in refused(calendar(*[never] * 200))
    assert time.monotonic() - begun < 10


def test_events_that_name_too_many_days_are_refused(monkeypatch):
    monkeypatch.setattr("sim.ical.MAX_DAYS", 1000)
    year = [event("DTSTART:20260824", "DTEND:20270605", name=f"No School {n}") for n in range(4)]
    assert "at most 1,000 days" in refused(calendar(*year))


def test_the_modules_import_without_the_slow_calendar_libraries():
    code = "import sys, sim.ical; print('icalendar' in sys.modules)"
    root = Path(__file__).parent.parent
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"


def mutated(cuts):
    """The demo calendar with stretches replaced by other bytes."""
    data = bytearray(DEMO)
    for at, length, new in cuts:
        data[at : at + length] = new
    return bytes(data)


PIECES = st.one_of(
    st.binary(max_size=4),
    st.sampled_from(DEMO.split(b"\r\n")),
    st.sampled_from(
        [b"\r\nRRULE:FREQ=DAILY\r\n", b"Z", b"99", b"-", b"\r\n ", b";TZID=a/b", b"=", b"\xff"]
    ),
)
CUTS = st.lists(st.tuples(st.integers(0, len(DEMO)), st.integers(0, 12), PIECES), max_size=6)


@settings(max_examples=250, deadline=None)
@given(CUTS)
def test_a_damaged_calendar_is_read_or_refused_and_nothing_else(cuts):
    """Warnings are errors in this suite, so none leaks either."""
    try:
        reading = read_ical(mutated(cuts), FIRST, LAST, "damaged.ics")
    except CalendarError:
        return
    assert isinstance(reading, CalendarReading)
    assert all(FIRST <= day <= LAST for day in days(reading))
