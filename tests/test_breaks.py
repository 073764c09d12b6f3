"""What closures do, and what helps: against answers worked out by hand, and against plain runs."""

from __future__ import annotations

import argparse
import json
from collections import Counter
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from ten_heads import TINY

from sim.breaks import breaks
from sim.breaks_calendar import closures_of, find_closure, find_surprise, surprises
from sim.breaks_cover import HOURS
from sim.breaks_harm import Seasons, harm, holds, touched
from sim.breaks_remedies import Remedies, Wanted
from sim.breaks_seedings import dated, listed, under_rule
from sim.breaks_study import Case, Study, SurpriseCase
from sim.breaks_variants import opened, without
from sim.commands import base
from sim.commands.breaks import COMMAND
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.order_book import leavings
from sim.parts import BreakRule, Dates
from sim.records import CAUSE, COUNT, KIND
from sim.report import json_text
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.screen import show
from sim.telling_breaks import sentences
from sim.timetable import Timetable

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"


@pytest.fixture(name="tiny_file", scope="module")
def _tiny_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("tiny") / "tiny.toml"
    file.write_text(TINY)
    return file


@pytest.fixture(name="tiny", scope="module")
def _tiny(tiny_file):
    return load_scenario(tiny_file)


@pytest.fixture(name="demo", scope="module")
def _demo():
    return load_scenario(DEMO)


@pytest.fixture(name="found", scope="module")
def _found(tiny):
    with Runs() as runs:
        return breaks(tiny, runs, years=10)


def with_rule(scenario: Scenario, rule: BreakRule) -> Scenario:
    cadence = scenario.cadence.model_copy(update={"break_rule": rule})
    return scenario.model_copy(update={"cadence": cadence})


def test_two_closed_weeks_by_hand(found):
    """Deliveries fail in both weeks, in the week whose seedlings were not moved, and in the two
    whose seedings were skipped; nothing else does.

    By hand: Oct 12 and 19 are ready in the break and over-mature before it ends; Oct 26 is due to
    move on Nov 2 and overgrown on Nov 7, so Nov 20 fails; Nov 2 and 9 are not seeded, so Nov 27
    and Dec 4 fail.
    """  # noqa: D205 - one sentence
    (one,) = found.found
    assert (one.closure.first_day, one.closure.last_day) == (date(2026, 11, 2), date(2026, 11, 13))
    assert one.nothing.heads_short.mean == one.nothing.heads_short.p05 == 50.0
    assert one.nothing.weeks_hit.mean == 5.0
    assert one.nothing.first_week == date(2026, 11, 2)
    hit = [week.week_of for week in one.weeks if week.touched]
    mondays = [(11, 2), (11, 9), (11, 16), (11, 23), (11, 30)]
    assert hit == [date(2026, month, day) for month, day in mondays]
    wasted = {cause: (n.mean, n.p05, n.p95) for cause, n in one.nothing.wasted.items()}
    by_hand = {"over-mature": 20.0, "overgrown": 10.0, "kept too long": 0.0}
    assert wasted == {cause: (n, n, n) for cause, n in by_hand.items()}
    assert one.nothing.plants_dumped.mean == 30.0
    assert one.own == one.nothing, "the scenario does nothing about it either"


def test_the_seedings_that_cause_it(found):
    """Each caught seeding is named with the step that falls due and the day it falls due."""
    (one,) = found.found
    told = [(c.seeded, c.step, c.due, c.what, c.next_staffed, c.ready) for c in one.caught]
    back = date(2026, 11, 16)
    assert told == [
        (date(2026, 10, 12), "harvest", date(2026, 11, 2), "lost", back, date(2026, 11, 2)),
        (date(2026, 10, 26), "transplant", date(2026, 11, 2), "lost", back, date(2026, 11, 16)),
        (date(2026, 11, 2), "seeding", date(2026, 11, 2), "skipped", None, date(2026, 11, 23)),
        (date(2026, 10, 19), "harvest", date(2026, 11, 9), "lost", back, date(2026, 11, 9)),
        (date(2026, 11, 9), "seeding", date(2026, 11, 9), "skipped", None, date(2026, 11, 30)),
    ]


