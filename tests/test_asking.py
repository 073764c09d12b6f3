"""`seedbeat new`: the questions of a new scenario, and the file that the answers make."""

from __future__ import annotations

import errno
import os
import pty
import subprocess
import sys
import tempfile
import time as clock
import tomllib
from datetime import date, time, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.asking import ask, template
from sim.asking_answers import Known
from sim.asking_questions import CUSTOMER, QUESTIONS
from sim.checking import check_answer
from sim.errors import OutputError, ScenarioError, SeedbeatError
from sim.parts import WEEKDAYS
from sim.scenario_file import load_scenario, read_scenario

ROOT = Path(__file__).parent.parent
TODAY = date(2026, 11, 25)
# every answer of a whole conversation: what it answers, and what is typed
ANSWERS = (
    ("first_day", "8/24/2026"),
    ("last_day", "2027-06-04"),
    ("calendar", "none"),
    ("closed", "2026-11-25 to 2026-11-27 Thanksgiving"),
    ("closed", "9/7/2026"),
    ("closed", ""),
    ("tray_spaces", "24"),
    ("cells_per_tray", "162"),
    ("days_to_transplant", "13"),
    ("count", "1,000"),
    ("sites_each", "17"),
    ("days_to_ready", "30"),
    ("ready_heads_keep_days", "8"),
    ("periods", "1:10 pm to 1:58 pm, 9:40 am-10:28 am"),
    ("students_per_period", "11"),
    ("working_minutes", "25"),
    ("customer", "school cafeteria"),
    ("heads", "Friday 120 and Tue 1,200"),
    ("leaves", "15:00"),
    ("school_closed", "yes"),
    ("delivery", "2026-10-20"),
    ("customer", 'soup kitchen "\u00e0 la carte" \\ \U0001f96c'),
    ("heads", "Wed 30"),
    ("leaves", "12 pm"),
    ("school_closed", "NO"),
    ("delivery", "10/21/2026"),
    ("customer", ""),
    ("seed_trays", "Thu 4, Mon 5"),
)
LISTS = ("closed", "customer", "heads", "leaves", "school_closed", "delivery")


class Typist:
    """Types a script line by line; at the end of it the input ends, or `stops` with an error."""

    def __init__(self, script, stops=EOFError):
        self.script = list(script)
        self.stops = stops
        self.prompts = []
        self.lines = []

    def read(self, prompt):
        """The next line, as `input` gives it."""
        self.prompts.append(prompt)
        if not self.script:
            raise self.stops
        typed = self.script.pop(0)
        if isinstance(typed, Exception):
            raise typed
        return typed

    def said(self):
        """All that was said, on one line."""
        return " ".join(" ".join(self.lines).split())


def typed():
    return [text for _, text in ANSWERS]


def asked(file, script, stops=EOFError, today=TODAY):
    typist = Typist(script, stops)
    ask(file, today, typist.read, typist.lines.append)
    assert typist.script == []
    return typist


