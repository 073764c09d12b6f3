"""Scenario files that are right: short and full form, bases, notes and assumptions."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import pytest

from sim.scenario_file import load_scenario, read_scenario
from sim.school_year import SchoolYear
from sim.written import clock_time

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHORT = """
first_day = 2026-08-24
last_day = 2027-06-04
seed_trays = {Mon = 4, Thu = 4}
[nursery]
tray_spaces = 22
cells_per_tray = 200
days_to_transplant = 14
[channels]
count = 448
sites_each = 18
days_to_ready = 28
ready_heads_keep_days = 10
[class]
periods = ["9:40 am-10:28 am", "1:10 pm-1:58 pm"]
students_per_period = 12
working_minutes = 30
[[orders]]
customer = "hotel kitchen"
heads = {Tue = 216, Fri = 216}
leaves = "3:00 pm"
school_closed = "pause"
"""
FULL = """
name = "full"
[school]
first_day = 2026-08-24
last_day = 2027-06-04
[places.nursery]
container = "tray"
count = 22
sites_each = 200
cleared_by = "clearing"
[places.channels]
count = 448
sites_each = 18
washed_by = "washing"
cleared_by = "clearing"
[[crops.lettuce.stages]]
name = "nursery"
place = "nursery"
days = 14
days_sd = 1
loss_percent = 10
loss_sd_points = 3
loss_cause = "did not come up"
bad_event = {percent_of_batches = 2, loss_percent = 30}
moved_in_by = "seeding"
keep_days = 6
turnaround_days = 2
[[crops.lettuce.stages]]
name = "channels"
place = "channels"
days = 28
days_sd = 1.5
loss_percent = 4
loss_sd_points = 2
moved_in_by = "transplant"
move_loss_percent = 3
move_loss_cause = "lost at transplant"
keep_days = 10
turnaround_days = 3.5
[tasks]
harvest = {minutes_each = 1.0, priority = 1}
transplant = {minutes_each = 0.4, priority = 2}
seeding = {minutes_each = 15, priority = 3}
washing = {minutes_each = 6, priority = 4}
clearing = {minutes_each = 4, priority = 5}
[crews.class]
people = 12
students = true
absent_percent = 8
[[crews.class.shifts]]
name = "period 1"
starts = 09:40:00
ends = 10:28:00
working_minutes = 30
minutes_on = {exam = 15}
[[crews.class.shifts]]
name = "period 2"
starts = "13:10"
ends = "1:58 pm"
working_minutes = 30
minutes_on = {exam = 15}
[[orders]]
customer = "hotel kitchen"
crop = "lettuce"
heads = {Tue = 216, Fri = 216}
leaves = 15:00:00
school_closed = "pause"
[[cadence.lines]]
crop = "lettuce"
trays = {Mon = 4, Thu = 4}
"""


def written(folder: Path, text: str, name: str = "school.toml") -> Path:
    """A scenario file with this text."""
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_short_form_is_the_full_form(tmp_path: Path) -> None:
    """The short form says the same as the full form written out with its stated defaults."""
    short = load_scenario(written(tmp_path, SHORT, "short.toml"))
    full = load_scenario(written(tmp_path, FULL, "full.toml"))
    assert short.model_copy(update={"name": "full"}) == full


def test_every_default_of_the_short_form_is_told(tmp_path: Path) -> None:
    """What the short form left open is listed with key, value, unit and reason."""
    loaded = read_scenario(written(tmp_path, SHORT))
    told = {a.key: a.value for a in loaded.assumed}
    assert told["nursery.minutes_per_tray"] == "15 minutes a tray"
    assert told["channels.loss_percent"] == "4 percent"
    assert told["class.absent_percent"] == "8 percent"
    assert told['crops.lettuce.stages["nursery"].days_sd'] == "1 days"
    assert told["cold_store.keep_days"] == "2 days"
    assert all(a.why for a in loaded.assumed)
    counted = SHORT.replace("[class]", "[class]\nabsent_percent = 8")
    keys = {a.key for a in read_scenario(written(tmp_path, counted)).assumed}
    assert set(told) - keys == {"class.absent_percent"}


def test_full_form_tells_defaults_a_user_would_ask_for(tmp_path: Path) -> None:
    """A full file that says nothing of absence is told that nobody is ever absent."""
    text = FULL.replace("absent_percent = 8\n", "").replace("loss_percent = 4\n", "")
    text = text.replace("loss_sd_points = 2\n", "")
    told = {a.key: a for a in read_scenario(written(tmp_path, text)).assumed}
    assert told["crews.class.absent_percent"].value == "0 percent"
    assert told['crops.lettuce.stages["channels"].loss_percent'].value == "0 percent"
    assert 'crops.lettuce.stages["nursery"].loss_percent' not in told


def test_a_full_table_goes_over_the_short_form(tmp_path: Path) -> None:
    """A file can grow: full-form tables beside the short form change and add to it."""
    text = (
        SHORT
        + """
