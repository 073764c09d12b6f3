"""What a scenario can do at most agrees with published lines, with arithmetic, with the runs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from sim.ceilings import Ceiling, ceilings, highest_steadiness, impossible_weeks
from sim.flows import chain, heads_by_crop, loads, ordered, place_sites
from sim.order_book import Leaving, leavings
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.timetable import Timetable
from sim.workload import (
    CropNeeds,
    crop_needs,
    mean_minutes,
    ordinary_weeks,
    tightest,
    trays_seeded,
    week_balances,
    weekly_staffing,
    weekly_work,
)
from sim.year import run

SCENARIOS = Path(__file__).parent.parent / "scenarios"
THREE_CREWS = ("class", "staff", "break cover")


def loaded(name: str) -> tuple[Scenario, Timetable, list[Leaving]]:
    """A shipped scenario with its days and its leavings."""
    return worked_out(load_scenario(SCENARIOS / f"{name}.toml"))


def worked_out(scenario: Scenario) -> tuple[Scenario, Timetable, list[Leaving]]:
    """A scenario with its days and its leavings."""
    table = Timetable(scenario)
    return scenario, table, leavings(scenario, table)


def changed(scenario: Scenario, **parts: Any) -> Scenario:
    """A scenario with some of its parts, given as a file would, put in place of its own."""
    return Scenario.model_validate(scenario.model_dump() | parts)


def only(needs: Sequence[CropNeeds]) -> CropNeeds:
    """The needs of the only crop."""
    (need,) = needs
    return need


def by_name(found: Sequence[Ceiling]) -> dict[str, float]:
    """Heads per week by what limits them."""
    return {ceiling.name: ceiling.heads_per_week for ceiling in found}


# -- published lines ------------------------------------------------------------------------------


def test_float_raft_line_stands_as_full_as_published() -> None:
    """Rutgers, "Lettuce Production": 1,200 seeds and 960 heads a day, 12 + 10 + 14 days.

    Steady state by arithmetic: 1,200 x 12 = 14,400 cells, 960 x 10 = 9,600 plants on 160 boards
    of 60 and 960 x 14 = 13,440 on 640 boards of 21.
    """
    scenario, table, _ = loaded("raft-line")
    of_crop = chain("lettuce", scenario.crops["lettuce"])
    trays = trays_seeded(table)["lettuce"]
    assert trays == 7
    growing, close, wide = loads(scenario, of_crop, trays * 1200)
    assert (growing.standing, close.standing, wide.standing) == pytest.approx((14400, 9600, 13440))
    assert (close.containers, wide.containers) == pytest.approx((160, 640))
    assert trays * 1200 * of_crop.heads_per_cell / 7 == pytest.approx(960)


def test_what_has_no_limit_has_no_ceiling() -> None:
    """The raft line's places hold any number and its steps need nobody: nothing limits it."""
    _, table, due = loaded("raft-line")
    assert ceilings(table, due) == []


@pytest.mark.parametrize(
    ("season", "most", "nursery", "grows_by"),
    [("summer", 36.0, 72.0, 0.0), ("winter", 28.8, 86.4, 7.2)],
)
def test_small_bench_gives_what_its_sites_allow(
    season: str, most: float, nursery: float, grows_by: float
) -> None:
    """Resh, Hobby Hydroponics: 8 x 18 sites; Bumgarner 2013: 2 + 4 weeks, in winter 3 + 5.

    144 sites / 4 weeks = 36.0 heads a week with 72 plants in the nursery; 144 / 5 = 28.8 with
    86.4 in winter, when a seeding of 36 grows the wait by 7.2 plants a week.
    """
    scenario, table, due = loaded(f"small-bench-{season}")
    found = by_name(ceilings(table, due))
    assert found["channels"] == pytest.approx(most)
    of_crop = chain("bibb lettuce", scenario.crops["bibb lettuce"])
    first, last = loads(scenario, of_crop, found["channels"])
    assert (first.standing, last.sites) == pytest.approx((nursery, 144))
    assert trays_seeded(table)["bibb lettuce"] - found["channels"] == pytest.approx(grows_by)