def kept(file):
    return file.with_name(file.name + ".answers")


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The file that the whole conversation makes."""
    file = tmp_path_factory.mktemp("whole") / "mine.toml"
    asked(file, typed())
    return file.read_text()


def test_answers_become_the_scenario(tmp_path):
    """Every answer arrives in the scenario, under its own key."""
    file = tmp_path / "mine.toml"
    asked(file, typed())
    scenario = load_scenario(file)
    school, places = scenario.school, scenario.places
    assert (school.first_day, school.last_day) == (date(2026, 8, 24), date(2027, 6, 4))
    assert [(c.first_day, c.last_day, c.name) for c in school.closed] == [
        (date(2026, 11, 25), date(2026, 11, 27), "Thanksgiving"),
        (date(2026, 9, 7), date(2026, 9, 7), ""),
    ]
    assert (places["nursery"].count, places["nursery"].sites_each) == (24, 162)
    assert (places["channels"].count, places["channels"].sites_each) == (1000, 17)
    nursery, channels = scenario.crops["lettuce"].stages
    assert (nursery.days, channels.days, channels.keep_days) == (13, 30, 8)
    crew = scenario.crews["class"]
    assert crew.people == 11
    assert [(s.starts, s.ends, s.working_minutes) for s in crew.shifts] == [
        (time(9, 40), time(10, 28), 25),
        (time(13, 10), time(13, 58), 25),
    ]
    one, two = scenario.orders
    assert (one.customer, one.heads) == ("school cafeteria", {"Tue": 1200, "Fri": 120})
    assert (one.leaves, one.school_closed) == (time(15), "pause")
    assert one.first_day == date(2026, 10, 20)
    assert two.customer == 'soup kitchen "\u00e0 la carte" \\ \U0001f96c'
    assert (two.heads, two.leaves, two.school_closed) == ({"Wed": 30}, time(12), "deliver")
    assert two.first_day == date(2026, 10, 21)
    assert scenario.cadence.lines[0].trays == {"Mon": 5, "Thu": 4}
    assert not kept(file).exists()


def test_every_line_of_the_file_has_a_comment(tmp_path):
    """A key stands beside or below its comment, and the ten numbers are marked."""
    file = tmp_path / "mine.toml"
    asked(file, typed())
    lines = file.read_text().splitlines()
    for above, line in pairwise(lines):
        if " = " in line and not line.startswith(("#", "    {")):
            assert "  # " in line or above.startswith("# "), line
    text = file.read_text()
    assert all(f"({number})" in text for number in range(1, 11))
    assert text.startswith("# How many heads can this greenhouse deliver")
    assert "answers given to the questions of `seedbeat new`" in text
    assert "2026-11-25" in text
    assert max(map(len, lines)) <= 100


def test_enter_takes_what_is_offered(tmp_path):
    """Nothing but Enter makes the scenario that the template says."""
    enters = sum(q.key != "orders" for q in QUESTIONS) + len(CUSTOMER) + 1
    asked(tmp_path / "a.toml", [""] * enters)
    template(tmp_path / "b.toml", TODAY)
    one, two = load_scenario(tmp_path / "a.toml"), load_scenario(tmp_path / "b.toml")
    assert one.model_copy(update={"name": "b"}) == two


def test_each_question_shows_reason_unit_and_default(tmp_path):
    """What is asked names why, the unit, and what Enter takes; nothing is wider than 78."""
    typist = asked(tmp_path / "mine.toml", typed())
    said, prompts = typist.said(), " ".join(typist.prompts)
    for question in (*QUESTIONS, *CUSTOMER):
        assert question.asks in said
        assert f"Why: {question.reason}." in said
        assert f"  {question.unit} " in " ".join(typist.lines) + prompts
    assert "days [14]: " in prompts
    assert "[9:40 am-10:28 am, 1:10 pm-1:58 pm]" in said
    assert [f"{number} of 10. " in said for number in range(1, 11)] == [True] * 10
    assert max(map(len, [*typist.lines, *typist.prompts])) <= 78


BAD = [
    ("first_day", "soon", "a date"),
    ("first_day", "2026-02-30", "a date"),
    ("first_day", "24/8/2026", "a date"),
    ("first_day", "0206-08-24", "2000 to 2099"),
    ("last_day", "June", "a date"),
    ("last_day", "2026-06-04", "28 to 420 days after the first day"),
    ("last_day", "2028-06-04", "28 to 420 days after the first day"),
    ("calendar", "school.ics", "there is no such file"),
    ("calendar", "../school.ics", "in the folder of the new scenario"),
    ("calendar", "x" * 300, "a file name"),
    ("calendar", ".", "is a folder"),
    ("closed", "Thanksgiving", "begin with one whole date"),
    ("closed", "2026-11-25 to 11/27", "begin with one whole date"),
    ("closed", "2026-11-25 to Friday", "begin with one whole date"),
    ("closed", "2026-11-27 to 2026-11-25", "days in order"),
    ("closed", "2025-11-25", "between the first and the last day"),
    ("closed", "2026-11-31", "a date"),
    ("closed", "2026-11-25 " + "x" * 81, "80 characters"),
    ("tray_spaces", "two", "a whole number from 1 to 100,000"),
    ("tray_spaces", "0", "correct the number"),
    ("tray_spaces", "22 trays", "write the number alone"),
    ("cells_per_tray", "-5", "a whole number from 1 to 10,000"),
    ("days_to_transplant", "121", "from 1 to 120"),
    ("count", "4.5", "a whole number"),
    ("count", "\u0664", "a whole number"),
    ("sites_each", "1" * 400, "a whole number"),
    ("days_to_ready", "four weeks", "from 1 to 365"),
    ("ready_heads_keep_days", "1,0", "a whole number"),
    ("periods", "9:40-10:28", "am or pm"),
    ("periods", "all day", "class periods"),
    ("periods", "9:40 am", "class periods"),
    ("periods", "10:28 am-9:40 am", "ending after it starts"),
    ("periods", "9 am-10 am, 9:30 am-11 am", "overlaps"),
    ("students_per_period", "a dozen", "from 1 to 1,000"),
    ("working_minutes", "49", "from 1 to 48 (the shortest period)"),
    ("customer", "x" * 81, "1 to 80 characters"),
    ("customer", "\x1b[31mbar", "1 to 80 characters"),
    ("heads", "120", "weekdays"),
    ("heads", "Tue", "weekdays"),
    ("heads", "Tue 120, Tue 5", "each once"),
    ("heads", "Tue 0", "a number from 1"),
    ("heads", "Someday 4", "weekdays"),
    ("heads", "Tue 120, 5", "weekdays"),
    ("leaves", "3:00", "a clock time"),
    ("leaves", "25:00", "a clock time"),
    ("school_closed", "maybe", "yes or no"),
    ("delivery", "2027-06-05", "between the first and the last day"),
    ("delivery", "Tuesday", "a date"),
    ("seed_trays", "4", "weekdays"),
    ("seed_trays", "Mon 2000000", "weekdays"),
]


@pytest.mark.parametrize(("key", "wrong", "words"), BAD)
def test_a_bad_answer_is_told_and_asked_again(tmp_path, key, wrong, words, whole):
    """One message says what it must be and what it was; the same question comes again."""
    at = [k for k, _ in ANSWERS].index(key)
    script = typed()
    typist = asked(tmp_path / "mine.toml", [*script[:at], wrong, *script[at:]])
    told = [line for line in typist.lines if line.startswith("  Must be ")]
    assert len(told) == 1
    assert words in typist.said()
    assert wrong[-8:] in typist.said() or len(wrong) > 60 or not wrong.isprintable()
    assert typist.prompts[at] == typist.prompts[at + 1]
    assert (tmp_path / "mine.toml").read_text() == whole


def test_bytes_that_are_no_text_are_asked_again(tmp_path):
    """Input that is not UTF-8, however the terminal hands it over, is never written or shown."""
    undecoded = UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte")
    script = typed()
    typist = asked(tmp_path / "mine.toml", [*script[:16], undecoded, "caf\udcff", *script[16:]])
    assert typist.said().count("not UTF-8; type it again") == 2
    "".join(typist.lines).encode()


def resumed(stop):
    """What is typed after a stop: Enter for what was answered; entries of lists are not asked."""
    again = ["" for key, text in ANSWERS[:stop] if key not in LISTS or not text]
    return again + typed()[stop:]


@pytest.mark.parametrize("stop", range(len(ANSWERS)))
def test_stopped_anywhere_and_gone_on_gives_the_same_file(tmp_path, stop, whole):
    """Ctrl-C or the end of input at any question loses no answer, and says how to go on."""
    file = tmp_path / "mine.toml"
    with pytest.raises(KeyboardInterrupt) as stopped:
        asked(file, typed()[:stop], KeyboardInterrupt)
    assert not file.exists()
    assert kept(file).exists() == (stop > 0)
    if stop:
        tomllib.loads(kept(file).read_text())
        assert f"kept in {kept(file)}; to go on give the same command again" in str(stopped.value)
        with pytest.raises(SeedbeatError, match="the input ended; your answers are kept in"):
            asked(file, resumed(stop)[: stop // 2])
    else:
        assert "nothing was answered" in str(stopped.value)
    asked(file, resumed(stop))
    assert file.read_text() == whole
    assert list(tmp_path.iterdir()) == [file]


def test_kept_answers_that_fit_no_more_are_replaced(tmp_path):
    """After another school year is given, dates outside it are told or asked again."""
    file = tmp_path / "mine.toml"
    with pytest.raises(SeedbeatError):
        asked(file, typed()[:-1])
    # new year, then Enter up to the first order, whose first delivery lies outside the new year
    script = ["2027-08-23", "", "", ""] + [""] * 10 + ["", "", "", ""]
    typist = asked(file, script)
    assert "days in order between the first and the last day of class" in typist.said()
    assert "2026-11-25 to 2026-11-27 Thanksgiving" in typist.said()
    scenario = load_scenario(file)
    assert scenario.school.last_day == date(2028, 6, 2)
    assert scenario.school.closed == ()
    # 13 + 30 + 7 days after the first day is Oct 12; the next Tuesday is Oct 12, Wednesday Oct 13
    assert [o.first_day for o in scenario.orders] == [date(2027, 10, 12), date(2027, 10, 13)]


def test_lists_can_be_begun_anew(tmp_path):
    """The word "again" forgets the closures or the customers given so far, and no other answer."""
    script = typed()
    again = [*script[:5], "again", "2026-10-12", *script[5:21], "again", *script[21:]]
    file = tmp_path / "mine.toml"
    asked(file, again)
    scenario = load_scenario(file)
    assert [c.first_day for c in scenario.school.closed] == [date(2026, 10, 12)]
    assert [o.heads for o in scenario.orders] == [{"Wed": 30}]


def test_a_school_calendar_replaces_the_closed_days(tmp_path):
    """With a calendar file its closures count, and none are asked."""
    (tmp_path / "school.ics").write_bytes((ROOT / "scenarios/maple-hollow.ics").read_bytes())
    (tmp_path / "empty.ics").write_bytes(b"BEGIN:VCALENDAR")
    script = typed()
    file = tmp_path / "mine.toml"
    typist = asked(file, [*script[:2], "empty.ics", "school.ics", *script[6:]])
    assert sum(line.startswith("  Must be none, or") for line in typist.lines) == 1
    assert not any("closed (Enter" in prompt for prompt in typist.prompts)
    example = load_scenario(ROOT / "scenarios/maple-hollow-short.toml")
    assert load_scenario(file).school == example.school


def test_a_file_that_is_there_is_left_alone(tmp_path):
    """Nothing is asked or written if the file exists, be it a link to nowhere or a folder."""
    there, link, folder = tmp_path / "there.toml", tmp_path / "link.toml", tmp_path / "dir.toml"
    there.write_text("mine")
    link.symlink_to(tmp_path / "nowhere")
    folder.mkdir()
    for file in (there, link, folder):
        with pytest.raises(OutputError, match="is there already and is not overwritten"):
            asked(file, [])
        with pytest.raises(OutputError, match="is there already and is not overwritten"):
            template(file, TODAY)
    assert there.read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 3


def test_a_file_that_appears_meanwhile_is_left_alone(tmp_path):
    """The file is looked for again before it is written; the answers stay kept."""
    file = tmp_path / "mine.toml"
    typist = Typist(typed())

    def read(prompt):
        if len(typist.script) == 1:
            file.write_text("somebody else's")
        return typist.read(prompt)

    with pytest.raises(OutputError, match="is there already"):
        ask(file, TODAY, read, typist.lines.append)
    assert file.read_text() == "somebody else's"
    assert kept(file).exists()


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("none/mine.toml", "there is no folder"),
        ("a-file/mine.toml", "must be in a folder that can be written to, but not a directory"),
        ("x" * 250 + ".toml", "must be in a folder that can be written to, but file name too long"),
        ("x" * 300 + "/mine.toml", "can be written to, but file name too long"),
        ("tab\t.toml", "must be a plain file name"),
        ("odd\udcff.toml", "must be a plain file name"),
    ],
)
def test_a_place_that_cannot_be_used_is_told_first(tmp_path, name, words):
    """A folder or name that will not do is told before the first question."""
    (tmp_path / "a-file").write_text("")
    with pytest.raises(OutputError, match=words) as error:
        asked(tmp_path / name, [])
    str(error.value).encode()
    with pytest.raises(OutputError, match=words):
        template(tmp_path / name, TODAY)


def test_a_folder_without_permission_is_told_first(tmp_path, monkeypatch):
    """The disk's refusal is told before the first question (the superuser is never refused)."""

    def refused(**_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(tempfile, "TemporaryFile", refused)
    with pytest.raises(OutputError, match="folder that can be written to, but permission denied"):
        asked(tmp_path / "mine.toml", [])


def test_a_full_disk_leaves_the_answers_kept_before(tmp_path, monkeypatch):
    """Answers are kept whole or not at all: a failed write leaves those of the last time."""
    file = tmp_path / "mine.toml"
    with pytest.raises(SeedbeatError):
        asked(file, typed()[:8])
    before = kept(file).read_text()

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_text", full)
        with pytest.raises(OutputError, match="cannot be written: no space left on device"):
            asked(file, resumed(8))
    assert kept(file).read_text() == before
    assert list(tmp_path.iterdir()) == [kept(file)]
    asked(file, resumed(8))
    assert load_scenario(file).places["nursery"].sites_each == 162


def test_kept_answers_that_cannot_be_read_are_told(tmp_path):
    """A spoilt file of answers is refused with what to do; it is not removed."""
    file = tmp_path / "mine.toml"
    kept(file).write_text("first_day = ")
    with pytest.raises(ScenarioError, match=r"mine.toml.answers: line 1.*remove mine.toml.answers"):
        asked(file, [])
    assert kept(file).read_text() == "first_day = "


def test_kept_answers_that_somebody_changed_do_no_harm(tmp_path):
    """Strange keys and values in a file of answers are passed over; good ones are offered."""
    file = tmp_path / "mine.toml"
    kept(file).write_text(
        '"odd key" = 1\ntray_spaces = 31\nfirst_day = 2026-08-31\ncells_per_tray = [3]\n'
        'closed = "never"\n'
        'periods = "noon"\norders = [3, {heads = "Tue 5"}, {customer = "deli", heads = 3}]\n'
    )
    typist = asked(file, [""] * 20)
    scenario = load_scenario(file)
    assert scenario.school.first_day == date(2026, 8, 31)
    assert scenario.places["nursery"].count == 31
    assert scenario.places["nursery"].sites_each == 200
    assert [(o.customer, o.heads) for o in scenario.orders] == [("deli", {"Tue": 240, "Fri": 240})]
    assert "customer [" not in " ".join(typist.prompts)


def test_the_template_is_a_scenario_that_check_understands(tmp_path):
    """What is written without a terminal can be checked, and its cadence is not too small."""
    answer = check_answer(read_scenario(template(tmp_path / "mine.toml", TODAY)))
    (crop,) = answer["crops"]
    assert crop["trays_per_week"] < crop["trays_seeded_per_week"]
    assert answer["highest_steadiness"] == 1
    assert answer["school"]["closures"] == []
    assert "nobody has counted them" in (tmp_path / "mine.toml").read_text().replace("\n# ", " ")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


@pytest.mark.parametrize(
    ("today", "first", "last"),
    [
        # Mondays and Fridays of these months from any printed calendar
        (date(2026, 11, 25), date(2026, 8, 24), date(2027, 6, 4)),
        (date(2027, 4, 30), date(2026, 8, 24), date(2027, 6, 4)),
        (date(2027, 5, 1), date(2027, 8, 23), date(2028, 6, 2)),
        (date(2028, 1, 1), date(2027, 8, 23), date(2028, 6, 2)),
    ],
)
def test_the_school_year_offered(tmp_path, today, first, last):
    """Late August to early June; from May on the coming school year."""
    school = load_scenario(template(tmp_path / "mine.toml", today)).school
    assert (school.first_day, school.last_day) == (first, last)


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)))
def test_a_last_day_is_offered_for_any_first_day(first):
    """The default is itself a good answer, however odd the first day."""
    question = next(q for q in QUESTIONS if q.key == "last_day")
    known = Known(ROOT, TODAY, {"first_day": first})
    assert first < question.parse(question.offered(known), known)


