"""Bad scenario files: one clear message with file, key, value and remedy, never a traceback."""

from __future__ import annotations

import json
import os
import random
import tomllib
from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from sim.errors import CalendarError, ScenarioError, SeedbeatError
from sim.scenario import Scenario
from sim.scenario_file import load_scenario, read_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHIPPED = sorted(SCENARIOS.glob("*.toml"))
SHORT = (SCENARIOS / "maple-hollow-short.toml").read_text(encoding="utf-8")
SHORT = SHORT.replace('calendar = "maple-hollow.ics"\n', "")
FULL = (SCENARIOS / "maple-hollow-three-crops.toml").read_text(encoding="utf-8")
FULL = FULL.replace('calendar = "maple-hollow.ics"\n', "")
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


# what is changed in the short form, and what the message must name: key, value, remedy
SHORT_CASES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "misspelt key": (
        "tray_spaces = 22",
        "tray_space = 22",
        ("nursery.tray_space is not a key", 'did you mean "tray_spaces"?'),
    ),
    "misspelt table": (
        "[nursery]",
        "[nursry]",
        ("nursry is not a key", 'did you mean "nursery"?'),
    ),
    "misspelt weekday": (
        "Mon = 4",
        "Monday = 4",
        ("seed_trays.Monday is not a key", "(= 4)", 'did you mean "Mon"?'),
    ),
    "missing key": (
        "cells_per_tray = 200",
        "",
        ("nursery.cells_per_tray is missing", "add cells_per_tray = 200 to [nursery]"),
    ),
    "missing minutes": (
        "working_minutes = 30",
        "",
        ("class.working_minutes is missing", "add working_minutes = 30 to [class]"),
    ),
    "missing first day": (
        "first_day = 2026-08-24",
        "",
        ("school.first_day is missing", "a date such as 2026-08-24"),
    ),
    "missing customer": (
        'customer = "Brasswick hotel"',
        "",
        ("orders[1].customer is missing", "text in quotes"),
    ),
    "unit in a number": (
        "working_minutes = 30",
        'working_minutes = "15 min"',
        ("class.working_minutes", "a number from 0 to 1,440", '"15 min"', "the number alone"),
    ),
    "true for a number": (
        "count = 448",
        "count = true",
        ("channels.count", 'a whole number from 1 to 1,000,000,000 or "unlimited"', "it is true"),
    ),
    "half a channel": (
        "count = 448",
        "count = 4.5",
        ("channels.count must be a whole number", "it is 4.5", "correct the number"),
    ),
    "no channels": ("count = 448", "count = 0", ("channels.count", "from 1 to", "it is 0")),
    "a huge number": (
        "count = 448",
        f"count = {10**30}",
        ("channels.count", "more than 15 digits", "correct the number"),
    ),
    "not a number": (
        "days_to_ready = 28",
        "days_to_ready = nan",
        ("channels.days_to_ready", "a number from 1 to 3,650", "it is nan"),
    ),
    "a stage of 0 days": (
        "days_to_ready = 28",
        "days_to_ready = 0",
        ("channels.days_to_ready must be a number from 1 to 3,650", "it is 0", "correct"),
    ),
    "loss of 140 percent": (
        "[channels]",
        "[channels]\nloss_percent = 140",
        ("channels.loss_percent must be a number from 0 to 100", "it is 140", "correct"),
    ),
    "germination of 140 percent": (
        "[nursery]",
        "[nursery]\ngermination_percent = 140",
        ("nursery.germination_percent", "from 0 to 100", "it is 140", "correct the number"),
    ),
    "date in quotes": (
        "first_day = 2026-08-24",
        'first_day = "2026-08-24"',
        ("first_day must be a date such as", 'it is "2026-08-24"', "without quotes"),
    ),
    "date as a number": (
        "first_day = 2026-08-24",
        "first_day = 20260824",
        ("first_day must be a date", "it is 20260824", "year-month-day"),
    ),
    "end before start": (
        "last_day = 2027-06-04",
        "last_day = 2026-06-04",
        ("last_day (2026-06-04) is before first_day (2026-08-24)", "swap them"),
    ),
    "a year of fifty years": (
        "last_day = 2027-06-04",
        "last_day = 2077-06-04",
        ("the run would last", "at most 7,320", "mend the years"),
    ),
    "a period that ends before it starts": (
        "1:10 pm-1:58 pm",
        "1:58 pm-1:10 pm",
        ("class.periods[2]", "ends at 13:10, not after it starts at 13:58", "'pm'"),
    ),
    "a period without am or pm": (
        "1:10 pm-1:58 pm",
        "1:10-1:58",
        ("class.periods[2]", "two clock times such as", '"1:10-1:58"', "give each am or pm"),
    ),
    "overlapping periods": (
        "1:10 pm-1:58 pm",
        "10:00 am-10:48 am",
        ("class.periods[2]", "10:00 to 10:48", "09:40 to 10:28", "move one"),
    ),
    "more minutes than the period has": (
        "working_minutes = 30",
        "working_minutes = 60",
        ("class.periods[1]", "at most the shift's 48 minutes", "it is 60", "lower it"),
    ),
    "a leaving time at night": (
        '"3:00 pm"',
        '"3:00"',
        ('orders["Brasswick hotel"].leaves', "a clock time", 'it is "3:00"', "add am or pm"),
    ),
    "a leaving time as a number": (
        '"3:00 pm"',
        "15",
        ('orders["Brasswick hotel"].leaves', "a clock time", "it is 15", "add am or pm"),
    ),
    "a misspelt choice": (
        '"pause"',
        '"paused"',
        ('school_closed must be one of "pause", "deliver"', '"paused"', 'did you mean "pause"?'),
    ),
    "an order for a crop nobody grows": (
        "school_closed",
        'crop = "kale"\nschool_closed',
        ('orders["Brasswick hotel"].crop', '"kale"', 'choose from "lettuce"'),
    ),
    "an order that ends before it starts": (
        "first_day = 2026-10-13",
        "first_day = 2026-10-13\nlast_day = 2026-05-28",
        ('orders["Brasswick hotel"].last_day', "2026-10-13", "it is 2026-05-28", "mend the year"),
    ),
    "a run that starts after school": (
        "seed_trays",
        "run_first_day = 2028-01-03\nseed_trays",
        ("run_first_day", "2027-06-04", "it is 2028-01-03", "start the run earlier"),
    ),
    "a calendar that is a number": (
        "seed_trays",
        "calendar = 5\nseed_trays",
        ("calendar must be a file name", "it is 5", "in quotes"),
    ),
}


