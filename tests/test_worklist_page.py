"""The work list in words: on a terminal, and as one page that needs nothing but itself."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from html.parser import HTMLParser

import pytest
from worklist_example import SUMMER, TODAY, YEARS, bench, demo_answer

from sim import cautions
from sim.scenario_file import read_scenario
from sim.telling_worklist import clock, hours, many, sentences, tables, what
from sim.worklist import work_of, worklist_answer
from sim.worklist_page import page

BUSY = date(2027, 1, 4)  # the demo's longest list: the first week after winter break


class Checked(HTMLParser):
    """Notes unclosed tags, everything that loads or runs, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open, self.text, self.tags, self.links = [], "", [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note a tag, and where it leads."""
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href")]
        self.links += [name for name, _ in attrs if name.startswith("on")]
        if tag not in ("meta", "link", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Tags close in the order in which they opened."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Keep the text."""
        self.text += data


def bench_answer(folder, monday=date(2026, 2, 23)):
    loaded = bench(folder)
    week = work_of(loaded.scenario, monday=monday, today=TODAY, years=2)
    return worklist_answer(loaded, week, 1)


def test_the_page_stands_alone():
    """Well-formed HTML that loads nothing and runs nothing."""
    text = page(demo_answer())
    checked = Checked(text)
    assert not checked.open
    assert not {"script", "img", "iframe", "form"} & set(checked.tags)
    assert checked.links == ["data:,"]
    assert "http" not in text
    assert "url(" not in text


def test_the_page_says_every_task_and_delivery():
    """Each own task with its minutes, each delivery, every caution word for word."""
    answer = demo_answer(BUSY)
    said = Checked(page(answer)).text.replace("\u00a0", " ")
    for day in answer["days"]:
        for shift in day["shifts"]:
            for task in shift["tasks"]:
                assert what(task, day) in said
        for delivery in day["deliveries"]:
            assert f"Delivery to {delivery['customer']}: {delivery['ordered']:g} heads" in said
    assert answer["cautions"]
    for caution in answer["cautions"]:
        assert caution in said


def test_each_task_points_to_its_cautions():
    """Washing to chemicals, harvest and deliveries to the cold store, classes to students."""
    answer = demo_answer(BUSY)
    listed = answer["cautions"]
    wanted = {
        "washed": [cautions.CHEMICALS],
        "harvested": [cautions.COLD, cautions.COLD_ROOM],
        "moved": [],
    }
    for day in answer["days"]:
        for shift in day["shifts"]:
            students = [cautions.STUDENTS] if shift["crew"] == "class" else []
            assert [listed[place] for place in shift["cautions"]] == students
            for task in shift["tasks"]:
                if task["kind"] in wanted:
                    assert [listed[place] for place in task["cautions"]] == wanted[task["kind"]]
        for delivery in day["deliveries"]:
            assert [listed[p] for p in delivery["cautions"]] == wanted["harvested"]
    place = listed.index(cautions.CHEMICALS) + 1
    assert re.search(rf"Wash and sanitize \d+ channels \[{place}\]", page(answer))


def test_names_cannot_break_the_page(tmp_path):
    """A customer called "=HALL & <co>" stands there as written."""
    text = page(bench_answer(tmp_path))
    assert "<co>" not in text
    assert "=HALL &amp; &lt;co&gt;" in text
    assert "=HALL & <co>" in unescape(text)


def test_what_does_not_fit_is_flagged(tmp_path):
    """On the page and on the terminal: more work than minutes, and who will be short."""
    answer = bench_answer(tmp_path)
    flag = "more work than minutes: 60 of 30 person-minutes"
    assert page(answer).count(f'<span class="flag">{flag}</span>') == 1
    said = list(sentences(answer))
    assert "Fri Feb 27, 9:00 to 9:30 am, class, period 1 (60 of 30)" in said[3]
    assert "=HALL & <co>, Fri Feb 27: 30 of 60 heads of lettuce" in said[4]
    assert any(flag.capitalize() in row for table in tables(answer) for row in table.rows)


def test_the_first_line_says_what_to_do_first(tmp_path):
    """When, who, what, where, how much."""
    assert next(iter(sentences(bench_answer(tmp_path)))) == (
        "Start with: Mon Feb 23, 9:00 to 9:30 am, class, period 1. Move 40 plants of lettuce "
        "seeded Mon Feb 16 from nursery to 4 channels in bench."
    )


def test_a_week_without_work_says_when_there_is_some(tmp_path):
    """The bench's run ends with weeks of nothing; before its last week of work another follows."""
    answer = bench_answer(tmp_path, date(2026, 5, 25))
    assert not any(day["busy"] for day in answer["days"])
    first = next(iter(sentences(answer)))
    assert first == "Nothing is to be done in the week of Mon May 25, 2026."
    assert tables(answer) == []
    assert "<table>" not in page(answer)
    before = {**answer, "next_week": "2026-06-01"}
    assert "next week with work is that of Mon Jun 1, 2026" in next(iter(sentences(before)))


def test_closed_days_say_why():
    """Veterans Day stands in its week's page though nothing is to be done."""
    assert "Wed Nov 11: Veterans Day - No School; nothing to do" in page(demo_answer())


def test_each_day_has_a_table_and_every_own_task_a_row():
    """Terminal tables: one for each day with something to do, all rows as wide as the head."""
    answer = demo_answer(BUSY)
    told = tables(answer)
    assert [t.title for t in told] == [
        "Mon Jan 4",
        "Tue Jan 5",
        "Wed Jan 6",
        "Thu Jan 7",
        "Fri Jan 8",
    ]
    for table, day in zip(told, answer["days"], strict=False):
        rows = sum(len(s["tasks"]) + s["over"] for s in day["shifts"]) + len(day["deliveries"])
        assert len(table.rows) == rows
        assert {len(row) for row in table.rows} == {len(table.headers)}


def test_lesser_tasks_are_gathered_with_their_amounts():
    """What may come over from another period names each task once a day, with the day's sum."""
    answer = demo_answer()
    for day, table in zip([d for d in answer["days"] if d["busy"]], tables(answer), strict=True):
        lesser = [t for s in day["shifts"] for t in s["lesser"]]
        plants = sum(t["amount"] for t in lesser if t["kind"] == "moved")
        said = sum(int(n) for n in re.findall(r"\((\d+) plants?\)", table.under))
        assert said == pytest.approx(plants, abs=len(lesser))
        assert bool(lesser) == table.under.startswith("May come over from another period: ")


def test_print_grows_small_only_as_far_as_needed(tmp_path):
    """A short list is printed larger than the demo's longest, both within readable limits [pt]."""
    sizes = [
        float(re.search(r"@page.*?font-size: ([\d.]+)pt", page(answer), re.DOTALL).group(1))
        for answer in (bench_answer(tmp_path), demo_answer(), demo_answer(BUSY))
    ]
    assert sizes == sorted(sizes, reverse=True)
    assert 5.8 <= sizes[2] < sizes[0] == 8.5


def test_steps_that_need_nobody_are_told_so():
    """The summer bench names no crew: its steps are there, without minutes."""
    loaded = read_scenario(SUMMER)
    week = work_of(loaded.scenario, monday=date(2026, 4, 6), today=TODAY, years=1)
    answer = worklist_answer(loaded, week, 1)
    (table,) = tables(answer)
    assert table.rows[0][0] == "any time, no crew named"
    assert "Nobody is named for this week's work" in list(sentences(answer))[3]
    assert {row[2] for row in table.rows} == {""}
    assert "Seed 36 sites of bibb lettuce (36 planned today)" in page(answer)


def test_how_often_is_said_in_the_years_that_there_were():
    """A task of every year says so; one of fewer says how much it then was."""
    answer = demo_answer()
    rows = [row for table in tables(answer) for row in table.rows if row[3]]
    assert f"{YEARS} of {YEARS}" in {row[3] for row in rows}
    some = [row for row in rows if "then" in row[3]]
    assert some
    assert all(re.fullmatch(rf"[1-3] of {YEARS}, then [\d,]+", row[3]) for row in some)


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        ("09:40:00", "10:28:00", "9:40 to 10:28 am"),
        ("11:40:00", "12:28:00", "11:40 am to 12:28 pm"),
        ("13:00:00", "14:00:00", "1:00 to 2:00 pm"),
        (None, None, "any time"),
    ],
)
def test_hours_are_said_as_people_say_them(start, end, said):
    assert hours({"starts": start, "ends": end}) == said


def test_midnight_and_noon_are_twelve():
    assert (clock("00:05:00"), clock("12:00:00")) == ("12:05 am", "12:00 pm")


@pytest.mark.parametrize(
    ("number", "said"),
    [(0.2, "under 1 bench"), (0.5, "1 bench"), (1.4, "1 bench"), (2.5, "3 benches"),
     (1234.4, "1,234 benches")],
)  # fmt: skip
def test_counts_are_said_with_their_word(number, said):
    assert many(number, "bench") == said