def test_bench_seeded_and_ordered_at_twice_its_ceiling_gives_no_more() -> None:
    """Little's law is an identity: 72 seeded and ordered a week, 36 heads leave (Resh, above)."""
    scenario = load_scenario(SCENARIOS / "small-bench-summer.toml")
    places = scenario.model_dump()["places"]
    places["nursery"]["count"] = None
    orders = [order.model_dump() | {"heads": {"Mon": 72}} for order in scenario.orders]
    lines = [{"crop": "bibb lettuce", "trays": {"Mon": 72}}]
    greedy = changed(scenario, places=places, orders=orders, cadence={"lines": lines})
    _, table, due = worked_out(greedy)
    (ceiling,) = ceilings(table, due)
    assert ceiling.times == pytest.approx(0.5)
    heads = run(greedy, seed=1).measures()["heads_per_week"]
    assert (heads, ceiling.heads_per_week) == pytest.approx((36, 36))


# -- the demo's arithmetic (invented numbers) ------------------------------------------------------


def test_sites_are_told_apart_by_place() -> None:
    """22 trays of 200 cells and 448 channels of 18 sites: two numbers, never their sum."""
    nursery, channels = place_sites(loaded("maple-hollow")[0])
    assert (nursery.sites, nursery.finishing, nursery.earlier) == (4400, (), ("lettuce",))
    assert (channels.sites, channels.finishing, channels.earlier) == (8064, ("lettuce",), ())
    assert {place.sites for place in place_sites(loaded("raft-line")[0])} == {None}


def test_turns_are_the_year_over_the_stay() -> None:
    """28 days and 3.5 of turnaround: 365 / 31.5 = 11.6 turns a year."""
    last = chain("lettuce", loaded("maple-hollow")[0].crops["lettuce"]).steps[-1]
    assert last.stay == 31.5
    assert last.turns_per_year == pytest.approx(365 / 31.5)


def test_orders_are_46_cases_a_week() -> None:
    """120 + 120, 216 + 216, 144 and 288 heads: 1,104 in a full week, 46 cases of 24."""
    _, table, due = loaded("maple-hollow")
    orders = ordered(table, due)
    assert heads_by_crop(orders) == {"lettuce": 46 * 24}
    assert [order.heads_per_week for order in orders] == [240, 432, 144, 288]


def test_orders_due_leave_out_what_school_closures_pause() -> None:
    """Oct 13 to May 28: 33 weeks; the restaurants never pause, the caterer skips four Thursdays.

    Thursdays without school: Nov 26, Dec 24, Dec 31, Mar 18.
    """
    _, table, due = loaded("maple-hollow")
    restaurants, _, caterer, _ = ordered(table, due)
    assert (restaurants.heads_due, restaurants.weeks_due) == (33 * 240, 33)
    assert (caterer.heads_due, caterer.weeks_due) == (29 * 144, 29)


def test_chain_of_losses_with_and_without_damping_off() -> None:
    """.90 x .97 x .96 of the cells become heads; 1 batch in 50 loses 30 % more of its seedlings.

    1,104 / .96 = 1,150 transplants; / (.873 x 200) = 6.59 trays a week without the rare event,
    / (.873 x .994 x 200) = 6.63 with it.
    """
    _, table, due = loaded("maple-hollow")
    orders = ordered(table, due)
    ordinary = only(crop_needs(table, orders, bad_events=False))
    assert ordinary.chain.transplants_per_cell == pytest.approx(0.873)
    assert ordinary.transplants_per_week == pytest.approx(1104 / 0.96)
    assert ordinary.trays_per_week == pytest.approx(1150 / (0.873 * 200))
    assert round(ordinary.trays_per_week, 1) == 6.6
    all_batches = only(crop_needs(table, orders))
    assert all_batches.transplants_per_week == pytest.approx(1150)
    assert all_batches.trays_per_week == pytest.approx(1150 / (0.873 * (1 - 0.02 * 0.3) * 200))
    assert all_batches.chain.cells_for(1) == pytest.approx(1 / (0.873 * 0.994 * 0.96))