@pytest.mark.parametrize("case", SHORT_CASES)
def test_short_form_says_what_is_wrong(tmp_path: Path, case: str) -> None:
    """Each message names the file, the key as it is written, the value and the remedy."""
    old, new, parts = SHORT_CASES[case]
    message = refused_text(tmp_path, changed(SHORT, old, new))
    assert [part for part in parts if part not in message] == []


FULL_CASES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "a place that does not exist": (
        'place = "nursery channels"',
        'place = "nursery chanels"',
        ("crops.romaine.stages", ".place", '"nursery chanels"', 'did you mean "nursery channels"'),
    ),
    "a task that does not exist": (
        'moved_in_by = "re-spacing"',
        'moved_in_by = "respacing"',
        ("moved_in_by must name a task", '"respacing"', 'did you mean "re-spacing"?'),
    ),
    "a task without its table": (
        "[tasks.harvest]",
        "[tasks.harvesting]",
        ("crops.butterhead.harvested_by", '"harvest"', 'did you mean "harvesting"?'),
    ),
    "a crew that does not exist": (
        "[tasks.harvest]",
        '[tasks.harvest]\nwho = ["clas"]',
        ("tasks.harvest.who[1] must name a crew", '"clas"', 'did you mean "class"?'),
    ),
    "a task for two kinds of work": (
        'washed_by = "washing"',
        'washed_by = "harvest"',
        ("washed_by", '"harvest" is', "washing containers", "add a second task"),
    ),
    "a cadence for a crop nobody grows": (
        'crop = "romaine"\ntrays',
        'crop = "roman"\ntrays',
        ('cadence.lines["roman"].crop', '"roman"', 'did you mean "romaine"?'),
    ),
    "a surplus for a crop nobody grows": (
        'outlet = "food pantry"\ncrop = "butterhead"',
        'outlet = "food pantry"\ncrop = "butter"',
        ('surplus["food pantry"].crop', '"butter"', 'did you mean "butterhead"?'),
    ),
    "two stages of one name": (
        'name = "nursery channels"',
        'name = "nursery"',
        ("crops.romaine.stages[2].name", '"nursery" is there twice', "rename one"),
    ),
    "a window before the run": (
        "[window]\nfirst_day = 2026-10-12",
        "[window]\nfirst_day = 2025-10-12",
        ("window.first_day", "from 2026-08-24", "it is 2025-10-12", "move the window"),
    ),
    "a window that ends before it starts": (
        "last_day = 2027-05-30",
        "last_day = 2026-05-30",
        ("window", "ends (2026-05-30) before it starts (2026-10-12)", "swap"),
    ),
    "a window without a whole week": (
        "last_day = 2027-05-30",
        "last_day = 2026-10-17",
        ("window", "one whole week", "2026-10-17", "make it longer"),
    ),
    "a seeding outside the run": (
        "late_days = 2",
        'late_days = 2\nadded = [{ day = 2029-01-01, crop = "romaine", trays = 2 }]',
        ("cadence.added[1].day", "inside the run", "it is 2029-01-01", "mend the date"),
    ),
    "a skip outside the run": (
        "late_days = 2",
        "late_days = 2\nskipped = [2026-10-12, 2025-10-12]",
        ("cadence.skipped[2]", "inside the run", "it is 2025-10-12", "mend the date"),
    ),
    "a line with trays and heads": (
        "trays = { Mon = 2",
        "heads_wanted = { Mon = 100 }\ntrays = { Mon = 2",
        ('cadence.lines["butterhead"]', "trays or heads_wanted", "both", "take one out"),
    ),
    "a line that says nothing": (
        'crop = "romaine"\ntrays = { Mon = 1, Thu = 1 }',
        'crop = "romaine"',
        ('cadence.lines["romaine"]', "neither", "add trays"),
    ),
    "a line that ends before it starts": (
        "trays = { Mon = 2",
        "first_day = 2027-01-01\nlast_day = 2026-01-01\ntrays = { Mon = 2",
        ('cadence.lines["butterhead"].last_day', "2027-01-01", "it is 2026-01-01", "swap"),
    ),
    "more spread than a loss can have": (
        "loss_percent = 2\nloss_sd_points = 1",
        "loss_percent = 2\nloss_sd_points = 40",
        ('crops.romaine.stages["nursery channels"]', "must be below 14.0", "it is 40", "lower it"),
    ),
    "a shift that ends before it starts": (
        'ends = "10:28 am"',
        'ends = "9:28 am"',
        ('crews.class.shifts["period 1"]', "ends at 09:28", "starts at 09:40", "'pm'"),
    ),
    "a shift that starts between two minutes": (
        'starts = "9:40 am"',
        "starts = 09:40:30",
        ('crews.class.shifts["period 1"].starts', "a clock time", "it is 09:40:30"),
    ),
    "a closed day that is none": (
        "last_day = 2027-06-04",
        "last_day = 2027-06-04\nclosed = [2026-09-07, 7]",
        ("school.closed[2]", "a date, or a table", "it is 7"),
    ),
    "a table where a list is due": (
        "[[surplus]]",
        "[surplus]",
        ("surplus must be a list", "it is a table", "[[...]]"),
    ),
    "a crop without stages": (
        "[[crops.butterhead",
        "[crops.kale]\nstages = []\n\n[[crops.butterhead",
        ("crops.kale.stages must be a list of at least 1", "it is an empty list", "[[...]]"),
    ),
    "no name": ("[crews.staff]", '[crews.""]', ('crews."" must be a name', "rename it")),
    "a name of two lines": (
        'customer = "Brasswick hotel"',
        'customer = "Brasswick\\nhotel"',
        ("customer must be text in quotes", '"Brasswick\\nhotel"', "put a name in quotes"),
    ),
}


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