def test_what_helps_by_hand(found):
    """Cover on Thursdays saves the deliveries of the break and the seedlings, not the seedings;
    Mondays save those too. Pausing saves the two deliveries of the break. Rules save nothing:
    what they seed before is due to move in the break.
    """  # noqa: D205 - one sentence
    (one,) = found.found
    tried = {(r.way.kind, r.way.name): r for r in one.remedies}
    thursdays = tried["cover", "2 adults, 6 h on 2 days"]
    assert thursdays.way.visit.days == (date(2026, 11, 5), date(2026, 11, 12))
    assert thursdays.way.searched == ((4, False), (6, False))
    assert (thursdays.heads_short.mean, thursdays.holds) == (20.0, False)
    both = tried["cover", "2 adults, 2 h on 4 days"]
    assert both.way.searched == ((2, True), (3, True), (4, True))
    assert both.way.visit.days == tuple(date(2026, 11, day) for day in (2, 5, 9, 12))
    assert (both.heads_short.mean, both.dumped.mean, both.way.person_hours) == (0.0, -30.0, 16.0)
    assert one.best is both
    assert tried["pause", "all orders pause"].heads_short.mean == 30.0
    assert tried["pause", "all orders pause"].heads_paused == 20.0
    rules = {name: r.heads_short.mean for (kind, name), r in tried.items() if kind == "break rule"}
    assert rules == dict.fromkeys(rules, 50.0)
    assert set(rules) == {"nearest staffed day", "fit transplant and harvest", "seed more before"}
    assert one.no_change == ("if staffed", "skip paused weeks", "skip closed days")
    kinds = {r.way.kind for r in one.remedies}
    assert kinds == {"break rule", "cover", "pause"}, "no seeding is in time for a week hit"


def test_surprise_weeks_by_hand(found):
    """A week that nobody comes costs its own delivery, that of the seedlings not moved in it, and
    that of the seeding not done in it: 30 heads in three weeks, far from the long break; in the
    last week of all nothing more can be short than its own delivery.
    """  # noqa: D205 - one sentence
    by_day = {one.week.first_day: one.harm for one in found.surprises}
    assert date(2026, 11, 9) not in by_day, "no class in that week anyway"
    for day in (date(2026, 9, 28), date(2026, 12, 7), date(2027, 1, 4)):
        assert by_day[day].heads_short.mean == 30.0
        assert by_day[day].weeks_hit.mean == 3.0
        assert by_day[day].first_week == day
    assert by_day[date(2027, 1, 25)].heads_short.mean == 10.0


def test_one_more_tray_before_by_hand(tiny):
    """Monday Oct 5 is closed and not seeded, so the delivery of Oct 30 fails.

    A tray more comes on the last seeding day in time, Sep 28: ready on Oct 19, its heads are
    over-mature by Oct 30 if they keep 5 days, and not if they keep 12. The nearest staffed day, Oct
    6, is in time for Oct 30 in both, and costs fewer trays than any other way by seeding alone.
    """
    closed = (Dates(first_day=date(2026, 10, 5), last_day=date(2026, 10, 5), name="Fair"),)
    school = tiny.school.model_copy(update={"closed": closed})
    stages = tiny.crops["lettuce"].stages
    for keep, helped in ((5, 0.0), (12, 10.0)):
        last = stages[1].model_copy(update={"keep_days": keep})
        crop = tiny.crops["lettuce"].model_copy(update={"stages": (stages[0], last)})
        scenario = tiny.model_copy(update={"school": school, "crops": {"lettuce": crop}})
        with Runs() as runs:
            (one,) = breaks(scenario, runs, years=10, closure="Fair").found
        assert one.nothing.heads_short.mean == 10.0
        assert (one.seed_for, one.act) == (date(2026, 10, 26), {"lettuce": date(2026, 10, 9)})
        more = [r for r in one.remedies if r.way.kind == "seed more"]
        assert more[0].way.added[0].day == date(2026, 9, 28)
        assert more[0].less.mean == helped
        assert (one.by_seeding.way.name, one.by_seeding.less.mean) == ("nearest staffed day", 10.0)
        (change,) = one.by_seeding.changes
        assert (change.day, change.what, change.trays) == (date(2026, 10, 6), "add", 1)


