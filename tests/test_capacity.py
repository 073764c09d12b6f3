"""The largest steady order: known by hand where nothing is left to chance, and never overclaimed.

The small greenhouse is invented: everything is done on Thursdays, so that what it can do at most
follows from whole weeks.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import time, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from reference.examples import MONDAY, weeks

from sim import capacity_steps, telling_capacity, telling_capacity_tables
from sim.aim import Aim
from sim.cadence import STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.cadence_answer import CadenceAnswer, Measured
from sim.capacity import Capacity, largest_order
from sim.capacity_answer import capacity_answer, flat
from sim.capacity_limits import limits_at
from sim.capacity_room import MOST_TIMES, broken, largest
from sim.capacity_sizes import Sizes, scaled_cadence, shared_out
from sim.ceilings import ceilings
from sim.commands import base
from sim.commands.capacity import COMMAND
from sim.errors import ScenarioError, SeedbeatError
from sim.greenhouse.plan import Plan
from sim.parts import (
    WEEKDAYS,
    Cadence,
    CadenceLine,
    ColdStore,
    Crew,
    Crop,
    Order,
    Place,
    School,
    Seeding,
    Shift,
    SpecialDay,
    Stage,
    Task,
)
from sim.plots_capacity import figures
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, load_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
FIRST = MONDAY + timedelta(days=24)  # the first delivery: 21 days after the first Thursday
CASE = 6  # heads


def lettuce(keep: int = 1, days_sd: float = 0.0, **loss: float) -> Crop:
    """A week in the nursery and two on the bench."""
    first = Stage(name="seedling", place="nursery", days=7, moved_in_by="seeding", keep_days=7)
    last = Stage(
        name="head", place="bench", days=14, days_sd=days_sd, moved_in_by="moving",
        keep_days=keep, **loss,
    )  # fmt: skip
    return Crop(stages=(first, last))


def thursdays(heads: int = 60, people: int = 9, **changes: object) -> Scenario:
    """No chance, no losses, no limits: heads each Thursday for 4 weeks, 12 cells a tray.

    Staff are there for 4 hours on Thursdays. Heads must be cut on the day of the delivery.
    """
    morning = Shift(weekdays=("Thu",), starts=time(8), ends=time(12), minutes_on={"exam": 30})
    kitchen = Order(
        customer="kitchen", crop="lettuce", heads={"Thu": heads}, first_day=FIRST,
        last_day=FIRST + timedelta(days=21),
    )  # fmt: skip
    last = FIRST + timedelta(days=60)
    parts: dict[str, Any] = {
        "school": School(first_day=MONDAY, last_day=last, weekdays=WEEKDAYS),
        "places": places(),
        "crops": {"lettuce": lettuce()},
        "tasks": {
            "seeding": Task(minutes_each=5, setup_minutes=5, priority=3),
            "moving": Task(minutes_each=0.5, setup_minutes=5, priority=2),
            "harvest": Task(minutes_each=1, setup_minutes=5, priority=1),
        },
        "crews": {"staff": Crew(people=people, shifts=(morning,))},
        "orders": (kitchen,),
        "cold_store": ColdStore(keep_days=0.5),
        "cadence": Cadence(lines=(CadenceLine(crop="lettuce", trays={"Thu": 5}),)),
        "window": weeks(MONDAY + timedelta(days=21), 4),
    }
    return Scenario(**(parts | changes))


def places(**counts: int) -> dict[str, Place]:
    """Trays of 12 cells and channels of 6 sites, as many as given or without limit."""
    return {
        "nursery": Place(container="tray", count=counts.get("nursery"), sites_each=12),
        "bench": Place(count=counts.get("bench"), sites_each=6),
    }


def capacity_of(
    scenario: Scenario,
    budget: int = 6000,
    workers: int = 1,
    crop: str | None = None,
    case: int = CASE,
) -> Capacity:
    with Runs(workers=workers) as runs:
        return largest_order(scenario, Aim(budget=budget), runs, case=case, crop=crop)


def claimed(found: Capacity) -> float:
    """Cases claimed, 0 if none."""
    return found.claim.tried.size.cases if found.claim else 0.0


# -- sizes ------------------------------------------------------------------------------------


def highest_averages(weights: Sequence[int], total: int) -> list[int]:
    """One unit after the other to the largest weight / (2 parts + 1), after one for each."""
    parts = [1] * len(weights)
    for _ in range(total - len(weights)):
        quotients = [w / (2 * n + 1) for w, n in zip(weights, parts, strict=True)]
        parts[int(np.argmax(quotients))] += 1
    return parts


def test_cases_are_shared_out_as_the_method_says() -> None:
    """Divisors 1, 3, 5 ... (Balinski & Young 1982, Fair Representation; from memory).

    53, 24 and 23 share out 7 as 3, 2, 2: quotients 53, 24, 23, 17.7, 10.6, 8 and 7.7.
    """
    assert shared_out([53, 24, 23], 7) == [3, 2, 2]
    luck = np.random.default_rng(1)
    for _ in range(50):
        weights = luck.integers(1, 400, size=int(luck.integers(1, 7))).tolist()
        for total in range(len(weights), 60):
            assert shared_out(weights, total) == highest_averages(weights, total)


def test_no_delivery_gets_smaller_when_there_are_more_cases() -> None:
    """The demo's six deliveries: one case more in all is one more for one of them."""
    sizes = Sizes(load_scenario(SCENARIOS / "maple-hollow.toml"), 24)

    def heads(cases: int) -> np.ndarray[Any, Any]:
        return np.array([n for o in sizes.of(cases).scenario.orders for n in o.heads.values()])

    assert sizes.least == 6
    assert heads(6).tolist() == [24] * 6
    for cases in (*range(6, 66, 20), 499):
        assert sorted(heads(cases + 1) - heads(cases)) == [0] * 5 + [24]


