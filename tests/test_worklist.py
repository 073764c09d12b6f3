"""The work list says what the simulated years did: counted again here, and by arithmetic."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, datetime, time, timedelta
from functools import cache

import pytest
from worklist_example import DEMO, SUMMER, THREE_CROPS, TODAY, YEARS, bench, demo_week

from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.records import (
    BATCH,
    CONTAINERS,
    COUNT,
    CREW,
    CROP,
    CUSTOMER,
    KIND,
    MINUTES,
    PLACE,
    TIME,
    TO,
)
from sim.scenario_file import load_scenario
from sim.worklist import LEAST, OFTEN, work_of

DONE = ("seeded", "moved", "harvested", "washed", "cleared", "checked")


@cache
def rows_of_years(path=DEMO):
    """The rows of the years behind a list: which year, the date and the clock, the row."""
    plan = Plan(load_scenario(path))
    midnight = datetime.combine(plan.scenario.start, time.min)
    return [
        (replication, midnight + timedelta(days=row[TIME]), row)
        for replication in range(YEARS)
        for row in run_year(plan, 1, replication)
    ]


def start_of_shift(crew, at: datetime):
    """When the crew's shift began, found by the clock; None if nobody did it."""
    if crew is None:
        return None
    return next(s.starts for s in crew.shifts if s.starts <= at.time() <= s.ends)


@pytest.mark.parametrize(
    ("path", "monday"),
    [(DEMO, date(2026, 11, 9)), (DEMO, date(2026, 12, 21)), (THREE_CROPS, date(2027, 1, 4))],
)
def test_counts_are_those_of_the_rows(path, monday):
    """By day, crew, shift, kind of work, crop, batch and place: the rows' sums over the years."""
    week, crews = demo_week(monday, path), load_scenario(path).crews
    expected = defaultdict(lambda: [0.0, 0.0, 0.0])
    for _, at, row in rows_of_years(path):
        if row[KIND] in DONE and monday <= at.date() < monday + timedelta(days=7):
            batch = "" if row[KIND] == "harvested" else row[BATCH]
            start = start_of_shift(crews.get(row[CREW]), at)
            key = (at.date(), row[CREW], start, row[KIND], row[CROP], batch, row[PLACE], row[TO])
            expected[key][0] += row[COUNT] / YEARS
            expected[key][1] += row[CONTAINERS] / YEARS
            expected[key][2] += row[MINUTES] / YEARS
    listed = {
        (day.day, shift.crew, shift.starts, *task.name): task
        for day in week.days
        for shift, task in day.all_tasks
    }
    assert listed.keys() == expected.keys()
    for key, (count, containers, minutes) in expected.items():
        task = listed[key]
        by_count = task.kind in ("moved", "harvested", "checked")
        assert task.amount == pytest.approx(count if by_count else containers)
        assert task.containers == pytest.approx(containers)
        assert task.minutes == pytest.approx(minutes)


def test_all_days_add_up_to_the_whole_run():
    """Over the run, own and lesser tasks of each kind are all units and minutes of the rows."""
    week = demo_week()
    listed, counted = Counter(), Counter()
    for day in week.run:
        for _, task in day.all_tasks:
            listed[task.kind] += task.minutes
            listed[task.kind, "containers"] += task.containers
    for _, _, row in rows_of_years():
        if row[KIND] in DONE:
            counted[row[KIND]] += row[MINUTES] / YEARS
            counted[row[KIND], "containers"] += row[CONTAINERS] / YEARS
    assert set(listed) == set(counted)
    for key, value in counted.items():
        assert listed[key] == pytest.approx(value), key


def test_harvests_name_the_orders_their_heads_left_for():
    """By customer and leaving time, the heads that the harvests name are those delivered."""
    week = demo_week()
    named, left = Counter(), Counter()
    for day in week.run:
        for _, task in day.all_tasks:
            for order in task.orders:
                named[order.customer, order.leaves] += order.heads
    for _, at, row in rows_of_years():
        if row[KIND] == "delivered":
            to_the_minute = (at + timedelta(seconds=30)).replace(second=0, microsecond=0)
            left[row[CUSTOMER], to_the_minute] += row[COUNT] / YEARS
    assert set(named) == set(left)
    for key, heads in left.items():
        assert named[key] == pytest.approx(heads), key


