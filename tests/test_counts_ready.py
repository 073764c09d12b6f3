"""Rows that say when plants were seen ready: read, balanced, and what they tell of days."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import pytest
from counts_school import COLUMNS, DEMO, cells, csv_of, ready_rows, school_form
from openpyxl import Workbook, load_workbook
from worklist_example import bench

from sim.calibration import calibrate
from sim.calibration_seen import Season
from sim.counts import Counts, read_counts
from sim.counts_entries import SEEN_READY
from sim.records import Row
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.timetable import Timetable
from sim.worklist import work_of, worklist_answer
from sim.worklist_book import workbook
from sim.year import run

HEAD = "Date,What,Batch,Place,Count,Minutes\n"
MOVED = "1/5/2026,seeded,,,4,60\n1/19/2026,moved,1/5,,140,35\n"


def read(folder: Path, text: str, scenario: Scenario | None = None) -> Counts:
    """The records in a text, of the small bench unless another scenario is given."""
    file = folder / "r.csv"
    file.write_text(text, encoding="utf-8")
    return read_counts(file, scenario or bench(folder).scenario)


def ready(counts: Counts) -> list[Row]:
    return [row for row in counts.rows if row[1] == "finished"]


@pytest.mark.parametrize("word", ["ready", "Ready to harvest", "finished", "ripe", "seen ready"])
def test_a_row_says_that_plants_are_ready(tmp_path, word):
    """The row of a run: when, since when the plants are there, how many the rows leave of them."""
    counts = read(tmp_path, HEAD + MOVED + f"2/2/2026,{word},1/5,bench,140,\n")
    assert counts.problems == ()
    batch = "lettuce 2026-01-05", "lettuce", "bench"
    assert ready(counts) == [
        (28.25, "finished", *batch, "", "", "", 140, 0, 0.0, 14.5, SEEN_READY)
    ]  # fmt: skip
    (kind,) = (kind for kind in counts.kinds if kind.kind == "ready")
    assert (kind.rows, kind.count) == (1, 140)


def test_without_a_number_all_of_the_batch_are_ready(tmp_path):
    """What is assumed is told; the place is the only one where the batch stands."""
    text = HEAD + MOVED + "1/20/2026,lost,1/5,nursery,20,\n2/2/2026,ready,1/5,,,5\n"
    counts = read(tmp_path, text)
    assert counts.problems == ()
    assert [row[8] for row in ready(counts)] == [140]
    assert any("was taken for all of the batch" in n and "(row 5)" in n for n in counts.notes)
    looks = [row for row in counts.rows if row[1] == "checked"]
    assert [(row[4], row[8], row[10]) for row in looks] == [("bench", 0, 5.0)]


def test_what_is_ready_may_come_in_parts_and_is_ready_once(tmp_path):
    """Two parts, moved on two days; the first is written again, which changes nothing."""
    text = HEAD + MOVED + "1/21/2026,moved,1/5,,20,\n2/2/2026,ready,1/5,bench,140,\n"
    text += "2/4/2026,ready,1/5,bench,20,\n2/5/2026,ready,1/5,bench,160,\n"
    counts = read(tmp_path, text)
    assert [(row[0], row[8], int(row[11])) for row in ready(counts)] == [
        (28.25, 140, 14), (30.25, 20, 16),
    ]  # fmt: skip
    assert any("written ready again" in note and "(row 7)" in note for note in counts.notes)
    assert (counts.read, counts.problems) == (6, ())


REFUSED = {
    "2/2/2026,ready,1/5,bench,141,": "Count 141 at most 140, which is what is left of",
    "2/2/2026,ready,1/5,,160,": "Place - a place: nursery, bench write where they stood",
    "2/2/2026,ready,1/12,bench,10,": "Batch 1/12 a batch of lettuce with a row of its seeding",
    "2/2/2026,ready,1/5,bench,14 channels,": "Count 14 channels counted in plants, not in trays",
    "1/4/2026,ready,1/5,bench,14,": "Date 1/4/2026 a date of the run",
    "2/2/2026,ready,,,0,": "Place - a place write where you looked",
    "2/2/2026,ready,1/5,cooler,9,": "Place cooler a place where plants grow",
}


@pytest.mark.parametrize(("row", "message"), REFUSED.items())
def test_what_cannot_be_ready_is_refused(tmp_path, row, message):
    """More than stand there, an unknown batch, no place, channels instead of plants."""
    counts = read(tmp_path, HEAD + MOVED + row + "\n")
    (problem,) = counts.problems
    told = f"{problem.column} {problem.value or '-'} {problem.must} {problem.remedy}"
    assert told.startswith(message)
    assert (counts.read, counts.refused) == (2, 1)


def test_nothing_of_a_batch_that_is_gone_can_be_ready(tmp_path):
    text = HEAD + MOVED + "2/3/2026,cut,1/5,,140,\n2/4/2026,ready,1/5,bench,,\n"
    (problem,) = read(tmp_path, text).problems
    assert problem.must.startswith("at most 0, which is what is left of lettuce 2026-01-05 in ben")


def test_ready_and_cut_on_one_day(tmp_path):
    """What is seen ready is seen before the work of the day."""
    text = HEAD + MOVED + "2/2/2026,cut,1/5,,140,\n2/2/2026,ready,1/5,bench,140,\n"
    counts = read(tmp_path, text)
    assert counts.problems == ()
    kinds = [row[1] for row in counts.rows if row[1] in ("finished", "harvested")]
    assert kinds == ["finished", "harvested"]


def test_a_work_lists_sheet_takes_rows_that_say_ready(tmp_path):
    """In one of its free rows, with or without a number; rows not filled in stay blank."""
    loaded = bench(tmp_path)
    week = work_of(loaded.scenario, monday=date(2026, 1, 5), today=date(2026, 1, 5), years=1)
    file = tmp_path / "worklist.xlsx"
    file.write_bytes(workbook(worklist_answer(loaded, week, 1)))
    book = load_workbook(file)
    sheet = book["Counts"]
    seeded = next(r for r in range(2, sheet.max_row) if sheet.cell(r, 5).value == "seeded")
    sheet.cell(seeded, 9).value = 1
    for column, value in ((1, date(2026, 1, 12)), (4, date(2026, 1, 5)), (5, "ready")):
        sheet.cell(sheet.max_row, column).value = value
    book.save(file)
    counts = read_counts(file, loaded.scenario)
    assert (counts.read, counts.problems) == (2, ())
    assert [(row[4], row[8]) for row in ready(counts)] == [("nursery", 40)]


# -- and what it tells -----------------------------------------------------------------------------


@cache
def hidden_year() -> tuple[list[Row], list[tuple]]:
    """A year of the demo in which heads take 31 days, and the school's rows of it."""
    scenario = load_scenario(DEMO)
    nursery, channels = scenario.crops["lettuce"].stages
    slow = channels.model_copy(update={"days": 31.0})
    crops = {"lettuce": scenario.crops["lettuce"].model_copy(update={"stages": (nursery, slow)})}
    events = run(scenario.model_copy(update={"crops": crops}), seed=11).events
    return events, school_form(events, scenario.start)