def test_whole_cases_at_the_present_size_are_the_present_orders() -> None:
    """1,104 heads a week are 46 cases of 24, and 46 cases are the demo's own orders."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    sizes = Sizes(scenario, 24)
    assert (sizes.present.heads, sizes.present.cases) == (1104, 46)
    assert sizes.of(46).scenario == scenario
    assert (sizes.below, sizes.above) == (45, 47)


def test_orders_that_are_not_whole_cases_lie_between_two_sizes() -> None:
    """39 heads are 6.5 cases: 6 are fewer, 7 are more; 4 heads are less than a case."""
    sizes = Sizes(thursdays(39), CASE)
    assert (sizes.present.cases, sizes.below, sizes.above) == (6.5, 6, 7)
    tiny = Sizes(thursdays(4), CASE)
    assert (tiny.least, tiny.below, tiny.above) == (1, 0, 1)


def two_crops(**changes: object) -> Scenario:
    """60 heads of lettuce and 12 of basil."""
    order = thursdays().orders[0]
    basil = order.model_copy(update={"crop": "basil", "heads": {"Thu": 12}})
    crops = {"lettuce": lettuce(), "basil": lettuce()}
    return thursdays(crops=crops, orders=(order, basil), **changes)


def test_orders_of_other_crops_stay_as_they_are() -> None:
    """With one crop named only its orders are scaled, and only its heads are told."""
    sizes = Sizes(two_crops(), CASE, "basil")
    assert (sizes.present.heads, sizes.least) == (12, 1)
    size = sizes.of(5)
    assert [o.heads for o in size.scenario.orders] == [{"Thu": 60}, {"Thu": 30}]
    assert (size.heads, size.cases) == (30, 5)
    assert Sizes(two_crops(), CASE).of(6).heads == 36


def test_trays_go_with_the_heads() -> None:
    """Whole trays, at least one on each day; weekdays keep their shares; dates stay."""
    cadence = Cadence(
        lines=(
            CadenceLine(crop="lettuce", trays={"Mon": 4, "Thu": 4}),
            CadenceLine(crop="lettuce", heads_wanted={"Tue": 30}),
            CadenceLine(crop="basil", trays={"Mon": 2}),
        ),
        added=(Seeding(day=MONDAY, crop="lettuce", trays=3),),
    )
    more = scaled_cadence(cadence, 1.13, ["lettuce"])
    assert [line.trays for line in more.lines] == [{"Mon": 5, "Thu": 4}, {}, {"Mon": 2}]
    assert more.lines[1].heads_wanted == {"Tue": 34}
    assert more.added[0].trays == 3
    few = scaled_cadence(cadence, 0.01, ["lettuce", "basil"])
    assert [line.trays for line in few.lines] == [{"Mon": 1, "Thu": 1}, {}, {"Mon": 1}]


@pytest.mark.parametrize(
    ("changes", "crop", "message"),
    [
        ({"orders": ()}, None, r"\[\[orders\]\] must hold an order"),
        ({}, "kale", r"--crop must name a crop with orders \(lettuce\); it was 'kale'"),
    ],
)
def test_nothing_to_scale_is_one_clear_message(
    changes: dict[str, object], crop: str | None, message: str
) -> None:
    with pytest.raises(ScenarioError, match=message):
        Sizes(thursdays(**changes), CASE, crop)


def test_too_few_runs_are_refused_before_anything_is_simulated() -> None:
    with Runs() as runs, pytest.raises(SeedbeatError, match="runs must be at least 2,"):
        largest_order(thursdays(), Aim(budget=600), runs)
    assert runs.done == 0


# -- what arithmetic allows -------------------------------------------------------------------


@pytest.mark.parametrize("channels", [1, 2, 7, 24, 61, 119])
def test_sites_bound_what_can_be_ordered(channels: int) -> None:
    """Heads a week = sites / weeks in the channel (Little 1961, Operations Research 9:383-387).

    A channel of 6 sites is taken for two weeks: half a case of 6 a week from each.
    """
    sizes = Sizes(thursdays(places=places(bench=channels)), CASE)
    assert largest(sizes, set()) == min(channels // 2, MOST_TIMES * sizes.above)


def test_what_breaks_a_bound_is_found_however_far_it_is() -> None:
    """A thousand times the channels, orders and people give a thousand times the cases."""
    large = thursdays(60_000, people=9_000, places=places(bench=24_000))
    assert largest(Sizes(large, CASE), set()) == 12_000


def test_weeks_that_larger_orders_make_impossible_count_as_not_met() -> None:
    """An exam Thursday: 2 people x 30 minutes cut 60 heads at most, at a minute each (10 cases).

    The cadence search would leave such a week out and find all others met; here it ends the sizes.
    """
    exam = SpecialDay(first_day=FIRST, last_day=FIRST, kind="exam")
    school = thursdays().school.model_copy(update={"special": (exam,)})
    tasks = {
        name: task.model_copy(update={"setup_minutes": 0.0})
        for name, task in thursdays().tasks.items()
    }
    sizes = Sizes(thursdays(54, 2, school=school, tasks=tasks), CASE)
    assert largest(sizes, set()) == 10
    bound, monday = broken(sizes.of(11), set()), FIRST - timedelta(days=3)
    assert bound is not None
    assert bound.kind == "weeks"
    assert [(w.monday, w.cause) for w in bound.weeks] == [(monday, "not enough minutes")]
    assert largest(sizes, {monday}) > 10  # it was impossible before


# -- what is claimed --------------------------------------------------------------------------


@cache
def sites_bound() -> Capacity:
    return capacity_of(thursdays(places=places(bench=24)))


@cache
def hands_bound(workers: int) -> Capacity:
    return capacity_of(thursdays(96, people=1), workers=workers)


def test_capacity_of_the_sites_is_claimed_to_the_case() -> None:
    """24 channels of 6 for two weeks: 12 cases a week (Little 1961); one more cannot stand."""
    found = sites_bound()
    assert claimed(found) == 12
    assert found.claim is not None
    assert found.claim.fresh.steadiness.mean == 1.0
    assert found.next_larger is not None
    assert (found.next_larger.size.cases, found.next_larger.verdict) == (13, "beyond arithmetic")
    assert found.not_met == found.next_larger
    assert found.limits is not None
    assert found.limits.first is not None
    assert (found.limits.first.kind, found.limits.first.name) == ("place", "bench")
    assert found.limits.first.steadiness == 1.0
    assert found.limits.without.steadiness.mean < 1.0


def test_filled_and_usefully_filled_are_told_side_by_side() -> None:
    """Nothing is wasted at 12 cases, so that all the time of filled sites is useful."""
    claim = sites_bound().claim
    assert claim is not None
    assert claim.fresh.wasted_plants.mean == 0.0
    assert claim.bench_fill.mean == pytest.approx(claim.useful_bench_share.mean)
    assert 0.5 < claim.bench_fill.mean < 1.0  # the window ends with channels that are not refilled


def test_capacity_of_the_hands_is_claimed_to_the_case() -> None:
    """240 minutes on Thursday less 3 x 5 of set-up are 225.

    19 cases are 114 heads (114 minutes), 10 trays (50) and 120 plants to move (60): 224. 20 cases
    are 6 minutes more, although arithmetic without set-up and whole trays lets them through:
    240 / (1 + 0.5 + 5 / 12) = 125 heads.
    """
    found = hands_bound(1)
    assert claimed(found) == 19
    assert found.most is not None
    assert found.most.cases == 20
    assert found.next_larger is not None
    assert (found.next_larger.size.cases, found.next_larger.verdict) == (20, "not met")
    assert found.limits is not None
    assert found.limits.first is not None
    assert found.limits.first.kind == "people"


@pytest.mark.proof
def test_answer_does_not_depend_on_workers() -> None:
    """One process and two give the same answer, number for number."""
    one, two = (plain_answer(hands_bound(workers), thursdays(96, people=1)) for workers in (1, 2))
    assert one == two


def test_errors_of_all_steps_add_up_to_the_allowed_one() -> None:
    """As many steps as a bisection may need, each with an equal share, within the budget.

    Below the present 16 cases are 1 to 15, above them 17 to 20: at most ceil(log2(16)) steps, and
    one for the present ones.
    """
    found = hands_bound(1)
    assert found.steps == 4 + 1 >= len(found.tried)
    for tried in found.tried:
        assert tried.found is not None
        assert f"Allowed: {100 * 0.05 / 5 / 2:g} wrong choices in 100" in tried.found.allowance
    assert sum(tried.years for tried in found.tried) < found.runs <= 6000


def test_what_fresh_years_deny_is_not_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A size whose fresh years stay below the target is called "not confirmed"."""
    search, measured = capacity_steps.search, capacity_steps.measured

    def unlucky(fresh: Measured) -> Measured:
        weakest = replace(fresh.weakest, met=replace(fresh.weakest.met, mean=0.79))
        return replace(fresh, weakest=weakest)

    def searched(scenario: Scenario, aim: Aim, runs: Runs) -> CadenceAnswer:
        found = search(scenario, aim, runs)
        return replace(found, fresh=replace(found.fresh, chosen=unlucky(found.fresh.chosen)))

    monkeypatch.setattr(capacity_steps, "search", searched)
    monkeypatch.setattr(capacity_steps, "measured", lambda *what: unlucky(measured(*what)))
    scenario = thursdays(6, places=places(bench=4))
    found = capacity_of(scenario, budget=3000)
    assert found.claim is None
    assert found.present.verdict == "not confirmed"
    told = list(telling_capacity.sentences(plain_answer(found, scenario)))
    assert told[0].startswith("No size can be claimed")
    assert any(
        text.startswith("The present orders, 6 heads a week (1 case), met the target in the search")
        for text in told
    )


