"""A capacity justification: known numbers, the rule of limits, differences, and what is refused."""

from __future__ import annotations

import argparse
from datetime import date, timedelta
from functools import cache
from math import nan, sqrt
from pathlib import Path

import numpy as np
import pytest
from reference.examples import MONDAY, tiny, weeks

from sim.commands import base
from sim.commands.grant import COMMAND
from sim.errors import SeedbeatError
from sim.grant import LIMIT, YEARLY, Case, Grant, Resource, justify, used
from sim.grant_answer import BETTER, grant_answer
from sim.grant_cost import costs_answer
from sim.grant_rows import Looks, expected_hours, look, store_peaks
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import MEASURES, Frame
from sim.parts import Crew
from sim.records import COUNT, KIND, PLACE, TIME
from sim.replications import Estimate
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, read_scenario
from sim.timetable import Timetable

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = SCENARIOS / "maple-hollow.toml"
BIGGER = SCENARIOS / "maple-hollow-bigger-nursery.toml"
BENCH = SCENARIOS / "small-bench-summer.toml"
RAFT = SCENARIOS / "raft-line.toml"


def loaded(scenario: Scenario) -> LoadedScenario:
    return LoadedScenario(scenario, (), {}, (), Path("made.toml"))


def granted(one: LoadedScenario, other: LoadedScenario | None = None, years: int = 2) -> Grant:
    with Runs() as runs:
        return justify(one, other, runs, years=years, seed=1)


@cache
def demo(years: int = 4) -> Grant:
    return granted(read_scenario(DEMO), read_scenario(BIGGER), years)


def resources(case: Case) -> dict[str, Resource]:
    return {resource.name: resource for resource in case.resources}


# -- capacity -----------------------------------------------------------------------------------


def test_shares_are_of_weeks_with_something_to_use():
    """Two years of three weeks; nothing is staffed in the last. By hand: mean of 0.5, 1.0, 0.9,
    0.96 = 0.84; the second week is busiest, (1.0 + 0.96) / 2; one week a year at 95 % or more.
    """  # noqa: D205 - one sentence
    mean, busiest, week, at_limit = used(np.array([[0.5, 1.0, nan], [0.9, 0.96, nan]]))
    assert (mean, busiest, week, at_limit) == (pytest.approx(0.84), pytest.approx(0.98), 1, 1.0)


@pytest.mark.parametrize(("share", "weeks_at"), [(LIMIT, 1.0), (LIMIT - 1e-6, 0.0)])
def test_a_week_is_at_the_limit_from_the_limit_on(share, weeks_at):
    """So says the rule: 95 % or more, in at least one week of a mean year."""
    found = Resource("people", "people", "", 1.0, "", *used(np.array([[share]])))
    assert (found.at_limit, found.reached) == (weeks_at, weeks_at == 1.0)


def test_the_small_bench_is_full_and_its_nursery_half():
    """144 channel sites / 4 weeks = 36 heads a week, of which 36 are ordered: all channels are
    taken in each of 40 weeks. The nursery holds 72 of 144 (H. Resh, Hobby Hydroponics, ch. 6; N.
    Bumgarner, Late Summer to Winter Bibb Lettuce Trial, 2013; the product is ours).
    """  # noqa: D205 - one sentence
    found = resources(granted(read_scenario(BENCH)).present)
    assert (found["channels"].mean, found["channels"].at_limit) == (pytest.approx(1.0), 40)
    assert found["channels"].reached
    assert found["nursery"].mean == pytest.approx(0.5)
    assert not found["nursery"].reached
    assert found["people"].amount is None
    assert found["cold store"].amount is None


def test_places_of_the_last_stage_come_first():
    found = granted(read_scenario(SCENARIOS / "maple-hollow-three-crops.toml")).present.resources
    assert [(r.kind, r.name) for r in found] == [
        ("finishing", "channels"), ("nursery", "nursery"), ("nursery", "nursery channels"),
        ("people", "people"), ("cold store", "cold store"),
    ]  # fmt: skip