def test_a_surprise_week_in_full_by_hand(tiny):
    """Nobody comes from Dec 7 to 11: the deliveries of Dec 11 and 25 and of Jan 1 fail, of heads
    not cut, of seedlings not moved and of a tray not seeded.

    By hand: cover on Thursday cuts heads that are fresh on Friday and moves the seedlings in time;
    with Monday too, the tray is seeded. Pausing takes the order of Dec 11. The tray seeded late, on
    Dec 14, is ready on Jan 4, which is too late. No rule can know of it.
    """  # noqa: D205 - one sentence
    with Runs() as runs:
        found = breaks(tiny, runs, years=10, surprise=date(2026, 12, 9))
    (one,) = found.found
    assert found.surprises is None
    assert (one.closure.kind, one.closure.first_day) == ("surprise", date(2026, 12, 7))
    assert one.own == one.nothing, "what nobody knew of, the scenario does nothing about"
    assert one.nothing.heads_short.mean == one.nothing.heads_short.p95 == 30.0
    weeks = [week.week_of for week in one.weeks if week.touched]
    assert weeks == [date(2026, 12, 7), date(2026, 12, 21), date(2026, 12, 28)]
    assert [(c.step, c.seeded, c.what) for c in one.caught] == [
        ("harvest", date(2026, 11, 16), "lost"),
        ("transplant", date(2026, 11, 30), "lost"),
        ("seeding", date(2026, 12, 7), "skipped"),
    ]
    tried = {r.way.name: (r.heads_short.mean, r.holds) for r in one.remedies}
    assert tried == {
        "seeding the skipped trays on the first day back": (30.0, False),
        "2 adults, 6 h on 1 day": (10.0, False),
        "2 adults, 2 h on 2 days": (0.0, True),
        "2 adults, 2 h on 3 days": (0.0, True),
        "all orders pause": (20.0, False),
    }
    late = next(r for r in one.remedies if r.way.kind == "seed more")
    assert [(c.day, c.what, c.trays) for c in late.changes] == [
        (date(2026, 12, 7), "skip", 1), (date(2026, 12, 14), "add", 1),
    ]  # fmt: skip
    assert one.best.way.name == "2 adults, 2 h on 2 days"
    assert one.best.changes == ()
    assert one.by_seeding is None


def test_cover_has_the_fewest_hours_that_hold(tiny):
    """Ten heads take 300 minutes to cut, with moving and seeding 311: two adults need three hours
    on one day, and every number of hours, tried one by one, holds or not as the search says.
    """  # noqa: D205 - one sentence
    slow = tiny.tasks["harvest"].model_copy(update={"minutes_each": 30.0})
    scenario = tiny.model_copy(update={"tasks": {**tiny.tasks, "harvest": slow}})
    with Runs() as runs:
        study = Study(scenario, runs, 1)
        case = Case(study, closures_of(study.table)[0])
        hit = touched(study.seasons(case.nothing, 8), study.seasons(case.open_, 8))
        trial = Remedies(case, Wanted(0.85, 4), hit, {})
        found = {len(w.visit.days): w for w in trial._ways() if w.kind == "cover"}
        held = {}
        for hours in HOURS:
            covered, _ = case.covered(study.cover.visit(found[4].visit.days, hours))
            years = [study.seasons(s, 4) for s in (covered, case.open_)]
            held[hours] = holds(*years, hit, 0.85)
    assert held == {2: False, 3: True, 4: True, 5: True, 6: True}
    assert found[4].visit.hours == 3