def test_present_orders_too_large_lead_to_a_smaller_claim() -> None:
    """4 channels give 2 cases; 10 are ordered, and the answer says why these are not met."""
    scenario = thursdays(places=places(bench=4))
    found = capacity_of(scenario, budget=4000)
    assert claimed(found) == 2
    assert found.present.verdict == "beyond arithmetic"
    told = list(telling_capacity.sentences(plain_answer(found, scenario)))
    assert told[3] == (
        "The present orders, 60 heads a week (10 cases), cannot be met week after week, by "
        "arithmetic: the bench would have to give 500.0 % of what there is."
    )
    assert told[0] == (
        "Can honestly claim: 12 heads a week (2 cases), 80.0 % below the present orders. The "
        "largest that any cadence tried meets lies, with 95 % confidence, at 2 cases or more and "
        "below 3 cases."
    )
    assert told[1] == "It takes this cadence: 1 tray Thu, every week; in breaks: seed if staffed."


@pytest.mark.proof
def test_one_crop_grows_into_the_room_that_others_leave() -> None:
    """Of 36 channels 60 heads of lettuce take 20 (Little 1961); 16 are 48 heads of basil a week."""
    scenario = two_crops(places=places(bench=36))
    found = capacity_of(scenario, crop="basil", case=12)
    assert claimed(found) == 4
    assert found.claim is not None
    assert [o.heads for o in found.claim.scenario.orders] == [{"Thu": 60}, {"Thu": 48}]
    told = list(telling_capacity.sentences(plain_answer(found, scenario)))
    assert told[0].startswith(
        "Can honestly claim: 48 heads a week of basil (4 cases), 300.0 % above the present orders."
    )


