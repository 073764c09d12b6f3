"""What `seedbeat counts` says: sentences first, then what was refused, by kind, and what lacks."""

from __future__ import annotations

import argparse
import csv
import json
import re
from pathlib import Path

import pytest
from counts_school import DEMO, SHIPPED
from rich.console import Console

from sim import screen
from sim.commands import base
from sim.commands.counts import COMMAND
from sim.errors import RecordsError
from sim.records_file import read_rows
from sim.report import json_text
from sim.scenario_file import load_scenario

MIXED = """Our lettuce
Date,What,Batch,To,Count,Cause,Minutes
8/24/2026,seeded,,,4,,60
9/7/2026,moved,8/24,channels,900,,
9/7/2026,moved,8/24,channels,700,,280
10/13/2026,cut,8/24,,90,,
10/13/2026,sent,,gate restaurants,80,no ready heads,
10/13/2026,sent,,Brasswik hotel,10,,

Total,,,,1780,,
"""


def answered(*args: object) -> dict:
    """The answer to these arguments."""
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    given = parser.parse_args(["counts", *map(str, args)])
    return COMMAND.answer(given)


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    file = tmp_path / "october.csv"
    file.write_text(MIXED)
    return file


def shown(answer: dict, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture) -> str:
    """The screen, 80 columns wide."""
    monkeypatch.setattr(
        screen, "_console", lambda: Console(width=80, markup=False, highlight=False)
    )
    screen.show(COMMAND.screen(answer))
    return capsys.readouterr().out


def test_sentences_come_first_then_the_refused_rows(mixed, monkeypatch, capsys):
    """How many were read, of when, how many were refused; then each of them with its remedy."""
    text = shown(answered(DEMO, mixed, "--today", "2026-11-01"), monkeypatch, capsys)
    flat = " ".join(text.split())
    assert flat.startswith("Maple Hollow: the records in october.csv Read 4 of 8 rows below the")
    for told in (
        "from Mon Aug 24, 2026 to Tue Oct 13, 2026: 1 batch seeded. Of the others 2 refused, 1 "
        "blank or not filled in, 1 set aside.",
        "REFUSED: 2 rows. Mend them in the file and give the command again",
        "From Tue Oct 13, 2026 to Tue Oct 13, 2026 80 of 336 heads ordered were delivered "
        "(23.8 %); 1 of 2 deliveries have no row and count as not delivered.",
        "How it was read: text (utf-8) with commas between its cells, headings in row 2.",
        "Set aside, as no records: row 10 (a total).",
        '"Minutes" was read as person-minutes',
        "4 Count 900 must be at most 800",
        'did you mean "Brasswick hotel"?',
        "seeded 1 800 cells in 4 trays 60",
        "What the measures lack",
    ):
        assert told in flat, told
    assert flat.index("Refused rows") < flat.index("What was read") < flat.index("Cautions")
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80


def test_pages_speak_plainly(mixed, monkeypatch, capsys):
    text = shown(answered(DEMO, mixed), monkeypatch, capsys)
    for word in ("luck", "container", "guarantee", "promise", "compliant", " nan", "None"):
        assert not re.search(word, text), word


def test_the_answer_says_how_to_end(mixed):
    """2 if a row was refused, 0 if all were used or set aside; the same answer, the same JSON."""
    refused = answered(DEMO, mixed, "--today", "2026-11-01", "--json")
    assert refused["exit_code"] == 2
    assert refused["lines"] == {
        "below_headings": 8, "read": 4, "refused": 2, "blank": 1, "set_aside": 1,
    }  # fmt: skip
    assert [problem["row"] for problem in refused["problems"]] == [4, 8]
    assert json.loads(json_text(refused)) == refused
    whole = answered(DEMO, SHIPPED, "--today", "2027-06-04")
    assert (whole["exit_code"], whole["problems"], whole["missing"]) == (0, [], [])


def test_rows_of_days_to_come_are_refused():
    """Of the shipped year only what lies before the given day."""
    answer = answered(DEMO, SHIPPED, "--today", "2026-12-31")
    assert answer["last_day"] == "2026-12-31"
    assert answer["lines"]["refused"] > 500
    assert {p["column"] for p in answer["problems"]} == {"Date"}


def test_out_writes_the_rows_in_the_programs_own_form(mixed, tmp_path):
    """records.csv is read like a run's rows; refused.csv lists every problem."""
    out = tmp_path / "out"
    answer = answered(DEMO, mixed, "--today", "2026-11-01", "--out", out)
    assert {"records.csv", "refused.csv", "kinds.csv", "run.json", "page.html"} == {
        path.name for path in out.iterdir()
    }
    rows = read_rows(out / "records.csv", load_scenario(DEMO).start)
    assert len(rows) == answer["events"]
    assert [row[1] for row in rows[:2]] == ["seeded", "moved"]
    with (out / "refused.csv").open(newline="") as file:
        assert [line["row"] for line in csv.DictReader(file)] == ["4", "8"]


def test_an_empty_log_says_so(tmp_path):
    """Headings and no row: nothing is written down yet; that is no error."""
    file = tmp_path / "empty.csv"
    file.write_text("\n".join(SHIPPED.read_text().splitlines()[:2]))
    answer = answered(DEMO, file)
    assert answer["exit_code"] == 0
    first = next(iter(COMMAND.screen(answer).sentences))
    assert first.startswith("Nothing is written down yet: there is no row below the headings of em")


def test_numbers_in_columns_of_their_kind_are_told_as_numbers(tmp_path):
    """Not as rows, as one row holds several."""
    file = tmp_path / "wide.csv"
    file.write_text("Date,Batch,Seeded,Moved,Lost\n8/24/2026,,4,,\n9/7/2026,8/24,,700,9000\n")
    answer = answered(DEMO, file, "--today", "2026-11-01")
    first, second, *_ = COMMAND.screen(answer).sentences
    assert first.startswith("Read 2 of 3 numbers below the headings")
    assert second.startswith("REFUSED: 1 number. Mend it in the file")


def test_nothing_is_written_of_a_file_that_cannot_be_read(tmp_path):
    with pytest.raises(RecordsError, match="there is no such file"):
        answered(DEMO, tmp_path / "none.csv", "--out", tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []
