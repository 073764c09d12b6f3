"""`seedbeat calibrate`: the new scenario file, the command, its words and its pictures."""

from __future__ import annotations

import argparse
import csv
import json
import re
from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from sim.agreement import KeyPath
from sim.calibration_file import is_own_table, ready, write_new
from sim.calibration_toml import Change, copied, what_if
from sim.commands import base
from sim.commands.calibrate import COMMAND
from sim.errors import OutputError, RecordsError
from sim.plots_page import INK
from sim.records_file import write_rows
from sim.report import json_text
from sim.scenario_file import LoadedScenario, read_scenario
from sim.telling import Screen
from sim.year import run

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO, COUNTS = SCENARIOS / "maple-hollow.toml", SCENARIOS / "maple-hollow-counts.csv"
SHIPPED = sorted(SCENARIOS.glob("*.toml"))
NOTE = "measured here, n = 12 batches"


@cache
def loaded(path: Path) -> LoadedScenario:
    return read_scenario(path)


def paths_of(of: LoadedScenario) -> list[KeyPath]:
    """The keys of all numbers that records may move, and of the shapes."""
    keys = ("days", "days_sd", "days_shape", "loss_percent", "loss_sd_points")
    found: list[KeyPath] = []
    for name, crop in of.scenario.crops.items():
        for number, stage in enumerate(crop.stages):
            at: KeyPath = ("crops", name, "stages", number)
            found += [(*at, key) for key in keys]
            found += [(*at, "move_loss_percent")] if number else []
            if stage.bad_event:
                event: KeyPath = (*at, "bad_event")
                found += [(*event, "percent_of_batches"), (*event, "loss_percent")]
    found += [("tasks", name, "minutes_each") for name in of.scenario.tasks]
    return found + [("crews", name, "absent_percent") for name in of.scenario.crews]


def value_of(path: KeyPath) -> float | str:
    """A value that is allowed whatever the others are."""
    if path[-1] == "days_shape":
        return "gamma"
    values = {"days": 17.35, "days_sd": 1.27, "loss_percent": 12.64, "loss_sd_points": 0.03}
    return values.get(str(path[-1]), 6.25)


def comments(text: str) -> list[str]:
    """The comments of a TOML text without quoted marks, as they stand."""
    return re.findall(r"#.*$", text, re.MULTILINE)