[tasks.harvest]
minutes_each = 0.8
[[crops.lettuce.stages]]
name = "channels"
days_sd = 2.5
[crews.staff]
people = 1
[[crews.staff.shifts]]
starts = "8 am"
ends = "9:00 a.m."
"""
    )
    scenario = load_scenario(written(tmp_path, text))
    assert scenario.tasks["harvest"].minutes_each == 0.8
    assert scenario.tasks["harvest"].priority == 1
    assert [s.days_sd for s in scenario.crops["lettuce"].stages] == [1.0, 2.5]
    assert scenario.crops["lettuce"].stages[1].days == 28
    assert list(scenario.crews) == ["class", "staff"]
    assert scenario.crews["staff"].shifts[0].starts == time(8)


def test_germination_is_told_as_a_loss(tmp_path: Path) -> None:
    """Germination of 96 percent is a loss of 4; a perfect one leaves no spread either."""
    for percent, loss in ((96, 4.0), (100, 0.0)):
        text = SHORT.replace("[nursery]", f"[nursery]\ngermination_percent = {percent}")
        stage = load_scenario(written(tmp_path, text)).crops["lettuce"].stages[0]
        assert stage.loss_percent == loss
        assert (stage.loss_sd_points == 0) == (loss == 0)


def test_any_value_may_carry_its_source(tmp_path: Path) -> None:
    """{ value, source } is the value; the note is kept under the key."""
    text = SHORT.replace(
        "students_per_period = 12",
        'students_per_period = { value = 12, source = "roll of September" }',
    )
    text += '[tasks.washing]\nminutes_each = { value = 5.5, source = "timed 3 classes" }\n'
    loaded = read_scenario(written(tmp_path, text))
    assert loaded.scenario.crews["class"].people == 12
    assert loaded.scenario.tasks["washing"].minutes_each == 5.5
    assert loaded.sources == {
        "class.students_per_period": "roll of September",
        "tasks.washing.minutes_each": "timed 3 classes",
    }


def test_a_base_merges_tables_and_named_entries(tmp_path: Path) -> None:
    """Tables merge by key, named entries by name, new names are added, the rest replaces."""
    written(tmp_path, SHORT, "a.toml")
    written(
        tmp_path,
        'base = "a.toml"\n[nursery]\ntray_spaces = 30\n[[orders]]\ncustomer = "hotel kitchen"\n'
        'heads = {Tue = 100}\n[[orders]]\ncustomer = "cafe"\nheads = {Wed = 50}\n',
        "b.toml",
    )
    text = 'base = "b.toml"\n[class]\nperiods = ["10:00 am - 10:40 am"]\n'
    scenario = load_scenario(written(tmp_path, text, "c.toml"))
    assert scenario.name == "c"
    assert scenario.places["nursery"].count == 30
    assert scenario.places["nursery"].sites_each == 200
    assert [(o.customer, o.heads) for o in scenario.orders] == [
        ("hotel kitchen", {"Tue": 100, "Fri": 216}),
        ("cafe", {"Wed": 50}),
    ]
    assert scenario.orders[0].school_closed == "pause"
    assert [s.starts for s in scenario.crews["class"].shifts] == [time(10)]


def test_a_list_with_an_unclear_name_replaces_the_base(tmp_path: Path) -> None:
    """Where a name is there twice no entry can be told apart, and an empty list empties."""
    written(tmp_path, SHORT, "a.toml")
    twice = '[[orders]]\ncustomer = "x"\nheads = {Mon = 1}\n' * 2
    scenario = load_scenario(written(tmp_path, 'base = "a.toml"\n' + twice, "b.toml"))
    assert [o.customer for o in scenario.orders] == ["x", "x"]
    scenario = load_scenario(written(tmp_path, 'base = "a.toml"\norders = []\n', "c.toml"))
    assert scenario.orders == ()


def test_a_base_is_found_beside_the_file_that_names_it(tmp_path: Path) -> None:
    """Base and calendar are relative to the file that says them, not to the working folder."""
    (tmp_path / "deep").mkdir()
    ics = (SCENARIOS / "maple-hollow.ics").read_bytes()
    (tmp_path / "school.ics").write_bytes(ics)
    written(tmp_path, 'calendar = "school.ics"\n' + SHORT, "a.toml")
    scenario = load_scenario(written(tmp_path / "deep", 'base = "../a.toml"\n', "b.toml"))
    assert SchoolYear(scenario.school).kind(date(2026, 12, 24)) == "closed"


def test_calendar_adds_to_closed_days_in_the_file() -> None:
    """The demo's calendar gives what the file does not, and its doubtful days are noted."""
    loaded = read_scenario(SCENARIOS / "maple-hollow-short.toml")
    assert SchoolYear(loaded.scenario.school).session_days() == 180
    assert any("Staff Day" in note for note in loaded.notes)
    assert all(note.startswith("maple-hollow.ics: ") for note in loaded.notes)