def test_harvests_name_their_batches():
    """The batches of a harvest add up to its heads, the oldest first."""
    for day in demo_week().run:
        for _, task in day.all_tasks:
            if task.kind == "harvested":
                assert sum(b.heads for b in task.batches) == pytest.approx(task.amount)
                assert [b.seeded for b in task.batches] == sorted(b.seeded for b in task.batches)


def test_deliveries_are_those_due_less_those_short():
    """What is ordered, what is expected to leave, and in how many years nothing was missing."""
    week = demo_week(date(2027, 2, 1))
    due, missing, incomplete = Counter(), Counter(), defaultdict(set)
    for n, at, row in rows_of_years():
        key = at.date(), row[CUSTOMER]
        if row[KIND] == "due":
            due[key] += row[COUNT] / YEARS
        if row[KIND] == "short":
            missing[key] += row[COUNT] / YEARS
            incomplete[key].add(n)
    listed = {(d.leaves.date(), d.customer): d for day in week.run for d in day.deliveries}
    assert listed.keys() == due.keys()
    assert incomplete
    for key, ordered in due.items():
        assert listed[key].ordered == pytest.approx(ordered)
        assert listed[key].heads == pytest.approx(ordered - missing[key])
        assert listed[key].complete == YEARS - len(incomplete[key])


def test_surplus_is_listed_without_an_order():
    """An outlet's heads stand among the deliveries, and nothing is ordered."""
    week = demo_week(path=THREE_CROPS)
    taken = Counter()
    for _, at, row in rows_of_years(THREE_CROPS):
        if row[KIND] == "surplus":
            taken[at.date()] += row[COUNT] / YEARS
    listed = [d for day in week.run for d in day.deliveries if d.customer == "food pantry"]
    assert listed
    assert all(d.ordered is None for d in listed)
    assert {d.leaves.date(): d.heads for d in listed} == pytest.approx(dict(taken))


def test_own_tasks_and_lesser_ones():
    """Own: in a third of the years, or where a batch's step comes up most; and a minute's work."""
    week = demo_week()
    most = Counter()
    for day in week.run:
        for _, task in day.all_tasks:
            most[task.name] = max(most[task.name], task.years)
    usual = Counter()
    for day in week.run:
        for shift in day.shifts:
            for task in shift.tasks:
                often = task.years >= OFTEN * YEARS
                assert often or (task.batch and task.years == most[task.name])
                assert task.minutes >= LEAST
                usual[task.name] += task.years == most[task.name]
            for task in shift.lesser:
                assert task.years < OFTEN * YEARS or task.minutes < LEAST
    steps = [name for name in most if name[2] and name[0] == "seeded"]
    assert steps
    assert all(usual[name] for name in steps)


def test_expected_attendance_staffs_a_shift():
    """12 students, 8 % absent, 30 minutes: 331.2 person-minutes; half of it in exams."""
    for monday, minutes in ((date(2026, 11, 9), 331.2), (date(2026, 12, 14), 165.6)):
        shifts = [s for d in demo_week(monday).days for s in d.shifts if s.crew == "class"]
        assert shifts
        assert [s.staffed for s in shifts] == pytest.approx([minutes] * len(shifts))


def test_the_bench_works_by_arithmetic(tmp_path):
    """Monday of a full week: 40 plants into 4 channels in 10 minutes, a tray in 15, the checks."""
    week = work_of(bench(tmp_path).scenario, monday=date(2026, 2, 23), today=TODAY, years=2)
    tasks = {t.kind: t for t in week.days[0].shifts[0].tasks}
    assert list(tasks) == ["moved", "seeded", "washed", "checked"]
    moved, seeded = tasks["moved"], tasks["seeded"]
    assert (moved.amount, moved.containers, moved.minutes) == (40, 4, 10)
    assert moved.seeded == date(2026, 2, 16)
    assert (seeded.amount, seeded.trays, seeded.minutes, seeded.unit) == (1, 1, 15, "tray")
    assert (tasks["checked"].amount, tasks["checked"].minutes) == (1, 1)
    assert sum(t.containers for d in week.days for _, t in d.all_tasks if t.kind == "washed") == 3