def test_eight_trays_a_week_take_18_of_22_tray_spaces() -> None:
    """8 trays x 16 days / 7 = 18.3 tray spaces."""
    scenario, table, due = loaded("maple-hollow")
    need = only(crop_needs(table, ordered(table, due)))
    assert need.trays_seeded == 8
    nursery, _ = loads(scenario, need.chain, need.trays_seeded * need.cells_per_tray)
    assert nursery.containers == pytest.approx(8 * 16 / 7)


def test_the_demo_is_bound_by_its_nursery_before_its_channels() -> None:
    """Channels 8,064 / 31.5 x 7 x .96 = 1,720 heads a week, 64 % ordered; the nursery allows less.

    Nursery: 22 / 16 x 7 trays x 200 x .873 x .994 x .96 = 1,604 (1,613 in batches without
    damping-off). Crews: 3,612 minutes for 1,104 + 460 + 383.3 of washing + 6.6 trays x 15. Store:
    720 heads against the 336 that leave on Tuesdays.
    """
    _, table, due = loaded("maple-hollow")
    found = ceilings(table, due)
    channels = 8064 / 31.5 * 7 * 0.96
    nursery = 22 / 16 * 7 * 200 * 0.873 * 0.96
    work = 1104 + 460 + 1150 / 18 * 6 + 1150 / (0.873 * 0.994 * 200) * 15
    assert by_name(found) == pytest.approx(
        {
            "nursery": nursery * 0.994,
            "channels": channels,
            ", ".join(THREE_CREWS): 3612 / work * 1104,
            "cold store": 720 / 336 * 1104,
        }
    )
    assert [c.kind for c in found] == ["place", "place", "crews", "cold store"]
    assert found[0].name == "nursery"
    assert round(channels) == 1720
    assert 1 / found[1].times == pytest.approx(0.64, abs=0.005)
    assert by_name(ceilings(table, due, bad_events=False))["nursery"] == pytest.approx(nursery)


def test_slow_months_lower_the_ceilings_of_places() -> None:
    """At a pace of 95 % the channels' 28 days become 28 / .95, the turnaround stays 3.5."""
    _, table, due = loaded("maple-hollow")
    slow = by_name(ceilings(table, due, month="Jan"))
    assert slow["channels"] == pytest.approx(8064 / (28 / 0.95 + 3.5) * 7 * 0.96)
    assert ceilings(table, due, month="May") == ceilings(table, due)


def test_ordinary_week_has_3612_minutes_for_2067_of_work() -> None:
    """1,104 + 460 + 383 + 120 = 2,067 person-minutes of 5 x (2 x 12 x .92 x 30 + 60) = 3,612."""
    scenario, table, due = loaded("maple-hollow")
    weeks = ordinary_weeks(weekly_staffing(table))
    assert mean_minutes(weeks) == pytest.approx({"class": 3312, "staff": 300, "break cover": 0})
    assert not any(week.special for week in weeks)
    needs = crop_needs(table, ordered(table, due))
    work = weekly_work(
        scenario, needs, trays={"lettuce": 8}, harvested={"lettuce": 1104}, check_days=0
    )
    minutes = {w.task: w.minutes for w in work}
    assert minutes == pytest.approx(
        {"harvest": 1104, "seeding": 120, "transplant": 460, "washing": 1150 / 18 * 6}
    )
    balance = tightest(scenario, mean_minutes(weeks), work)
    assert (balance.staffed, balance.work) == pytest.approx((3612, 2067), abs=0.5)
    assert not balance.exceeds


def test_exam_weeks_and_long_breaks_have_more_work_than_minutes() -> None:
    """Exams: half the class minutes, 1,956 < 2,067. Breaks: 2 x 2 x 4 h of cover, 960 minutes.

    In the breaks only the restaurants' 240 heads are due: 240 + 460 + 383 + 120 = 1,203 > 960.
    """
    _, table, due = loaded("maple-hollow")
    balances = week_balances(table, due, crop_needs(table, ordered(table, due)))
    over = {b.staffing.monday: b.tightest for b in balances if b.tightest.exceeds}
    exams, breaks = (1956, 2067), (960, 1203)
    expected = {
        date(2026, 12, 14): exams, date(2026, 12, 21): breaks, date(2026, 12, 28): breaks,
        date(2027, 3, 15): breaks, date(2027, 5, 24): exams,
    }  # fmt: skip
    assert list(over) == list(expected)
    for monday, numbers in expected.items():
        assert (over[monday].staffed, over[monday].work) == pytest.approx(numbers, abs=0.5)
    special = {b.staffing.monday: b.staffing.special for b in balances}
    assert special[date(2027, 5, 24)] == ("Finals Week",)
    assert special[date(2027, 3, 15)] == ("Spring Break",)
    assert special[date(2026, 11, 2)] == ()


