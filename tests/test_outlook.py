"""The weeks ahead from today's benches: known by hand, equal to brute force, calibrated."""

from __future__ import annotations

import argparse
import json
from datetime import date, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from test_why import weekly

from sim.benches_file import starting_from, with_benches
from sim.benches_rows import benches_of
from sim.cautions import COVER_IN_CLOSURES
from sim.commands import base, benches, review
from sim.commands import outlook as outlook_command
from sim.commands.base import Command
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.outlook import Outlook, outlook
from sim.outlook_actions import NOTICE
from sim.outlook_answer import LEVELS, flat, kept, outlook_answer
from sim.outlook_futures import Ahead, fixed, skipped
from sim.parts import Dates, Order
from sim.plots_outlook import heads_ahead
from sim.records import COUNT, CROP, CUSTOMER, KIND, TIME
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, read_scenario
from sim.telling import Screen
from sim.telling_outlook import sentences, tables
from sim.weeks import Floats

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = SCENARIOS / "maple-hollow.toml"
EXAMPLE = SCENARIOS / "maple-hollow-benches.csv"
MONDAY = date(2026, 10, 12)
MONDAY_11 = date(2027, 1, 11)  # of the shipped example
CLOSED = Dates(first_day=date(2026, 10, 19), last_day=date(2026, 10, 19), name="fair day")
WEEK = timedelta(days=7)


def on(scenario: Scenario, day: date, seed: int = 1, replication: int = 0) -> Scenario:
    """The scenario from a day on, with what one of its simulated years left on the benches."""
    plan = Plan(scenario)
    rows = run_year(plan, seed, replication)
    return starting_from(scenario, benches_of(plan, rows, plan.timetable.day_of(day)), "here")


@cache
def demo() -> tuple[LoadedScenario, Outlook]:
    """The shipped example's outlook, in few futures."""
    loaded = with_benches(read_scenario(DEMO), EXAMPLE)
    return loaded, outlook(loaded.scenario, futures=30)


def answered() -> dict[str, Any]:
    loaded, found = demo()
    return outlook_answer(loaded, found, EXAMPLE.name)


def test_a_run_cut_short_is_the_run_until_then() -> None:
    """Rows before the end of the weeks ahead are those of the whole run, one by one."""
    loaded, _ = demo()
    ahead = Ahead(fixed(loaded.scenario, 5), 5)
    for number in range(3):
        whole = run_year(Plan(loaded.scenario), 1, number)
        cut = run_year(ahead.plan, 1, number)
        before = [row for row in cut if row[TIME] < ahead.days]
        assert before == [row for row in whole if row[TIME] < ahead.days]
        assert len(before) > 300


def test_short_heads_of_each_delivery_are_those_of_the_rows() -> None:
    """Counted again from whole runs, by customer and day; weeks are their sums."""
    loaded, found = demo()
    plan = Plan(loaded.scenario)
    for number in range(3):
        short = {
            (plan.timetable.date_of(row[TIME]), row[CROP], row[CUSTOMER]): row[COUNT]
            for row in run_year(plan, 1, number)
            if row[KIND] == "short"
        }
        for due, heads in zip(found.due, found.short[number], strict=True):
            assert short.get((due.leaves.date(), due.crop, due.customer), 0) == heads
    for week in found.weeks:
        these = [n for n, due in enumerate(found.due) if due.week * WEEK == week.monday - MONDAY_11]
        assert (found.short[:, these].sum(axis=1) == week.short).all()
    assert found.short.sum() > 0


def test_more_futures_begin_with_the_same_ones() -> None:
    """The first futures do not hang on how many there are."""
    loaded, found = demo()
    few = outlook(loaded.scenario, weeks=2, futures=10)
    assert (few.short == found.short[:10, : len(few.due)]).all()


# -- known by hand: no luck, a tray of ten each Monday, ten heads each Friday ------------------


def test_without_luck_and_trouble_every_delivery_is_certain() -> None:
    """Ten heads each Friday in every future; nothing is weak and nothing is tried."""
    found = outlook(on(weekly(), MONDAY), weeks=4, futures=10)
    assert [due.leaves.date() for due in found.due] == [
        MONDAY + timedelta(days=4) + n * WEEK for n in range(4)
    ]
    assert not found.short.any()
    assert not any(week.weak for week in found.weeks)
    assert found.effects == ()