@pytest.mark.proof
def test_a_larger_size_may_fit_where_a_smaller_one_does_not() -> None:
    """Of 28 channels basil has 8: room for two trays whose 24 heads are all cut on their day.

    Of two trays for 18 heads 6 stay a day too long and keep a channel from the next plants; so 3
    cases are not met and 4 are. The size after the first that is not met is tried, and both told.
    """
    scenario = two_crops(places=places(bench=28))
    found = capacity_of(scenario, crop="basil", budget=8000)
    assert {tried.size.cases: tried.verdict for tried in found.tried} == {
        2: "meets", 3: "not met", 4: "meets",
    }  # fmt: skip
    assert claimed(found) == 4
    told = " ".join(telling_capacity.sentences(plain_answer(found, scenario)))
    assert "Although it is smaller, 18 heads a week of basil (3 cases) would not be met" in told


def test_no_size_that_can_be_met_is_told_plainly() -> None:
    """One channel of 3 sites for a case of 6 a week: arithmetic rules out every size."""
    narrow = {"bench": Place(count=1, sites_each=3)}
    scenario = thursdays(6, places={**places(), **narrow})
    found = capacity_of(scenario)
    assert found.claim is None
    assert found.tried == ()
    told = list(telling_capacity.sentences(plain_answer(found, scenario)))
    assert "No size can be claimed: arithmetic rules out every size." in told


