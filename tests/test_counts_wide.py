"""Tables with a column for each kind of work, and causes in free words."""

from __future__ import annotations

from pathlib import Path

import pytest
from counts_school import DEMO
from openpyxl import Workbook
from worklist_example import bench

from sim.counts import Counts, read_counts
from sim.counts_words import Causes
from sim.errors import RecordsError
from sim.scenario_file import load_scenario

WIDE = """Lettuce of the spring,,,,,,,,
No.,Date,Batch,Seeded (trays),Moved,Lost,Heads cut,Why,Minutes,Students present
1,1/5/2026,,4,,0,,,60,1
2,1/19/2026,1/5,-,140,20,,did not come up,35,1
3,2/6/2026,1/5,,,3,30,Ann dropped a tray,30,1
4,2/7/2026,,,,,,,,
,Total,,4,140,23,30,,125,
"""


def read(folder: Path, text: str | Workbook) -> Counts:
    """The records in a file of the small bench."""
    file = folder / ("r.csv" if isinstance(text, str) else "r.xlsx")
    if isinstance(text, str):
        file.write_text(text, encoding="utf-8")
    else:
        text.save(file)
    return read_counts(file, bench(folder).scenario)


def done(counts: Counts) -> list[tuple]:
    """Day, kind, place, count, minutes and cause of what was done."""
    kinds = ("seeded", "moved", "lost", "harvested", "finished", "delivered")
    return [(int(r[0]), r[1], r[4], r[8], r[10], r[12]) for r in counts.rows if r[1] in kinds]


EXPECTED = [
    (0, "seeded", "nursery", 160, 60.0, ""),
    (14, "lost", "nursery", 20, 0.0, "did not come up"),
    (14, "moved", "nursery", 140, 35.0, ""),
    (32, "lost", "bench", 3, 0.0, "dropped"),
    (32, "harvested", "bench", 30, 30.0, ""),
]


def test_each_number_in_a_column_of_its_kind_is_a_record(tmp_path):
    """Minutes go to the row's only work; a loss beside a move or a harvest is taken as lost there.

    0 and a dash are nothing done; a row without numbers is blank, the total set aside.
    """
    counts = read(tmp_path, WIDE)
    assert counts.problems == ()
    assert done(counts) == EXPECTED
    assert (counts.read, counts.in_file, counts.blank, counts.by_columns) == (5, 7, 1, True)
    assert counts.aside == ((7, "a total"),)
    told = " ".join(counts.notes)
    assert 'the columns "Seeded (trays)", "Moved", "Lost", "Heads cut" was read as a rec' in told
    assert 'Columns passed over and not kept: "No."' in told
    assert "were taken as lost there (rows 4, 5)" in told
    assert len([row for row in counts.rows if row[1] == "shift"]) == 3


def test_a_workbook_is_read_the_same(tmp_path):
    """Numbers, not text; the same records."""
    book = Workbook()
    for line in WIDE.splitlines():
        book.active.append([int(c) if c.isdecimal() else c or None for c in line.split(",")])
    assert done(read(tmp_path, book)) == EXPECTED


def test_what_cannot_be_is_refused_number_by_number(tmp_path):
    """The other numbers of the row stay read; every number is accounted for."""
    text = WIDE + "5,2/9/2026,1/5,,,7,900,,,\n6,2/10/2026,,,,,,,25,\n7,2/11/2026,,,,many,,,,\n"
    counts = read(tmp_path, text)
    told = [(p.row, p.column, p.value, p.must) for p in counts.problems]
    left = "at most 100, which is what is left of lettuce 2026-01-05 in bench"
    assert told == [
        (8, "Heads cut", "900", left),
        (9, "Seeded (trays)", "", "a number of what was done"),
        (10, "Lost", "many", "a number"),
    ]  # fmt: skip
    aside = len(counts.aside)
    assert counts.in_file == counts.read + counts.refused + counts.blank + aside == 11
    assert (counts.read, counts.refused) == (6, 3)


