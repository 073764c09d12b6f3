"""What a school wrote down comes back as the rows of a run: nothing more, nothing less."""

from __future__ import annotations

import io
from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from counts_school import COLUMNS, DEMO, SHIPPED, cells, csv_of, school_form, year_of_records
from openpyxl import load_workbook
from worklist_example import bench

from sim.counts import Counts, read_counts
from sim.counts_missing import missing_in
from sim.greenhouse.plan import Plan
from sim.measures import Frame, by_kind, measures_of
from sim.records import KINDS
from sim.records_file import read_rows, write_rows
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.timetable import Timetable
from sim.weeks import crews_work, weekly_containers, weekly_counts, weekly_plants
from sim.worklist import work_of, worklist_answer
from sim.worklist_book import COUNTS, workbook
from sim.year import run

THREE_CROPS = DEMO.with_name("maple-hollow-three-crops.toml")
NO_CREW = DEMO.with_name("small-bench-summer.toml")
CARRIED = ("unit_fill_rate", "order_fill_rate", "steadiness", "heads_per_week", "wasted_plants")


def read(folder: Path, text: str, scenario: Scenario | None = None, **options: date) -> Counts:
    """The records in a text, of the small bench unless another scenario is given."""
    file = folder / "records.csv"
    file.write_text(text, encoding="utf-8")
    return read_counts(file, scenario or bench(folder).scenario, **options)


@cache
def year_of(path: Path):
    return run(load_scenario(path), seed=3)


def there_and_back(path: Path, folder: Path) -> tuple[list, Counts, Timetable]:
    """A simulated year's rows, and the same year written down by a school and read."""
    year, scenario = year_of(path), load_scenario(path)
    form = [COLUMNS, *map(cells, school_form(year.events, scenario.start))]
    return year.events, read(folder, csv_of(form), scenario), year.timetable


@pytest.mark.parametrize("path", [DEMO, THREE_CROPS, NO_CREW], ids=lambda path: path.stem)
def test_a_year_written_down_has_the_measures_of_the_year(path, tmp_path):
    """Deliveries, plants dumped and person-minutes are carried exactly.

    Clock times are written to the minute, and a part's plants are taken oldest first, so that the
    sites filled agree to a ten-thousandth.
    """
    rows, counts, table = there_and_back(path, tmp_path)
    assert counts.problems == ()
    assert counts.read == counts.in_file > 200
    wanted, found = measures_of(rows, table), measures_of(counts.rows, table)
    for name in CARRIED:
        assert found[name] == wanted[name], name
    assert found["labor_use"] == pytest.approx(wanted["labor_use"], rel=1e-9, nan_ok=True)
    assert found["bench_fill"] == pytest.approx(wanted["bench_fill"], abs=1e-4)
    assert found["useful_bench_share"] == pytest.approx(wanted["useful_bench_share"], abs=1e-4)


def test_a_year_written_down_has_the_weeks_of_the_year(tmp_path):
    """Weekly counts and person-minutes are equal; plants and containers within one."""
    rows, counts, table = there_and_back(DEMO, tmp_path)
    wanted, found, frame = by_kind(rows), by_kind(counts.rows), Frame.of(table)
    for name, numbers in weekly_counts(wanted, frame).items():
        assert np.array_equal(numbers, weekly_counts(found, frame)[name]), name
    minutes = crews_work(found, frame)
    for key, numbers in crews_work(wanted, frame).items():
        assert np.allclose(numbers, minutes[key]), key
    places = list(table.scenario.places)
    for weekly in (weekly_plants, weekly_containers):
        difference = weekly(wanted, frame, places) - weekly(found, frame, places)
        assert np.abs(difference).max() < 1


def test_a_year_written_down_puts_the_same_plants_on_the_benches(tmp_path):
    """Today's benches of the school's rows hold what those of the simulation hold."""
    from sim.benches_rows import benches_of

    rows, counts, _ = there_and_back(DEMO, tmp_path)
    plan = Plan(load_scenario(DEMO))
    for day in (60, 150, 200):
        benches = [benches_of(plan, of, day) for of in (rows, counts.rows)]
        stands = [{(s.batch, s.place, s.moved): s.plants for s in b.standing} for b in benches]
        assert stands[0] == stands[1]
        assert len(stands[0]) > 10