def heads(plan, rows, kind, cause=None):
    start, end = plan.timetable.window_start, plan.timetable.window_end
    found = [r for r in rows if r[KIND] == kind and start <= r[0] < end]
    return float(sum(r[COUNT] for r in found if cause in (None, r[CAUSE])))


def test_harm_is_that_of_plain_runs_with_and_without(demo):
    """Spring break of the demo, counted from the rows of plain runs, gives the same numbers.

    The scenarios are made here by hand: the break and its cover taken out, orders that pause made
    to pause on its dates.
    """
    years, first, last = 4, date(2027, 3, 15), date(2027, 3, 19)
    cover = demo.crews["break cover"]
    shift = cover.shifts[0].model_copy(update={"only": cover.shifts[0].only[:2]})
    crews = {**demo.crews, "break cover": cover.model_copy(update={"shifts": (shift,)})}
    uncovered = demo.model_copy(update={"crews": crews})
    closed = tuple(c for c in demo.school.closed if c.first_day != first)
    assert len(closed) == len(demo.school.closed) - 1
    pause = Dates(first_day=first, last_day=last)
    orders = tuple(
        o.model_copy(update={"paused": (pause,)}) if o.school_closed == "pause" else o
        for o in demo.orders
    )
    in_class = demo.school.model_copy(update={"closed": closed})
    without_it = uncovered.model_copy(update={"school": in_class, "orders": orders})
    with Runs() as runs:
        study = Study(demo, runs, 1)
        case = Case(study, find_closure(closures_of(study.table), "spring", study.table))
        counted = [
            (uncovered, study.seasons(case.nothing, years)),
            (without_it, study.seasons(case.open_, years)),
            (demo, study.seasons(study.own, years)),
        ]
    for scenario, seasons in counted:
        plan = Plan(scenario)
        rows = [run_year(plan, 1, n) for n in range(years)]
        for kind, weekly in (("short", seasons.short), ("due", seasons.ordered)):
            assert [heads(plan, year, kind) for year in rows] == weekly.sum(axis=1).tolist()
        for cause, plants in seasons.wasted.items():
            assert [heads(plan, year, "dumped", cause) for year in rows] == plants.tolist()
    hurt = harm(counted[0][1], counted[1][1], study.mondays, 0.05)
    plain = [seasons.short.sum(axis=1) for _, seasons in counted]
    assert hurt.heads_short.mean == pytest.approx((plain[0] - plain[1]).mean())
    assert hurt.heads_short.mean > 300


def test_the_same_deliveries_are_due_with_and_without_a_closure(demo):
    """Whatever the closure, all variants have the orders that the scenario has."""
    study = Study(demo, Runs(), 1)

    def due(scenario):
        return [(x.time, x.crop, x.heads) for x in leavings(scenario, Timetable(scenario))]

    usual = due(demo)
    for closure in closures_of(study.table)[3:6]:
        case = Case(study, closure)
        assert due(case.open_) == due(case.nothing) == usual
    assert due(SurpriseCase(study, surprises(study.table)[20]).nothing) == usual


def test_dated_lists_keep_the_luck(demo):
    """A scenario written with dated lines gives the very rows of the scenario."""
    study = Study(demo, Runs(), 1)
    assert run_year(Plan(study.own), 3, 2) == run_year(Plan(demo), 3, 2)


@pytest.mark.parametrize("rule", ["nearest staffed day", "fit transplant and harvest"])
def test_dated_lists_are_the_lists_that_moving_rules_make(demo, rule):
    """Dates, crops and trays of a dated scenario are those of the rule's own list."""
    scenario = with_rule(demo, rule)
    wanted = listed(scenario)
    made = listed(dated(scenario, wanted))
    assert [(s.day, s.crop, s.trays) for s in made] == [(s.day, s.crop, s.trays) for s in wanted]


