"""Dates at mean lengths against the calendar: collisions, break rules, last dates to act."""

from __future__ import annotations

from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

import pytest

from sim.collisions import Change, Collision, changes, collisions, finished, last_seeding_for
from sim.greenhouse.plan import StagePlan
from sim.order_book import leavings
from sim.records import BATCH, CAUSE, KIND, TIME
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.seeding import BREAK_RULES, seeding_list
from sim.timetable import Timetable
from sim.year import run

SCENARIOS = Path(__file__).parent.parent / "scenarios"


def demo(*, cover: bool = True, luck: bool = True, **parts: Any) -> Scenario:
    """The demo school; without cover in the breaks, or without any spread and loss."""
    given = load_scenario(SCENARIOS / "maple-hollow.toml").model_dump() | parts
    if not cover:
        del given["crews"]["break cover"]
    for stage in given["crops"]["lettuce"]["stages"] if not luck else ():
        stage.update(days_sd=0.0, loss_percent=0.0, loss_sd_points=0.0, move_loss_percent=0.0)
        stage["bad_event"] = None
    return Scenario.model_validate(given)


def by_hand(*seedings: tuple[date, int]) -> dict[str, Any]:
    """A cadence of dated seedings."""
    return {"added": [{"day": d, "crop": "lettuce", "trays": n} for d, n in seedings]}


def found_in(scenario: Scenario) -> list[Collision]:
    """The collisions of a scenario's seeding list."""
    table = Timetable(scenario)
    return collisions(table, seeding_list(table, leavings(scenario, table)))


def test_transplant_due_on_a_holiday_waits_for_the_next_class() -> None:
    """Thu Nov 12 + 14 days is Thanksgiving: nobody until Mon Nov 30, four days of six."""
    (first, *_) = found_in(demo(cover=False, cadence=by_hand((date(2026, 11, 12), 4))))
    assert first == Collision(
        batch="lettuce 2026-11-12",
        crop="lettuce",
        trays=4,
        seeded=date(2026, 11, 12),
        task="transplant",
        due=date(2026, 11, 26),
        why="Thanksgiving Break",
        next_staffed=date(2026, 11, 30),
        waiting=4,
        lost=False,
    )


def test_cover_on_the_day_is_no_collision() -> None:
    """School is closed on Thu Nov 26, but two adults are there that day: nothing waits."""
    found = found_in(demo(cadence=by_hand((date(2026, 11, 12), 4))))
    assert [c for c in found if c.task == "transplant"] == []


def test_seedlings_that_wait_as_long_as_they_keep_are_lost() -> None:
    """Finished Tue Dec 22 and Tue Dec 29, class from Mon Jan 4: 13 and 6 days, kept for 6.

    Seeded Fri Dec 18 they are finished on Sat Jan 2 and wait two days. At a pace of 95 %, 14
    days take 14 / .95 = 14.7, rounded 15. What is lost has no harvest.
    """
    days = (date(2026, 12, 7), date(2026, 12, 14), date(2026, 12, 18))
    scenario = demo(cover=False, cadence=by_hand(*((day, 1) for day in days)))
    told = [(c.seeded, c.due, c.waiting, c.lost) for c in found_in(scenario)]
    assert told[:3] == [
        (days[0], date(2026, 12, 22), 13, True),
        (days[1], date(2026, 12, 29), 6, True),
        (days[2], date(2027, 1, 2), 2, False),
    ]
    assert {c.seeded for c in found_in(scenario) if c.task == "harvest"} <= {days[2]}


def test_collisions_agree_with_runs_without_luck() -> None:
    """Without spread and loss the run moves, dumps and dates what arithmetic says.

    In the demo without cover, one tray at a time, each batch is finished on the day reckoned
    with; lost seedlings are dumped as overgrown and never moved; others are first moved on the
    next staffed day.
    """
    line = {"crop": "lettuce", "trays": {"Mon": 1, "Thu": 1}, "first_day": date(2026, 8, 27)}
    scenario = demo(cover=False, luck=False, cadence={"lines": [line]})
    table = Timetable(scenario)
    events = run(scenario, seed=1).events
    moved, ended, dumped = {}, {}, set()
    for row in events:
        if row[KIND] == "moved":
            moved.setdefault(row[BATCH], table.date_of(row[TIME]))
        elif row[KIND] == "finished":
            ended.setdefault(row[BATCH], table.date_of(row[TIME]))
        elif row[KIND] == "dumped" and row[CAUSE] == "overgrown":
            dumped.add(row[BATCH])
    waits = [c for c in found_in(scenario) if c.task == "transplant"]
    assert {c.lost for c in waits} == {True, False}
    for collision in waits:
        assert ended[collision.batch] == collision.due
        assert (collision.batch in dumped and collision.batch not in moved) == collision.lost
        if not collision.lost:
            assert moved[collision.batch] == collision.next_staffed