def test_what_a_form_cannot_carry_is_not_made_up(tmp_path):
    """Who does not write when plants are ready has no row of it; all other kinds come back."""
    rows, counts, _ = there_and_back(DEMO, tmp_path)
    kinds = Counter(row[1] for row in counts.rows)
    assert set(Counter(row[1] for row in rows)) - set(kinds) == {"finished"}


BY_HAND = """Date,What,Batch,Place,To,Count,Unit,Cause,Minutes,People present,Starts
1/5/2026,seeded,,,,1,trays,,15,1,9:00 am
1/12/2026,lost,1/5,nursery,,4,plants,did not come up,,,
1/12/2026,moved,1/5,nursery,bench,36,plants,,9,1,9:00 am
1/26/2026,lost,1/5,bench,,1,plants,wilted,,,
1/30/2026,harvested,1/5,,,30,heads,,30,1,9:00 am
1/30/2026,delivered,,,=HALL & <co>,28,heads,no ready heads,,,
1/31/2026,dumped,1/5,cold store,,2,heads,kept too long,,,
2/2/2026,dumped,1/5,bench,,5,heads,over-mature,,,
2/2/2026,washed,,,,4,channels,,8,1,9:00 am
1/20/2026,counted,1/5,bench,,35,plants,,,,
"""


def test_rows_by_hand(tmp_path):
    """A batch from the tray to the customer, every row worked out by hand.

    36 plants take 4 channels of 10 (rule P2). After one loss 35 stand in 4; 30 are cut, 5 left
    in ceil(5 x 4 / 35) = 1. Of 60 heads due on Friday Jan 30 at 3 pm, 32 are short.
    """
    counts = read(tmp_path, BY_HAND)
    batch, nine, end = ("lettuce 2026-01-05", "lettuce"), 0.375, 0.375 + 30 / 1440
    store = ("", "lettuce", "cold store", "", "", "=HALL & <co>")
    assert counts.problems == ()
    assert counts.rows == [
        (nine, "seeded", *batch, "nursery", "", "class", "", 40, 1, 15.0, 0.0, ""),
        (end, "shift", "", "", "", "", "class", "", 1, 0, 30.0, nine, ""),
        (7.0, "lost", *batch, "nursery", "", "", "", 4, 0, 0.0, nine, "did not come up"),
        (7 + nine, "moved", *batch, "nursery", "bench", "class", "", 36, 4, 9.0, nine, ""),
        (7 + nine, "emptied", *batch, "nursery", "", "", "", 0, 1, 0.0, 0.0, ""),
        (7 + nine, "freed", "", "", "nursery", "", "", "", 0, 1, 0.0, 0.0, ""),
        (7 + end, "shift", "", "", "", "", "class", "", 1, 0, 30.0, 7 + nine, ""),
        (21.0, "lost", *batch, "bench", "", "", "", 1, 0, 0.0, 7 + nine, "wilted"),
        (25 + nine, "harvested", *batch, "bench", "", "class", "", 30, 0, 30.0, 7 + nine, ""),
        (25 + nine, "emptied", *batch, "bench", "", "", "", 0, 3, 0.0, 0.0, ""),
        (pytest.approx(25 + end), "shift", *store[:1], "", "", "", "class", "", 1, 0, 30.0,
         25 + nine, ""),
        (25.625, "delivered", *batch, "cold store", "", "", "=HALL & <co>", 28, 0, 0.0,
         25 + nine, "no ready heads"),
        (25.625, "due", *store, 60, 0, 0.0, 0.0, ""),
        (25.625, "short", *store, 32, 0, 0.0, 0.0, "no ready heads"),
        (26.0, "dumped", *batch, "cold store", "", "", "", 2, 0, 0.0, 25 + nine, "kept too long"),
        (28.0, "emptied", *batch, "bench", "", "", "", 0, 1, 0.0, 0.0, ""),
        (28.0, "dumped", *batch, "bench", "", "", "", 5, 0, 0.0, 7 + nine, "over-mature"),
        (28 + nine, "washed", "", "", "bench", "", "class", "", 0, 4, 8.0, 0.0, ""),
        (28 + nine, "freed", "", "", "bench", "", "", "", 0, 4, 0.0, 0.0, ""),
        (pytest.approx(28 + end), "shift", "", "", "", "", "class", "", 1, 0, 30.0, 28 + nine, ""),
    ]  # fmt: skip
    (stand,) = counts.stands
    assert (stand.day, stand.batch, stand.place, stand.plants) == (
        date(2026, 1, 20), batch[0], "bench", 35,
    )  # fmt: skip
    assert [(k.kind, k.rows, k.count, k.containers, k.minutes) for k in counts.kinds] == [
        ("seeded", 1, 40, 1, 15), ("moved", 1, 36, 0, 9), ("lost", 2, 5, 0, 0),
        ("harvested", 1, 30, 0, 30), ("dumped", 2, 7, 0, 0), ("washed", 1, 0, 4, 8),
        ("delivered", 1, 28, 0, 0), ("counted", 1, 35, 0, 0),
    ]  # fmt: skip