# -- hours and store ----------------------------------------------------------------------------


def test_hours_are_people_present_times_the_length_of_the_shift():
    """Nobody is absent: one person, one hour a day, two weeks are 14 person-hours every year."""
    found = look(Plan(tiny()), 1, 3)
    assert found.hours["staff"] == pytest.approx([14.0] * 3)
    table = Timetable(tiny())
    assert expected_hours(table, table.window_start, table.window_end) == {
        "staff": pytest.approx(14.0)
    }


def test_absent_people_count_as_arithmetic_says():
    """Mean of a binomial attendance: n (1 - p); 5 standard errors (wrong once in 10**6 seeds)."""
    crew = tiny().crews["staff"].model_copy(update={"people": 10, "absent_percent": 30.0})
    scenario = tiny(crews={"staff": crew})
    hours = look(Plan(scenario), 1, 30).hours["staff"]
    error = sqrt(10 * 0.3 * 0.7 * 14 / 30)
    table = Timetable(scenario)
    expected = expected_hours(table, table.window_start, table.window_end)["staff"]
    assert expected == pytest.approx(10 * 0.7 * 14)
    assert abs(hours.mean() - expected) < 5 * error
    assert hours.std() > 0


def row(time, kind, heads, place=""):
    cells = [0.0, "", "", "lettuce", "", "", "", "", 0, 0, 0.0, 0.0, ""]
    cells[TIME], cells[KIND], cells[COUNT], cells[PLACE] = time, kind, heads, place
    return tuple(cells)


def test_the_store_is_fullest_between_harvest_and_leaving():
    """By hand: 30 put in before the window, 5 of them thrown away; 40 more, then all leave; what
    is dumped on a bench never was in the store; a week without events keeps what it began with.
    """  # noqa: D205 - one sentence
    frame = Frame(7, 28, 3, frozenset({"bench"}), 9.0)
    rows = [
        row(1.0, "harvested", 30, "bench"), row(8.0, "dumped", 5, "cold store"),
        row(9.0, "dumped", 9, "bench"), row(9.5, "harvested", 40, "bench"),
        row(10.0, "delivered", 50, "cold store"), row(21.0, "delivered", 10),
        row(21.0, "harvested", 7, "bench"), row(22.0, "surplus", 5),
    ]  # fmt: skip
    assert list(store_peaks(rows, frame)) == [65.0, 15.0, 15.0]


def test_the_store_never_holds_more_than_it_can():
    """In real rows: peaks are at most what the store holds, and reach what leaves at once."""
    plan = Plan(read_scenario(DEMO).scenario)
    peaks = look(plan, 1, 3).store
    assert peaks.max() <= 720
    assert (peaks.max(axis=1) >= 336).all()  # Tuesdays: 120 + 216 heads in complete weeks


# -- yearly counts ------------------------------------------------------------------------------