def test_a_rule_changes_what_the_closure_touches_and_nothing_else(demo):
    """The nearest staffed days of the seedings of spring break are around it; no others move."""
    study = Study(demo, Runs(), 1)
    case = Case(study, find_closure(closures_of(study.table), "2027-03-17", study.table))
    open_ = opened(case.bare_as_written, case.closure)
    moved = under_rule(case.usual, open_, case.bare_as_written, "nearest staffed day")
    trays = Counter({s.day: 0 for s in case.usual})
    for sign, seedings in ((1, moved), (-1, case.usual)):
        for s in seedings:
            trays[s.day] += sign * s.trays
    changed = {study.table.date_of(day): n for day, n in trays.items() if n}
    days = (date(2027, 3, 12), date(2027, 3, 15), date(2027, 3, 18), date(2027, 3, 22))
    assert changed == dict(zip(days, (4, -4, -4, 4), strict=True))


def test_the_closures_of_the_demo(demo):
    """School days without class that follow each other are one closure, over a weekend too.

    Dates as in the calendar file; October 23 is taken as an ordinary day, as its notes say.
    """
    table = Timetable(demo)
    told = [(c.kind, c.first_day, len(c.days)) for c in closures_of(table)]
    assert told == [
        ("single day", date(2026, 9, 7), 1),
        ("single day", date(2026, 10, 12), 1),
        ("single day", date(2026, 11, 11), 1),
        ("break", date(2026, 11, 25), 3),
        ("exam week", date(2026, 12, 14), 5),
        ("break", date(2026, 12, 21), 10),
        ("single day", date(2027, 1, 18), 1),
        ("single day", date(2027, 2, 15), 1),
        ("break", date(2027, 3, 15), 5),
        ("break", date(2027, 4, 2), 2),
        ("exam week", date(2027, 5, 24), 5),
    ]
    assert closures_of(table)[5].name == "Winter Break"
    assert closures_of(table)[9].name == "Staff Day and Teacher Workday"


def test_days_outside_the_school_year_are_summer(tiny):
    """A run that begins before school, and one that is measured after it, have a summer."""
    dates = {"first_day": date(2026, 9, 7), "last_day": date(2027, 1, 15)}
    school = tiny.school.model_copy(update=dates)
    early = tiny.model_copy(update={"school": school, "run_first_day": date(2026, 8, 31)})
    first, _, last = closures_of(Timetable(early))
    assert (first.kind, first.first_day, first.last_day) == (
        "summer", date(2026, 8, 31), date(2026, 9, 4),
    )  # fmt: skip
    assert (last.first_day, last.last_day) == (date(2027, 1, 18), date(2027, 1, 29))
    case = Case(Study(early, Runs(), 1), last)
    assert case.open_.school.last_day == date(2027, 1, 29)
    due = [len(leavings(s, Timetable(s))) for s in (early, case.open_, case.nothing)]
    assert due[0] == due[1] == due[2]


def test_the_cover_that_a_scenario_has(demo):
    """Two adults for four hours: on Thanksgiving, four days of winter break, two of spring break.

    Staff that come on regular days too are no cover. Without the cover nobody comes.
    """
    study = Study(demo, Runs(), 1)
    hours = {c.name: study.cover.person_hours(c) for c in closures_of(study.table)}
    covered = {"Thanksgiving Break": 8.0, "Winter Break": 32.0, "Spring Break": 16.0}
    assert {name: n for name, n in hours.items() if n} == covered
    case = Case(study, find_closure(closures_of(study.table), "winter", study.table))
    there = {case.table.date_of(s.day) for s in case.table.shifts}
    assert not there & set(case.closure.days)
    assert date(2026, 11, 26) in there, "the other closures keep theirs"