# -- what limits ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "kind", "name"),
    [
        ({"places": places(nursery=9)}, "place", "nursery"),
        ({"places": places(bench=19)}, "place", "bench"),
        ({"people": 1}, "people", ""),
        ({"cold_store": ColdStore(holds_heads=100, keep_days=0.5)}, "cold store", ""),
    ],
)
def test_the_one_thing_that_is_scarce_is_named(
    changes: dict[str, Any], kind: str, name: str
) -> None:
    """120 heads a week from 10 trays: 9 spaces, 19 channels, one person or 100 heads stored less.

    With more of that one thing, and of no other, all weeks are met.
    """
    cadence = Cadence(lines=(CadenceLine(crop="lettuce", trays={"Thu": 10}),))
    scenario = thursdays(120, **{"cadence": cadence, **changes})
    target = hands_bound(1).target
    with Runs() as runs:
        limits = limits_at(scenario, "10 trays", target, runs, years=3, seed=1)
    assert limits.without.steadiness.mean < 1.0
    assert limits.first is not None
    assert (limits.first.kind, limits.first.name) == (kind, name)
    assert limits.first.steadiness == 1.0
    assert sum(relief.gain.mean > 0.0 for relief in limits.reliefs) == 1
    assert sum(limits.short.values()) > 0


def test_weeks_short_of_minutes_are_named() -> None:
    """One person has 240 minutes a week.

    Harvest, moving and the 5 trays seeded take 120 + 60 + 25 minutes, or 150 + 75 + 25.
    """
    target = hands_bound(1).target
    with Runs() as runs:
        fits = limits_at(thursdays(120, 1), "", target, runs, years=2, seed=1)
        over = limits_at(thursdays(150, 1), "", target, runs, years=2, seed=1)
    assert fits.weeks_over == ()
    assert len(over.weeks_over) == 4


