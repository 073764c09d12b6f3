"""Event names as schools write them: what each says of the school day.

The names are common practice, no source; the traps among them are ours.
"""

import pytest

from sim.event_names import meaning

NAMES = {
    "no school": """
        No School - Staff Day | NO SCHOOL: Labor Day | No-School Day | *** NO SCHOOL ***
        Winter Break \u2013 No School | Thanksgiving Break (no school) | School Closed
        Professional Development - No Students | In-Service Day (no students) | Non-student day
        No School Teacher Workday | No School/Snow Make-up day if needed | Pupil-Free Day
        Schools & Offices Closed | No School - Parent/Teacher Conferences | Classes cancelled
        Students do not attend
    """,
    "day off": """
        Labor Day | Columbus Day | Veterans Day | Thanksgiving | Christmas Day (observed)
        New Year's Day | Martin Luther King, Jr. Day | Dr. M.L.K. Day | Presidents' Day
        President\u2019s Day Holiday | Washington's Birthday | Memorial Day | Juneteenth
        Indigenous Peoples' Day | Winter Break | SPRING BREAK | Fall Break! | Mid-Winter Recess
        Winter Break (school resumes Jan. 4) | Winter Break - District Offices Closed
        Day After Thanksgiving | Closed - Veterans Day | CLOSED | Snow day | School Holiday
        Teacher Workday/Student Holiday | Winter Break 12/21-1/1
    """,
    "early release": """
        Early Release - Thanksgiving | Early dismissal before Thanksgiving Break | Half Day
        1/2 Day for students | 2-Hour Delay | Two hour delayed start | Minimum Day Schedule
        Early Release (PTA meeting) | Early Release at 12:30 | Late Start Monday
        Early Release for Teacher Professional Development | Last day of school - early release
    """,
    "exam": """
        Finals Week | Final Exams - Periods 1 & 2 | Midterm Exams | State Testing Week | Exam Day 1
        Last day of finals | EXAMS
    """,
    "exam and early release": "Finals (Early Release) | Exam Day 2 - half day",
    "doubt": """
        No Early Release today | No exams | No holiday | AP Exams | Senior Finals
        Canceled: No School | No School for Kindergarten | Reminder: No School Monday
        No School tomorrow | No School or Half Day | Enjoy your break | Possible early release
        Early Release - postponed | Spring Break / Finals
    """,
    "staff": "Staff Day | Teacher Workday | Professional Development | In-Service",
    "other": """
        Breakfast | Break-fast with the Principal | School resumes after winter break
        Last day before spring break | Holiday concert | Closed campus lunch | Winter Break begins
        Spring Break ends | Library closed | Voting closed | Registration closed
        No School Bus Service | No school uniform day | Veterans Day Assembly | Holiday Sweater Day
        Spring Break Camp | Countdown to Spring Break | Band Trip over Spring Break
        Thanksgiving lunch | Half-Day Field Trip | State Finals | Basketball Finals | Exam review
        Study for exams | Midterm - 2nd quarter | Snow make-up day | Exams before Winter Break
        Presidents Day - Snow make-up day | Memorial Day - school in session | Breakdancing club
        First day of school | Spring concert | Homecoming game | PTA meeting | Picture day
        Dismissal for Winter Break | Pre-Thanksgiving Break | Help desk hours during break
        Board meeting | End of quarter | Homecoming | \u00c9cole | \u4f11\u307f | - |
    """,
}
CASES = [
    (name.strip(), expected)
    for expected, names in NAMES.items()
    for line in names.splitlines()
    for name in line.split(" | ")
    if name.strip()
]


@pytest.mark.parametrize(("name", "expected"), CASES)
def test_a_name_says_what_a_reader_of_the_calendar_would_take_it_for(name, expected):
    assert meaning(name, 1) == expected


@pytest.mark.parametrize("name", ["No School - Staff Day", "Early Release - Thanksgiving"])
def test_upper_and_lower_case_say_the_same(name):
    assert meaning(name.upper(), 1) == meaning(name.lower(), 1) == meaning(name, 1)


def test_an_early_release_named_with_a_break_of_several_days_is_a_doubt():
    assert meaning("Thanksgiving Break - Early Release", 1) == "early release"
    assert meaning("Thanksgiving Break - Early Release", 3) == "doubt"