# -- the new file ----------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None, derandomize=True)
@given(data=st.data())
def test_comments_stay_and_the_file_reads_as_the_changes(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Any numbers of any shipped scenario: what the new file says is that, and nothing else.

    `write_new` compares the whole scenario; here the notes are looked at, and the comments of a
    copy. A scenario that builds on another becomes a what-if on it.
    """
    of = loaded(data.draw(st.sampled_from(SHIPPED)))
    chosen = data.draw(st.lists(st.sampled_from(paths_of(of)), min_size=1, unique=True))
    losses = [p for p in paths_of(of) if p[-1] == "loss_percent" and p[-2] != "bad_event"]
    changes = [Change(p, value_of(p), NOTE) for p in dict.fromkeys([*losses, *chosen])]
    new = tmp_path_factory.mktemp("new") / "new.toml"
    form = write_new(new, of, changes, "Measured somewhere.")
    text, old = (p.read_text(encoding="utf-8") for p in (new, of.path))
    assert form == ("what-if" if re.search(r"^base =", old, re.MULTILINE) else "copy")
    if form == "copy":
        assert comments(text) == ["# Measured somewhere.", *comments(old)]
    assert text.count(NOTE) == len(changes)
    notes = [note for note in read_scenario(new).sources.values() if note == NOTE]
    assert len(notes) == len(changes)


def test_a_copy_of_the_demo_changes_only_the_lines_it_must() -> None:
    """The stand goes to the short form's germination; a key that was not there below the others."""
    of = loaded(DEMO)
    nursery: KeyPath = ("crops", "lettuce", "stages", 0)
    changes = [
        Change((*nursery, "loss_percent"), 12.64, NOTE), Change((*nursery, "days_sd"), 1.4, NOTE),
        Change(("tasks", "clearing", "minutes_each"), 4.5, "timed"),
    ]  # fmt: skip
    old = DEMO.read_text(encoding="utf-8").rstrip().splitlines()
    new = copied("\n".join(old), of.scenario, changes, "Measured.", None).splitlines()
    added = [line for line in new if line not in old]
    assert added == [
        "# Measured.",
        f'germination_percent = {{ value = 87.36, source = "{NOTE}" }}',
        f'days_sd = {{ value = 1.4, source = "{NOTE}" }}',
        "[tasks.clearing]",
        'minutes_each = { value = 4.5, source = "timed" }',
    ]
    assert [line for line in old if line not in new] == ["germination_percent = 90"]
    assert new[new.index(added[2]) - 1] == "pace_percent = { Dec = 95, Jan = 95 }"


ODD = DEMO.read_text(encoding="utf-8")
STAGES = ODD[ODD.index("[[crops.lettuce.stages]]") : ODD.index("# -- who gets")]
NURSERY = ODD[ODD.index("[nursery]") : ODD.index("[channels]")]
NOTED = """[nursery]
tray_spaces = 22
cells_per_tray = 200
days_to_transplant = { value = 14, source = "?" }
seedlings_keep_days = 6

[nursery.minutes_per_tray]
value = 15
source = "?"

"""
INLINE = """[crops.lettuce]
stages = [
  { name = "nursery", pace_percent = { Dec = 95 } },  # slow
  { name = "channels" },
]

"""
FORMS = {
    "with notes": ODD.replace(NURSERY, NOTED),
    "stages in one list": ODD.replace(STAGES, INLINE),
    "one stage only": ODD.replace(STAGES, '[[crops.lettuce.stages]]\nname = "channels"\n\n'),
    "no stage": ODD.replace(STAGES, ""),
    "dotted keys": ODD.replace(NURSERY, re.sub(r"^(?=\w)", "nursery.", NURSERY[10:], flags=re.M)),
    "carriage returns": ODD.replace("\n", "\r\n"),
}


@pytest.mark.parametrize("form", list(FORMS))
def test_however_a_file_says_its_numbers_it_is_copied(form: str, tmp_path: Path) -> None:
    """Notes, lists, dotted keys: each change is there, no comment lost, none between keys."""
    text = FORMS[form].replace("maple-hollow.ics", (SCENARIOS / "maple-hollow.ics").as_posix())
    (tmp_path / "old.toml").write_bytes(text.encode())
    nursery, channels = (("crops", "lettuce", "stages", n) for n in (0, 1))
    event: KeyPath = (*nursery, "bad_event")
    changes = [
        Change((*nursery, "days"), 14.5, NOTE), Change((*nursery, "days_sd"), 1.5, NOTE),
        Change((*event, "percent_of_batches"), 3.0, NOTE),
        Change((*event, "loss_percent"), 33.0, NOTE),
        Change((*channels, "days_sd"), 1.7, NOTE),
        Change(("tasks", "seeding", "minutes_each"), 17.0, NOTE),
        Change(("crews", "break cover", "absent_percent"), 3.0, NOTE),
    ]  # fmt: skip
    old = read_scenario(tmp_path / "old.toml")
    assert write_new(tmp_path / "new.toml", old, changes, "Measured.") == "copy"
    new = (tmp_path / "new.toml").read_text(encoding="utf-8")
    assert comments(new)[1:] == comments(text.replace("\r\n", "\n"))
    assert list(read_scenario(tmp_path / "new.toml").sources.values()) == [NOTE] * len(changes)
    assert not re.search(r"# -- who gets.*\n(?!\n)", new)


def test_nothing_is_overwritten_and_nothing_half_written(tmp_path: Path) -> None:
    """FILE itself, a NEW that is there, no folder, and numbers that no scenario may hold."""
    there = tmp_path / "there.toml"
    there.write_text("x", encoding="utf-8")
    for new in (DEMO, there):
        with pytest.raises(OutputError, match="is there already and is not overwritten"):
            ready(new)
    with pytest.raises(OutputError, match="there is no folder"):
        ready(tmp_path / "nowhere" / "new.toml")
    too_much = [Change(("crops", "lettuce", "stages", 0, "loss_percent"), 101.0, NOTE)]
    with pytest.raises(OutputError, match="was not written"):
        write_new(tmp_path / "new.toml", loaded(DEMO), too_much, "Measured.")
    assert [p.name for p in tmp_path.iterdir()] == ["there.toml"]
    assert there.read_text(encoding="utf-8") == "x"


def test_a_what_if_names_what_it_builds_on_and_what_it_says() -> None:
    """Two numbers of one stage are one table; its name is the scenario's, as measured."""
    at: KeyPath = ("crops", "lettuce", "stages", 1)
    changes = [Change((*at, "days"), 29.1, NOTE), Change((*at, "days_shape"), "gamma", NOTE)]
    assert what_if("../a.toml", loaded(DEMO).scenario, changes, "Measured.").splitlines() == [
        "# Measured.", "", 'base = "../a.toml"', 'name = "Maple Hollow, as measured"', "",
        "[[crops.lettuce.stages]]", 'name = "channels"',
        f'days = {{ value = 29.1, source = "{NOTE}" }}',
        f'days_shape = {{ value = "gamma", source = "{NOTE}" }}',
    ]  # fmt: skip


# -- the command -----------------------------------------------------------------------------------


def answer_of(*words: object) -> dict[str, Any]:
    """What `seedbeat calibrate` answers to these words."""
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    args = parser.parse_args(["calibrate", *map(str, words)])
    return COMMAND.answer(args)


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """The answer for the shipped records, and the folder it was written to."""
    folder = tmp_path_factory.mktemp("calibrated")
    return answer_of(DEMO, COUNTS, "-o", folder / "new.toml", "--out", folder / "out"), folder


def test_the_shipped_records_give_back_what_was_hidden_in_them(
    shipped: tuple[dict[str, Any], Path],
) -> None:
    """The records come from other numbers than the demo's (tests/counts_school): they are found.

    Means within twice their intervals, minutes to 1 %. Heads are seen ready on two walks a week,
    which leaves more open than anything else that was counted.
    """
    answer, folder = shipped
    numbers = {n["key"]: n for n in answer["numbers"]}
    stage = 'crops.lettuce.stages["{}"].{}'.format
    hidden = {
        stage("nursery", "days"): 14.6, stage("nursery", "days_sd"): 1.2,
        stage("nursery", "loss_percent"): 13.0, stage("nursery", "loss_sd_points"): 4.0,
        stage("channels", "days"): 29.0, stage("channels", "days_sd"): 1.8,
        stage("channels", "loss_percent"): 5.5, stage("channels", "move_loss_percent"): 4.0,
    }  # fmt: skip
    for key, secret in hidden.items():
        number = numbers[key]
        assert abs(number["new"] - secret) <= number["high"] - number["low"], key
    minutes = {"seeding": 17.25, "transplant": 0.44, "harvest": 0.9, "washing": 7.2}
    for task, secret in minutes.items():
        assert numbers[f"tasks.{task}.minutes_each"]["new"] == pytest.approx(secret, rel=0.01)
    assert answer["count_next"]["key"] == stage("channels", "days")
    assert 1 < numbers[stage("channels", "days")]["new"] - 28 < 2
    new = read_scenario(folder / "new.toml")
    assert new.scenario.tasks["harvest"].minutes_each == 0.899
    assert "measured here, n = 61 batches" in new.sources.values()
    assert answer["form"] == "copy"


def test_files_of_an_answer(shipped: tuple[dict[str, Any], Path]) -> None:
    """Pictures, a table of all numbers, a page and run.json; the answer is one JSON object."""
    answer, folder = shipped
    assert sorted(p.name for p in (folder / "out").iterdir()) == [
        "lengths.png", "lengths.svg", "losses.png", "losses.svg", "numbers.csv", "page.html",
        "run.json",
    ]  # fmt: skip
    rows = (folder / "out" / "numbers.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + len(answer["numbers"])
    assert json.loads(json_text(answer))["command"] == "calibrate"


def test_a_scenario_is_calibrated_by_its_own_year(tmp_path: Path) -> None:
    """A simulated year in this program's own table: nearly nothing moves by more than 2 %."""
    rows = tmp_path / "rows.csv"
    short = SCENARIOS / "maple-hollow-bigger-nursery.toml"
    write_rows(run(loaded(short).scenario, seed=5).events, loaded(short).scenario.start, rows)
    assert is_own_table(rows)
    assert not is_own_table(COUNTS)
    assert not is_own_table(tmp_path / "nowhere.csv")
    answer = answer_of(short, rows, "-o", tmp_path / "new.toml")
    assert answer["form"] == "what-if"
    assert all(abs(n["changes_percent"]) < 2.0 for n in answer["numbers"])
    inside = [n["low"] <= n["old"] <= n["high"] for n in answer["numbers"] if n["low"] is not None]
    assert sum(inside) >= len(inside) - 5  # of 17; more are outside for 1 seed in 100
    with pytest.raises(OutputError, match="is there already"):
        answer_of(short, rows, "-o", tmp_path / "new.toml")


def test_nothing_is_written_without_a_name_or_without_a_change(tmp_path: Path) -> None:
    """Without -o, and from records of two days."""
    answer = answer_of(DEMO, COUNTS)
    assert answer["written"] is None
    assert "-o NEW writes one" in screen_of(answer).sentences[0]
    lines = COUNTS.read_text(encoding="utf-8").splitlines()[:6]
    (tmp_path / "few.csv").write_text("\n".join(lines), encoding="utf-8")
    few = answer_of(DEMO, tmp_path / "few.csv", "-o", tmp_path / "new.toml")
    assert not any(n["moved"] for n in few["numbers"])
    assert few["written"] is None
    assert not (tmp_path / "new.toml").exists()
    with pytest.raises(RecordsError, match="there is no such file"):
        answer_of(DEMO, tmp_path / "nowhere.csv")


BAD_ROWS = (  # a log that is kept badly: what is wrong with every so many of its rows
    ("lost", 2, None), ("counted", 1, None), ("moved", 9, None), ("seeded", 20, None),
    ("ready", 11, None), ("harvested", 15, "about 40"), ("delivered", 8, None),
)  # fmt: skip


def test_a_badly_kept_log_does_not_run_away_with_the_days(
    shipped: tuple[dict[str, Any], Path], tmp_path: Path
) -> None:
    """Rows of every kind left out of the shipped log, some counts in words.

    Batches whose rows contradict the others, or never end, do not stretch the days: within a day
    of those of the whole log. A rare event is not read out of losses that were only guessed, and
    the first thing said is to mend the records.
    """
    lines, kept, met = COUNTS.read_text(encoding="utf-8").splitlines(), [], Counter[str]()
    for line in lines:
        kind = line.split(",")[4] if line.count(",") > 4 else ""
        met[kind] += 1
        bad = next((b for b in BAD_ROWS if b[0] == kind and met[kind] % b[1] == 0), None)
        if bad is None:
            kept.append(line)
        elif bad[2]:
            cells = line.split(",")
            kept.append(",".join([*cells[:8], bad[2], *cells[9:]]))
    (tmp_path / "bad.csv").write_text("\n".join(kept), encoding="utf-8")
    answer, whole = answer_of(DEMO, tmp_path / "bad.csv"), shipped[0]
    assert answer["refused"] > 20
    screen = screen_of(answer)
    assert screen.sentences[1].startswith("Mend the records first: ")
    days = [[n for n in a["numbers"] if n["kind"] == "days"] for a in (answer, whole)]
    for of_bad, of_whole in zip(*days, strict=True):
        assert abs(of_bad["new"] - of_whole["new"]) < 1.0
    (rare,) = (n for n in answer["numbers"] if n["kind"] == "rare share")
    assert rare["kept"].startswith("no row names it")
    assert not any(shape["moved"] for shape in answer["shapes"])
    assert any("came long ago, and no row says" in note for note in answer["taken"])


def test_records_of_which_no_row_can_be_used_are_refused(tmp_path: Path) -> None:
    (tmp_path / "no.csv").write_text("Date,What,Count\nsoon,seeded,4\n", encoding="utf-8")
    with pytest.raises(RecordsError, match=r"no\.csv: none of its rows can be used; seedbeat coun"):
        answer_of(DEMO, tmp_path / "no.csv")


def test_a_workbook_of_records_is_calibrated_by(
    shipped: tuple[dict[str, Any], Path], tmp_path: Path
) -> None:
    """The shipped log as .xlsx, dates and numbers as spreadsheets keep them: the same numbers."""
    book = Workbook()
    for cells in csv.reader(COUNTS.read_text(encoding="utf-8").splitlines()):
        book.active.append([_cell(cell) for cell in cells])
    book.save(tmp_path / "log.xlsx")
    assert answer_of(DEMO, tmp_path / "log.xlsx")["numbers"] == shipped[0]["numbers"]


def _cell(text: str) -> date | int | str | None:
    if re.fullmatch(r"\d+/\d+/\d{4}", text):
        month, day, year = map(int, text.split("/"))
        return date(year, month, day)
    return int(text) if text.isdecimal() else text or None


# -- words and pictures ----------------------------------------------------------------------------


def screen_of(answer: dict[str, Any]) -> Screen:
    return COMMAND.screen(answer)


def test_sentences_come_first_and_tables_fit_80_columns(
    shipped: tuple[dict[str, Any], Path],
) -> None:
    """What moved most by its effect, what it means, what to count next; three blanks a column."""
    screen = screen_of(shipped[0])
    told = " ".join(screen.sentences)
    assert screen.sentences[0].startswith("15 of 19 numbers moved")
    assert "harvest: minutes a unit 0.899 instead of 1 (4.9 % fewer minutes of work)" in told
    assert "channels: days to be ready 29.56 instead of 28 (3.7 % more bench time)" in told
    assert "of 100 seeds of lettuce, 79.2 become heads in an ordinary batch, not 83.8" in told
    assert "Count next: channels: days to be ready." in told
    for table in screen.tables[:1]:
        columns = zip(table.headers, *table.rows, strict=True)
        assert sum(max(map(len, column)) + 3 for column in columns) - 3 <= 80, table.title
    assert [table.title for table in screen.tables] == [
        "Measured", "Kept as they are", "Shapes of the days",
    ]  # fmt: skip
    assert len(screen.tables[0].rows) + len(screen.tables[1].rows) == 19
    assert any("Taken for granted: lettuce, nursery" in end for end in screen.ends)
    assert any("channels: looked at on Mon, Thu only" in end for end in screen.ends)


def test_pictures_say_what_they_show_without_color(shipped: tuple[dict[str, Any], Path]) -> None:
    """Lines differ by their dashes, batches by their marks; both axes have units."""
    from sim.calibration import calibrate
    from sim.counts import read_counts
    from sim.plots_calibrate import figures
    from sim.timetable import Timetable

    scenario = loaded(DEMO).scenario
    drawn = figures(calibrate(Timetable(scenario), read_counts(COUNTS, scenario).rows))
    assert set(drawn) == {"losses", "lengths"}
    for figure in drawn.values():
        lines = [line for ax in figure.axes for line in ax.get_lines()]
        assert {line.get_color() for line in lines} == {INK}
        assert all("[" in ax.get_xlabel() and "[%]" in ax.get_ylabel() for ax in figure.axes)
        (legend,) = figure.legends
        assert {"measured", "scenario"} <= {text.get_text() for text in legend.get_texts()}
    batches = next(n for n in shipped[0]["numbers"] if n["kind"] == "stand")["n"]
    marked = [line for line in drawn["losses"].axes[0].get_lines() if line.get_marker() == "o"]
    assert sum(len(line.get_xdata()) for line in marked) == batches