def written(folder: Path, more: list[tuple], *, xlsx: bool = False) -> Counts:
    """What is read of the school's rows and more of them, as CSV or as a workbook."""
    scenario = load_scenario(DEMO)
    rows = [row for row in hidden_year()[1] + more if row[0] <= scenario.school.last_day]
    file = folder / ("r.xlsx" if xlsx else "r.csv")
    if xlsx:
        book = Workbook()
        for row in (COLUMNS, *rows):
            book.active.append(row)
        book.save(file)
    else:
        file.write_text(csv_of([COLUMNS, *map(cells, rows)]), encoding="utf-8")
    return read_counts(file, scenario)


def to_a_second(row: Row) -> tuple:
    """A row with its person-minutes to a hundredth."""
    return *row[:10], round(row[10], 2), *row[11:]


def test_a_simulated_year_with_walks_written_down_tells_the_days_of_the_last_stage(tmp_path):
    """Heads take 31 days, not the demo's 28: two walks a week find it, as CSV and as .xlsx.

    The estimate is within .5 days of the mean in the run's own rows, which know the day itself
    (the luck of the year is in both); limits of a length are 3 or 4 days wide.
    """
    events, _ = hidden_year()
    scenario = load_scenario(DEMO)
    table = Timetable(scenario)
    walks = {day for day in range(285) if table.date_of(day).weekday() in (0, 3)}
    walked = ready_rows(events, scenario.start, "channels", walks)
    counts = written(tmp_path, walked)
    assert counts.problems == ()
    book = written(tmp_path, walked, xlsx=True)
    assert book.read_as.startswith("sheet")
    assert [to_a_second(row) for row in book.rows] == [to_a_second(row) for row in counts.rows]
    (days,) = (n for n in calibrate(table, counts.rows).numbers if n.path[3:] == (1, "days"))
    own = Season.of([row for row in events if row[0] < 285], (), table).stage("lettuce", 1)
    assert days.moved
    assert days.count > 50
    assert abs(days.new - own.lengths.middles.mean()) < 0.5
    assert abs(days.new - 31.0) < 2 * (days.high - days.low)