def test_harm_by_hand():
    """Two years of three weeks, with differences known by hand."""
    mondays = [date(2026, 9, 7), date(2026, 9, 14), date(2026, 9, 21)]

    def seasons(short, dumped):
        short = np.array(short, dtype=float)
        ordered = np.full_like(short, 10.0)
        counts = np.array(dumped, dtype=float)
        return Seasons(short, counts, ordered - short, ordered, {"overgrown": counts.sum(axis=1)})

    open_ = seasons([[0, 4, 0], [0, 0, 0]], [[0, 0, 0], [0, 0, 0]])
    shut = seasons([[0, 6, 2], [5, 0, 0]], [[0, 0, 3], [0, 0, 0]])
    found = harm(shut, open_, mondays, 0.05)
    assert (found.heads_short.mean, found.weeks_hit.mean, found.years_hit) == (4.5, 1.5, 1.0)
    assert found.first_range == (mondays[0], mondays[1])
    wasted = found.wasted["overgrown"]
    assert (found.plants_dumped.mean, wasted.mean) == (1.5, 1.5)
    assert (wasted.p05, wasted.p95) == pytest.approx((0.15, 2.85)), "5 % and 95 % between 0 and 3"
    assert touched(shut, open_).tolist() == [True, True, True]
    weeks = np.array([True, False, True])
    assert not holds(shut, open_, weeks, 0.85)
    assert holds(shut, open_, np.array([False, True, False]), 0.85), "no worse than without it"
    assert holds(shut, open_, weeks, 0.5)


def test_stretches_with_days_taken_out():
    """What is left of a stretch of days when some days are taken out of its middle, or all."""
    stretch = Dates(first_day=date(2026, 12, 1), last_day=date(2026, 12, 10))
    left = list(without([stretch], date(2026, 12, 4), date(2026, 12, 5)))
    assert [(d.first_day.day, d.last_day.day) for d in left] == [(1, 3), (6, 10)]
    assert not list(without([stretch], date(2026, 11, 1), date(2026, 12, 31)))


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        ("Sprng Break", 'Did you mean "Spring Break"'),
        ("carnival", "The closures are: Labor Day (2026-09-07);"),
        ("", "must be the name or a date of a closure"),
        ("finals", "Give one of the dates: 2026-12-14, 2027-05-24"),
        ("2027-07-01", "must lie in the run, from 2026-08-24 to 2027-05-30"),
        ("2026-11-04", "2026-11-04 (Wed Nov 4) is in no closure; --surprise 2026-11-04 studies"),
        ("2027-02-30", "must be a date such as 2027-03-15"),
    ],
)
def test_a_closure_that_is_not_there(demo, wanted, message):
    """The message says which closures there are, or what is wrong with the date."""
    table = Timetable(demo)
    with pytest.raises(SeedbeatError) as error:
        find_closure(closures_of(table), wanted, table)
    assert message in str(error.value)


@pytest.mark.parametrize(
    ("day", "message"),
    [
        (date(2026, 12, 24), "has no class anyway, .* --closure 2026-12-24"),
        (date(2027, 7, 1), "--surprise: must be a date in the run, from 2026-08-24 to 2027-05-30"),
    ],
)
def test_a_surprise_that_cannot_be(demo, day, message):
    """A week that is closed anyway, or that lies outside the run, is refused with the way out."""
    with pytest.raises(SeedbeatError, match=message):
        find_surprise(day, Timetable(demo))


def test_a_date_or_part_of_a_name_finds_a_closure(demo):
    """A weekend inside a closure belongs to it; case and extra spaces do not matter."""
    table = Timetable(demo)
    closures = closures_of(table)
    assert find_closure(closures, "2026-12-27", table).name == "Winter Break"
    assert find_closure(closures, " WINTER  break ", table) is closures[5]


def test_too_few_years_and_no_orders(tiny):
    """Both are told before anything is simulated."""
    with pytest.raises(SeedbeatError, match="--years: must be at least 10"):
        breaks(tiny, Runs(), years=9)
    with pytest.raises(SeedbeatError, match="nothing is ordered in the measured weeks"):
        breaks(tiny.model_copy(update={"orders": ()}), Runs(), years=10)


def run_command(*arguments):
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    return COMMAND.answer(parser.parse_args(["breaks", *map(str, arguments)]))