def test_minutes_of_several_kinds_of_work_are_left_out_and_told(tmp_path):
    """Nobody knows how much of the 90 minutes was seeding; what was seeded is a new batch."""
    text = "Date,Batch,Seeded,Moved,Minutes\n1/5/2026,,4,,60\n1/12/2026,1/5,2,140,90\n"
    counts = read(tmp_path, text)
    work = [(r[1], r[2], r[10]) for r in counts.rows if r[1] in ("seeded", "moved")]
    assert sorted(work) == [
        ("moved", "lettuce 2026-01-05", 0), ("seeded", "lettuce 2026-01-05", 60),
        ("seeded", "lettuce 2026-01-12", 0),
    ]  # fmt: skip
    told = " ".join(counts.notes)
    assert "nobody knows whose they are (row 3)" in told
    assert "taken as a new batch of that day (row 3)" in told


def test_ready_and_stands_have_columns_too(tmp_path):
    """0 ready is a look; plants counted alive are kept beside the rows; people have no work."""
    text = "Date,Batch,Place,Seeded,Moved,Ready,Alive,People\n1/5/2026,,,4,,,,1\n"
    text += "1/19/2026,1/5,nursery,,140,,150,1\n1/26/2026,1/5,bench,,,0,,1\n"
    text += "2/2/2026,1/5,bench,,,140,,1\n2/3/2026,,,,,,,1\n"
    counts = read(tmp_path, text)
    assert counts.problems == ()
    assert [(s.place, s.plants) for s in counts.stands] == [("nursery", 150)]
    looked = [(int(r[0]), r[4]) for r in counts.rows if r[1] == "checked"]
    assert looked == [(21, "bench")]
    assert [(int(r[0]), r[8]) for r in counts.rows if r[1] == "finished"] == [(28, 140)]
    assert len([r for r in counts.rows if r[1] == "shift"]) == 5
    assert counts.read == counts.in_file == 6


def test_a_column_of_a_kind_beside_the_column_what_is_passed_over_and_told(tmp_path):
    counts = read(tmp_path, "Date,What,Count,Lost\n1/5/2026,seeded,4,3\n")
    told = 'Columns passed over and not kept: "Lost". Numbers in them are lost: give each a row.'
    assert told in counts.notes


def test_of_two_columns_for_one_kind_one_is_passed_over_and_told(tmp_path):
    counts = read(tmp_path, "Date,Batch,Seeded,Lost,Died\n1/5/2026,,4,,\n1/9/2026,1/5,,3,4\n")
    told = 'Columns passed over and not kept: "Died". Numbers in them are lost: give each a row.'
    assert told in counts.notes


@pytest.mark.parametrize(
    "text",
    ["Batch,1/5/2026,1/12/2026\n1/5,4,5\n", "Date,nursery,bench\n1/5/2026,40,60\n"],
)
def test_a_column_for_each_date_or_place_is_refused_with_the_form_that_is_read(tmp_path, text):
    with pytest.raises(
        RecordsError, match=r"one with a column for each date or place is not: give"
    ):
        read(tmp_path, text)


# -- causes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("did not come up", "did not come up"), ("Damping off", "damping-off"), ("", ""),
        ("aphids!", "aphids"), ("Ann dropped a tray", "dropped"), ("tip burn", "tipburn"),
        ("power failure on Sunday", "power failure"), ("Mr. Lee forgot", "other"), ("?", ""),
        ("lost at transplant", "lost at transplant"), ("Ben", "other"), ("other", "other"),
    ],
)  # fmt: skip
def test_only_the_known_words_of_a_cause_are_kept(written, kept):
    """Of the scenario, the program's own, and plain words of the trade (common practice)."""
    assert Causes(load_scenario(DEMO)).find(written) == kept


def test_no_name_in_a_cause_is_kept_anywhere(tmp_path):
    """The rows say "other", and it is told in which; nothing repeats the words."""
    text = "Date,What,Batch,Place,Count,Cause\n1/5/2026,seeded,,,4,\n"
    text += "1/9/2026,lost,1/5,,3,Ann Lee sat on it\n1/12/2026,lost,1/5,,2,Ann Lee broken\n"
    counts = read(tmp_path, text)
    assert [r[12] for r in counts.rows if r[1] == "lost"] == ["other", "broken"]
    assert "Ann" not in str(counts)
    assert any('kept as "other"' in note and "(row 3)" in note for note in counts.notes)
    assert any("only the words that say" in note and "(row 4)" in note for note in counts.notes)