# -- by hand ---------------------------------------------------------------------------------------

SEEDED = "1/5/2026,seeded,,,1,\n1/12/2026,moved,1/5,,40,\n1/12/2026,seeded,,,1,\n"
SEEDED += "1/15/2026,checks,,,1,\n1/19/2026,moved,1/12,,40,\n"
SEEDED += "1/19/2026,checks,,,1,\n1/20/2026,checks,,,1,\n"


def limits(folder: Path, text: str, stage: int = 1) -> list[tuple[float, float]]:
    """Limits of the stage's lengths [days]."""
    counts = read(folder, HEAD + SEEDED + text)
    assert counts.problems == ()
    seen = Season.of(counts.rows, (), Timetable(bench(folder).scenario)).stage("lettuce", stage)
    return list(zip(seen.lengths.low, seen.lengths.high, strict=True))


def test_people_look_on_the_weekdays_on_which_they_write_ready(tmp_path):
    """Moved on Monday the 12th, seen ready on Tuesday the 27th; the visit before is on the 26th.

    Nobody writes ready on Mondays, so that the last look was on Tuesday the 20th: 8.5 to 15.5
    days; with a row of 0 on the 26th it is 14.5 to 15.5. The other batch still grows.
    """
    seen = "1/26/2026,checks,,,1,\n1/27/2026,ready,1/5,bench,40,\n"
    assert limits(tmp_path, seen)[0] == (8.5, 15.5)
    assert limits(tmp_path, seen + "1/26/2026,ready,,bench,0,\n")[0] == (14.5, 15.5)
    assert limits(tmp_path, seen)[1] == (8.5, float("inf"))


def test_who_stops_writing_ready_is_not_taken_to_have_looked(tmp_path):
    """Batch 1/12 is cut without a word; 1/19 has grown since, and nobody looked after the 27th."""
    text = "1/26/2026,moved,1/19,,40,\n1/19/2026,seeded,,,1,\n1/27/2026,ready,1/5,bench,40,\n"
    text += "2/5/2026,cut,1/12,,40,\n2/10/2026,checks,,,1,\n"
    assert limits(tmp_path, text) == [(8.5, 15.5), (1.5, float("inf"))]
    going_on = text + "2/11/2026,ready,1/19,bench,40,\n"
    assert limits(tmp_path, going_on)[-1] == (15.5, 16.5)


def test_a_move_tells_it_of_batches_that_nobody_wrote_of(tmp_path):
    """In the nursery 1/5 was seen ready on the day of its move; of 1/12 only the move tells."""
    text = "1/12/2026,ready,1/5,nursery,40,\n"
    assert limits(tmp_path, text, stage=0) == [(-float("inf"), 7.5), (3.5, 7.5)]