def test_closed_days_may_be_bare_dates(tmp_path: Path) -> None:
    """One closed day is a date, several are a table with a name."""
    text = SHORT.replace(
        "seed_trays",
        "closed = [2026-09-07, {first_day = 2026-11-25, last_day = 2026-11-27, name = 'fall'}]\n"
        "seed_trays",
    )
    year = SchoolYear(load_scenario(written(tmp_path, text)).school)
    assert not year.in_session(date(2026, 9, 7))
    assert year.closure(date(2026, 11, 26)) == "fall"


def test_unlimited_and_nobody_are_words(tmp_path: Path) -> None:
    """A place without a limit, a store without a limit, a step that needs nobody."""
    text = SHORT.replace("count = 448", 'count = "unlimited"')
    text += '[cold_store]\nholds_heads = "unlimited"\n[places.channels]\nwashed_by = "nobody"\n'
    scenario = load_scenario(written(tmp_path, text))
    assert scenario.places["channels"].count is None
    assert scenario.places["channels"].washed_by is None
    assert scenario.cold_store.holds_heads is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3:00 pm", time(15)),
        ("9:40 AM", time(9, 40)),
        ("12:00 pm", time(12)),
        ("12:30 am", time(0, 30)),
        ("8 am", time(8)),
        ("9:05 a.m.", time(9, 5)),
        ("15:00", time(15)),
        ("09:40", time(9, 40)),
        ("9:40", None),
        ("13:00 pm", None),
        ("0:30 am", None),
        ("24:00", None),
        ("10:60", None),
        ("noon", None),
    ],
)
def test_clock_times_as_people_write_them(text: str, expected: time | None) -> None:
    """Morning, afternoon, or four digits; a time that could be night or afternoon is refused."""
    assert clock_time(text) == expected


def test_a_windows_text_file_is_read(tmp_path: Path) -> None:
    """A byte-order mark and CRLF line ends change nothing."""
    plain = load_scenario(written(tmp_path, SHORT))
    (tmp_path / "school.toml").write_bytes(b"\xef\xbb\xbf" + SHORT.replace("\n", "\r\n").encode())
    assert load_scenario(tmp_path / "school.toml") == plain