def test_the_rows_are_in_the_programs_own_form(tmp_path):
    """They can be written and read like a run's, and their kinds are a run's."""
    counts, text = read(tmp_path, BY_HAND), io.StringIO()
    write_rows(counts.rows, counts.start, text)
    text.seek(0)
    assert read_rows(text, counts.start) == counts.rows
    assert {row[1] for row in counts.rows} <= KINDS.keys()


def test_a_work_lists_sheet_comes_back(tmp_path):
    """Its columns are understood; rows nobody filled in are blank, the others are read."""
    assert COLUMNS == COUNTS
    loaded = bench(tmp_path)
    week = work_of(loaded.scenario, monday=date(2026, 1, 5), today=date(2026, 1, 5), years=1)
    file = tmp_path / "worklist.xlsx"
    file.write_bytes(workbook(worklist_answer(loaded, week, 1)))
    untouched = read_counts(file, loaded.scenario)
    assert untouched.read_as == 'sheet "Counts"'
    assert untouched.in_file == untouched.blank > 12
    book = load_workbook(file)
    sheet = book["Counts"]
    row = next(r for r in range(2, sheet.max_row) if sheet.cell(r, 5).value == "seeded")
    for column, value in ((9, 1), (11, 15), (12, 1)):
        sheet.cell(row, column).value = value
    book.save(file)
    counts = read_counts(file, loaded.scenario)
    assert (counts.read, counts.blank, counts.problems) == (1, untouched.blank - 1, ())
    assert counts.rows[0][1:10] == (
        "seeded", "lettuce 2026-01-05", "lettuce", "nursery", "", "class", "", 40, 1,
    )  # fmt: skip


def test_the_shipped_year_of_records_is_read_to_its_last_row():
    """Every row is used, nothing is missing; nursery losses are not the demo's 10 percent."""
    counts = read_counts(SHIPPED, load_scenario(DEMO), today=date(2027, 6, 4))
    assert counts.problems == ()
    assert counts.read == counts.in_file > 1000
    assert (counts.first, counts.last) == (date(2026, 8, 24), date(2027, 6, 4))
    lost = sum(r[8] for r in counts.rows if (r[1], r[12]) == ("lost", "did not come up"))
    assert 0.11 < lost / sum(r[8] for r in counts.rows if r[1] == "seeded") < 0.15
    assert len(counts.stands) > 50
    assert missing_in(counts, Timetable(load_scenario(DEMO))) == []


def test_the_shipped_records_can_be_made_again_and_say_what_they_are():
    """`tests/counts_school.py` gives the file to the letter; its first row says it is invented."""
    text = SHIPPED.read_text(encoding="utf-8")
    assert text == year_of_records()
    assert "made by a simulation with other numbers than the demo's" in text.splitlines()[0]