NAMES = st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=80).filter(
    lambda text: text.strip() and text.strip() != "again"
)


def counts(most):
    return st.integers(1, most).map(str)


def by_weekday(most):
    days = st.dictionaries(st.sampled_from(WEEKDAYS), st.integers(1, most), min_size=1)
    return days.map(lambda found: ", ".join(f"{day} {count}" for day, count in found.items()))


@st.composite
def customer_answers(draw, first, last):
    return [
        draw(NAMES),
        draw(by_weekday(100_000)),
        f"{draw(st.times()):%H:%M}",
        draw(st.sampled_from(["yes", "no"])),
        draw(st.just("") | st.dates(first, last).map(str)),
    ]


@st.composite
def conversations(draw):
    """Good answers to all questions, in order."""
    first = draw(st.dates(date(2000, 1, 1), date(2099, 12, 31)))
    last = first + timedelta(days=draw(st.integers(28, 420)))
    script = [str(first), str(last), "none"]
    for _ in range(draw(st.integers(0, 2))):
        start, end = sorted(draw(st.tuples(*[st.dates(first, last)] * 2)))
        name = "c" + draw(NAMES)[:79]
        script.append(f"{start} to {end} {draw(st.sampled_from(['', name]))}")
    script.append("")
    script += [draw(counts(most)) for most in (100_000, 10_000, 120, 100_000, 10_000, 365, 365)]
    edges = sorted(draw(st.sets(st.integers(0, 1439), min_size=2, max_size=6)))
    periods = list(zip(edges[::2], edges[1::2], strict=False))
    script.append(", ".join("-".join(f"{m // 60:02}:{m % 60:02}" for m in p) for p in periods))
    script += [draw(counts(1000)), draw(counts(min(end - start for start, end in periods)))]
    script += draw(customer_answers(first, last))
    for _ in range(draw(st.integers(0, 2))):
        script += draw(customer_answers(first, last))
    return [*script, "", draw(st.just("") | by_weekday(1000))]


