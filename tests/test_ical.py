"""Calendars as schools publish them, read to closures and special days.

The rules are those of RFC 5545 (all-day events end before DTEND: section 3.6.1; folding: 3.1;
repeats and exceptions: 3.8.5; SEQUENCE: 3.8.7.4). The quirks are common practice, no source.
"""

import subprocess
import sys
import time
from datetime import date, timedelta
from pathlib import Path

import holidays
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import CalendarError
from sim.ical import CalendarReading, read_ical
from sim.ical_text import MAX_BYTES
from sim.parts import School
from sim.school_year import SchoolYear, days_of

FIRST, LAST = date(2026, 8, 24), date(2027, 6, 4)
DEMO = (Path(__file__).parent.parent / "scenarios" / "maple-hollow.ics").read_bytes()
HEAD = "VERSION:2.0\nPRODID:-//test//EN"
ORDINARY = "taken as an ordinary school day"


def event(*lines, name="No School"):
    return "\n".join(["BEGIN:VEVENT", f"SUMMARY:{name}", *lines, "END:VEVENT"])


def calendar(*events, head=HEAD, end="\r\n"):
    text = "\n".join(["BEGIN:VCALENDAR", head, *events, "END:VCALENDAR", ""])
    return text.replace("\n", end).encode()


def read(*events, **options):
    return read_ical(calendar(*events, **options), FIRST, LAST, "school.ics")


def days(reading):
    """All closed days of a reading, in order."""
    return sorted(day for stretch in reading.closed for day in days_of(stretch))


def unclear(reading):
    return [(one.first_day, one.last_day, one.name, one.assumed) for one in reading.unclear]


def refused(data):
    """The message with which bytes are refused; it names the file."""
    with pytest.raises(CalendarError) as caught:
        read_ical(data, FIRST, LAST, "school.ics")
    assert str(caught.value).startswith("school.ics: ")
    return str(caught.value)


OCT_12, OCT_13 = date(2026, 10, 12), date(2026, 10, 13)


@pytest.mark.parametrize(
    ("lines", "closed"),
    [
        (["DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:20261013"], [OCT_12]),
        (["DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:20261014"], [OCT_12, OCT_13]),
        (["DTSTART;VALUE=DATE:20261012", "DTEND;VALUE=DATE:20261012"], [OCT_12]),
        (["DTSTART;VALUE=DATE:20261012"], [OCT_12]),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P2D"], [OCT_12, OCT_13]),
        (["DTSTART;VALUE=DATE:20261012", "DURATION:P1DT1H"], [OCT_12]),
        (["DTSTART:20261012"], [OCT_12]),
        (["DTSTART:20261012", "DTEND:20261014"], [OCT_12, OCT_13]),
        (["dtstart;value=date:20261012", "dtend;value=date:20261013"], [OCT_12]),
        (["DTSTART:20261012T080000", "DTEND:20261012T150000"], [OCT_12]),
        (["DTSTART:20261012T0800"], [OCT_12]),
        (["DTSTART:20261012T000000", "DTEND:20261014T000000"], [OCT_12, OCT_13]),
        (["DTSTART:20261009T150000", "DTEND:20261013T080000"], [date(2026, 10, 10), OCT_12]),
        (["DTSTART;VALUE=DATE:20261012", "DTEND:20261013T150000"], [OCT_12, OCT_13]),
    ],
)
def test_an_event_closes_the_days_whose_noon_it_covers(lines, closed):
    found = days(read(event(*lines)))
    assert (found[0], found[-1]) == (closed[0], closed[-1])
    assert len(found) == (closed[-1] - closed[0]).days + 1


def test_a_timed_all_day_event_counts_on_its_written_local_date():
    zoned = ["DTSTART;TZID=America/Chicago:20261225T000000"]
    zoned += ["DTEND;TZID=America/Chicago:20261225T235900"]
    assert days(read(event(*zoned))) == [date(2026, 12, 25)]
    unknown = [line.replace("America/Chicago", '"Central: our time"') for line in zoned]
    assert days(read(event(*unknown))) == [date(2026, 12, 25)]


def test_a_utc_time_is_turned_into_the_calendars_time_zone():
    evening = event("DTSTART:20261013T010000Z", "DTEND:20261013T020000Z")
    reading = read(evening, head=f"{HEAD}\nX-WR-TIMEZONE:America/Chicago")
    assert days(reading) == [OCT_12]
    assert reading.repaired == ()


@pytest.mark.parametrize("zone", ["", "\nX-WR-TIMEZONE:Central Time", "\nX-WR-TIMEZONE:America"])
def test_a_utc_time_without_a_known_time_zone_counts_as_written_and_is_noted(zone):
    midnight = event("DTSTART:20261012T000000Z", "DTEND:20261013T000000Z")
    reading = read(midnight, head=HEAD + zone)
    assert days(reading) == [OCT_12]
    assert "Times in UTC" in reading.repaired[0]


