"""Calendars as schools publish them, read to closures and special days.

The rules are those of RFC 5545 (all-day events end before DTEND: section 3.6.1; folding: 3.1;
repeats and exceptions: 3.8.5; SEQUENCE: 3.8.7.4). The quirks are common practice, no source.
"""

from datetime import date, timedelta

import pytest
from calendar_text import (
    FIRST,
    FRIDAYS,
    HEAD,
    LAST,
    OCT_12,
    OCT_13,
    ORDINARY,
    WEEKLY,
    calendar,
    days,
    event,
    read,
    unclear,
)

from sim.ical import read_ical


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
        (["DTSTART:20261012t080000", "DURATION:PT29H"], [OCT_12, OCT_13]),
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


@pytest.mark.parametrize(
    ("lines", "left_out"),
    [
        ([], []),
        (["EXDATE;VALUE=DATE:20260911,20260925"], [1, 3]),
        (["EXDATE:20260911", "EXDATE:20260918T080000"], [1, 2]),
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


def test_exceptions_in_utc_are_taken_out_of_an_event_in_its_own_time_zone():
    start = "DTSTART;TZID=America/Chicago:20260904T080000"
    off = "EXDATE:20260911T130000Z"
    reading = read(event(start, "RRULE:FREQ=WEEKLY;COUNT=3", off))
    assert days(reading) == [FRIDAYS[0], FRIDAYS[2]]
    assert reading.repaired == ()


def test_a_change_to_this_and_future_dates_moves_them_all():
    core = event("UID:1", "DTSTART:20260904T120000", "RRULE:FREQ=WEEKLY;COUNT=4", name="Half day")
    later = event(
        *("UID:1", "RECURRENCE-ID;RANGE=THISANDFUTURE:20260911T120000", "DTSTART:20260910T120000"),
        name="Half day",
    )
    thursdays = [day - timedelta(days=1) for day in FRIDAYS[1:4]]
    assert [one.first_day for one in read(core, later).special] == [FRIDAYS[0], *thursdays]


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


def test_a_midnight_start_without_an_end_is_an_all_day_event():
    reading = read(event("DTSTART:20261012T000000", name="Science fair"))
    assert unclear(reading) == [(OCT_12, OCT_12, "Science fair", ORDINARY)]


def test_exams_with_an_early_release_are_exam_days_and_listed():
    reading = read(event("DTSTART:20261012", name="Finals - Early Release"))
    assert [one.kind for one in reading.special] == ["exam"]
    assert unclear(reading) == [(OCT_12, OCT_12, "Finals - Early Release", "taken as an exam day")]