# -- several crops, restricted crews, cadences -----------------------------------------------------


def test_several_crops_fill_a_shared_place_in_their_present_mix() -> None:
    """480 butterhead, 216 oakleaf, 240 romaine a week share 420 x 18 sites (invented numbers).

    Each takes heads / (1 - loss) x (stay + 3.5) / 7 sites: 28, 25 and 24 days, 4, 5 and 3 %.
    Romaine alone uses the 16 x 54 nursery sites: plants for the channels / .99 / .98, 13 days.
    """
    _, table, due = loaded("maple-hollow-three-crops")
    assert heads_by_crop(ordered(table, due)) == {"butterhead": 480, "romaine": 240, "oakleaf": 216}
    found = by_name(ceilings(table, due))
    sites = 480 / 0.96 * 31.5 / 7 + 216 / 0.95 * 28.5 / 7 + 240 / 0.97 * 27.5 / 7
    assert found["channels"] == pytest.approx(7560 / sites * 936)
    young = 240 / 0.97 / 0.99 / 0.98 * 13 / 7
    assert found["nursery channels"] == pytest.approx(864 / young * 936)
    butterhead = 480 / (0.9 * 0.994 * 0.97 * 0.96) * 16
    oakleaf = 216 / (0.88 * 0.97 * 0.95) * 15
    romaine = 240 / (0.91 * 0.98 * 0.98 * 0.99 * 0.97) * 13
    trays = (butterhead + oakleaf + romaine) / 200 / 7
    assert found["nursery"] == pytest.approx(24 / trays * 936)


def test_work_for_adults_only_does_not_fit_into_students_minutes() -> None:
    """Washing by staff alone: 300 minutes for 383 of washing allow 300 / 383.3 of the orders."""
    demo = load_scenario(SCENARIOS / "maple-hollow.toml")
    tasks = demo.model_dump()["tasks"]
    tasks["washing"]["who"] = ("staff",)
    _, table, due = worked_out(changed(demo, tasks=tasks))
    lowest = ceilings(table, due)[0]
    assert (lowest.kind, lowest.name) == ("crews", "staff")
    assert lowest.heads_per_week == pytest.approx(300 / (1150 / 18 * 6) * 1104)


def test_daily_checks_are_work_that_does_not_grow_with_the_heads() -> None:
    """20 minutes on each of 5 days: 100 of 3,612 minutes are not there for the heads."""
    demo = load_scenario(SCENARIOS / "maple-hollow.toml")
    tasks = demo.model_dump()["tasks"] | {"checks": {"minutes_each": 20}}
    _, table, due = worked_out(changed(demo, tasks=tasks, daily_checks_by="checks"))
    _, plain_table, plain_due = worked_out(demo)
    name = ", ".join(THREE_CREWS)
    without = by_name(ceilings(plain_table, plain_due))[name]
    assert by_name(ceilings(table, due))[name] == pytest.approx(without * 3512 / 3612)


def test_orders_of_a_cut_week_do_not_dilute_a_full_week() -> None:
    """An order from a Wednesday on counts by its full weeks; orders that follow by their time."""
    scenario = load_scenario(SCENARIOS / "small-bench-summer.toml")
    daily = {"customer": "stall", "crop": "bibb lettuce", "heads": {"Mon": 5, "Fri": 7}}
    _, table, due = worked_out(changed(scenario, orders=[daily | {"first_day": date(2026, 4, 1)}]))
    (one,) = ordered(table, due)
    assert one.heads_per_week == 12
    assert one.heads_due == 7 + 12 * (one.weeks_due - 1)
    halves = [
        daily | {"last_day": date(2026, 7, 19)},  # 20 of the window's 40 weeks
        daily | {"first_day": date(2026, 7, 20), "heads": {"Tue": 24}},
    ]
    _, table, due = worked_out(changed(scenario, orders=halves))
    (both,) = ordered(table, due)
    assert both.heads_per_week == (12 + 24) / 2


