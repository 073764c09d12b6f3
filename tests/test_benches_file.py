"""Today's benches as a file: read as written, refused with one clear message, and a form for it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from openpyxl import Workbook
from test_why import weekly

from sim.benches import Benches, Standing, Stored, ToClean, ToSeed
from sim.benches_expected import Expected, expected
from sim.benches_file import benches_csv, read_benches, starting_from, with_benches
from sim.benches_form import BLANK, benches_answer, form, sentences, tables
from sim.benches_rows import benches_of
from sim.errors import RecordsError, SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.scenario_file import LoadedScenario, load_scenario, read_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = SCENARIOS / "maple-hollow.toml"
EXAMPLE = SCENARIOS / "maple-hollow-benches.csv"
HEAD = "counted on,2026-10-12\nwhat,batch,crop,place,channels,plants,seeded on,moved on,ready\n"
DAY = date(2026, 10, 12)


def written(folder: Path, rows: str, head: str = HEAD) -> Path:
    file = folder / "mine.csv"
    file.write_text(head + rows)
    return file


def one(folder: Path, row: str, head: str = HEAD) -> Standing:
    """The plants of the only row."""
    (found,) = read_benches(written(folder, row, head), weekly()).standing
    return found


def to_the_minute(benches: Benches) -> Benches:
    """The same, without the seconds of the moments at which heads were stored."""
    lots = [
        lot.model_copy(update={"since": lot.since.replace(second=0, microsecond=0)})
        for lot in benches.stored
    ]
    return benches.model_copy(update={"stored": tuple(lots)})


def test_what_a_simulation_leaves_is_read_back_as_it_was(tmp_path: Path) -> None:
    """Written and read again, the benches of five days of the demo are the same, to the minute."""
    scenario = load_scenario(DEMO)
    plan = Plan(scenario)
    rows, stored = run_year(plan, 1, 0), 0
    for day in (30, 80, 115, 123, 200):
        benches = benches_of(plan, rows, day)
        file = tmp_path / "benches.csv"
        file.write_text(benches_csv(benches, scenario, "a note,\nin two lines"))
        assert read_benches(file, scenario) == to_the_minute(benches)
        stored += len(benches.stored)
    assert len(benches.standing) > 5
    assert stored


def test_every_kind_of_row_is_read_back(tmp_path: Path) -> None:
    """Ready plants, living counts, dirty and dumped channels, stored heads, trays to be seeded."""
    benches = Benches(
        day=DAY,
        standing=(
            Standing(
                crop="bibb", place="channels", plants=12, containers=4, living=True, batch="mine",
                seeded=date(2026, 9, 14), moved=date(2026, 9, 21), ready=date(2026, 10, 5),
            ),
            Standing(
                crop="bibb", place="nursery", plants=10, containers=1, seeded=date(2026, 10, 5),
                moved=date(2026, 10, 5),
            ),
        ),
        to_clean=(ToClean(place="channels", to_clear=1, to_wash=2),),
        stored=(Stored(crop="bibb", heads=7, since=datetime(2026, 10, 9, 9, 30)),),
        to_seed=(ToSeed(crop="bibb", trays=1, day=date(2026, 10, 11)),),
    )  # fmt: skip
    file = tmp_path / "benches.csv"
    file.write_text(benches_csv(benches, weekly()))
    assert read_benches(file, weekly()) == benches


def test_the_shipped_example_says_that_it_is_simulated_and_runs() -> None:
    """It begins with that, agrees with the demo, and a run starts from it."""
    assert EXAMPLE.read_text().startswith("# Made by a simulation")
    loaded = with_benches(read_scenario(DEMO), EXAMPLE)
    assert loaded.scenario.start == date(2027, 1, 11)
    assert any(row[1] == "delivered" for row in run_year(Plan(loaded.scenario), 1, 0))


def test_empty_cells_have_the_meaning_that_is_said(tmp_path: Path) -> None:
    """No crop: the only one. No plants in trays: all cells. No moved on there: the seeding."""
    found = one(tmp_path, ",,,trays,1,,2026-10-05,,\n")
    assert (found.crop, found.place, found.plants) == ("bibb", "nursery", 10)
    assert (found.moved, found.ready, found.living) == (date(2026, 10, 5), None, False)
    assert one(tmp_path, ",,,nursery,1,9,2026-10-05,,\n").living
    assert one(tmp_path, ",,,channels,,9,9/14/2026,9/21/2026,\n").containers is None


def test_ready_without_a_date_is_since_the_mean_length(tmp_path: Path) -> None:
    """14 days after they were moved in, or that very day if that is yet to come; and it is told."""
    loaded = LoadedScenario(weekly(), (), {}, (), Path("weekly.toml"))
    for moved, ready in (("2026-09-21", date(2026, 10, 5)), ("2026-10-02", DAY)):
        file = written(tmp_path, f",,,channels,2,9,2026-09-14,{moved},yes\n")
        found = with_benches(loaded, file)
        assert found.scenario.benches is not None
        assert found.scenario.benches.standing[0].ready == ready
        (assumed,) = found.assumed
        assert assumed.key == "mine.csv, row 3, ready"
        assert assumed.value == str(ready)


def test_zero_is_not_there_and_notes_are_passed_over(tmp_path: Path) -> None:
    """A row that counts 0, an empty row and a row that begins with # say nothing."""
    rows = ",,,channels,0,0,2026-09-14,2026-09-21,\n,,,,,,,,\n# gone\n"
    assert read_benches(written(tmp_path, rows), weekly()).standing == ()