def test_yearly_counts_are_those_of_the_rows():
    """Each count of a year against its rows: heads and deliveries short, plants lost."""
    case = demo().present
    plan, frame = case.years.plan, Frame.of(case.years.timetable)
    assert set(case.yearly) == set(YEARLY)
    for number in range(4):
        rows = [r for r in run_year(plan, 1, number) if frame.start <= r[TIME] < frame.end]
        short = [r for r in rows if r[KIND] == "short"]
        due = [r for r in rows if r[KIND] == "due"]
        assert case.yearly["heads_short"][number] == sum(r[COUNT] for r in short)
        assert case.yearly["deliveries_short"][number] == len(short)
        assert case.yearly["heads_ordered"][number] == sum(r[COUNT] for r in due)
        assert case.deliveries_due == len(due)
        assert case.yearly["weeks_not_met"][number] == len({(r[TIME] - 49) // 7 for r in short})
        lost = sum(r[COUNT] for r in rows if r[KIND] == "lost")
        assert case.yearly["plants_lost"][number] == lost
    gone = case.yearly["heads_delivered"] + case.yearly["heads_short"]
    assert (gone == case.yearly["heads_ordered"]).all()


def test_causes_add_up_to_what_is_short():
    answer = grant_answer(demo())
    total = sum(r["a_year"] for r in answer["present"]["short_causes"])
    assert total == pytest.approx(answer["present"]["counts"]["heads_short"]["mean"])
    assert all(r["cause"] for r in answer["present"]["short_causes"])


# -- present and proposal -----------------------------------------------------------------------


def test_a_greenhouse_beside_itself_is_the_same():
    one = read_scenario(DEMO)
    found = granted(one, one)
    assert set(found.differences) == set(MEASURES) | set(YEARLY)
    assert {c.verdict for c in found.differences.values()} == {"the same"}
    assert not found.unlike
    assert grant_answer(found)["changed_inputs"] == []


def test_half_the_channels_give_half_the_heads():
    """4 of 8 channels: 72 sites / 4 weeks = 18 heads a week; in every year, so it is real."""
    scenario = read_scenario(BENCH).scenario
    place = scenario.places["channels"].model_copy(update={"count": 4})
    half = scenario.model_copy(update={"places": {**scenario.places, "channels": place}})
    found = granted(read_scenario(BENCH), loaded(half))
    change = found.differences["heads_delivered"]
    assert found.proposed
    assert found.proposed.yearly["heads_delivered"] == pytest.approx([720] * 2, rel=0.05)
    assert (change.verdict, change.exact) == ("real", True)
    assert not found.unlike
    told = grant_answer(found)["differences"]["heads_delivered"]
    assert told["direction"] == "worse"


def test_better_is_told_of_every_difference_with_a_side():
    """Fuller sites, more work, and orders as they are have none."""
    neither = {"bench_fill", "labor_use", "heads_ordered"}
    assert set(BETTER) == (set(MEASURES) | set(YEARLY)) - neither


def test_the_changed_input_is_named():
    (one,) = grant_answer(demo())["changed_inputs"]
    assert (one["where"], one["present"], one["proposed"]) == ("place nursery", 22, 28)


def with_orders(scenario: Scenario, **changes: object) -> Scenario:
    (order,) = scenario.orders
    return scenario.model_copy(update={"orders": (order.model_copy(update=changes),)})


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda s: with_orders(s, heads={"Mon": 40}), "The orders differ"),
        (lambda s: s.model_copy(update={"window": weeks(date(2026, 3, 9), 20)}), "weeks differ"),
    ],
)
def test_other_orders_or_weeks_are_not_like_for_like(change, told):
    one = read_scenario(BENCH)
    found = granted(one, loaded(change(one.scenario)))
    assert told in " ".join(found.unlike)
    assert "the present greenhouse" in found.unlike[0]
    assert "the proposal" in found.unlike[0]


# -- when more heads come -----------------------------------------------------------------------


def test_the_first_more_heads_come_one_cycle_later():
    """12 + 10 + 14 days of the raft line, no work needed: seeded May 4, ready June 9 (Rutgers
    University, Horticultural Engineering, "Lettuce Production"); a truck leaves every day.
    """  # noqa: D205 - one sentence
    one = read_scenario(RAFT)
    with Runs() as runs:
        found = justify(one, one, runs, years=2, seed=1, starts=date(2026, 5, 4))
    (first,) = found.first_more
    assert (first.seeded, first.ready) == (date(2026, 5, 4), date(2026, 6, 9))
    assert first.leaves == first.ready == first.seeded + timedelta(days=36)


def test_a_start_in_a_break_waits_for_somebody_to_seed():
    """Staff come on the first day only, and the order ends before anything could be ready."""
    crew = tiny().crews["staff"].shifts[0].model_copy(update={"weekdays": ("Mon",)})
    scenario = tiny(crews={"staff": Crew(people=1, shifts=(crew,))})
    with Runs() as runs:
        one = loaded(scenario)
        starts = MONDAY + timedelta(days=1)
        found = justify(one, one, runs, years=2, seed=1, starts=starts)
    (first,) = found.first_more
    assert first.seeded == MONDAY + timedelta(days=7)
    assert first.leaves is None


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"years": 1}, "--years: must be at least 2"),
        ({"years": 2, "starts": date(2026, 9, 7)}, "--starts 2026-09-07: needs a proposal"),
    ],
)
def test_what_cannot_be_done_is_refused(options, told):
    with Runs() as runs, pytest.raises(SeedbeatError, match=told):
        justify(loaded(tiny()), None, runs, seed=1, **options)