@pytest.mark.parametrize("zone", ["", "\nX-WR-TIMEZONE:America/Chicago"])
@pytest.mark.parametrize("hour", ["00", "05"])
def test_a_whole_day_in_utc_closes_one_day_with_and_without_a_time_zone(hour, zone):
    whole = event(f"DTSTART:20261012T{hour}0000Z", f"DTEND:20261013T{hour}0000Z")
    assert days(read(whole, head=HEAD + zone)) == [OCT_12]


def test_a_break_with_one_event_a_day_becomes_one_stretch():
    starts = [f"DTSTART;VALUE=DATE:202703{day}" for day in range(15, 20)]
    for extra in ([], ["UID:the same for all"]):
        reading = read(*(event(start, *extra, name="Spring Break") for start in starts))
        assert [(one.first_day, one.last_day, one.name) for one in reading.closed] == [
            (date(2027, 3, 15), date(2027, 3, 19), "Spring Break")
        ]


def test_a_duplicate_event_counts_once():
    one = event("UID:1", "DTSTART:20261012")
    assert read(one, one, one.replace("UID:1", "UID:2")) == read(one)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_folded_lines_are_joined_whatever_ends_a_line(end):
    folded = event("DTSTART;VALUE=DATE\n :2026\n\t1012", name="No Sch\n ool - Staff\n  Day")
    (one,) = read(folded, end=end).closed
    assert (one.first_day, one.name) == (OCT_12, "No School - Staff Day")


def test_a_fold_inside_a_character_of_utf_8_is_joined():
    data = calendar(event("DTSTART:20261012", name="No School - \u00c9cole"))
    cut = data.index(b"\xc3") + 1
    (one,) = read_ical(data[:cut] + b"\r\n " + data[cut:], FIRST, LAST, "x").closed
    assert one.name == "No School - \u00c9cole"


def test_commas_and_line_breaks_in_a_name_are_unescaped():
    (one,) = read(event("DTSTART:20261012", name="No School\\, Staff\\nDay")).closed
    assert one.name == "No School, Staff Day"


@pytest.mark.parametrize(
    ("head", "sentence"),
    [
        ("PRODID:x", "The file has no VERSION line; read as version 2.0."),
        ("VERSION:1.0\nPRODID:x", "The file says VERSION '1.0'; read as version 2.0."),
        ("VERSION:2.0", "The file has no PRODID line"),
        (f"{HEAD}\nEND:VCALENDAR\nBEGIN:VCALENDAR\nnote to self", ""),
    ],
)
def test_a_missing_or_odd_head_line_is_read_and_noted(head, sentence):
    reading = read(event("DTSTART:20261012"), head=head)
    assert days(reading) == [OCT_12]
    assert len(reading.repaired) == bool(sentence)
    assert "".join(reading.repaired).startswith(sentence)


def test_a_stray_line_in_an_event_is_skipped_and_noted():
    reading = read(event("DTSTART:20261012", "see the web page"))
    assert days(reading) == [OCT_12]
    assert reading.repaired == ("Not of the form NAME:value and skipped: line 7.",)


def test_lower_case_components_and_names_are_read():
    data = calendar(event("DTSTART:20261012"), head=HEAD.lower()).decode()
    lower = data.replace("BEGIN", "begin").replace("VEVENT", "vevent").replace("SUMM", "summ")
    assert read_ical(lower.encode(), FIRST, LAST, "x") == read(event("DTSTART:20261012"))


def test_a_byte_order_mark_is_skipped_and_noted():
    reading = read_ical(b"\xef\xbb\xbf" + calendar(event("DTSTART:20261012")), FIRST, LAST, "x")
    assert days(reading) == [OCT_12]
    assert "byte order mark" in reading.repaired[0]


def test_latin_1_bytes_are_read_and_noted():
    data = calendar(event("DTSTART:20261012", name="No School - Caf\u00e9 d\u00e9j\u00e0"))
    reading = read_ical(data.decode().encode("latin-1"), FIRST, LAST, "x")
    assert reading.closed[0].name == "No School - Caf\u00e9 d\u00e9j\u00e0"
    assert "Latin-1" in reading.repaired[0]


WEEKLY = ("DTSTART;VALUE=DATE:20260904", "RRULE:FREQ=WEEKLY;BYDAY=FR;UNTIL=20261002")
FRIDAYS = [date(2026, 9, 4) + timedelta(weeks=n) for n in range(5)]


@pytest.mark.parametrize(
    ("lines", "left_out"),
    [
        ([], []),
        (["EXDATE;VALUE=DATE:20260911,20260925"], [1, 3]),
        (["EXDATE:20260911", "EXDATE:20260918T000000"], [1, 2]),
    ],
)
def test_a_repeated_closure_leaves_out_its_exceptions(lines, left_out):
    found = days(read(event(*WEEKLY, *lines)))
    assert found == [day for n, day in enumerate(FRIDAYS) if n not in left_out]