def test_seeding_by_hand_on_a_free_day_waits_or_is_missed() -> None:
    """Sun Nov 15 is done on Monday, within two days. Tue Mar 16 would be done on Mon Mar 22.

    That is too late, though Mar 22 + 14 days, Apr 5, is a holiday. With six late days it counts.
    """
    cadence = by_hand((date(2026, 11, 15), 1), (date(2027, 3, 16), 1))
    found = found_in(demo(cover=False, cadence=cadence))
    assert {c.seeded for c in found} == {date(2026, 11, 16)}
    found = found_in(demo(cover=False, cadence=cadence | {"late_days": 6}))
    assert {c.seeded for c in found} == {date(2026, 11, 16), date(2027, 3, 22)}


@pytest.mark.parametrize("pace", [{"Dec": 95.0, "Jan": 95.0}, {"Dec": 60.0, "Mar": 145.0}])
@pytest.mark.parametrize("number", [0, 1])
def test_mean_dates_are_those_of_the_run(number: int, pace: dict[str, float]) -> None:
    """A stage of mean length ends on the same day here and in the simulation, in every month."""
    scenario = demo()
    table = Timetable(scenario)
    stage = scenario.crops["lettuce"].stages[number].model_copy(update={"pace_percent": pace})
    plan = StagePlan(stage, table)
    days = range(table.days - 90)
    assert [finished(table, stage, n) for n in days] == [plan.finished(n, stage.days) for n in days]
    assert {finished(table, stage, n) - n for n in days} > {round(stage.days)}


def changed_by(rule: str) -> dict[date, Change]:
    """What a break rule changes in the demo without cover, by planned date."""
    assert rule in BREAK_RULES
    lines = [{"crop": "lettuce", "trays": {"Mon": 4, "Thu": 4}}]
    scenario = demo(cover=False, cadence={"lines": lines, "break_rule": rule})
    table = Timetable(scenario)
    due = leavings(scenario, table)
    return {c.planned: c for c in changes(table, due, seeding_list(table, due))}


CLOSED = {  # the demo's Mondays and Thursdays without school from Aug 24 to Apr 16
    date(2026, 9, 7), date(2026, 10, 12), date(2026, 11, 26), date(2026, 12, 21),
    date(2026, 12, 24), date(2026, 12, 28), date(2026, 12, 31), date(2027, 1, 18),
    date(2027, 2, 15), date(2027, 3, 15), date(2027, 3, 18), date(2027, 4, 5),
}  # fmt: skip


def test_skipped_seedings_are_those_on_closed_days() -> None:
    """Keeping only staffed days skips exactly the Mondays and Thursdays without school."""
    found = changed_by("if staffed")
    assert set(found) == CLOSED
    assert {(c.what, c.to, c.trays) for c in found.values()} == {("skipped", None, 4)}


def test_seedings_are_moved_to_the_nearest_staffed_day() -> None:
    """Mon Oct 12 goes to Tue Oct 13, Mon Dec 21 to Fri Dec 18.

    Mon Dec 28 is seven days before Jan 4: nobody is there within six days, so it is skipped.
    """
    found = changed_by("nearest staffed day")
    assert set(found) == CLOSED
    assert [day for day, c in found.items() if c.what != "moved"] == [date(2026, 12, 28)]
    assert found[date(2026, 12, 28)].what == "skipped"
    assert found[date(2026, 10, 12)].to == date(2026, 10, 13)
    assert found[date(2026, 12, 21)].to == date(2026, 12, 18)


