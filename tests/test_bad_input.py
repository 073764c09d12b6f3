"""Bad scenario files: one clear message with file, key, value and remedy, never a traceback."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from bad_scenarios import FULL, FULL_CASES, SCENARIOS, SHORT, SHORT_CASES
from pydantic import ValidationError

from sim.errors import CalendarError, ScenarioError
from sim.scenario import Scenario
from sim.scenario_file import load_scenario, read_scenario

NOT_OURS = ("pydantic", "Input should", "Value error", "https://", "Traceback", "Extra inputs")


def refused(file: Path) -> str:
    """The message with which a file is refused."""
    with pytest.raises(ScenarioError) as caught:
        read_scenario(file)
    message = str(caught.value)
    assert not [word for word in NOT_OURS if word in message]
    return message


def refused_text(folder: Path, text: str) -> str:
    """The message with which this text is refused."""
    file = folder / "school.toml"
    file.write_text(text, encoding="utf-8")
    message = refused(file)
    assert message.startswith("school.toml: ")
    return message


def changed(text: str, old: str, new: str) -> str:
    """The text with one line of it changed."""
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


@pytest.mark.parametrize("case", SHORT_CASES)
def test_short_form_says_what_is_wrong(tmp_path: Path, case: str) -> None:
    """Each message names the file, the key as it is written, the value and the remedy."""
    old, new, parts = SHORT_CASES[case]
    message = refused_text(tmp_path, changed(SHORT, old, new))
    assert [part for part in parts if part not in message] == []


@pytest.mark.parametrize("case", FULL_CASES)
def test_full_form_says_what_is_wrong(tmp_path: Path, case: str) -> None:
    """Each message names the file, the key as it is written, the value and the remedy."""
    old, new, parts = FULL_CASES[case]
    message = refused_text(tmp_path, changed(FULL, old, new))
    assert [part for part in parts if part not in message] == []


def test_all_problems_are_told_at_once_but_no_more_than_ten(tmp_path: Path) -> None:
    """Several problems are several lines; after ten comes their number."""
    three = changed(SHORT, "tray_spaces = 22", "tray_spaces = -1")
    three = changed(three, "sites_each = 18", 'sites_each = "x"')
    three = changed(three, "working_minutes = 30", "working_minutes = 2000")
    assert len(refused_text(tmp_path, three).splitlines()) == 3
    many = SHORT + "".join(f"wrong{n} = {n}\n" for n in range(14))
    lines = refused_text(tmp_path, many).splitlines()
    assert len(lines) == 11
    assert lines[-1] == "and 4 more"


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ("[nursery]", "[nursery", ("line 10, column 9", '"[nursery"', "every bracket")),
        ("= 30 ", "= 30 min ", ("line 24, column", "working_minutes = 30 min", "mend it")),
        ("Thu = 4 }", "Thu = 4", ("line 8, column", "seed_trays", "every bracket")),
        (
            '"1:10 pm-1:58 pm"]',
            '"1:10 pm-1',
            ("line 22, column", "1:10 pm-1", "text goes in quotes"),
        ),
        ("sites_each = 18", "count = 18", ("line 17, column", "count = 18", "a key is there once")),
    ],
)
def test_half_written_toml_names_line_and_column(
    tmp_path: Path, old: str, new: str, parts: tuple[str, ...]
) -> None:
    """File, line, column, the line itself and how to mend it."""
    message = refused_text(tmp_path, changed(SHORT, old, new))
    assert [part for part in parts if part not in message] == []


@pytest.mark.parametrize(
    ("data", "parts"),
    [
        (b"", ("is empty", "give the right scenario file")),
        (b" \n\n", ("is empty", "give the right scenario file")),
        (b"# only a remark\n", ("says nothing", "give it the numbers")),
        (b"name = 'x'\n\x89PNG\xff\xfe", ("line 2", "not UTF-8 text", "0x89", "save it as")),
        ("first_day".encode("utf-16"), ("not UTF-8 text", "0xff", "encoding UTF-8")),
        (b"\x00\x01\x02", ("line 1, column", "cannot be read")),
        (b"a = " + b"[" * 5000, ("too deeply", "take the extra brackets")),
        (b".".join([b"a"] * 5000) + b" = 1", ("too deeply", "take the extra brackets")),
        (b"a = " + b"9" * 5000, ("cannot be read", "mend it")),
    ],
    ids=["empty", "blank", "remark", "binary", "utf-16", "nul", "brackets", "dots", "digits"],
)
def test_files_that_are_no_scenario(tmp_path: Path, data: bytes, parts: tuple[str, ...]) -> None:
    """Empty, binary, wrongly encoded and absurdly nested files are refused by name."""
    (tmp_path / "school.toml").write_bytes(data)
    message = refused(tmp_path / "school.toml")
    assert message.startswith("school.toml: ")
    assert [part for part in parts if part not in message] == []


def test_a_file_of_50_mb_is_refused_without_reading_it(tmp_path: Path) -> None:
    """A sparse file of 50 MB is refused after the first megabyte."""
    with (tmp_path / "school.toml").open("wb") as stream:
        stream.truncate(50_000_000)
    message = refused(tmp_path / "school.toml")
    assert "school.toml: is larger than 1 MB, too large for a scenario" in message
    assert "give the right file" in message


def test_a_missing_file_names_the_nearest(tmp_path: Path) -> None:
    """A misspelt file name is answered with the nearest one in its folder."""
    (tmp_path / "greenhouse.toml").write_text(SHORT, encoding="utf-8")
    message = refused(tmp_path / "grenhouse.toml")
    assert message == ('grenhouse.toml: there is no such file; did you mean "greenhouse.toml"?')
    assert "no folder" in refused(tmp_path / "nowhere" / "greenhouse.toml")


def test_folders_and_devices_are_no_scenario(tmp_path: Path) -> None:
    """A folder, an endless device and an impossible name are refused."""
    assert "is a folder; give the scenario file in it" in refused(tmp_path)
    assert "is not a file on the disk" in refused(Path(os.devnull))
    assert "cannot be read" in refused(tmp_path / ("x" * 3000))
    assert "there is no such file" in refused(tmp_path / "a\0b.toml")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    """Without permission the message says so."""
    file = tmp_path / "school.toml"
    file.write_text(SHORT, encoding="utf-8")
    file.chmod(0)
    assert "who may read it" in refused(file)


def test_a_missing_calendar_names_the_nearest(tmp_path: Path) -> None:
    """A misspelt calendar is answered with file, key, value and the nearest name."""
    (tmp_path / "school.ics").write_bytes((SCENARIOS / "maple-hollow.ics").read_bytes())
    text = changed(SHORT, "seed_trays", 'calendar = "scool.ics"\nseed_trays')
    message = refused_text(tmp_path, text)
    assert 'calendar = "scool.ics"' in message
    assert 'did you mean "school.ics"?' in message


@pytest.mark.parametrize(
    "data", [b"not a calendar", b"BEGIN:VCALENDAR\nBEGIN:VEVENT\n", b"\xff" * 50]
)
def test_a_garbage_calendar_is_named(tmp_path: Path, data: bytes) -> None:
    """An unreadable calendar raises CalendarError that names it."""
    (tmp_path / "school.ics").write_bytes(data)
    text = changed(SHORT, "seed_trays", 'calendar = "school.ics"\nseed_trays')
    (tmp_path / "school.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CalendarError, match=r"school\.ics"):
        read_scenario(tmp_path / "school.toml")


def test_an_empty_or_huge_calendar_is_refused(tmp_path: Path) -> None:
    """An empty calendar and one of 50 MB are refused with file and remedy."""
    text = changed(SHORT, "seed_trays", 'calendar = "school.ics"\nseed_trays')
    (tmp_path / "school.ics").write_bytes(b"")
    assert 'calendar = "school.ics": school.ics: is empty' in refused_text(tmp_path, text)
    with (tmp_path / "school.ics").open("wb") as stream:
        stream.truncate(50_000_000)
    assert "larger than 5 MB, too large for a calendar" in refused_text(tmp_path, text)


def test_a_base_that_leads_back_is_refused(tmp_path: Path) -> None:
    """Files that build on each other, or on themselves, are refused."""
    (tmp_path / "a.toml").write_text('base = "b.toml"\n', encoding="utf-8")
    (tmp_path / "b.toml").write_text('base = "a.toml"\n', encoding="utf-8")
    message = refused(tmp_path / "a.toml")
    assert message == 'b.toml: base = "a.toml" leads back to a file before it; take one base out.'
    (tmp_path / "c.toml").write_text('base = "c.toml"\n', encoding="utf-8")
    assert 'c.toml: base = "c.toml" leads back' in refused(tmp_path / "c.toml")


def test_a_base_that_is_missing_or_no_name(tmp_path: Path) -> None:
    """The message names the file that asks, the key and the nearest name."""
    (tmp_path / "demo.toml").write_text(SHORT, encoding="utf-8")
    message = refused_text(tmp_path, 'base = "demmo.toml"\n')
    assert 'base = "demmo.toml": demmo.toml: there is no such file' in message
    assert 'did you mean "demo.toml"?' in message
    assert "base must be a file name" in refused_text(tmp_path, "base = 7\n")


def test_a_problem_in_a_base_names_the_base(tmp_path: Path) -> None:
    """A wrong value is told with the file in which it stands."""
    wrong = changed(SHORT, "sites_each = 18", "sites_each = 0")
    (tmp_path / "demo.toml").write_text(wrong, encoding="utf-8")
    (tmp_path / "what-if.toml").write_text(
        'base = "demo.toml"\n[nursery]\ntray_spaces = -3\n', encoding="utf-8"
    )
    lines = refused(tmp_path / "what-if.toml").splitlines()
    assert sorted(line.split(" must")[0] for line in lines) == [
        "demo.toml: channels.sites_each",
        "what-if.toml: nursery.tray_spaces",
    ]


def test_a_scenario_made_in_python_is_checked_too() -> None:
    """The same agreement is asked of a scenario that comes from no file."""
    data = load_scenario(SCENARIOS / "r8k.toml").model_dump()
    data["orders"][0]["crop"] = "letuce"
    with pytest.raises(ValidationError, match=r'orders\[1\]\.crop .*did you mean "lettuce"\?'):
        Scenario.model_validate(data)