def scenario_of(script):
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "mine.toml"
        typist = asked(file, script)
        assert not any("Must be" in line for line in typist.lines)
        assert max(map(len, [*typist.lines, *typist.prompts])) <= 78
        return read_scenario(file)


@settings(max_examples=25, deadline=None)
@given(conversations())
def test_any_good_answers_make_a_scenario(script):
    """Whatever good answers are given, the file is a scenario, with the customers' names in it."""
    names = {" ".join(text.split()) for text in script}
    assert {order.customer for order in scenario_of(script).scenario.orders} <= names


@pytest.mark.proof
@settings(max_examples=300, deadline=None)
@given(conversations())
def test_any_good_answers_can_be_checked(script):
    """`check` has an answer for whatever was answered, in 300 conversations."""
    assert check_answer(scenario_of(script))["orders"]


DRIVER = """
import sys
from datetime import date
from pathlib import Path
from sim.asking import ask
ask(Path(sys.argv[1]), date(2026, 11, 25), input, print)
"""


def test_in_a_terminal(tmp_path, whole):
    """With a real terminal of 80 columns the conversation runs to its end, no line too wide."""
    file = tmp_path / "mine.toml"
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-c", DRIVER, str(file)], cwd=ROOT, stdin=theirs, stdout=theirs,
        stderr=theirs, env={**os.environ, "COLUMNS": "80", "TERM": "dumb"},
    )  # fmt: skip
    os.close(theirs)
    os.write(ours, "".join(f"{text}\n" for text in typed()).encode())
    shown = b""
    deadline = clock.monotonic() + 30
    while clock.monotonic() < deadline:
        try:
            some = os.read(ours, 65536)
        except OSError:  # the other end is closed
            break
        shown += some
        if not some:
            break
    os.close(ours)
    assert child.wait(30) == 0, shown.decode()
    assert file.read_text() == whole
    assert "10 of 10" in shown.decode()