def test_seedings_are_merged_into_the_one_before() -> None:
    """Seeding more before: all four of the winter break are added to Thu Dec 17."""
    found = changed_by("seed more before")
    assert set(found) == CLOSED
    assert {c.what for c in found.values()} == {"merged"}
    winter = [c.to for day, c in found.items() if date(2026, 12, 20) < day < date(2027, 1, 4)]
    assert winter == [date(2026, 12, 17)] * 4


def test_last_seeding_for_a_delivery_counts_back_the_mean_lengths() -> None:
    """Tue Oct 13 less 42 days is Tue Sep 1.

    For Tue Feb 2: Fri Dec 18 + 15 days (14 / .95) is Sat Jan 2, moved on Mon Jan 4; 28 days at
    .95 in January leave 1.4 of the 28 for February: 29 days, Feb 2. Next there is Jan 4.
    """
    table = Timetable(demo(cover=False))
    assert last_seeding_for(table, "lettuce", date(2026, 10, 13)) == date(2026, 9, 1)
    assert last_seeding_for(table, "lettuce", date(2027, 2, 2)) == date(2026, 12, 18)


def test_a_seeding_whose_plants_are_lost_on_the_way_is_not_in_time() -> None:
    """Seedlings kept for one day: those of Dec 18 die in the break, older heads are over-mature."""
    stages = demo().model_dump()["crops"]["lettuce"]["stages"]
    stages[0]["keep_days"] = 1
    table = Timetable(demo(cover=False, crops={"lettuce": {"stages": stages}}))
    assert last_seeding_for(table, "lettuce", date(2027, 2, 2)) is None


def test_no_seeding_is_in_time_where_nobody_can_harvest() -> None:
    """Wed Dec 30 without cover, and Aug 31, a week after the first day: None."""
    table = Timetable(demo(cover=False))
    assert last_seeding_for(table, "lettuce", date(2026, 12, 30)) is None
    assert last_seeding_for(table, "lettuce", date(2026, 8, 31)) is None
    assert last_seeding_for(table, "lettuce", date(2031, 1, 1)) is None


def test_last_seeding_is_before_a_delivery_that_leaves_early() -> None:
    """Heads that leave on Tue Oct 13 at 7:00 am, before anybody is there, are cut before.

    Oct 12 is a holiday. A keep limit of two days reaches back to Sun Oct 11: no seeding is in
    time. One of five days reaches Fri Oct 9, 42 days after Fri Aug 28.
    """
    order = {"customer": "bus", "crop": "lettuce", "heads": {"Tue": 10}, "leaves": time(7)}
    table = Timetable(demo(orders=[order]))
    assert last_seeding_for(table, "lettuce", date(2026, 10, 13)) is None
    table = Timetable(demo(orders=[order], cold_store={"keep_days": 5.0}))
    assert last_seeding_for(table, "lettuce", date(2026, 10, 13)) == date(2026, 8, 28)


@pytest.mark.parametrize("day", [date(2026, 12, 1), date(2027, 1, 26), date(2027, 4, 6)])
def test_last_seeding_is_in_time_in_the_run_and_the_next_is_not(day: date) -> None:
    """Without luck a tray seeded on the last date is delivered that day; the next one is not."""
    order = {"customer": "one", "crop": "lettuce", "heads": {"Tue": 1}}
    parts: dict[str, Any] = {"orders": [order | {"first_day": day, "last_day": day}]}
    table = Timetable(demo(luck=False, **parts))
    last = last_seeding_for(table, "lettuce", day)
    assert last is not None
    later = last + timedelta(days=1)
    while not table.staffed("seeding", table.day_of(later)):
        later += timedelta(days=1)
    for seeded, complete in ((last, 1.0), (later, 0.0)):
        scenario = demo(luck=False, cadence=by_hand((seeded, 1)), **parts)
        assert run(scenario, seed=1).measures()["order_fill_rate"] == complete


def test_a_seeding_on_the_first_day_of_the_run_is_done_that_day() -> None:
    """Mon Aug 24, the first day, is a school day: a tray planned for it is seeded on it."""
    scenario = demo(luck=False, cadence=by_hand((date(2026, 8, 24), 1)))
    events = run(scenario, seed=1).events
    assert [int(row[TIME]) for row in events if row[KIND] == "seeded"] == [0]
