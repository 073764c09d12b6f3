"""Finding a cadence: what is proposed, what arithmetic rules out, what is chosen.

The small greenhouses are invented and have no chance in them where a test says so: then one year
is the whole truth, and the best cadence is known by hand or by trying all of them.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Sequence
from datetime import date, time, timedelta
from functools import cache
from itertools import combinations
from multiprocessing import active_children
from pathlib import Path
from threading import Timer

import numpy as np
import pytest
from reference.examples import MONDAY, two_stage, weeks

from sim.cadence import FRESH_FROM, YEARS_EACH, find_cadence
from sim.cadence_answer import CadenceAnswer, measured
from sim.candidates import (
    IN_BREAKS,
    Candidate,
    day_sets,
    list_candidates,
    seeding_days,
    split,
    told,
)
from sim.errors import ScenarioError, SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.kind_year import KindYear, seedings_of
from sim.measures import Frame, by_kind, measures_of, weeks_met
from sim.parts import (
    WEEKDAYS,
    Cadence,
    CadenceLine,
    ColdStore,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Seeding,
    Shift,
    Stage,
    Task,
)
from sim.pruning import prune
from sim.records import CAUSE, CONTAINERS, COUNT
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.thin_weeks import thin_run
from sim.trials import Trial
from sim.weeks import weekly_counts

SCENARIOS = Path(__file__).parent.parent / "scenarios"
THURSDAY = MONDAY + timedelta(days=24)  # the first delivery: 21 days after the first Thursday


@cache
def demo() -> Scenario:
    return load_scenario(SCENARIOS / "maple-hollow.toml")


def stages(keep: int, **first: object) -> tuple[Stage, ...]:
    """A week in the nursery and two on the bench; heads keep `keep` days."""
    return (
        Stage(name="seedling", place="nursery", days=7, moved_in_by="seeding", **first),  # type: ignore[arg-type]
        Stage(name="head", place="bench", days=14, moved_in_by="moving", keep_days=keep),
    )


def easy(keep: int = 1, **changes: object) -> Scenario:
    """No chance, no losses, no limits: 36 heads each Thursday for 10 weeks, 12 cells a tray.

    Two adults work every morning. Heads are ready 21 days after seeding and must be cut on the
    day of the delivery, for the cold store keeps them half a day.
    """
    mornings = Shift(weekdays=WEEKDAYS, starts=time(8), ends=time(12))
    thursdays = Order(
        customer="kitchen", crop="lettuce", heads={"Thu": 36}, first_day=THURSDAY,
        last_day=THURSDAY + timedelta(days=63),
    )  # fmt: skip
    last = THURSDAY + timedelta(days=100)
    parts: dict[str, object] = {
        "school": School(first_day=MONDAY, last_day=last, weekdays=WEEKDAYS),
        "places": {
            "nursery": Place(container="tray", count=None, sites_each=12),
            "bench": Place(count=None, sites_each=6),
        },
        "crops": {"lettuce": Crop(stages=stages(keep))},
        "tasks": {
            "seeding": Task(minutes_each=5, priority=3),
            "moving": Task(minutes_each=0.5, priority=2),
            "harvest": Task(minutes_each=1, priority=1),
        },
        "crews": {"staff": Crew(people=2, shifts=(mornings,))},
        "orders": (thursdays,),
        "cold_store": ColdStore(keep_days=0.5),
        "cadence": Cadence(lines=(CadenceLine(crop="lettuce", trays={"Mon": 2, "Thu": 4}),)),
        "window": weeks(MONDAY + timedelta(days=21), 10),
    }
    return Scenario(**(parts | changes))  # type: ignore[arg-type]


def tight(crop: Crop) -> Scenario:
    """Breaks, few trays and channels, one pair of hands, and two deliveries a week."""
    closed = (
        Dates(first_day=date(2026, 10, 14), last_day=date(2026, 10, 15), name="fall break"),
        Dates(first_day=date(2026, 11, 2), last_day=date(2026, 11, 2), name="staff day"),
    )
    hours = Shift(starts=time(8), ends=time(12))
    twice = Order(
        customer="kitchen", crop="lettuce", heads={"Tue": 20, "Fri": 16}, first_day=THURSDAY,
        last_day=THURSDAY + timedelta(days=64),
    )  # fmt: skip
    last = THURSDAY + timedelta(days=100)
    return easy(
        school=School(first_day=MONDAY, last_day=last, closed=closed),
        places={
            "nursery": Place(container="tray", count=5, sites_each=12),
            "bench": Place(count=20, sites_each=6),
        },
        crops={"lettuce": crop},
        crews={"staff": Crew(people=1, shifts=(hours,))},
        orders=(twice,),
        cold_store=ColdStore(keep_days=1),
    )


def strained() -> Scenario:
    """Losses, varying stays, absences, few channels and minutes; a store that holds a delivery."""
    return two_stage(5, 3, 30, cold_store=ColdStore(holds_heads=80, keep_days=2))


def plan_of(scenario: Scenario, candidate: Candidate) -> Plan:
    return Plan(scenario.model_copy(update={"cadence": candidate.cadence}))


def passed(
    scenario: Scenario, most: int = 10**6
) -> tuple[list[Candidate], list[Candidate], dict[str, int]]:
    """All candidates, those that arithmetic leaves, and how many each reason took out."""
    plan = Plan(scenario)
    listed = list_candidates(plan.timetable, plan.leavings)
    counting = sorted({int(x.time - plan.timetable.window_start) // 7 for x in plan.leavings})
    counting = [week for week in counting if 0 <= week < plan.timetable.weeks]
    pruning = prune(listed, plan, steadiness=0.95, weakest_week=0.85, counting=counting, most=most)
    reasons: dict[str, int] = {}
    for pruned in pruning.pruned:
        reasons[pruned.reason] = reasons.get(pruned.reason, 0) + pruned.count
    assert pruning.listed == len(pruning.left) + sum(reasons.values())
    return listed, list(pruning.left), reasons


@cache
def demo_tried() -> tuple[list[Candidate], list[Candidate], dict[str, int]]:
    """The demo's candidates with the runs of a usual search."""
    return passed(demo(), most=5600 // YEARS_EACH)


# -- what is proposed -------------------------------------------------------------------------


def test_day_sets_are_one_to_three_days_at_least_two_apart() -> None:
    """Monday to Friday: 5 single days, 6 pairs, one set of three; a day between any two."""
    sets = day_sets(WEEKDAYS[:5])
    assert [len([s for s in sets if len(s) == size]) for size in (1, 2, 3)] == [5, 6, 1]
    assert ("Mon", "Wed", "Fri") in sets
    assert not {("Mon", "Tue"), ("Thu", "Fri")} & set(sets)


def test_day_sets_of_a_full_week_spread_pairs_wider() -> None:
    """Where every day will do, Sunday is next to Monday, and pairs are three or four days apart."""
    sets = day_sets(WEEKDAYS)
    assert ("Mon", "Sun") not in sets
    pairs = {s for s in sets if len(s) == 2}
    numbers = combinations(range(7), 2)
    assert pairs == {(WEEKDAYS[a], WEEKDAYS[b]) for a, b in numbers if b - a in {3, 4}}


def test_split_spreads_trays_evenly() -> None:
    """Seven trays on three days are 3, 2, 2; the extra one goes where it is told to go."""
    assert split(7, 3, 0) == [3, 2, 2]
    assert split(7, 3, 2) == [2, 2, 3]
    assert split(8, 3, 2) == [3, 2, 3]


def test_seeding_days_are_those_with_somebody_there() -> None:
    """The demo's class is there Monday to Friday; a break's cover alone makes no seeding day."""
    assert seeding_days(Plan(demo()).timetable, ["lettuce"]) == list(WEEKDAYS[:5])
    assert seeding_days(Plan(easy()).timetable, ["lettuce"]) == list(WEEKDAYS)


def test_own_cadence_comes_first_and_is_never_ruled_out() -> None:
    """Even an own cadence that seeds nothing stays, with the two that are counted back."""
    scenario = easy(cadence=Cadence())
    listed, left, _ = passed(scenario, most=3)
    assert left == listed[:3]
    assert left[0].cadence == scenario.cadence
    assert left[0].name == "own cadence (no seedings; in breaks: seed if staffed)"


def test_grid_uses_every_break_rule_and_covers_what_orders_need() -> None:
    """36 heads of 12 cells need 3 trays a week: from 3 (90 percent) to 5 (160) are listed."""
    listed, _, _ = passed(easy())
    weekly = [c for c in listed if not c.given and c.cadence.lines[0].every_weeks == 1]
    assert {sum(c.cadence.lines[0].trays.values()) for c in weekly} == {3, 4, 5}
    assert {c.cadence.break_rule for c in listed} == set(IN_BREAKS)
    assert len({c.name for c in listed}) == len(listed)


def test_count_back_from_mean_orders_by_hand() -> None:
    """36 heads / 0.8 / 12 cells = 3.75, so 4 trays, spread over the own cadence's two days."""
    crops = {"lettuce": Crop(stages=stages(3, loss_percent=20))}
    plan = Plan(easy(crops=crops))
    _, mean, _ = list_candidates(plan.timetable, plan.leavings)[:3]
    assert mean.cadence.break_rule == "if staffed"
    assert [line.trays for line in mean.cadence.lines] == [{"Mon": 2, "Thu": 2}]


def test_count_back_from_dated_orders_by_hand() -> None:
    """Each Thursday less 21 days is a Thursday; 36 heads x 1.2 / 12 cells = 3.6, so 4 trays.

    Nobody is there on the first Thursday of October: that seeding is done on the day before.
    """
    away = date(2026, 10, 1)
    school = School(
        first_day=MONDAY, last_day=THURSDAY + timedelta(days=100), weekdays=WEEKDAYS,
        closed=(Dates(first_day=away, last_day=away),),
    )  # fmt: skip
    plan = Plan(easy(school=school))
    dated = list_candidates(plan.timetable, plan.leavings)[2]
    by_hand = [MONDAY + timedelta(days=3 + 7 * n) for n in range(10)]
    by_hand[by_hand.index(away)] = away - timedelta(days=1)
    assert dated.cadence.lines == ()
    assert dated.cadence.added == tuple(Seeding(day=d, crop="lettuce", trays=4) for d in by_hand)


def test_names_are_plain() -> None:
    """One crop goes without saying; several are named; dates are told where a line has them."""
    two = Cadence(
        lines=(
            CadenceLine(crop="bibb", trays={"Mon": 4, "Thu": 1}),
            CadenceLine(crop="basil", trays={"Mon": 1}),
        ),
        break_rule="seed more before",
    )
    assert told(two, ["bibb"]) == (
        "4 trays Mon, 1 tray Thu, every week; in breaks: seed more before"
    )
    assert told(two, ["bibb", "basil"]) == (
        "bibb 4 trays Mon, 1 tray Thu; basil 1 tray Mon, every week; in breaks: seed more before"
    )
    wanted = CadenceLine(
        crop="bibb", heads_wanted={"Tue": 30}, every_weeks=2, last_day=date(2027, 1, 8)
    )
    added = (Seeding(day=MONDAY, crop="bibb", trays=1),)
    assert told(Cadence(lines=(wanted,), added=added), ["bibb"]) == (
        "30 heads wanted Tue, every 2 weeks to Jan 8, 2027; 1 dated seedings; "
        "in breaks: seed if staffed"
    )


def test_crops_without_orders_keep_their_own_lines() -> None:
    """A second crop that nobody ordered is seeded as before under every candidate."""
    basil = CadenceLine(crop="basil", trays={"Tue": 1})
    scenario = easy(
        crops={"lettuce": Crop(stages=stages(1)), "basil": Crop(stages=stages(1))},
        cadence=Cadence(lines=(CadenceLine(crop="lettuce", trays={"Thu": 3}), basil)),
    )
    listed, _, _ = passed(scenario)
    assert all(basil in candidate.cadence.lines for candidate in listed)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"orders": ()}, "must hold an order with a delivery"),
        ({"crews": {}}, "nobody is there who may do 'seeding'"),
        ({"crops": {"lettuce": Crop(stages=stages(1, loss_percent=100))}}, "leave no plant"),
    ],
)
def test_nothing_to_search_is_one_clear_message(changes: dict[str, object], message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        find_cadence(easy(**changes))


@pytest.mark.parametrize(
    "changes", [{"steadiness": 0.0}, {"weakest_week": 1.5}, {"budget": 10}, {"workers": 0}]
)
def test_numbers_that_cannot_be_used_are_refused(changes: dict[str, float]) -> None:
    name = next(iter(changes))
    with pytest.raises(SeedbeatError, match=f"{name} must be"):
        find_cadence(easy(), **changes)  # type: ignore[arg-type]


# -- what arithmetic rules out ----------------------------------------------------------------


def test_demo_lists_many_and_leaves_few() -> None:
    """At least 500 candidates are listed for the demo; arithmetic leaves at most 150 to simulate.

    The 22 tray spaces cannot hold 10 trays a week for 16 days each (22.9 at any time), and half of
    the grid breaks a bound.
    """
    listed, left, reasons = demo_tried()
    assert len(listed) >= 500
    assert 50 <= len(left) <= 150
    assert set(reasons) == {"heads", "places", "same seedings", "fewer to spare"}
    assert reasons["heads"] + reasons["places"] > len(listed) / 2
    assert not any(c.name.startswith("10 trays Mon, every week") for c in left)


def test_budget_bounds_the_number_tried() -> None:
    """What the runs cannot try is counted too; all sizes stay, and the given three."""
    listed, left, reasons = passed(demo(), most=12)
    assert len(left) == 12
    assert left[:3] == listed[:3]
    assert reasons["fewer to spare"] > 100
    lines = [c.cadence.lines[0] for c in left[3:]]
    sizes = {round(sum(line.trays.values()) / line.every_weeks) for line in lines}
    assert sizes == {6, 7, 8, 9, 10}


def test_kind_year_is_the_simulated_year_where_nothing_is_scarce() -> None:
    """Without chance and limits, the heads of the kind year are those that are delivered."""
    scenario = easy(keep=3)
    plan = Plan(scenario)
    year, frame = KindYear(plan), Frame.of(plan.timetable)
    seen = set()
    for candidate in list_candidates(plan.timetable, plan.leavings)[::23]:
        seedings = seedings_of(candidate.cadence, plan)
        counts = weekly_counts(by_kind(run_year(plan_of(scenario, candidate), 1, 0)), frame)
        delivered = counts["heads delivered"] / counts["heads ordered"]
        assert year.cover(seedings, range(10)).shares == pytest.approx(delivered), candidate.name
        seen |= {bool((delivered == 1).all()), bool((delivered == 0).any())}
    assert seen == {True, False}


def brute_force(scenario: Scenario, candidate: Candidate, years: int) -> tuple[bool, float]:
    """Whether simulated years meet the target; the share of trays not seeded or overgrown."""
    plan = plan_of(scenario, candidate)
    frame, met, undone = Frame.of(plan.timetable), [], 0.0
    for number in range(years):
        kinds = by_kind(run_year(plan, 1, number))
        met.append(weeks_met(kinds, frame))
        undone += sum(row[CONTAINERS] for row in kinds["missed"])
        undone += sum(row[COUNT] / 12 for row in kinds["dumped"] if row[CAUSE] == "overgrown")
    due = np.array(met[0]) >= 0
    shares = (np.array(met) == 1)[:, due]
    meets = bool(shares.mean() >= 0.95 and shares.mean(axis=0).min() >= 0.85)
    return meets, undone / years / sum(s.trays for s in plan.seedings)


def removed_and_left(scenario: Scenario) -> tuple[list[Candidate], list[Candidate]]:
    """The candidates that arithmetic takes out, those that seed alike apart, and the others."""
    listed, left, _ = passed(scenario)
    plan = Plan(scenario)
    kept = {seedings_of(c.cadence, plan) for c in left}
    out = {seedings_of(c.cadence, plan): c for c in listed}
    return [c for seedings, c in out.items() if seedings not in kept], left


def refuted(scenario: Scenario, years: int) -> list[str]:
    """Candidates taken out that meet the target in truth, all but 2 percent of trays carried out.

    Some of those left must meet it, or there would be nothing to find.
    """
    out, left = removed_and_left(scenario)
    assert len(out) > 100

    def holds(candidate: Candidate) -> bool:
        meets, undone = brute_force(scenario, candidate, years)
        return meets and undone < 0.02

    assert any(holds(candidate) for candidate in left[3:])
    return [candidate.name for candidate in out if holds(candidate)]


def test_pruning_takes_out_nothing_that_meets_the_target() -> None:
    """There is no chance in it, so that one year of each tells the truth."""
    assert refuted(tight(Crop(stages=stages(6))), 1) == []


@pytest.mark.proof
def test_pruning_takes_out_nothing_that_meets_the_target_by_chance() -> None:
    """The same with losses and varying stays, 40 years each.

    A candidate just at the target would show it in half of such samples; none does.
    """
    first, second = stages(8, loss_percent=6, loss_sd_points=2, days_sd=0.6)
    chance = {"loss_percent": 3.0, "days_sd": 0.8}
    assert refuted(tight(Crop(stages=(first, second.model_copy(update=chance)))), 40) == []


def test_thin_run_is_the_run_that_lacks_most() -> None:
    """Weeks below a full reserve that follow each other; the run with the largest lack."""
    assert thin_run({0: 1.0, 1: 1.0}) is None
    assert thin_run({0: 0.8, 1: 1.0, 2: 0.5, 3: 0.9, 4: 1.0, 5: 0.0}) == (5, 5)
    assert thin_run({0: 0.8, 1: 1.0, 2: 0.2, 3: 0.6, 4: 1.0, 5: 0.0}) == (2, 3)
    assert thin_run({1: 0.5, 3: 0.4, 4: 0.9}) == (3, 4)


def test_more_trays_are_proposed_for_the_thin_weeks_after_a_break() -> None:
    """The demo's dark months and winter break leave January and February thin.

    The trays more are seeded before them: 44 days (14 + 28 at a pace of 95 percent) earlier.
    """
    _, left, _ = demo_tried()
    more = [c for c in left if len(c.cadence.lines) == 2]
    mon_thu = next(
        c for c in more if c.name.startswith("4 trays Mon, 3 trays Thu, every week; plus 1 tray")
    )
    line = mon_thu.cadence.lines[1]
    assert line.first_day is not None
    assert line.last_day is not None
    assert date(2026, 11, 15) <= line.first_day <= date(2026, 12, 10)
    assert date(2026, 12, 20) <= line.last_day <= date(2027, 1, 15)
    assert list(line.trays.values()) == [1]


# -- what is chosen ---------------------------------------------------------------------------


@cache
def answer_to(name: str) -> CadenceAnswer:
    return find_cadence(ASKED[name](), budget=1500)


def with_two_crops() -> Scenario:
    """24 heads of basil with the lettuce: 2 trays a week."""
    order = easy().orders[0]
    basil = order.model_copy(update={"crop": "basil", "heads": {"Thu": 24}})
    return easy(
        crops={"lettuce": Crop(stages=stages(1)), "basil": Crop(stages=stages(1))},
        orders=(order, basil),
    )


def with_a_closed_thursday() -> Scenario:
    """On Thursday, October 22 nobody is there to cut what leaves that day; heads keep longer."""
    gone = date(2026, 10, 22)
    school = School(
        first_day=MONDAY, last_day=THURSDAY + timedelta(days=100), weekdays=WEEKDAYS,
        closed=(Dates(first_day=gone, last_day=gone, name="snow day"),),
    )  # fmt: skip
    return easy(keep=5, school=school)


def too_small() -> Scenario:
    """Three channels of six: 18 sites for two weeks cannot give 36 heads a week."""
    places = {
        "nursery": Place(container="tray", count=None, sites_each=12),
        "bench": Place(count=3, sites_each=6),
    }
    return easy(keep=5, places=places)


ASKED = {
    "easy": easy,
    "two crops": with_two_crops,
    "closed Thursday": with_a_closed_thursday,
    "too small": too_small,
}


def test_known_best_is_chosen_where_nothing_is_left_to_chance() -> None:
    """Only heads seeded on a Thursday can be cut on a Thursday, and 3 trays waste nothing."""
    found = answer_to("easy")
    assert found.verdict == "meets"
    assert found.chosen is not None
    assert found.chosen.name == "3 trays Thu, every week; in breaks: seed if staffed"
    assert found.fresh.chosen.wasted_plants.mean == 0.0
    assert found.fresh.chosen.weakest.met.mean == 1.0
    thursdays = [MONDAY + timedelta(days=3 + 7 * n) for n in range(10)]
    assert [(s.day, s.crop, s.trays) for s in found.seedings] == [
        (day, "lettuce", 3) for day in thursdays
    ]
    assert found.reachable
    assert found.nearest is None


def test_own_cadence_is_measured_in_the_same_fresh_years() -> None:
    """Own: 4 trays on Thursdays waste 12 heads a week, 2 on Mondays 24 more that never fit.

    The Monday seedings end with the last that can be ready for the last delivery: 10 of each.
    """
    found = answer_to("easy")
    assert found.own.name.startswith("own cadence (2 trays Mon, 4 trays Thu, every week")
    wasted = found.fresh.own.differences["wasted_plants"]
    assert (wasted.low, wasted.mean, wasted.high) == (-360.0, -360.0, -360.0)
    assert wasted.verdict == "real"
    assert found.fresh.own.differences["steadiness"].verdict == "could be noise"


def test_several_crops_share_days_and_break_rule() -> None:
    """3 trays of lettuce and 2 of basil on Thursdays; every candidate keeps one rhythm for both."""
    found = answer_to("two crops")
    assert found.chosen is not None
    assert found.chosen.name == (
        "lettuce 3 trays Thu; basil 2 trays Thu, every week; in breaks: seed if staffed"
    )
    assert {(s.crop, s.trays) for s in found.seedings} == {("lettuce", 3), ("basil", 2)}


def test_impossible_week_is_reported_and_left_out() -> None:
    """Nobody can cut on the closed Thursday; the answer says so and is about the other 9 weeks."""
    found = answer_to("closed Thursday")
    assert [week.monday for week in found.impossible] == [date(2026, 10, 19)]
    assert not found.reachable
    assert found.sentence.startswith("The target cannot be reached in all weeks")
    assert "nobody there" in found.sentence
    assert "snow day" in found.sentence
    assert len(found.target.weeks) == 9
    assert date(2026, 10, 19) not in found.target.mondays
    assert found.verdict == "meets"
    assert found.fresh.chosen.steadiness.mean == 1.0


def test_weeks_before_anything_can_be_ready_are_impossible() -> None:
    """An order from the first week on: its first three Thursdays come before any head is ready."""
    order = easy().orders[0].model_copy(update={"first_day": MONDAY})
    scenario = easy(orders=(order,), window=weeks(MONDAY, 13))
    found = KindYear(Plan(scenario)).impossible()
    assert [week.monday for week in found] == [MONDAY + timedelta(days=7 * n) for n in range(3)]
    assert {week.cause for week in found} == {"nothing can be ready"}


def test_all_weeks_impossible_is_one_clear_message() -> None:
    """Orders that nobody may harvest for leave nothing to search."""
    tasks = {name: task for name, task in easy().tasks.items() if name != "harvest"}
    tasks["harvest"] = Task(minutes_each=1, who=("night crew",))
    night = Shift(weekdays=("Sat",), starts=time(8), ends=time(9))
    crews = {**easy().crews, "night crew": Crew(people=1, shifts=(night,))}
    with pytest.raises(ScenarioError, match="no week with something due can be met"):
        find_cadence(easy(tasks=tasks, crews=crews))


def test_greenhouse_too_small_for_its_orders_has_a_nearest_cadence() -> None:
    """Nothing meets the target; the nearest is told with its bounds and the weeks that fail."""
    found = answer_to("too small")
    assert found.verdict == "none meets"
    assert found.chosen is None
    assert found.seedings == ()
    assert found.nearest is not None
    assert found.nearest.below
    assert found.nearest.weakest.met.high < 0.85
    assert found.fresh.chosen.name == found.nearest.name
    assert any(pruned.reason == "places" for pruned in found.pruned)
    assert "No candidate that was simulated meets the target" in found.sentence
    assert "Arithmetic rules out every cadence of the grid" in found.sentence


def test_counts_add_up() -> None:
    """Every candidate is a row or was taken out; the runs are the years of all rows, and fresh."""
    for name in ASKED:
        found = answer_to(name)
        assert found.candidates == len(found.rows) + sum(p.count for p in found.pruned)
        of_rows = sum(row.years for row in found.rows)
        fresh = found.fresh.chosen.years * (4 if found.fresh.own.differences else 3)
        assert found.runs == of_rows + fresh <= 1500
        assert found.rows[0] == found.own


def same(one: CadenceAnswer, other: CadenceAnswer) -> bool:
    """Whether two answers say the same; ranges that make no sense are nan and not equal."""
    return repr(one) == repr(other)


@cache
def strained_answer(workers: int) -> CadenceAnswer:
    return find_cadence(strained(), seed=3, budget=500, workers=workers)


@pytest.mark.proof
def test_answer_does_not_depend_on_workers() -> None:
    """One process and two give the same answer, number for number."""
    assert same(strained_answer(1), strained_answer(2))


def test_fresh_years_had_no_part_in_the_choice() -> None:
    """The published numbers of the own cadence are those of replications 1,000,000 and on."""
    own = strained_answer(1).fresh.own.measured
    plan = Plan(strained())
    rows = [run_year(plan, 3, FRESH_FROM + n) for n in range(25)]
    measures = [measures_of(r, plan.timetable) for r in rows]
    assert own.years == 25
    for name, estimate in (
        ("wasted_plants", own.wasted_plants),
        ("steadiness", own.steadiness),
        ("unit_fill_rate", own.unit_fill_rate),
    ):
        assert estimate.mean == pytest.approx(np.mean([m[name] for m in measures]))


@pytest.mark.proof
def test_demo_answer_of_a_small_search() -> None:
    """A short search of the demo ends in its budget with all that an answer has to say."""
    heard: list[tuple[int, int, str]] = []
    found = find_cadence(demo(), budget=500, workers=2, progress=lambda *what: heard.append(what))
    assert found.runs <= 500
    assert heard[-1] == (found.runs, found.runs, "")
    assert [done for done, _, _ in heard] == sorted(done for done, _, _ in heard)
    assert any(note == f"{len(found.rows)} candidates left" for _, _, note in heard)
    assert len(found.target.weeks) == 33
    assert found.impossible == ()
    assert "33 weeks" in found.allowance
    assert found.own.name.startswith("own cadence (4 trays Mon, 4 trays Thu")
    assert found.fresh.own.measured.years == 25
    assert 0.9 < found.fresh.own.measured.steadiness.mean < 1.0
    for row in found.rows:
        assert row.weakest.met.low <= row.weakest.met.mean <= row.weakest.met.high
        assert row.weakest.monday in found.target.mondays


def test_ctrl_c_ends_the_workers_at_once() -> None:
    """An interrupt while the workers are at work comes through, and no worker is left."""
    scenario = demo()
    timer = Timer(1.0, os.kill, (os.getpid(), signal.SIGINT))

    def work_until_interrupted() -> None:
        with Runs(workers=2) as runs:
            timer.start()
            runs.trials([(scenario, n) for n in range(20_000)])

    with pytest.raises(KeyboardInterrupt):
        work_until_interrupted()
    assert not active_children()


def _trial(met: Sequence[int], wasted: float) -> Trial:
    return Trial(np.array(met, dtype=np.int8), np.zeros(10), wasted, 1.0)


def test_weakest_week_of_rows_is_the_lowest_by_hand() -> None:
    """Two years, three weeks, one of which does not count: met 2 of 2, then 1 of 2."""
    found = answer_to("closed Thursday")
    target = found.target
    assert len(found.fresh.chosen.below) == 0
    years = [
        _trial([1, 1, 1, -1, 1, 1, 1, 1, 1, 1], 5.0),
        _trial([1, 1, 1, -1, 1, 0, 1, 1, 1, 1], 7.0),
    ]
    told_by = measured("by hand", years, target)
    assert told_by.weakest.monday == target.mondays[4]
    assert told_by.weakest.met.mean == 0.5
    assert [week.monday for week in told_by.below] == [target.mondays[4]]
    assert told_by.steadiness.mean == pytest.approx((1 + 8 / 9) / 2)
    assert told_by.wasted_plants.mean == 6.0


@cache
def demo_answer() -> CadenceAnswer:
    return find_cadence(demo(), workers=2)


@pytest.mark.proof
def test_demo_has_a_cadence_that_meets_the_target() -> None:
    """The whole search of the demo: what it chooses meets the target in fresh years, in which the
    own cadence is less steady, and wastes less; one and two workers agree.

    The fresh weakest week may fall below 0.85 by the tolerance of 0.05 and by chance: in 200 years
    a week with a share of 0.80 comes to 0.70 or less once in 2,000 samples.
    """  # noqa: D205 - one sentence
    found = demo_answer()
    assert found.verdict == "meets"
    assert found.fresh.chosen.steadiness.mean > 0.95
    assert found.fresh.chosen.weakest.met.mean > 0.70
    assert found.fresh.own.differences["wasted_plants"].high < 0
    assert found.fresh.own.differences["steadiness"].low > 0
    assert same(found, find_cadence(demo(), workers=1))


@pytest.mark.proof
def test_demo_bounds_do_the_work() -> None:
    """Of at least 500 cadences at most 150 are simulated; a ranking sets aside fewer than 1 in 15.

    Every other one breaks a bound, or cannot waste as few plants as the chosen one.
    """
    found = demo_answer()
    assert found.candidates >= 500
    assert len(found.rows) <= 150
    assert found.untried < found.candidates / 15
    reasons = {pruned.reason for pruned in found.pruned} - {"fewer to spare"}
    assert reasons == {"heads", "heads by chance", "places", "same seedings", "wastes more"}
    assert found.runs <= 6000
    assert found.least_waste < found.fresh.chosen.wasted_plants.low


@pytest.mark.proof
def test_demo_candidates_not_tried_are_no_better() -> None:
    """Of those that broke no bound but were not tried, every tenth is tried with 40 years.

    None both meets the target there and wastes fewer plants than the chosen one (a cadence just
    at the target shows it in half of such samples).
    """
    _, left, _ = passed(demo())
    tried = {row.name for row in demo_answer().rows}
    others = [candidate for candidate in left if candidate.name not in tried][::10]
    assert len(others) > 30
    runs = Runs(workers=2)
    wasted = demo_answer().fresh.chosen.wasted_plants.mean
    for candidate in others:
        changed = demo().model_copy(update={"cadence": candidate.cadence})
        years = runs.trials([(changed, n) for n in range(40)])
        found = measured(candidate.name, years, demo_answer().target)
        meets = found.steadiness.mean >= 0.95 and not found.below
        assert not meets or found.wasted_plants.mean > wasted, candidate.name
