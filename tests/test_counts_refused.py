"""What cannot be is refused row by row, with what it must be and what to do."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from counts_school import DEMO
from worklist_example import bench

from sim.counts import Counts, read_counts
from sim.errors import RecordsError
from sim.scenario import Scenario
from sim.scenario_file import load_scenario

THREE_CROPS = DEMO.with_name("maple-hollow-three-crops.toml")
HEAD = "Date,What,Crop,Batch,Place,To,Count,Unit,Cause,Minutes,People,Crew,Customer\n"
FIRST = "1/5/2026,seeded,,,,,4,trays,,,,,\n1/19/2026,moved,,1/5,,,140,,,,,,\n"


def read(folder: Path, text: str, scenario: Scenario | None = None, **options: date) -> Counts:
    """The records in a text, of the small bench unless another scenario is given."""
    file = folder / "r.csv"
    file.write_text(text, encoding="utf-8")
    return read_counts(file, scenario or bench(folder).scenario, **options)


def told(counts: Counts) -> list[str]:
    """The problems in one line each."""
    return [f"{p.row} {p.column} {p.value}: {p.must}; {p.remedy}" for p in counts.problems]


REFUSED = {
    "9/31/2026,washed,,,,,4,,,,,,": "4 Date 9/31/2026: a date of the calendar; write it as",
    "soon,washed,,,,,4,,,,,,": "4 Date soon: a date; write it as 2026-10-05 or 10/5/2026",
    ",washed,,,,,4,,,,,,": "4 Date : a date; write the date in every row",
    "1/4/2026,washed,,,,,4,,,,,,": "4 Date 1/4/2026: a date of the run, Mon Jan 5, 2026 to ",
    "1/20/2027,washed,,,,,4,,,,,,": "4 Date 1/20/2027: a date of the run",
    "2/20/2026,washed,,,,,4,,,,,,": "4 Date 2/20/2026: not after today, Tue Feb 10, 2026; mend",
    "1/20/2026,wahsed,,,,,4,,,,,,": 'surplus, present, counted; did you mean "washed"?',
    "1/20/2026,zzz,,,,,4,,,,,,": "write one of these words",
    "1/20/2026,,,,,,4,,,,,,": "4 What : one of seeded",
    "1/20/2026,short,,,,,4,,,,,,": "take the row out: orders, and what is missing, are worked out",
    "1/20/2026,seeded,basil,,,,4,,,,,,": '4 Crop basil: a crop of the scenario; choose from "lett',
    "1/20/2026,lost,,1/5,nursey,,4,,,,,,": '4 Place nursey: a place of the scenario; did you mean '
    '"nursery"?',
    "1/20/2026,delivered,,,,,4,,,,,,hal": '4 Customer hal: a customer of the scenario; choose fr',
    "1/20/2026,moved,,1/5,bench,nursery,1,,,,,,": "4 To nursery: a move of lettuce: from nursery",
    "1/20/2026,harvested,,1/5,nursery,,1,,,,,,": "4 Place nursery: bench, where lettuce is harves",
    "1/20/2026,lost,,1/5,cooler,,1,,,,,,": '4 Place cooler: a place where plants grow; write "dum',
    "1/20/2026,washed,,,,,,,,,,,": "4 Count : a number; write how many, or 0 if there were none",
    "1/20/2026,washed,,,,,-4,,,,,,": "4 Count -4: at least 0; write how many there were",
    "1/20/2026,washed,,,,,4.5,,,,,,": "4 Count 4.5: a whole number; count whole trays, plants",
    "1/20/2026,washed,,,,,about 4,,,,,,": "4 Count about 4: a number; write the number alone",
    "1/20/2026,washed,,,,,61,,,,,,": "4 Count 61: at most 60, which is all there are; count again",
    "1/20/2026,washed,,,,,4,plants,,,,,": "4 Count 4: counted in trays or channels, not in plants",
    "1/20/2026,moved,,1/5,,,4,trays,,,,,": "4 Count 4: counted in plants, not in trays or channe",
    "1/20/2026,moved,,1/5,,,4,boxes,,,,,": "4 Count 4: counted in trays, cells, plants, heads or",
    "1/20/2026,seeded,,,,,5,trays,,,,,": "4 Count 5: at most 4 trays, which is all the space there",
    "1/20/2026,seeded,,,,,0,trays,,,,,": '4 Count 0: at least 1; take the row out, or write "mis',
    "1/20/2026,washed,,,,,4,,,an hour,,,": "4 Minutes an hour: a number; write the number alone",
    "1/20/2026,washed,,,,,4,,,-5,,,": "4 Minutes -5: at least 0; write the person-minutes worked",
    "1/20/2026,moved,,1/5,,,21,,,,,,": "4 Count 21: at most 20, which is what is left of lettuce "
    "2026-01-05 in nursery; count again, or mend or add the earlier row that it lacks",
    "1/20/2026,harvested,,1/5,,,141,,,,,,": "4 Count 141: at most 140, which is what is left of",
    "1/20/2026,lost,,1/5,bench,,141,,,,,,": "4 Count 141: at most 140, which is what is left of",
    "1/20/2026,dumped,,,cold store,,1,,,,,,": None,
    "1/20/2026,counted,,1/5,bench,,141,,,,,,": "4 Count 141: at most 140, which is what can be l",
    "1/20/2026,lost,,1/12,nursery,,1,,,,,,": "4 Batch 1/12: a batch of lettuce with a row of its se"
    "eding; did you mean the one of Mon Jan 5, 2026? If not, add the row of its seeding, with the "
    "trays",
    "1/20/2026,lost,,B7,nursery,,1,,,,,,": "4 Batch B7: a batch of lettuce with a row of its see",
    "1/5/2026,lost,,1/5,,,1,,,,,,": None,
    "1/20/2026,lost,,1/5,,,1,,,,,,": "4 Place : a place: nursery, bench; write where they stood",
    "1/19/2026,moved,,1/5,,,140,,,,,,": "4 Date 1/19/2026: another record than row 3, which says t",
    "1/20/2026,present,,,,,x,,,,,,": "4 Count x: a number",
    "1/10/2026,present,,,,,1,,,,,,": "4 Starts : the time of a shift of that day; write the time",
}  # fmt: skip


@pytest.mark.parametrize(("row", "message"), REFUSED.items(), ids=lambda x: str(x)[:40])
def test_a_row_that_cannot_be_is_refused_with_a_remedy(tmp_path, row, message):
    """Row, column, value, what it must be, what to do; the rows before it stay read."""
    counts = read(tmp_path, HEAD + FIRST + row + "\n", today=date(2026, 2, 10))
    if message is None:  # allowed: nothing contradicts it
        assert told(counts) == []
        return
    (line,) = told(counts)
    assert message in line
    assert (counts.read, counts.refused, counts.in_file) == (2, 1, 3)


def test_more_left_the_cold_store_than_was_cut(tmp_path):
    """20 heads were cut: 21 cannot leave, nor 15 after 10."""
    text = HEAD + FIRST + "2/6/2026,cut,,1/5,,,20,,,,,,\n"
    first, second = "2/6/2026,sent,,,,,10,,,,,,hall\n", "2/7/2026,dumped,,,cooler,,15,,,,,,\n"
    for rows in (first.replace("10", "21"), first + second):
        (line,) = told(read(tmp_path, text + rows))
        assert "which is what is left of lettuce in cold store" in line


def test_a_batch_is_not_touched_before_it_was_seeded(tmp_path):
    counts = read(
        tmp_path, HEAD + FIRST + "2/9/2026,seeded,,,,,1,,,,,,\n2/2/2026,lost,,2/9,,,1,,,,,,"
    )
    (line,) = told(counts)
    assert line.startswith("5 Date 2/2/2026: not before Mon Feb 9, 2026, when this batch was see")


def test_a_seeding_that_was_refused_is_to_be_mended_first(tmp_path):
    """Rows of its batch do not suggest another one."""
    text = HEAD + "1/5/2026,seeded,,,,,many,,,,,,\n1/12/2026,seeded,,,,,1,,,,,,\n"
    lines = told(read(tmp_path, text + "1/19/2026,moved,,1/5,,,100,,,,,,\n"))
    assert len(lines) == 2
    assert "mend row 2 first, which says that it was seeded" in lines[1]


def test_trays_and_cells_of_a_seeding(tmp_path):
    """4 cells where 4 trays were meant are taken for trays, and that is told."""
    head = "Date,What,Trays,Cells\n"
    rows = "1/5/2026,seeded,1,\n1/6/2026,seeded,,120\n1/7/2026,seeded,1,38\n1/8/2026,seeded,,3\n"
    counts = read(tmp_path, head + rows + "1/9/2026,seeded,2,200\n")
    seeded = [(r[8], r[9]) for r in counts.rows if r[1] == "seeded"]
    assert seeded == [(40, 1), (120, 3), (38, 1), (120, 3)]
    assert "A seeding of so few was taken for trays, not cells (row 5)." in counts.notes
    assert "as many cells as 2 trays of 40 have; mend one of the two" in told(counts)[0]


def test_batches_by_their_own_codes_and_numbers(tmp_path):
    """Two batches of one day: "A" and "B", or by the number of their names."""
    text = HEAD + "1/5/2026,seeded,,A,,,1,,,,,,\n1/5/2026,seeded,,B,,,1,,,,,,\n"
    rows = "1/12/2026,lost,,b,,,3,,,,,,\n1/12/2026,lost,,lettuce 2026-01-05 (2),,,4,,,,,,\n"
    counts = read(tmp_path, text + rows + "1/12/2026,lost,,1/5,,,5,,,,,,\n")
    lost = [(r[2], r[8]) for r in counts.rows if r[1] == "lost"]
    assert counts.batches == ("lettuce 2026-01-05", "lettuce 2026-01-05 (2)")
    assert lost == [("lettuce 2026-01-05 (2)", 3)]
    assert [line.partition(";")[2] for line in told(counts)] == [
        " write which one: lettuce 2026-01-05, lettuce 2026-01-05 (2)"
    ] * 2


def test_a_harvest_without_a_batch_is_of_the_oldest(tmp_path):
    """Heads are cut from the oldest plants; losses without a batch are refused if there are two."""
    text = HEAD + FIRST + "1/12/2026,seeded,,,,,1,,,,,,\n1/26/2026,moved,,1/12,,,30,,,,,,\n"
    counts = read(tmp_path, text + "2/6/2026,cut,,,,,150,,,,,,\n2/6/2026,died,,,bench,,1,,,,,,\n")
    cut = [(r[2], r[8]) for r in counts.rows if r[1] == "harvested"]
    assert cut == [("lettuce 2026-01-05", 140), ("lettuce 2026-01-12", 10)]
    assert any("from the oldest batch that stood there (row 6)" in note for note in counts.notes)
    (line,) = told(counts)
    assert "write which one; lettuce 2026-01-05, lettuce 2026-01-12 stand in bench" in line


def test_names_of_a_scenario_by_a_part_of_them(tmp_path):
    """The customer with the word "hotel" is one; "channel" is where channels are."""
    text = "Date,What,Customer,Place,Count\n10/16/2026,delivered,hotel,,200\n"
    counts = read(tmp_path, text + "10/16/2026,washed,,channel,3\n", load_scenario(DEMO))
    assert counts.problems == ()
    assert {(r[4], r[7]) for r in counts.rows if r[1] in ("delivered", "washed")} == {
        ("cold store", "Brasswick hotel"), ("channels", ""),
    }  # fmt: skip


def test_a_crop_with_three_places_needs_to_say_where(tmp_path):
    """Romaine moves twice: a move must say from where or to where; one of them is enough."""
    scenario = load_scenario(THREE_CROPS)
    head = "Date,What,Crop,Batch,Place,To,Count\n8/27/2026,seeded,romaine,,,,1\n"
    for where, ok in (
        (",", False),
        ("nursery,", True),
        (",channels", False),
        (",nursery channels", True),
    ):
        counts = read(tmp_path, f"{head}9/8/2026,moved,romaine,8/27,{where},100\n", scenario)
        assert (counts.problems == ()) == ok, where
    assert "Crop : a crop of the scenario" in told(
        read(tmp_path, head + "8/31/2026,seeded,,,,,1\n", scenario)
    )[0]  # fmt: skip


NAMES = {
    "Student": "Ann Lee", "STUDENTS": "Ann, Ben", "Name": "Ann", "done by": "Ann L.", "Who": "ben",
    "Student names": "Ann", "Recorded by (initials)": "A.L.", "Teacher": "Mr. X",
}  # fmt: skip


@pytest.mark.parametrize(("heading", "name"), NAMES.items())
def test_a_column_of_names_is_refused_and_not_repeated(tmp_path, heading, name):
    """The whole file is refused; the message says which column to delete, without the name."""
    text = f'Date,What,Count,{heading}\n1/5/2026,seeded,1,\n1/6/2026,checks,1,"{name}"\n'
    with pytest.raises(RecordsError) as caught:
        read(tmp_path, text)
    message = str(caught.value)
    assert message.startswith(f'r.csv, row 3, column "{heading}": must not hold names of people')
    assert "Delete the column" in message
    assert name not in message.replace(heading, "")


@pytest.mark.parametrize(
    ("heading", "value"),
    [("Student", ""), ("Students", "11"), ("Who", "class"), ("Done by", "class, period 1"),
     ("Name", "lettuce"), ("Who", "all"), ("Students present", 9)],
)  # fmt: skip
def test_a_column_about_people_without_names_is_no_harm(tmp_path, heading, value):
    text = f'Date,What,Count,{heading}\n1/5/2026,seeded,1,"{value}"\n'
    assert read(tmp_path, text).in_file == 1


def test_a_name_in_a_column_of_counts_is_not_repeated(tmp_path):
    """A crew or a number of people that is none: the row is refused, the word is not shown."""
    for columns, cell in (("People present", "Ann and Ben"), ("Crew", "Ann Lee")):
        counts = read(tmp_path, f"Date,What,Count,{columns}\n1/5/2026,seeded,1,{cell}\n")
        (problem,) = counts.problems
        assert (problem.column, problem.value) == (columns, "(not shown)")
        assert "Ann" not in str(counts)


def test_notes_are_not_kept(tmp_path):
    """A column of notes is passed over, whatever is in it."""
    counts = read(tmp_path, "Date,What,Count,Notes\n1/5/2026,seeded,1,Ann did well\n")
    assert "Ann" not in str(counts)
    assert 'Columns passed over and not kept: "Notes".' in counts.notes