@cache
def closed_monday() -> Outlook:
    """Nobody is there on Monday Oct 19, so that nothing is ready for Friday Nov 13."""
    return outlook(on(weekly((CLOSED,)), MONDAY), weeks=8, futures=10)


def test_a_seeding_that_will_be_skipped_is_seen_three_weeks_ahead() -> None:
    """All ten heads of Nov 13 are short in every future, and no others."""
    found = closed_monday()
    assert [(w.monday, w.complete) for w in found.weeks if w.weak] == [(date(2026, 11, 9), 0.0)]
    (week,) = (w for w in found.weeks if w.weak)
    assert set(week.short) == {10.0}
    assert week.causes == {"no ready heads": 10.0}


def test_the_last_seeding_that_helps_and_the_first_that_is_ready() -> None:
    """For Friday Nov 13 a tray of Friday Oct 23 is in time: moved Oct 30, ready Nov 13.

    One of today, Oct 12, is due to move on Oct 19; somebody is there on the 20th, and it is ready
    on Nov 3.
    """
    (week,) = (w for w in closed_monday().weeks if w.weak)
    assert week.act == date(2026, 10, 23)
    assert week.ready == date(2026, 11, 3)


def test_what_helps_is_known_by_hand() -> None:
    """Cover on the closed day seeds its tray, and so does the next day with somebody there.

    Weekends and hours more change nothing. A tray more today is over-mature by Nov 10, one of
    Oct 26 not ready before the 16th. A pause of the delivery leaves nothing short.
    """
    gains = {}
    for effect in closed_monday().effects:
        assert effect.heads.exact
        assert effect.heads.verdict == ("real" if effect.heads.mean else "the same")
        assert effect.weeks.mean == effect.heads.mean / 10
        gains[effect.action.kind, effect.action.days[0]] = effect.heads.mean
    assert gains == {
        ("cover", date(2026, 10, 19)): 10.0,
        ("cover", date(2026, 10, 17)): 0.0,
        ("cover", date(2026, 10, 18)): 0.0,
        ("cover", date(2026, 10, 24)): 0.0,
        ("move", date(2026, 10, 20)): 10.0,
        ("seed more", date(2026, 10, 12)): 0.0,
        ("extra hour", date(2026, 10, 12)): 0.0,
        ("pause", date(2026, 11, 13)): 10.0,
    }


def test_a_pause_says_when_to_tell_and_what_is_no_longer_ordered() -> None:
    """A week before the delivery, or today if that is past."""
    (pause,) = (e for e in closed_monday().effects if e.action.kind == "pause")
    assert pause.action.by == date(2026, 11, 13) - NOTICE
    assert pause.heads_paused == 10
    assert all(e.heads_paused == 0 for e in closed_monday().effects if e is not pause)


def test_an_action_changes_no_seeding_but_its_own() -> None:
    """The seeding lists differ by the tray that is moved, under any break rule."""
    for rule in ("nearest staffed day", "seed more before", "skip closed days"):
        scenario = weekly((CLOSED,))
        cadence = scenario.cadence.model_copy(update={"break_rule": rule})
        scenario = on(scenario.model_copy(update={"cadence": cadence}), MONDAY)
        own = [(s.day, s.trays) for s in Plan(scenario).seedings]
        listed = Ahead(fixed(scenario, 8), 8).plan.seedings
        assert [(s.day, s.trays) for s in listed] == own
    assert [s.day for s in skipped(on(weekly((CLOSED,)), MONDAY))] == [date(2026, 10, 19)]


def test_the_first_week_holds_what_is_left_of_it() -> None:
    """From a Thursday: its Friday is in the first week, and earlier deliveries are not."""
    found = outlook(on(weekly(), date(2026, 10, 15)), weeks=3, futures=10)
    days = [due.leaves.date() for due in found.due]
    assert days == [date(2026, 10, 16), date(2026, 10, 23), date(2026, 10, 30)]
    assert found.weeks[0].monday == MONDAY