@pytest.mark.parametrize(
    ("rule", "count"),
    [
        ("FREQ=WEEKLY;COUNT=3", 3),
        ("FREQ=WEEKLY;UNTIL=20260918T235959Z", 3),
        ("FREQ=WEEKLY;UNTIL=20260918", 3),
        ("freq=weekly;interval=2;until=20261002;", 3),
        ("FREQ=WEEKLY", 40),
        ("FREQ=WEEKLY;UNTIL=99991231T235959Z", 40),
        ("FREQ=MONTHLY;BYDAY=1FR", 10),
        ("FREQ=YEARLY", 1),
    ],
)
def test_a_repeat_ends_with_its_rule_or_with_the_school_year(rule, count):
    for start in ("DTSTART;VALUE=DATE:20260904", "DTSTART;TZID=America/Chicago:20260904T080000"):
        assert len(days(read(event(start, f"RRULE:{rule}")))) == count


def test_an_early_release_called_off_on_one_date_is_not_repeated_there():
    core = event("UID:1", "DTSTART:20260904T120000", "RRULE:FREQ=WEEKLY;COUNT=3", name="Half day")
    off = event(
        *("UID:1", "RECURRENCE-ID:20260911T120000", "DTSTART:20260911T120000"),
        *("STATUS:CANCELLED",),
        name="Half day",
    )
    assert [one.first_day for one in read(core, off).special] == [FRIDAYS[0], FRIDAYS[2]]
    moved = off.replace("STATUS:CANCELLED", "TRANSP:OPAQUE").replace(
        "DTSTART:20260911", "DTSTART:20260910"
    )
    found = [one.first_day for one in read(core, moved).special]
    assert found == [FRIDAYS[0], date(2026, 9, 10), FRIDAYS[2]]


def test_added_dates_are_read():
    added = event("DTSTART:20260904", "RDATE;VALUE=PERIOD:20261012T080000/PT8H,20261013")
    assert days(read(added)) == [date(2026, 9, 4), OCT_12, OCT_13]


def test_a_cancelled_event_is_ignored_and_a_revision_replaces_the_older_event():
    assert days(read(event("DTSTART:20261012", "STATUS:CANCELLED"))) == []
    old = event("UID:1", "DTSTART:20261012")
    new = event("UID:1", "DTSTART:20261013", "SEQUENCE:2")
    assert days(read(old, new)) == days(read(new, old)) == [OCT_13]


def test_events_are_clipped_to_the_school_year_and_ignored_outside_it():
    summer = event("DTSTART:20260601", "DTEND:20260826", name="Summer Break")
    after = event("DTSTART:20270604", "DTEND:20270901", name="Summer Break")
    other_year = event("DTSTART:20250901", name="Labor Day")
    assert days(read(summer, after, other_year)) == [FIRST, FIRST + timedelta(days=1), LAST]


def test_an_all_day_event_that_says_nothing_clear_is_listed_and_left_in_session():
    for name in ("Staff Day", "Break-fast with the Principal", "First day of school", ""):
        reading = read(event("DTSTART:20261012", name=name))
        assert reading.closed == reading.special == ()
        assert unclear(reading) == [(OCT_12, OCT_12, name or "(no name)", ORDINARY)]


@pytest.mark.parametrize(
    ("name", "hours", "kind"),
    [
        ("Board meeting", "1800/1900", "nothing"),
        ("Holiday Concert", "1800/2000", "nothing"),
        ("Science fair", "0800/1500", "nothing"),
        ("Staff meeting", "1530/1630", "nothing"),
        ("Staff Day", "0800/1500", "unclear"),
        ("No Early Release today", "1230/1500", "unclear"),
        ("Recess", "1000/1020", "unclear"),
        ("Winter Break", "0800/1500", "closed"),
        ("No School", "0800/0830", "closed"),
        ("Early Release", "1230/1300", "special"),
    ],
)
def test_a_timed_event_counts_only_if_it_speaks_of_the_school_day(name, hours, kind):
    start, end = hours.split("/")
    reading = read(event(f"DTSTART:20261012T{start}00", f"DTEND:20261012T{end}00", name=name))
    found = [k for k in ("closed", "special", "unclear") if getattr(reading, k)]
    assert found == ([] if kind == "nothing" else [kind])


def test_where_two_events_name_a_day_closed_outranks_exam_and_exam_outranks_early_release():
    exam = event("DTSTART:20261012", "DTEND:20261014", name="Finals Week")
    early = event("DTSTART:20261013", name="Early Release")
    reading = read(exam, early, event("DTSTART:20261012"), event("DTSTART:20261012", name="Fair"))
    assert days(reading) == [OCT_12]
    assert [(one.first_day, one.last_day, one.kind) for one in reading.special] == [
        (OCT_13, OCT_13, "exam")
    ]
    assert unclear(reading) == [
        (OCT_12, OCT_12, "Finals Week", "taken as closed, as another event says"),
        (OCT_13, OCT_13, "Early Release", "taken as an exam day"),
    ]


def test_exams_with_an_early_release_are_exam_days_and_listed():
    reading = read(event("DTSTART:20261012", name="Finals - Early Release"))
    assert [one.kind for one in reading.special] == ["exam"]
    assert unclear(reading) == [(OCT_12, OCT_12, "Finals - Early Release", "taken as an exam day")]


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