def test_a_start_outside_the_run_is_refused():
    one = loaded(tiny())
    told = r"must lie inside the run of made.toml, from Mon Sep 7, 2026 .* Tue Sep 1, 2026"
    with Runs() as runs, pytest.raises(SeedbeatError, match=told):
        justify(one, one, runs, years=2, seed=1, starts=date(2026, 9, 1))
    assert runs.simulated == 0


# -- cost ---------------------------------------------------------------------------------------


def test_cost_per_head_is_dollars_over_heads_and_labor_stands_apart():
    """By hand: $1,000 and $200 over 6,000 heads; 50 hours of $24 are $1,200, together $0.40."""
    heads = Estimate(6000.0, 5900.0, 6100.0, 4800.0, 7500.0, 9)
    found = costs_answer([("lease", 1000.0), ("seed", 200.0)], 24.0, heads, 50.0)
    assert found
    rows = {r["kind"]: r for r in found["rows"]}
    assert (rows["costs"]["dollars"], rows["labor"]["dollars"]) == (1200.0, 1200.0)
    assert rows["costs"]["per_head"] == pytest.approx(0.20)
    assert rows["all"]["per_head"] == pytest.approx(0.40)
    assert rows["costs"]["per_head_p05"] == pytest.approx(1200 / 7500)
    assert rows["costs"]["per_head_p95"] == pytest.approx(1200 / 4800)


def test_no_cost_and_no_head_give_no_cost_per_head():
    nothing = Estimate(0.0, 0.0, 0.0, 0.0, 0.0, 2)
    assert costs_answer([], None, nothing, 9.0) is None
    found = costs_answer([], 10.0, nothing, 9.0)
    assert found
    assert [(r["dollars"], r["per_head"]) for r in found["rows"]] == [(90.0, None)]


def test_adults_hours_are_valued_and_students_are_not():
    """The demo's staff work an hour on each of 180 school days, the cover 7 times 4 hours for
    two: 236 person-hours of the school year (Thanksgiving, winter and spring break, Mon and Thu).
    """  # noqa: D205 - one sentence
    found = grant_answer(demo(), [], 20.0)["present"]["costs"]
    assert found["adult_hours"] == pytest.approx(180 + 7 * 4 * 2)
    assert found["rows"][0]["dollars"] == pytest.approx(20 * 236)


@pytest.mark.parametrize(
    "asked", ["lease", "=5", "lease=", "lease=many", "lease=-1", "lease=nan", "lease=inf"]
)
def test_a_cost_that_is_none_is_refused(asked, capsys):
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    with pytest.raises(SystemExit):
        parser.parse_args(["grant", "made.toml", "--cost", asked])
    assert "must be" in capsys.readouterr().err


def test_costs_are_read_as_people_write_them():
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    line = ["grant", "made.toml", "--cost", "land lease = $2,400", "--cost", "seed=1e3"]
    assert parser.parse_args(line).cost == [("land lease", 2400.0), ("seed", 1000.0)]


# -- odd greenhouses ----------------------------------------------------------------------------


def test_nothing_ordered_and_nobody_there_still_give_an_answer():
    scenario = read_scenario(RAFT).scenario.model_copy(update={"orders": ()})
    answer = grant_answer(granted(loaded(scenario)))
    assert answer["present"]["weeks_due"] == 0
    assert answer["present"]["counts"]["heads_short"]["mean"] == 0
    assert answer["present"]["hours"] == []


def test_as_many_years_are_looked_at_as_there_are_at_most():
    found = demo().present.looks
    assert isinstance(found, Looks)
    assert found.years == 4