def test_two_lines_of_one_customer_are_one_delivery() -> None:
    """Six and four heads that leave together are ten; those of another hour stand by themselves."""
    lines = [(6, time(15)), (4, time(15)), (1, time(12))]
    orders = tuple(
        Order(customer="kitchen", crop="bibb", heads={"Fri": n}, leaves=at) for n, at in lines
    )
    found = outlook(on(weekly(orders=orders), MONDAY), weeks=1, futures=10)
    assert [(due.leaves.hour, due.heads) for due in found.due] == [(12, 1), (15, 10)]


@pytest.mark.parametrize(
    ("day", "weeks", "futures", "message"),
    [
        (None, 8, 20, "no benches are given"),
        (MONDAY, 8, 5, "--futures: must be at least 10"),
        (date(2026, 12, 14), 1, 10, "nothing is ordered from Mon Dec 14, 2026 to Sun Dec 20"),
    ],
)
def test_what_cannot_be_told_is_refused(
    day: date | None, weeks: int, futures: int, message: str
) -> None:
    """No benches, too few futures, nothing ordered."""
    order = Order(customer="kitchen", crop="bibb", heads={"Fri": 10}, last_day=date(2026, 12, 11))
    scenario = weekly(orders=(order,))
    with pytest.raises(SeedbeatError, match=message):
        outlook(on(scenario, day) if day else scenario, weeks=weeks, futures=futures)


# -- against brute force ----------------------------------------------------------------------


def test_the_gain_of_an_action_is_that_of_two_independent_sets_of_years() -> None:
    """Heads short by week in years of the scenario and of the one in which it is done.

    Simulated by `Runs`, which knows nothing of outlooks: means, weeks and intervals are the same.
    """
    loaded, found = demo()
    runs, n = Runs(), 8

    def short(scenario: Scenario) -> Floats:
        return runs.years(scenario, found.action_futures).weekly["heads short"][:, :n]

    base = short(fixed(loaded.scenario, n))
    kinds = set()
    for effect in found.effects:
        if effect.action.kind not in kinds:
            kinds.add(effect.action.kind)
            other = short(effect.action.scenario)
            less = (base - other).sum(axis=1)
            assert effect.heads.mean == pytest.approx(less.mean())
            half = 2.045 * less.std(ddof=1) / np.sqrt(30)  # Student's t, 29 degrees of freedom
            assert effect.heads.high - effect.heads.mean == pytest.approx(half, rel=1e-3)
            more = (other == 0).sum(axis=1) - (base == 0).sum(axis=1)
            assert effect.weeks.mean == pytest.approx(more.mean())
            for week, change in effect.by_week.items():
                assert change.mean == pytest.approx((base - other)[:, week].mean())
    assert kinds == {"cover", "seed more", "move", "extra hour", "pause"}


def test_ranges_are_heads_that_were_counted() -> None:
    """The p-quantile: the least heads that a share p of the futures does not exceed."""
    _, found = demo()
    answer = answered()
    for number, d in enumerate(answer["deliveries"]):
        heads = sorted(d["ordered"] - found.short[:, number])
        for level, kept_ in zip(LEVELS, d["quantiles"], strict=True):
            share = [sum(other <= h for other in heads) / len(heads) for h in heads]
            least = next(h for h, s in zip(heads, share, strict=True) if s >= level - 1e-12)
            assert kept_ == least
        assert d["expected"] == pytest.approx(np.mean(heads))
        assert d["share_complete"] == pytest.approx(np.mean(np.array(heads) == d["ordered"]))


# -- told -------------------------------------------------------------------------------------


def test_every_weak_week_gets_a_sentence_with_what_still_helps() -> None:
    """When, how often, how many, until when a seeding helps, and the best actions by name."""
    answer = answered()
    said = list(sentences(answer))
    weak = [week for week in answer["weeks"] if week["weak"]]
    assert len(weak) >= 3
    for week in weak:
        day = date.fromisoformat(week["week_of"])
        (told,) = (s for s in said if s.startswith(f"Week of Mon {day:%b} {day.day}:"))
        assert "short in" in told
        for help_ in week["helps"]:
            assert answer["actions"][help_["action"]]["name"] in told
            assert help_["verdict"] == "real"
    assert any("Nothing seeded today helps before Tue Feb 23" in s for s in said)
    assert any("is still ready for it at mean lengths" in s for s in said)