def test_the_answer_is_the_same_with_two_workers(tiny_file):
    """JSON is the same to the last byte, and has the documented keys."""
    texts = [
        json_text(run_command(tiny_file, "--years", 10, "--workers", n, "--json")) for n in (1, 2)
    ]
    assert texts[0] == texts[1]
    (closure,) = json.loads(texts[0])["closures"]
    assert {"name", "first_day", "last_day", "harm", "seedings", "remedies"} <= closure.keys()
    assert closure["harm"]["heads_short"]["mean"] == 50.0
    assert closure["best"] == "2 adults, 2 h on 4 days"
    assert [c["day"] for c in closure["seeding_changes"]] == ["2026-11-02", "2026-11-09"]


def test_the_screen_and_the_files(tiny_file, tmp_path, capsys):
    """The screen fits 80 columns, says the worst closure first, and ends with the cautions."""
    answer = run_command(tiny_file, "--years", 10, "--workers", 1, "--out", tmp_path)
    show(COMMAND.screen(answer))
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    words = " ".join(text.split())
    assert "Worst closure: Long Break, Mon Nov 2 to Fri Nov 13, 2026." in words
    assert "50 heads more are short than without it (50 to 50 in 9 of 10 years; real)" in words
    assert "First short week: that of Mon Nov 2, 2026. In all, 5.0 weeks are short" in words
    assert "20 over-mature heads more (20 to 20) and 10 overgrown seedlings more (10 to" in words
    assert "The tray of Mon Oct 26 is due for transplant on Mon Nov 2" in words
    assert "What helps at least cost: 2 adults, 2 h on 4 days (Mon Nov 2" in words
    assert "supervised by staff all the time" in words
    changes = (tmp_path / "seeding_changes.csv").read_text().splitlines()
    best = 'Long Break,2026-11-02,"2 adults, 2 h on 4 days",True'
    assert f"{best},2026-11-02,lettuce,add,1," in changes
    stopped = (tmp_path / "caught_by_surprise.csv").read_text()
    assert "week of Mon Sep 14,2026-09-14," in stopped
    assert (tmp_path / "deliveries_around.png").stat().st_size > 10_000
    assert {"closures.csv", "caught_seedings.csv", "remedies.csv", "surprises.csv"} <= set(
        answer["files"]
    )


def test_one_closure_in_full(tiny_file):
    """A closure that is asked for comes alone, with its remedies and without surprise weeks."""
    answer = run_command(tiny_file, "--years", 10, "--closure", "long", "--workers", 1)
    assert [c["name"] for c in answer["closures"]] == ["Long Break"]
    assert answer["surprises"] is None
    assert answer["closures"][0]["remedies"]


def test_many_days_of_cover_are_told_by_their_weekdays(tiny_file):
    """Up to six days are named; more are told by weekdays, first and last."""
    answer = run_command(tiny_file, "--years", 10, "--workers", 1)
    told = " ".join(sentences(answer))
    days = "Mon Nov 2, Thu Nov 5, Mon Nov 9, Thu Nov 12, from 8:00 am"
    assert f"2 adults, 2 h on 4 days ({days}), 16 person-hours" in told
    best = next(r for r in answer["closures"][0]["remedies"] if r["days"])
    best["name"] = answer["closures"][0]["best"] = "often"
    best["days"] = [f"2026-11-{day:02}" for day in (2, 5, 9, 12, 16, 19, 23)]
    told = " ".join(sentences(answer))
    assert "often (Mon Thu, Mon Nov 2 to Mon Nov 23, from 8:00 am)" in told


def test_one_surprise_on_the_screen(tiny_file, capsys):
    """A surprise that is asked for is told like a closure, by its dates."""
    show(COMMAND.screen(run_command(tiny_file, "--years", 10, "--surprise", "2026-12-07")))
    words = " ".join(capsys.readouterr().out.split())
    assert "Surprise closure, Mon Dec 7 to Fri Dec 11, 2026. If nothing is done, 30 heads" in words
    assert "The scenario does nothing about it." in words
    assert "What helps against a surprise closure, from Mon Dec 7" in words