# -- mutations: whatever a file says, it is a scenario or one clear error ------------------------


def only_said_errors(file: Path, use: Callable[[Path], object] = read_scenario) -> bool:
    """Use a file; whether it was accepted. Anything but an error raised on purpose fails."""
    try:
        use(file)
    except SeedbeatError as error:
        message = str(error)
        assert message
        assert not [word for word in NOT_OURS if word in message]
        return False
    return True


def toml(value: Any) -> str:
    """A value as inline TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, (date, time)):
        return value.isoformat()
    return json.dumps(value) if isinstance(value, str) else str(value)


NASTY: list[Any] = [
    0, -1, 1, 2, 7, 10**9, 10**18, 10**40, 0.5, -0.0, 1e-300, 1e308, float("inf"), float("nan"),
    True, False, "", " ", "x", "Mon", "lettuce", "nursery", "harvest", "unlimited", "nobody",
    "3:00 pm", "\t", "9" * 100, "2026-08-24", [], {}, [[]], [{}], {"value": 1}, {"Mon": 1},
    {"value": 5, "source": "counted"}, {"value": [], "source": 1}, [1, "a"],
    date(1, 1, 1), date(1900, 1, 1), date(2026, 10, 12), date(2027, 6, 1), date(9999, 12, 31),
    time(0), time(23, 59), time(12, 30, 30),
]  # fmt: skip


def places_of(value: Any) -> list[tuple[Any, Any]]:
    """Every (table or list, key) of parsed data."""
    keys = list(value) if isinstance(value, dict) else list(range(len(value)))
    found = [(value, key) for key in keys]
    for key in keys:
        if isinstance(value[key], (dict, list)):
            found += places_of(value[key])
    return found


def mutate_data(data: dict[str, Any], luck: random.Random) -> None:
    """Replace, scale, remove, copy or rename something, once to three times."""
    for _ in range(luck.choice((1, 1, 2, 3))):
        holder, key = luck.choice(places_of(data))
        value = holder[key]
        action = luck.randrange(6)
        if action <= 1:
            holder[key] = luck.choice(NASTY)
        elif action == 2 and isinstance(value, (int, float)) and not isinstance(value, bool):
            holder[key] = value * luck.choice((-1, 0, 2, 10, 1000, 0.1))
        elif action == 3:
            holder.pop(key)
        elif action == 4:
            other, where = luck.choice(places_of(data) or [(data, "name")])
            if not isinstance(other[where], (dict, list)):
                other[where] = value if not isinstance(value, (dict, list)) else 3
        elif isinstance(holder, dict):
            holder[luck.choice(("x", "name", "days", "", "value", key + "s"))] = holder.pop(key)
        if not data:
            data["name"] = "x"


def mutate_text(text: str, luck: random.Random) -> str:
    """Cut, double, swap or overwrite a piece of the text."""
    for _ in range(luck.choice((1, 1, 2, 5))):
        start = luck.randrange(len(text) + 1)
        end = min(len(text), start + luck.choice((1, 1, 3, 20, 200)))
        piece = luck.choice(
            (
                "",
                text[start:end] * 2,
                luck.choice('"[]{}=.,#-_0123456789aé\n\t\0'),
                text[start:end][::-1],
            )
        )
        text = text[:start] + piece + text[end:]
    return text


def mutated_files(folder: Path, seed: int, count: int) -> list[Path]:
    """A folder with the shipped files and one mutated file after the other, written on demand."""
    luck = random.Random(seed)
    for shipped in (*SHIPPED, SCENARIOS / "maple-hollow.ics"):
        (folder / shipped.name).write_bytes(shipped.read_bytes())
    files = []
    for number in range(count):
        source = luck.choice(SHIPPED)
        text = source.read_text(encoding="utf-8")
        if number % 2:
            data = tomllib.loads(text)
            mutate_data(data, luck)
            text = "".join(f"{json.dumps(k)} = {toml(v)}\n" for k, v in data.items())
        else:
            text = mutate_text(text, luck)
        files.append(folder / f"mutant-{number}.toml")
        files[-1].write_text(text, encoding="utf-8")
    return files


def test_mutated_files_are_scenarios_or_said_errors(tmp_path: Path) -> None:
    """2,000 mutations of the shipped files' text and data (fixed seed): never a traceback.

    Some are still accepted, most are refused; both must happen for the test to mean anything.
    """
    accepted = sum(only_said_errors(file) for file in mutated_files(tmp_path, 20260824, 2000))
    assert 100 < accepted < 1900