def test_tables_hold_every_week_delivery_and_action_and_fit() -> None:
    """A row each; no cell that cannot be broken is wider than its share of 80 columns."""
    answer = answered()
    found = {table.title: table for table in tables(answer)}
    assert len(found["Heads by week"].rows) == len(answer["weeks"])
    assert len(found["Heads by delivery"].rows) == len(answer["deliveries"])
    assert len(found["What can be done"].rows) == len(answer["actions"])
    for table in found.values():
        columns = zip(table.headers, *table.rows, strict=True)
        words = [max(len(w) for cell in column for w in cell.split() or [""]) for column in columns]
        assert sum(words) + 3 * (len(words) - 1) <= 80, table.title


def test_what_was_taken_for_granted_of_the_benches_is_told(tmp_path: Path) -> None:
    """A row of ready plants without a date is named in a sentence."""
    file = tmp_path / "mine.csv"
    rows = "counted on,2026-10-12\ncrop,place,channels,plants,seeded on,moved on,ready\n"
    file.write_text(rows + "bibb,channels,2,10,2026-09-14,2026-09-21,yes\n")
    loaded = with_benches(LoadedScenario(weekly(), (), {}, (), Path("weekly.toml")), file)
    found = outlook(loaded.scenario, weeks=2, futures=10)
    said = list(sentences(outlook_answer(loaded, found, file.name)))
    assert any(s.startswith("Taken for granted: mine.csv, row 3, ready: 2026-10-05") for s in said)


def test_certain_outlooks_are_called_complete() -> None:
    """No trouble in any future: the first word says so, and a range of one number is one number."""
    loaded = LoadedScenario(on(weekly(), MONDAY), (), {}, (), Path("weekly.toml"))
    answer = outlook_answer(loaded, outlook(loaded.scenario, weeks=3, futures=10), "mine.csv")
    first, second, *_ = sentences(answer)
    assert first.startswith("COMPLETE: in all 10 futures.")
    assert "(30 in 8 of 10 futures)" in first
    assert second.startswith("No week is weak")


def test_what_is_kept_for_a_review_and_the_tables_hold_plain_values() -> None:
    """JSON and back is the same; every table has a column for each value."""
    answer = answered()
    small = json.loads(json.dumps(kept(answer)))
    assert small["day"] == "2027-01-11"
    assert [d["quantiles"] for d in small["deliveries"]] == [
        d["quantiles"] for d in answer["deliveries"]
    ]
    for rows in flat(answer).values():
        assert rows
        for row in rows:
            assert not any(isinstance(value, dict | list) for value in row.values())


def test_the_picture_draws_the_ranges_of_the_answer() -> None:
    """Each week's outer bar reaches from the 10th to the 90th percent, the inner one lies in it."""
    answer = answered()
    _, found = demo()
    ax = heads_ahead(Figure((8.0, 4.5)).add_subplot(), answer, found.table)
    boxes = [bar.get_bbox() for bar in ax.patches if isinstance(bar, Rectangle)]
    bars = [(box.y0, box.y1) for box in boxes]
    for week in answer["weeks"]:
        assert (week["p10"], week["p90"]) in bars
        assert (week["p25"], week["p75"]) in bars


def called(command: Command, *argv: str) -> tuple[dict[str, Any], Screen]:
    """The answer and the screen of a command with these arguments."""
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), command)
    args = parser.parse_args([command.name, *argv])
    answer = command.answer(args)
    return answer, command.screen(answer)