# -- the answer and its telling ---------------------------------------------------------------


def plain_answer(found: Capacity, scenario: Scenario) -> dict[str, Any]:
    loaded = LoadedScenario(scenario, (), {}, (), Path("thursdays.toml"))
    return capacity_answer(loaded, found, 1)


def texts(answer: dict[str, Any]) -> Iterator[str]:
    yield from telling_capacity.sentences(answer)
    for table in telling_capacity_tables.tables(answer):
        yield table.title
        for row in (table.headers, *table.rows):
            assert len(row) == len(table.headers)
            yield from row


def test_answer_holds_what_the_screen_and_the_files_need() -> None:
    """Plain data that JSON takes, with the sizes tried, the orders, and what limits."""
    answer = plain_answer(hands_bound(1), thursdays(96, people=1))
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer
    assert {"claim", "present", "next_larger", "not_met", "limits", "sizes", "orders",
            "seedings", "target", "case_heads", "steps", "runs", "allowance", "assumed",
            "cautions"} <= set(answer)  # fmt: skip
    assert answer["orders"] == [
        {"customer": "kitchen", "crop": "lettuce", "weekday": "Thu", "heads_now": 96,
         "heads_claimed": 114}
    ]  # fmt: skip
    assert [row["cases"] for row in answer["sizes"]] == sorted(r["cases"] for r in answer["sizes"])
    assert len(flat(answer["sizes"])) == len(answer["sizes"])
    assert {row["verdict"] for row in answer["sizes"]} == {"meets", "not met"}


def test_first_screen_says_what_is_claimed_and_what_is_not() -> None:
    """Claim, fresh years, the size that is not met, what limits, benches, and that it is no more
    than an estimate.
    """  # noqa: D205 - one sentence
    answer = plain_answer(hands_bound(1), thursdays(96, people=1))
    told = " ".join(telling_capacity.sentences(answer))
    for words in (
        "Can honestly claim: 114 heads a week (19 cases), 18.8 % above the present orders.",
        "at 19 cases or more and below 20 cases",
        "fresh simulated years 100.0 % of the weeks were met",
        "Above it: 120 heads a week (20 cases) would not be met by any of the",
        "What limits first: the people's minutes.",
        "with twice the people and the same chances it would be 100.0 %",
        "the finishing places are unlimited",
        "An estimate, never an assurance",
        "shared out evenly over the",
        "Assumed, not shown: what is met at one size is met at every smaller one.",
    ):
        assert words in told
    sites = " ".join(
        telling_capacity.sentences(plain_answer(sites_bound(), thursdays(places=places(bench=24))))
    )
    assert "and filled with heads that were delivered" in sites


def test_nothing_told_promises_anything() -> None:
    for found, scenario in (
        (hands_bound(1), thursdays(96, people=1)),
        (sites_bound(), thursdays(places=places(bench=24))),
    ):
        told = " ".join(texts(plain_answer(found, scenario))).lower()
        assert not any(w in told for w in ("guarantee", "promise", "safe", "compliant"))


def test_picture_shows_every_size_tried() -> None:
    """Both measures at each size, the targets, and the claimed size."""
    answer = plain_answer(hands_bound(1), thursdays(96, people=1))
    (ax,) = figures(answer)["sizes_tried"].axes
    steady, weekly = (bars.lines[0] for bars in ax.containers)
    assert steady.get_xdata().tolist() == [row["cases"] for row in answer["sizes"]]
    assert weekly.get_ydata().tolist() == [
        100 * row["best"]["weakest_week"]["mean"] for row in answer["sizes"]
    ]
    heights = [line.get_ydata()[0] for line in ax.lines if line.get_linestyle() == ":"]
    assert heights == [95, 85]


# -- the command ------------------------------------------------------------------------------