def test_a_workbook_is_read_like_text(tmp_path: Path) -> None:
    """The same cells in .xlsx, with dates as dates."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["counted on", DAY])
    sheet.append(["crop", "place", "channels", "plants", "seeded on", "moved on", "ready"])
    sheet.append(["bibb", "channels", 2, 9, date(2026, 9, 14), date(2026, 9, 21), "no"])
    book.save(tmp_path / "mine.xlsx")
    found = read_benches(tmp_path / "mine.xlsx", weekly())
    assert found.day == DAY
    assert [(s.plants, s.moved) for s in found.standing] == [(9, date(2026, 9, 21))]


def test_the_day_may_stand_beside_the_file(tmp_path: Path) -> None:
    """Given, in a line, or in a column; two days are refused, and so is none."""
    row = "bibb,channels,9,2026-09-14,2026-09-21"
    head = "crop,place,plants,seeded on,moved on"
    bare = written(tmp_path, f"{row}\n", f"{head}\n")
    assert read_benches(bare, weekly(), DAY).day == DAY
    with pytest.raises(RecordsError, match=r"it says none; write the day in the first line"):
        read_benches(bare, weekly())
    column = written(tmp_path, f"{row},2026-10-12\n", f"{head},counted on\n")
    assert read_benches(column, weekly()).day == DAY
    with pytest.raises(RecordsError, match="--on say Mon Oct 12, 2026 and Tue Oct 13, 2026"):
        read_benches(column, weekly(), date(2026, 10, 13))


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (",,bib,channels,2,9,2026-09-14,2026-09-21,", 'column "crop": .*it is "bib".*mean "bibb"'),
        (",,bibb,chanels,2,9,2026-09-14,2026-09-21,", 'column "place".*mean "channels"'),
        (",,bibb,channels,1,9,2026-09-14,2026-09-21,", 'column "plants".*at most 5, the sites'),
        (",,bibb,channels,2,9,2026-10-12,2026-10-12,", 'column "seeded on".*before Mon Oct 12'),
        (",,bibb,channels,2,9,2024-09-14,2026-09-21,", 'column "seeded on".*look at the year'),
        (",,bibb,channels,2,9,2026-09-14,2026-09-01,", 'column "moved on".*2026-09-14, when'),
        (",,bibb,channels,2,9,2026-09-14,,", 'column "moved on".*a date, but the cell is empty'),
        (",,bibb,channels,2,9,2026-09-14,2026-09-21,2026-10-13", 'column "ready".*a date from'),
        (",,bibb,channels,2,some,2026-09-14,2026-09-21,", 'column "plants".*number.*"some"'),
        ("washed,,,channels,2,,,,", 'column "what": must be one of growing, to wash'),
        ("stored,,bibb,,,7,,2026-10-12,", 'column "moved on".*before Mon Oct 12'),
        ("to wash,,,channels,9,,,,", "channels: must be at most 8 channels.*add up to 9"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_is_refused_with_where_and_what_to_do(
    tmp_path: Path, row: str, message: str
) -> None:
    """File, row, column, what it must be, what it was, and what to do about it."""
    with pytest.raises(RecordsError, match=message) as error:
        read_benches(written(tmp_path, f"{row}\n"), weekly())
    where = "mine.csv: " if row.startswith("to wash") else "mine.csv, row 3, "
    assert str(error.value).startswith(where)


def test_the_first_ten_problems_are_told_at_once(tmp_path: Path) -> None:
    """Twelve bad rows: ten lines, and how many more."""
    rows = ",,bibb,channels,2,many,2026-09-14,2026-09-21,\n" * 12
    with pytest.raises(RecordsError) as error:
        read_benches(written(tmp_path, rows), weekly())
    lines = str(error.value).splitlines()
    assert len(lines) == 11
    assert lines[-1] == "and 2 more"


def test_a_table_of_something_else_is_refused(tmp_path: Path) -> None:
    """Without the headings that are needed the message names them and how to come by them."""
    file = written(tmp_path, "", "crop,price\nbibb,2\n")
    with pytest.raises(RecordsError, match=r"place, plants are missing; .*seedbeat benches --out"):
        read_benches(file, weekly())


def test_benches_after_the_end_of_the_scenario_are_refused() -> None:
    """A day after the last planned one is told in the words of the scenario's own check."""
    late = Benches(day=date(2027, 10, 1))
    with pytest.raises(RecordsError, match="there: must not be after 2026-12-18"):
        starting_from(weekly(), late, "there")