def test_the_three_commands_follow_each_other(tmp_path: Path) -> None:
    """A form and a file of what is expected; an outlook from it; a review finds the outlook."""
    form, there = tmp_path / "form", tmp_path / "outlook"
    day = ("--on", "2027-01-11")
    answer, screen = called(benches.COMMAND, str(DEMO), *day, "--years", "3", "--out", str(form))
    assert answer["files"] == ["run.json", "benches.html", "benches.csv"]
    assert screen.tables
    given = ("--benches", str(form / "benches.csv"), "--futures", "10", "--weeks", "2")
    answer, screen = called(outlook_command.COMMAND, str(DEMO), *given, "--out", str(there))
    assert {"outlook.json", "heads_ahead.png", "page.html"} <= set(answer["files"])
    assert screen.title == "Maple Hollow: outlook from Mon Jan 11, 2027, seed 1"
    covered = any(action["kind"] == "cover" for action in answer["actions"])
    assert (COVER_IN_CLOSURES in answer["cautions"]) == covered
    log = tmp_path / "log.csv"
    log.write_text(
        "Date,What,To,Count\n"
        "2027-01-12,delivered,Brasswick hotel,216\n2027-01-14,delivered,Ottermead catering,100\n"
    )
    answer, screen = called(review.COMMAND, str(DEMO), str(log), "--outlooks", str(tmp_path))
    assert [(p["customer"], p["delivered"]) for p in answer["pairs"]] == [
        ("Brasswick hotel", 216), ("Ottermead catering", 100),
    ]  # fmt: skip
    assert answer["unwritten"] == 2
    assert any(s.startswith("Too little to tell: 1 week ") for s in screen.sentences)


# -- calibration ------------------------------------------------------------------------------


def share_inside(heads: Floats, happened: float, low: float = 0.1, high: float = 0.9) -> float:
    """The chance that the randomized rank of what happened lies between two levels.

    Among n futures of the same chances the rank of what happened, ties broken by lot, is uniform
    on 1 ... n + 1, so that with a lot added its share is uniform on 0 ... 1 (randomized probability
    integral transform: Czado, Gneiting & Held, Biometrics 65:1254, 2009).
    """
    below, ties = (heads < happened).sum(), (heads == happened).sum() + 1
    start, end = below / (len(heads) + 1), (below + ties) / (len(heads) + 1)
    return float(max(0.0, min(end, high) - max(start, low)) / (end - start))


@pytest.mark.proof
def test_ranges_hold_what_happens_as_often_as_they_say() -> None:
    """200 seasons of other luck, each stopped on a day of its own: 8 weeks ahead, 60 futures.

    Weekly heads are between 10 and 90 % in 77 to 83 % of weeks, ties with the order counted by
    the chance that a lot would put them there; the same for 25 to 75 % in 47 to 53 %. The standard
    error is .3 points, so that a right program fails in less than 1 of 100,000. Weeks of which
    less than nine futures in ten are complete are told apart as well: within 3 standard errors,
    which a right program misses in 3 of 1,000.
    """
    scenario = read_scenario(DEMO).scenario
    plan = Plan(scenario)
    rng = np.random.default_rng(20270111)
    wide, narrow, open_ = [], [], []
    for season in range(200):
        rows = run_year(plan, 2, season)
        day = int(rng.integers(60, 220))
        again = starting_from(scenario, benches_of(plan, rows, day), "here")
        ahead = Ahead(fixed(again, 8), 8)
        heads = -ahead.by_week(ahead.futures(60, 3).short)
        happened = np.zeros(8)
        for row in rows:
            if row[KIND] == "short" and day <= row[TIME] < day + ahead.days:
                monday = plan.timetable.date_of(row[TIME])
                happened[(monday - ahead.mondays[0]).days // 7] -= row[COUNT]
        due = {d.week for d in ahead.due}
        wide.append(np.mean([share_inside(heads[:, w], happened[w]) for w in due]))
        narrow.append(np.mean([share_inside(heads[:, w], happened[w], 0.25, 0.75) for w in due]))
        unsure = [w for w in due if (heads[:, w] == 0).mean() < 0.9]
        open_ += [share_inside(heads[:, w], happened[w]) for w in unsure]
    error = np.std(open_) / np.sqrt(len(open_))
    assert 0.77 <= np.mean(wide) <= 0.83
    assert 0.47 <= np.mean(narrow) <= 0.53
    assert len(open_) > 150
    assert abs(np.mean(open_) - 0.8) <= 3.0 * error


def test_a_rank_among_ties_is_counted_by_its_share() -> None:
    """All futures complete and so is what happened: .8; below all of them: 0; in the middle: 1."""
    full = np.full(9, 100.0)
    assert share_inside(full, 100.0) == pytest.approx(0.8)
    assert share_inside(full, 50.0) == 0.0
    assert share_inside(np.arange(9.0), 4.5) == 1.0