def test_more_work_than_minutes_is_flagged(tmp_path):
    """60 heads at a minute each in a period of 30 person-minutes: 60 of 30, 30 short."""
    week = work_of(bench(tmp_path).scenario, monday=date(2026, 2, 23), today=TODAY, years=2)
    *others, friday = (s for d in week.days for s in d.shifts)
    assert (friday.minutes, friday.undone, friday.wanted, friday.staffed) == (30, 30, 60, 30)
    assert friday.over
    assert not any(s.over for s in others)
    (delivery,) = week.days[4].deliveries
    assert (delivery.ordered, delivery.heads, delivery.complete) == (60, 30, 0)
    assert delivery.leaves == datetime(2026, 2, 27, 15)


def test_a_missed_seeding_counts_in_its_last_possible_shift(tmp_path):
    """A tray of 15 minutes that only 10-minute shifts could do: 15 more than was worked."""
    scenario = bench(tmp_path).scenario
    crew = scenario.crews["class"]
    short = crew.model_copy(
        update={"shifts": tuple(s.model_copy(update={"working_minutes": 10}) for s in crew.shifts)}
    )
    late = scenario.cadence.model_copy(update={"late_days": 1})
    changes = {"crews": {"class": short}, "cadence": late}
    week = work_of(
        scenario.model_copy(update=changes), monday=date(2026, 1, 5), today=TODAY, years=1
    )
    assert [s.undone for d in week.days for s in d.shifts[:1]] == [0, 15, 0, 0, 0]
    assert [s.over for d in week.days for s in d.shifts[:1]] == [False, True, False, False, False]


def test_what_needs_nobody_has_no_shift():
    """By arithmetic, 36 plants a week are seeded, moved and harvested; nobody is named for it."""
    week = work_of(load_scenario(SUMMER), monday=date(2026, 4, 6), today=TODAY, years=1)
    monday, *rest = week.days
    (shift,) = monday.shifts
    assert (shift.crew, shift.starts, shift.over) == ("", None, False)
    assert sorted((t.kind, t.amount, t.task) for t in shift.tasks) == [
        ("harvested", 36, None), ("moved", 36, None), ("seeded", 36, None),
    ]  # fmt: skip
    assert not any(day.busy for day in rest)


def test_without_a_week_it_is_todays(tmp_path):
    """Today's week if today is in the run, else the first with something to do."""
    scenario = bench(tmp_path).scenario
    inside = work_of(scenario, today=date(2026, 3, 5), years=1)
    assert inside.monday == date(2026, 3, 2)
    assert work_of(scenario, today=date(2030, 3, 5), years=1).monday == date(2026, 1, 5)
    assert work_of(scenario, today=date(2025, 3, 5), years=1).monday == date(2026, 1, 5)


def test_any_day_of_a_week_will_do(tmp_path):
    """A date stands for its week; a week before it without work names the next one with some."""
    scenario = bench(tmp_path).scenario
    week = work_of(scenario, monday=date(2026, 3, 8), today=TODAY, years=1)
    assert [d.day for d in week.days] == [date(2026, 3, 2) + timedelta(days=n) for n in range(7)]
    assert week.next_busy == date(2026, 3, 9)
    assert work_of(scenario, monday=week.run[-1].day, today=TODAY, years=1).next_busy is None


@pytest.mark.parametrize("day", [date(2026, 1, 4), date(2031, 1, 1)])
def test_a_week_outside_the_run_is_refused(tmp_path, day):
    """The message says which days are possible."""
    scenario = bench(tmp_path).scenario
    last = Plan(scenario).timetable.date_of(Plan(scenario).timetable.days - 1)
    with pytest.raises(SeedbeatError) as caught:
        work_of(scenario, monday=day, today=TODAY, years=1)
    text = str(caught.value)
    assert f"--week {day}" in text
    assert "from Mon Jan 5, 2026 to" in text
    assert f"{last:%b} {last.day}, {last.year}" in text
    work_of(scenario, monday=last, today=TODAY, years=1)


def test_progress_is_told_year_by_year(tmp_path):
    """Whoever waits hears of each year."""
    heard = []
    work_of(
        bench(tmp_path).scenario, today=TODAY, years=3,
        progress=lambda done, total, _: heard.append((done, total)),
    )  # fmt: skip
    assert heard == [(1, 3), (2, 3), (3, 3)]
