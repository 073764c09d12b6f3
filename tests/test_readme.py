"""The README tells the truth: its tables, its example output, its commands, its example file."""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from family import KINDS as GREENHOUSES
from family_table import RESULTS, markdown

from sim import cautions, load_scenario, run
from sim.records import COLUMNS, KINDS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{re.escape(language)}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def table(header: str) -> dict[str, str]:
    """The rows of the table under a header line, first cell without back quotes -> second."""
    after = README[README.index(header) :].splitlines()[2:]
    rows = {}
    for line in after:
        if not line.startswith("|"):
            break
        cells = [cell.strip() for cell in line.strip("|").split(" | ")]
        rows[cells[0].strip("` ")] = cells[1].strip()
    return rows


def test_first_paragraph_states_the_job():
    first = README.split("\n\n")[1]
    for word in ("greenhouse", "trays", "seed", "deliveries", "cadence"):
        assert word in first


def test_columns_and_kinds_are_those_of_the_code():
    assert table("| column | meaning |") == COLUMNS
    assert table("| kind | meaning |") == KINDS


def test_every_row_of_a_run_is_of_a_listed_kind():
    year = run(load_scenario(ROOT / "scenarios" / "maple-hollow-three-crops.toml"))
    assert set(year.rows["kind"]) <= set(KINDS)
    assert list(year.rows.columns) == list(COLUMNS)


def test_scenarios_listed_are_those_shipped_with_their_question():
    listed = table("| scenario | the question it answers |")
    assert set(listed) == {path.name for path in (ROOT / "scenarios").glob("*.toml")}
    for name, question in listed.items():
        opening = (ROOT / "scenarios" / name).read_text().replace("\n# ", " ")
        assert question in opening, name


def test_cautions_are_quoted():
    flat = re.sub(r"\s+", " ", README)
    for name in ("ESTIMATES", "COLD", "COLD_ROOM", "STUDENTS", "CHEMICALS", "ELECTRICITY"):
        assert getattr(cautions, name) in flat


def test_install_commands_are_one_line_each():
    commands = [*blocks("sh"), *blocks("sh test"), *blocks("bat")]
    assert len(commands) == 4
    assert all(len(command.strip().splitlines()) == 1 for command in commands)


def test_short_form_example_loads(tmp_path):
    (tmp_path / "maple-hollow.ics").write_bytes(
        (ROOT / "scenarios" / "maple-hollow.ics").read_bytes()
    )
    example = tmp_path / "mine.toml"
    example.write_text(blocks("toml")[0])
    assert load_scenario(example).cadence.lines[0].trays == {"Mon": 4, "Thu": 4}


def test_pictures_exist():
    for picture in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README):
        assert (ROOT / picture).stat().st_size > 10_000


@pytest.mark.parametrize("command", ["run", pytest.param("cadence", marks=pytest.mark.proof)])
def test_printed_answers_are_what_the_commands_print(command):
    """Word for word, but for the sentence that depends on today's date."""
    shown = next(b for b in blocks("text") if b.startswith(f"Maple Hollow: {TITLES[command]}"))
    ended = subprocess.run(
        [sys.executable, "-m", "sim", command, "scenarios/maple-hollow.toml"],
        capture_output=True, text=True, cwd=ROOT, env={**os.environ, "COLUMNS": "80"}, check=True,
    )  # fmt: skip
    printed = {paragraph(p) for p in ended.stdout.split("\n\n")}
    for said in shown.strip().split("\n\n"):
        if not said.startswith("Seed next"):
            assert paragraph(said) in printed, said


TITLES = {"run": "100 simulated years", "cadence": "the seeding cadence"}


def paragraph(text: str) -> str:
    return "\n".join(line.rstrip() for line in text.strip().splitlines())


def test_family_table_is_the_committed_result():
    """The table, row by row; a cadence was chosen wherever any that was tried meets the target."""
    with RESULTS.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(GREENHOUSES) >= 12
    assert markdown(rows) in README
    for row in rows:
        assert (row["verdict"] == "meets") == (row["any_meets"] == "yes")
