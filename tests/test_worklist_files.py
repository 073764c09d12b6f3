"""The work list as a workbook and as a calendar, read back by other readers than its writers.

The calendar is checked against RFC 5545 (Internet Calendaring and Scheduling Core Object
Specification): section 3.1 (lines of at most 75 octets, ended by CR and LF), 3.3.5 (local times
without a zone), 3.6 (PRODID and VERSION of a calendar) and 3.6.1 (UID and DTSTAMP of an event,
DTSTART; DTEND later than DTSTART).
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from functools import cache

import pytest
from openpyxl import load_workbook
from worklist_example import DEMO, SUMMER, THREE_CROPS, TODAY, YEARS, bench, demo_answer, demo_week

from sim import cautions
from sim.greenhouse.plan import Plan
from sim.scenario_file import load_scenario
from sim.worklist import work_of, worklist_answer
from sim.worklist_book import COUNTS, WEEK, WHAT, workbook
from sim.worklist_calendar import calendar

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # not ours to mend
    import vobject


@cache
def sheets(monday=date(2026, 11, 9)):
    book = load_workbook(io.BytesIO(workbook(demo_answer(monday))))
    assert book.sheetnames == ["Week", "Counts"]
    return book["Week"], book["Counts"]


def own_tasks(answer):
    return [(d, s, t) for d in answer["days"] for s in d["shifts"] for t in s["tasks"]]


def listed(sheet, columns):
    """The rows below the header with a date, as dictionaries."""
    rows = list(sheet.iter_rows(values_only=True))
    head = next(n for n, row in enumerate(rows) if row[0] == "Date")
    return [dict(zip(columns, row, strict=True)) for row in rows[head + 1 :]
            if isinstance(row[0], datetime)]  # fmt: skip


def test_the_week_sheet_has_every_own_task_in_numbers():
    """Dates are dates, times are times, counts and minutes are numbers as in the answer."""
    answer, (week, _) = demo_answer(), sheets()
    rows = [r for r in listed(week, WEEK) if r["Ends"]]
    tasks = own_tasks(answer)
    assert len(rows) == len(tasks) > 0
    for row, (day, shift, task) in zip(rows, tasks, strict=True):
        assert row["Date"].date() == date.fromisoformat(day["day"])
        assert row["Starts"] == time.fromisoformat(shift["starts"])
        assert row["Expected count"] == pytest.approx(task["amount"])
        assert row["Time [person-minutes]"] == pytest.approx(task["minutes"])
        assert row["Years it came up in [of {years}]"] == task["years"]
        then = row["Count when it comes up"]
        assert then * task["years"] == pytest.approx(task["amount"] * YEARS)
        assert row["Done"] is row["Counted"] is None
    assert week.cell(3, 9).value == f"Years it came up in [of {YEARS}]"


def test_the_week_sheet_has_the_deliveries_and_the_cautions():
    answer, (week, _) = demo_answer(), sheets()
    leaving = [r for r in listed(week, WEEK) if r["Who"] == "leaves"]
    due = [d for day in answer["days"] for d in day["deliveries"]]
    assert [r["Expected count"] for r in leaving] == [d["heads"] for d in due]
    texts = [cell for (cell, *_) in week.iter_rows(values_only=True)]
    assert texts[-len(answer["cautions"]) :] == answer["cautions"]
    assert texts[1].startswith("Start with: ")


def test_the_counts_sheet_is_ready_to_be_filled_in():
    """A row for each task (of a harvest, each main batch) and delivery; counts are empty."""
    answer, (_, counts) = demo_answer(), sheets()
    assert [cell.value for cell in counts[1]] == list(COUNTS)
    rows = listed(counts, COUNTS)
    seeded = {(r["Date"].date(), r["What"], r["Batch seeded on"]) for r in rows}
    for day, _, task in own_tasks(answer):
        dates = [task["seeded"]] if task["seeded"] else []
        dates += [b["seeded"] for b in task["batches"] if b["heads"] >= task["amount"] / 10]
        for text in dates:
            batch = datetime.combine(date.fromisoformat(text), time.min)
            assert (date.fromisoformat(day["day"]), task["kind"], batch) in seeded
    assert {r["What"] for r in rows} <= set(WHAT)
    to_fill = ("Count", "Cause", "Time [person-minutes]", "People present [number, no names]")
    assert all(r[column] is None for r in rows for column in to_fill)
    (words,) = [v for v in counts.data_validations.dataValidation if v.type == "list"]
    assert words.formula1 == f'"{",".join(WHAT)}"'


def test_the_sheets_print_one_page_wide_under_a_header_that_stays():
    for sheet, head in zip(sheets(), (3, 1), strict=True):
        assert sheet.freeze_panes == f"A{head + 1}"
        assert sheet.print_title_rows == f"${head}:${head}"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)


def test_rows_are_wide_and_high_enough_for_their_texts():
    """Width x lines holds every text: letters are on average at most 0.9 of a figure's width."""
    for sheet in sheets():
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.coordinate not in sheet.merged_cells:
                    width = sheet.column_dimensions[cell.column_letter].width
                    lines = (sheet.row_dimensions[cell.row].height - 3) / 14
                    assert 0.9 * len(cell.value) <= width * lines, cell.coordinate
                    assert max(map(len, cell.value.split())) <= width, cell.coordinate


def test_the_same_answer_gives_the_same_workbook():
    """Nothing in it tells when it was written, neither the packed files nor its properties."""
    made = workbook(demo_answer())
    assert made == workbook(demo_answer())
    with zipfile.ZipFile(io.BytesIO(made)) as packed:
        assert {entry.date_time for entry in packed.infolist()} == {(2000, 1, 1, 0, 0, 0)}
    about = load_workbook(io.BytesIO(made)).properties
    assert about.created == about.modified == datetime(2000, 1, 1)


def test_a_name_is_no_formula(tmp_path):
    """A customer called "=HALL & <co>" is text in both sheets."""
    loaded = bench(tmp_path)
    week = work_of(loaded.scenario, monday=date(2026, 2, 23), today=TODAY, years=1)
    book = load_workbook(io.BytesIO(workbook(worklist_answer(loaded, week, 1))))
    cells = [c for c in book["Counts"]["G"] if c.value == "=HALL & <co>"]
    assert [c.data_type for c in cells] == ["s"]


@cache
def read_back():
    """The events of the demo's calendar, read by vobject."""
    text = calendar(demo_week()).decode()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return vobject.readOne(text)


def test_the_calendar_keeps_to_its_standard():
    """RFC 5545, 3.1, 3.6 and 3.6.1: lines, required properties, one UID each, ends after starts."""
    text = calendar(demo_week())
    assert text.endswith(b"\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75
    book = read_back()
    assert book.version.value == "2.0"
    assert book.prodid.value.startswith("-//seedbeat//")
    events = book.vevent_list
    assert len(events) > 200
    assert len({e.uid.value for e in events}) == len(events)
    for e in events:
        assert e.dtend.value > e.dtstart.value
        assert e.dtstart.value.tzinfo is None  # 3.3.5: local time, of no zone
        assert e.summary.value
        assert e.description.value
    stamps = set(re.findall(rb"DTSTAMP:(\S+)", text))
    assert stamps == {b"20260824T000000Z"}  # the run's first day


def test_every_delivery_and_seeding_from_the_week_on_is_in_the_calendar():
    """One event each, at its time: by the plan's own list of what leaves and what is seeded."""
    plan, monday = Plan(load_scenario(DEMO)), date(2026, 11, 9)
    midnight = datetime.combine(plan.scenario.start, time.min)
    leaving = {
        (midnight + timedelta(minutes=round(1440 * x.time)), d.customer, d.heads)
        for x in plan.leavings
        for d in x.deliveries
        if plan.timetable.date_of(x.time) >= monday
    }
    found = set()
    for e in read_back().vevent_list:
        told = re.match(r"Delivery to (.*): ([\d,]+) heads of lettuce", e.summary.value)
        if told:
            found.add((e.dtstart.value, told[1], int(told[2])))
    assert found == leaving
    seeded = [e for e in read_back().vevent_list if e.summary.value.startswith("Seed ")]
    planned = [s for s in plan.seedings if plan.timetable.date_of(s.day) >= monday]
    late = timedelta(days=plan.scenario.cadence.late_days)
    assert len(seeded) == len(planned) > 20
    for e, s in zip(seeded, planned, strict=True):
        day = plan.timetable.date_of(s.day)
        assert day <= e.dtstart.value.date() <= day + late
        assert f"({s.trays} planned" in e.summary.value


def test_moves_and_harvests_carry_all_their_plants():
    """A move's event counts the batch's plants of all shifts, a harvest's all heads that leave."""
    week = demo_week()
    moved = sum(
        t.amount for d in week.run for _, t in d.all_tasks if t.batch == "lettuce 2026-11-09"
        if t.kind == "moved"
    )  # fmt: skip
    summaries = [e.summary.value for e in read_back().vevent_list]
    words = f"Move {moved:.0f} plants of lettuce seeded Mon Nov 9 from nursery to "
    assert sum(s.startswith(words) for s in summaries) == 1
    heads = sum(d.heads for day in week.days for d in day.deliveries if day.day.day == 10)
    assert f"Harvest {heads:.0f} heads of lettuce to leave Tue Nov 10 3:00 pm" in summaries


def test_an_event_stands_where_most_of_it_is_expected():
    """The shift with the most plants of the batch, and others are told in the description."""
    week = demo_week()
    shifts = [
        (t.amount, datetime.combine(d.day, s.starts), datetime.combine(d.day, s.ends))
        for d in week.run for s, t in d.all_tasks
        if (t.kind, t.batch) == ("moved", "lettuce 2026-11-09")
    ]  # fmt: skip
    most = max(shifts, key=lambda shift: shift[0])
    (event,) = [
        e for e in read_back().vevent_list
        if re.match("Move .* seeded Mon Nov 9 ", e.summary.value)
    ]  # fmt: skip
    assert (event.dtstart.value, event.dtend.value) == most[1:]
    told = [n for n, _, _ in shifts if n >= 0.05 * sum(a for a, _, _ in shifts)]
    assert event.description.value.count(f"of {YEARS} years") == len(told)
    assert cautions.ESTIMATES in event.description.value


def test_harvests_and_deliveries_carry_the_cautions_of_the_cold_store():
    for e in read_back().vevent_list:
        cold = e.summary.value.startswith(("Harvest", "Delivery", "Surplus"))
        assert (cautions.COLD in e.description.value) == cold
        assert (cautions.COLD_ROOM in e.description.value) == cold


def test_an_event_is_the_same_in_a_later_plan(tmp_path):
    """UIDs and stamps do not depend on seed, years or week; the same scenario, the same bytes."""
    scenario = bench(tmp_path).scenario

    def made(monday, **options):
        week = work_of(scenario, monday=monday, today=TODAY, **options)
        return calendar(week), set(re.findall(rb"UID:(\S+)", calendar(week)))

    first, uids = made(date(2026, 1, 5), years=1)
    assert uids == made(date(2026, 1, 5), years=2, seed=7)[1]
    assert first == made(date(2026, 1, 5), years=1)[0]
    later = made(date(2026, 3, 2), years=1)[1]
    assert later < uids
    renamed = scenario.model_copy(update={"name": "another bench"})
    other = calendar(work_of(renamed, monday=date(2026, 1, 5), today=TODAY, years=1))
    assert not uids & set(re.findall(rb"UID:(\S+)", other))


def test_a_calendar_of_so_many_weeks_ends_there():
    two = calendar(demo_week(), weeks=2)
    days = sorted(re.findall(rb"DTSTART:(\d{8})", two))
    assert days[0] >= b"20261109"
    assert b"20261116" <= days[-1] <= b"20261122"


def test_what_needs_nobody_is_an_event_of_the_day():
    """Without a crew there is no hour: 36 seeded sites are an event of that whole day."""
    week = work_of(load_scenario(SUMMER), monday=date(2026, 4, 6), today=TODAY, years=1)
    text = calendar(week, weeks=1)
    assert b"SUMMARY:Seed 36 sites of bibb lettuce (36 planned today)" in text
    assert b"DTSTART;VALUE=DATE:20260406\r\nDTEND;VALUE=DATE:20260407\r\n" in text


def test_several_crops_have_their_own_events():
    """Each crop is seeded and harvested by itself; romaine moves twice."""
    text = calendar(demo_week(path=THREE_CROPS)).decode().replace("\r\n ", "")
    summaries = re.findall("SUMMARY:(.*)\r\n", text)
    for crop in ("butterhead", "oakleaf", "romaine"):
        assert any(re.match(rf"Seed \d+ trays? of {crop} ", s) for s in summaries)
        assert any(re.match(rf"Harvest \d+ heads of {crop} to leave ", s) for s in summaries)
    assert any(s.startswith("Surplus to food pantry: ") for s in summaries)
    romaine = [s for s in summaries if "plants of romaine seeded Mon Nov 9 " in s]
    assert len(romaine) == 2