@pytest.mark.parametrize(
    ("cadence", "trays"),
    [
        ({"lines": [{"crop": "bibb lettuce", "trays": {"Mon": 3, "Thu": 2}}]}, 5),
        ({"lines": [{"crop": "bibb lettuce", "trays": {"Mon": 3}, "every_weeks": 2}]}, 1.5),
        (
            {
                "lines": [
                    {"crop": "bibb lettuce", "heads_wanted": {"Mon": 5}, "cells_per_head": 1.3}
                ]
            },
            7,  # 5 x 1.3 = 6.5 cells, in trays of one cell
        ),
        (
            {
                "lines": [  # 56 days of 4, then 280 days of 8, to the window's end
                    {
                        "crop": "bibb lettuce",
                        "trays": {"Mon": 4},
                        "last_day": date(2026, 3, 1),
                    },
                    {
                        "crop": "bibb lettuce",
                        "trays": {"Mon": 8},
                        "first_day": date(2026, 3, 2),
                    },
                ]
            },
            (4 * 56 + 8 * 280) / 336,
        ),
        (
            {
                "added": [
                    {"day": date(2026, 3, 2), "crop": "bibb lettuce", "trays": 6},
                    {"day": date(2026, 3, 19), "crop": "bibb lettuce", "trays": 3},
                ]
            },
            3,  # 9 trays in three weeks
        ),
        ({}, 0),
    ],
)
def test_trays_of_a_cadence_are_counted_per_week(cadence: dict[str, Any], trays: float) -> None:
    """Lines by their weekdays, every so many weeks and for as long as they last; or dated ones."""
    scenario = load_scenario(SCENARIOS / "small-bench-summer.toml")
    _, table, _ = worked_out(changed(scenario, cadence=cadence))
    assert trays_seeded(table) == pytest.approx({"bibb lettuce": trays})


def test_without_orders_the_cadence_gives_the_mix() -> None:
    """36 seeded a week and nothing ordered: the same 36.0 heads a week; with neither, nothing."""
    scenario = load_scenario(SCENARIOS / "small-bench-summer.toml")
    _, table, due = worked_out(changed(scenario, orders=[]))
    assert by_name(ceilings(table, due))["channels"] == pytest.approx(36.0)
    _, table, due = worked_out(changed(scenario, orders=[], cadence={}))
    assert ceilings(table, due) == []


def test_a_crop_that_never_comes_up_has_a_ceiling_of_zero() -> None:
    """All plants lost: infinitely many trays are needed, no head can be delivered."""
    scenario = load_scenario(SCENARIOS / "small-bench-summer.toml")
    crops = scenario.model_dump()["crops"]
    crops["bibb lettuce"]["stages"][0]["loss_percent"] = 100
    _, table, due = worked_out(changed(scenario, crops=crops))
    assert {ceiling.heads_per_week for ceiling in ceilings(table, due)} == {0.0}


# -- the highest steadiness ------------------------------------------------------------------------


def test_reference_workload_can_meet_49_of_52_weeks() -> None:
    """Two weeks of winter break and the spring break have nobody: at most 49 / 52 = .942."""
    _, table, due = loaded("r8k")
    assert highest_steadiness(table, due) == pytest.approx(49 / 52)
    found = [(week.monday, week.cause, week.closure) for week in impossible_weeks(table, due)]
    assert found == [
        (date(2026, 12, 21), "nobody there", "winter break"),
        (date(2026, 12, 28), "nobody there", "winter break"),
        (date(2027, 3, 15), "nobody there", "spring break"),
    ]