# -- what is expected, and the form -----------------------------------------------------------


def test_without_luck_what_is_expected_is_what_stands_there() -> None:
    """The same plants, places and dates as one simulated year leaves; every year has them."""
    scenario = weekly()
    plan = Plan(scenario)
    number = plan.timetable.day_of(DAY)
    there = benches_of(plan, run_year(plan, 1, 0), number)
    found = expected(scenario, DAY, years=3)
    said = {(s.batch, s.place, s.plants, s.moved, s.ready) for s in found.benches.standing}
    assert said == {(s.batch, s.place, s.plants, s.moved, s.ready) for s in there.standing}
    assert found.there == (3,) * len(there.standing)


def test_what_is_expected_is_near_the_means_of_the_years() -> None:
    """Containers in the channels: the rows add up to the mean of 10 years within a tenth."""
    scenario, day = load_scenario(DEMO), date(2027, 1, 11)
    plan = Plan(scenario)
    number = plan.timetable.day_of(day)
    years = [benches_of(plan, run_year(plan, 1, n), number) for n in range(10)]
    mean = sum(s.containers or 0 for b in years for s in b.standing if s.place == "channels") / 10
    found = expected(scenario, day, years=10).benches
    rows = sum(s.containers or 0 for s in found.standing if s.place == "channels")
    assert rows == pytest.approx(mean, rel=0.1)


@pytest.mark.parametrize("day", [date(2026, 8, 31), date(2029, 1, 1)])
def test_a_day_outside_the_run_is_refused(day: date) -> None:
    """The first day, on which nothing stands there, and one after the end."""
    with pytest.raises(SeedbeatError, match="must be a day of the run after its first"):
        expected(weekly(), day, years=1)


class Checked(HTMLParser):
    """Notes tags, what loads something, and the text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str | None] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag, and where it leads."""
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href")]

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.text += data


@cache
def demo_form() -> tuple[Expected, str, LoadedScenario]:
    loaded = read_scenario(DEMO)
    found = expected(loaded.scenario, date(2027, 1, 11), years=4)
    return found, form(benches_answer(loaded, found, 1)), loaded


def test_the_form_has_a_row_for_each_batch_and_free_rows() -> None:
    """Every batch expected, free rows for each place, nothing that loads or runs."""
    found, page, loaded = demo_form()
    checked = Checked(page)
    assert not {"script", "img", "iframe", "form", "input"} & set(checked.tags)
    assert checked.links == ["data:,"]
    places = len(loaded.scenario.places)
    rows = len(found.benches.standing) + BLANK * places + places + 2  # with headings, and the store
    assert checked.tags.count("tr") == rows
    for s in found.benches.standing:
        assert s.batch in checked.text


def test_the_filled_in_file_reads_back_as_what_is_expected(tmp_path: Path) -> None:
    """Left as it is, the file says what the simulation expects."""
    found, _, loaded = demo_form()
    file = tmp_path / "benches.csv"
    file.write_text(benches_csv(found.benches, loaded.scenario, "expected"))
    assert read_benches(file, loaded.scenario) == found.benches


def test_the_list_is_told_in_sentences_and_a_table_for_each_place() -> None:
    """Batches are counted, and each stands in the table of its place."""
    found, _, loaded = demo_form()
    answer = benches_answer(loaded, found, 1)
    first, _ = sentences(answer)
    assert f"{len(found.benches.standing)} batches" in first
    assert sum(len(t.rows) for t in tables(answer)) >= len(found.benches.standing)


def print_size(page: str) -> float:
    """The size of print of a page [pt]."""
    found = re.search(r"body { font-size: ([0-9.]+)pt", page)
    assert found
    return float(found[1])


def test_print_grows_small_only_as_far_as_needed() -> None:
    """More than eight points for the demo's batches; for four times as many the smallest, six."""
    found, few, loaded = demo_form()
    rows = found.benches.standing * 4
    benches = found.benches.model_copy(update={"standing": rows})
    many = replace(found, benches=benches, there=found.there * 4, ready=found.ready * 4)
    assert print_size(few) > 8.0
    assert print_size(form(benches_answer(loaded, many, 1))) == 6.0