@pytest.mark.proof
def test_published_bench_gives_what_its_sites_can(tmp_path: Path) -> None:
    """Little's law (1961) on published numbers: 144 sites / 4 weeks = 36 heads a week.

    8 channels of 18 holes (H. Resh, Hobby Hydroponics, ch. 6), 4 weeks in them in summer (N.
    Bumgarner, Late Summer to Winter Bibb Lettuce Trial, 2013). The command finds that, says so,
    and writes its files.
    """
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    words = f"--case 6 --runs 4000 --workers 1 --out {tmp_path}".split()
    file = str(SCENARIOS / "small-bench-summer.toml")
    answer = COMMAND.answer(parser.parse_args(["capacity", file, *words]))
    assert answer["claim"]["heads_per_week"] == 36
    assert answer["next_larger"]["verdict"] == "beyond arithmetic"
    assert answer["limits"]["first"]["name"] == "channels"
    assert answer["claim"]["bench_fill"]["mean"] == pytest.approx(1.0, abs=0.01)
    assert set(answer["files"]) >= {
        "run.json", "page.html", "sizes.csv", "sizes_tried.png", "seedings.csv",
    }  # fmt: skip
    assert "36 heads a week" in COMMAND.screen(answer).sentences[0]


def noisy(channels: int) -> Scenario:
    """Losses and stays that vary, absences, and heads that keep for four days."""
    crew = thursdays().crews["staff"].model_copy(update={"absent_percent": 10.0})
    days = crew.shifts[0].model_copy(update={"weekdays": ("Mon", "Tue", "Wed", "Thu", "Fri")})
    return thursdays(
        crops={"lettuce": lettuce(6, 0.8, loss_percent=5.0, loss_sd_points=2.0)},
        crews={"staff": crew.model_copy(update={"shifts": (days,)})},
        places=places(bench=channels),
        cold_store=ColdStore(keep_days=2),
    )


def met_in_other_years(found: Capacity, runs: Runs) -> np.ndarray[Any, Any]:
    """Whether the claimed size was met, in 400 years that nothing was chosen by [years, weeks]."""
    assert found.claim is not None
    trials = runs.trials([(found.claim.scenario, 5_000_000 + n) for n in range(400)])
    return np.array([trial.met for trial in trials])[:, list(found.target.weeks)] == 1


@pytest.mark.proof
def test_more_sites_never_give_less() -> None:
    """Claims of 16, 24, 32 and 48 channels rise, but for what a search leaves undecided.

    A claim may lie below that of fewer channels by less than the gap above it, and holds in other
    years within the tolerances. Some are shown to hold by a cadence looked at alone. Each search
    errs in at most 5 of 100; the seed is fixed.
    """
    found = [capacity_of(noisy(channels), budget=8000) for channels in (16, 24, 32, 48)]
    for fewer, more in pairwise(found):
        assert more.next_larger is not None
        assert more.next_larger.size.cases > claimed(fewer)
    for one in found:
        assert one.most is not None
        assert 0 < claimed(one) <= one.most.cases
        assert one.runs <= 8000
        with Runs() as runs:
            met = met_in_other_years(one, runs)
        assert met.mean() >= 0.95 - STEADINESS_TOLERANCE
        assert met.mean(axis=0).min() >= 0.85 - WEEK_TOLERANCE
    assert claimed(found[-1]) > claimed(found[0])
    alone = [tried for one in found for tried in one.tried if tried.alone]
    assert alone
    assert all(t.found and t.found.verdict == "too close to call" for t in alone)


@pytest.mark.proof
def test_claim_of_the_demo_holds_in_other_years() -> None:
    """400 years that nothing was chosen by meet the targets within the search's tolerances.

    The claim is at least the present orders and below what arithmetic allows; a size above it was
    shown not to be met. A wrong claim is allowed in 5 of 100; the seed is fixed.
    """
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    with Runs(workers=2) as runs:
        found = largest_order(scenario, Aim(budget=8_000), runs)
        met = met_in_other_years(found, runs)
    assert met.mean() >= 0.95 - STEADINESS_TOLERANCE
    assert met.mean(axis=0).min() >= 0.85 - WEEK_TOLERANCE
    table = Plan(scenario).timetable
    lowest = ceilings(table, Plan(scenario).leavings)[0].heads_per_week
    assert found.claim is not None
    assert 1104 <= found.claim.tried.size.heads < lowest
    assert found.not_met is not None
    assert found.not_met.size.heads < lowest
    assert found.runs <= 8_000