def test_a_break_without_cover_costs_the_demo_one_week() -> None:
    """With cover every week can be met; with a day of it in spring, Fri Mar 19 cannot: 32 / 33."""
    _, table, due = loaded("maple-hollow")
    assert highest_steadiness(table, due) == 1.0
    _, table, due = loaded("maple-hollow-spring-break")
    (week,) = impossible_weeks(table, due)
    assert (week.monday, week.day) == (date(2027, 3, 15), date(2027, 3, 19))
    assert week.customers == ("Tumbledown Gate restaurants",)
    assert (week.cause, week.closure) == ("nobody there", "Spring Break")
    assert highest_steadiness(table, due) == pytest.approx(32 / 33)


def with_orders(heads: dict[str, int]) -> Scenario:
    """The demo with one order, delivered when school is closed too."""
    demo = load_scenario(SCENARIOS / "maple-hollow.toml")
    order = {"customer": "depot", "crop": "lettuce", "heads": heads}
    return changed(demo, orders=[order | {"first_day": date(2026, 10, 13)}])


def test_more_than_the_store_holds_cannot_leave_at_once() -> None:
    """720 heads fit the cold store: 720 can leave on a Friday, but for four breaks; 721 never."""
    _, table, due = worked_out(with_orders({"Fri": 720}))
    assert [week.cause for week in impossible_weeks(table, due)] == ["not enough minutes"] * 4
    _, table, due = worked_out(with_orders({"Fri": 721}))
    assert {week.cause for week in impossible_weeks(table, due)} == {"cold store full"}
    assert highest_steadiness(table, due) == 0.0


def test_minutes_of_neighbouring_deliveries_are_shared() -> None:
    """Cover of 2 x 240 minutes on the Thursday of a break serves both Thursday and Friday.

    Inside the keep limit of two days there is no other shift. 240 + 240 heads can be met, 241 +
    240 cannot, though each alone could.
    """
    _, table, due = worked_out(with_orders({"Thu": 240, "Fri": 240}))
    assert impossible_weeks(table, due) == []
    _, table, due = worked_out(with_orders({"Thu": 241, "Fri": 240}))
    found = impossible_weeks(table, due)
    assert [week.monday for week in found] == [
        date(2026, 11, 23), date(2026, 12, 21), date(2026, 12, 28), date(2027, 3, 15),
    ]  # fmt: skip
    assert {(week.cause, week.day.weekday()) for week in found} == {("not enough minutes", 4)}


def test_minutes_of_a_shift_count_up_to_the_leaving() -> None:
    """Staff alone, 8 to 9 am, heads kept half a day: at 8:30 am half of the 60 minutes are over."""
    demo = load_scenario(SCENARIOS / "maple-hollow.toml")
    crews = {"staff": demo.model_dump()["crews"]["staff"]}
    order = {"customer": "depot", "crop": "lettuce", "leaves": time(8, 30)}
    parts = {"crews": crews, "cold_store": {"keep_days": 0.5}}
    parts["window"] = {"first_day": date(2027, 1, 25), "last_day": date(2027, 2, 7)}
    for heads, steadiness in ((30, 1.0), (31, 0.0)):
        orders = [order | {"heads": {"Tue": heads}}]
        _, table, due = worked_out(changed(demo, orders=orders, **parts))
        assert highest_steadiness(table, due) == steadiness


@pytest.mark.parametrize(
    "scenario",
    [
        load_scenario(SCENARIOS / "r8k.toml"),
        load_scenario(SCENARIOS / "maple-hollow-spring-break.toml"),
        with_orders({"Thu": 241, "Fri": 240}),
    ],
    ids=["r8k", "spring break", "not enough minutes"],
)
def test_no_simulated_year_meets_an_impossible_week(scenario: Scenario) -> None:
    """What arithmetic calls impossible is short in the simulation too, whatever the luck."""
    _, table, due = worked_out(scenario)
    impossible = {week.monday for week in impossible_weeks(table, due)}
    assert impossible
    highest = highest_steadiness(table, due)
    for seed in (1, 2):
        year = run(scenario, seed=seed)
        short = Counter(table.date_of(row[0]) for row in year.events if row[1] == "short")
        mondays = {date.fromordinal(d.toordinal() - d.weekday()) for d in short}
        assert impossible <= mondays
        assert year.measures()["steadiness"] <= highest + 1e-9