def test_what_a_season_lacks_is_said(tmp_path):
    """Weeks outside the records, deliveries without a row, plants that never left, minutes."""
    text = "Date,What,Batch,Customer,Count\n1/5/2026,seeded,,,1\n2/6/2026,delivered,,hall,50\n"
    text += "2/20/2026,delivered,,hall,60\n3/30/2026,missed,,,1\n"
    counts = read(tmp_path, text)
    assert counts.problems == ()
    told = [one.what for one in missing_in(counts, Timetable(bench(tmp_path).scenario))]
    assert told == [
        "13 of 16 measured weeks with deliveries are outside the records, the first that of "
        "Mon Jan 5, 2026",
        "1 of 3 deliveries due have no row and count as not delivered: Fri Feb 13 =HALL & <co>",
        "no row says what was moved",
        "no row says what was lost",
        "no row says what was harvested",
        "40 plants of 1 batch came into nursery and, by the rows, never left: write what was "
        "moved, harvested, lost or dumped",
        "no row says what was dumped; if nothing was, nothing is missing",
        "1 of 1 rows seeded give no minutes",
        "people present are written down for 0 of 61 shifts",
    ]
    assert counts.ordered is not None
    assert (counts.ordered.due, counts.ordered.heads, counts.ordered.short) == (3, 180, 70)


def test_the_year_starts_before_the_benches(tmp_path):
    """A scenario that starts from today's benches reads its records from its school's first day."""
    scenario = bench(tmp_path).scenario
    from sim.benches import Benches

    later = scenario.model_copy(update={"benches": Benches(day=date(2026, 2, 2))})
    assert read(tmp_path, BY_HAND, later).rows == read(tmp_path, BY_HAND, scenario).rows


def test_people_of_one_shift_are_counted_once(tmp_path):
    """A shift's people stand in each of its rows; the largest number is kept, and told."""
    text = "Date,Starts,What,Count,Minutes,People\n1/5/2026,9:00 am,seeded,1,10,1\n"
    text += "1/5/2026,9:10 am,checks,1,5,2\n1/6/2026,,present,1,,\n1/10/2026,,present,3,90,\n"
    text += "1/11/2026,,present,3,,\n"
    counts = read(tmp_path, text)
    shifts = [(int(r[0]), r[8], r[10]) for r in counts.rows if r[1] == "shift"]
    assert shifts == [(0, 2, 60.0), (1, 1, 30.0), (5, 3, 90.0)]
    assert [(p.row, p.column) for p in counts.problems] == [(6, "Starts")]
    assert any("largest was kept (row 2)" in note for note in counts.notes)
    assert any("More people were present" in note and "(row 3)" in note for note in counts.notes)


def test_deliveries_need_no_harvest_written_down(tmp_path):
    """Where no harvest of a crop is written down, deliveries are read without a batch."""
    text = "Date,What,Customer,Count\n1/30/2026,delivered,,60\n2/6/2026,delivered,,0\n"
    counts = read(tmp_path, text)
    assert [(r[1], r[2], r[8]) for r in counts.rows] == [
        ("delivered", "", 60), ("due", "", 60), ("due", "", 60), ("short", "", 60),
    ]  # fmt: skip


def test_surplus_goes_to_its_outlet_or_to_nobody_known(tmp_path):
    """An outlet's heads are surplus however it is called; strangers are not kept by name."""
    text = "Date,What,Crop,Customer,Count\n10/2/2026,delivered,butterhead,pantry,10\n"
    text += "10/2/2026,given away,butterhead,Mrs. Somebody,3\n"
    counts = read(tmp_path, text, load_scenario(THREE_CROPS))
    assert counts.problems == ()
    assert [(r[1], r[7], r[8]) for r in counts.rows] == [
        ("surplus", "", 3), ("surplus", "food pantry", 10),
    ]  # fmt: skip
    assert "Somebody" not in str(counts)
