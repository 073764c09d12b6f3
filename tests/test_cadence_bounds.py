"""What keeps cadences out without simulation is never wrong about the simulation.

The small greenhouses are invented, made from a seed.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from pathlib import Path
from random import Random

import numpy as np
import pytest
from test_cadence import easy, plan_of, tight

from sim.cadence_bounds import Bounds, trays_per_week
from sim.candidates import Candidate, list_candidates, told
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.kind_chances import MARGIN, YEARS, KindChances
from sim.kind_year import KindYear, seedings_of
from sim.least_waste import AS_LISTED, LeastWaste
from sim.measures import Frame, by_kind, weeks_met, year_measures
from sim.parts import Cadence, CadenceLine, Crop, Place, Stage
from sim.pruning import Judge, pruned
from sim.records import CONTAINERS
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.variants import Variations

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"


@cache
def demo() -> Plan:
    return Plan(load_scenario(DEMO))


def small(number: int) -> Scenario:
    """A tight greenhouse with losses and varying stays, always the same for a number."""
    pick = Random(f"bounds, number {number}")
    stages = (
        Stage(
            name="seedling", place="nursery", days=7, days_sd=pick.choice((0.0, 0.8)),
            moved_in_by="seeding", loss_percent=float(pick.randint(2, 15)),
            loss_sd_points=2.0, keep_days=pick.randint(3, 8),
        ),
        Stage(
            name="head", place="bench", days=14, days_sd=pick.choice((0.5, 1.5)),
            moved_in_by="moving", loss_percent=float(pick.randint(1, 8)),
            keep_days=pick.randint(3, 10),
        ),
    )  # fmt: skip
    places = {
        "nursery": Place(container="tray", count=pick.randint(5, 9), sites_each=12),
        "bench": Place(count=pick.randint(18, 26), sites_each=6),
    }
    return tight(Crop(stages=stages)).model_copy(update={"places": places})


def simulated(
    scenario: Scenario, candidate: Candidate, years: int
) -> tuple[float, float, np.ndarray, float]:
    """Steadiness, weakest week, wasted plants by year, and the share of trays seeded."""
    plan = plan_of(scenario, candidate)
    frame, met, wasted, missed = Frame.of(plan.timetable), [], [], 0
    for number in range(years):
        kinds = by_kind(run_year(plan, 5, number))
        met.append(weeks_met(kinds, frame))
        wasted.append(year_measures(kinds, frame, met[-1])["wasted_plants"])
        missed += sum(row[CONTAINERS] for row in kinds["missed"])
    shares = (np.array(met) == 1)[:, np.array(met[0]) >= 0]
    trays = years * max(1, sum(s.trays for s in plan.seedings))
    weekly = shares.mean(axis=0)
    return float(shares.mean()), float(weekly.min()), np.array(wasted), 1.0 - missed / trays


def counting(plan: Plan) -> list[int]:
    """The weeks of the window with something due."""
    weeks = {int(x.time - plan.timetable.window_start) // 7 for x in plan.leavings}
    return sorted(week for week in weeks if 0 <= week < plan.timetable.weeks)


def test_least_waste_by_hand() -> None:
    """40 trays of 12 cells, no losses, 360 heads ordered: .95 x 480 - 360 = 96; fewer are none."""
    stages = (
        Stage(name="seedling", place="nursery", days=7, moved_in_by="seeding", keep_days=3),
        Stage(name="head", place="bench", days=14, moved_in_by="moving", keep_days=3),
    )
    plan = Plan(easy(crops={"lettuce": Crop(stages=stages)}))
    least = LeastWaste(plan)
    lines = (CadenceLine(crop="lettuce", trays={"Thu": 4}),)
    seedings = seedings_of(Cadence(lines=lines), plan)
    assert sum(s.trays for s in seedings) == 40
    assert least(seedings) == pytest.approx(AS_LISTED * 480 - 360)
    assert least(seedings[:5]) == 0.0


def test_nothing_need_be_wasted_where_heads_may_stand_for_ever() -> None:
    """Without a limit to how long heads keep, no plant need be dumped."""
    stages = (
        Stage(name="seedling", place="nursery", days=7, moved_in_by="seeding", keep_days=3),
        Stage(name="head", place="bench", days=14, moved_in_by="moving"),
    )
    plan = Plan(easy(crops={"lettuce": Crop(stages=stages)}))
    lines = (CadenceLine(crop="lettuce", trays={"Thu": 9}),)
    assert LeastWaste(plan)(seedings_of(Cadence(lines=lines), plan)) == 0.0


def too_low(scenario: Scenario, every: int, years: int) -> list[str]:
    """Candidates that waste less than their floor, though carried out as listed."""
    plan = Plan(scenario)
    least, found, tight_ones = LeastWaste(plan), [], 0
    for candidate in list_candidates(plan.timetable, plan.leavings)[3::every]:
        floor = least(seedings_of(candidate.cadence, plan))
        _, _, wasted, seeded = simulated(scenario, candidate, years)
        spread = 4.0 * wasted.std(ddof=1) / years**0.5
        if seeded >= AS_LISTED and wasted.mean() + spread < floor:
            found.append(candidate.name)
        tight_ones += floor > 0.5 * wasted.mean() > 0.0
    assert tight_ones
    return found


def test_no_cadence_wastes_less_than_its_floor() -> None:
    """Simulated means are above, give or take four standard errors (once in 30,000 each)."""
    assert too_low(small(1), 25, 10) == []


@pytest.mark.proof
@pytest.mark.parametrize("number", range(2, 7))
def test_no_cadence_wastes_less_than_its_floor_in_many_greenhouses(number: int) -> None:
    """The same in five more greenhouses."""
    assert too_low(small(number), 12, 15) == []


def test_kind_chances_are_the_simulated_year_where_nothing_is_scarce() -> None:
    """Without chance and limits both kinds of year meet the same weeks."""
    scenario = easy(keep=3)
    plan = Plan(scenario)
    chances = KindChances(plan, KindYear(plan))
    for candidate in list_candidates(plan.timetable, plan.leavings)[::29]:
        steadiness, *_ = simulated(scenario, candidate, 1)
        met = chances.steadiness(seedings_of(candidate.cadence, plan), range(10))
        assert met == pytest.approx(steadiness), candidate.name


def steadier(scenario: Scenario, every: int, years: int) -> list[str]:
    """Candidates that the simulation finds steadier than years without waiting, by the margin.

    Give or take two standard errors of either (once in 300).
    """
    plan = Plan(scenario)
    chances, weeks = KindChances(plan, KindYear(plan)), counting(plan)
    found = []
    for candidate in list_candidates(plan.timetable, plan.leavings)[3::every]:
        kind = chances.steadiness(seedings_of(candidate.cadence, plan), weeks)
        steadiness, *_ = simulated(scenario, candidate, years)
        spread = 2.0 * 0.1 * (1.0 / years + 1.0 / YEARS) ** 0.5  # a year's share of weeks: sd 0.1
        if steadiness > kind + MARGIN + spread:
            found.append(f"{candidate.name}: {steadiness:.3f}, {kind:.3f}")
    return found


def test_waiting_makes_no_cadence_steadier() -> None:
    """What is ruled out by chance would not have met the target in the simulation."""
    assert steadier(small(1), 25, 10) == []


@pytest.mark.proof
@pytest.mark.parametrize("number", range(2, 7))
def test_waiting_makes_no_cadence_steadier_in_many_greenhouses(number: int) -> None:
    """The same in five more greenhouses."""
    assert steadier(small(number), 12, 20) == []


def refuted(number: int, every: int, years: int) -> list[str]:
    """Cadences that a bound keeps out and that meet the target when simulated, as listed."""
    scenario = small(number)
    plan = Plan(scenario)
    listed = list_candidates(plan.timetable, plan.leavings)
    judge = Judge(plan, counting(plan), 0.95, 0.85, chances=True)
    left = {seedings_of(c.cadence, plan) for c in pruned(listed, judge, None).left}
    out = {seedings_of(c.cadence, plan): c for c in listed}
    kept_out = [c for seedings, c in out.items() if seedings not in left]
    assert len(kept_out) > 50
    found = []
    for candidate in kept_out[::every]:
        steadiness, weakest, _, seeded = simulated(scenario, candidate, years)
        if steadiness >= 0.95 and weakest >= 0.85 and seeded >= 0.98:
            found.append(candidate.name)
    return found


@pytest.mark.proof
@pytest.mark.parametrize("number", range(1, 7))
def test_bounds_keep_out_nothing_that_meets_the_target(number: int) -> None:
    """Every sixth cadence that is kept out, 40 years each, in six greenhouses.

    A candidate just at the target would show it in half of such samples; none does.
    """
    assert refuted(number, 6, 40) == []


def test_bounds_take_a_line_for_as_long_as_it_is_in_force() -> None:
    """Four trays a week all year, and two more in a tenth of the days: 4.2."""
    first = date(2026, 9, 7)
    last = first + timedelta(days=69)
    lines = (
        CadenceLine(crop="lettuce", trays={"Mon": 4}),
        CadenceLine(
            crop="lettuce", trays={"Mon": 4}, every_weeks=2, first_day=first,
            last_day=first + timedelta(days=6),
        ),
    )  # fmt: skip
    assert trays_per_week(Cadence(lines=lines), first, last) == {"lettuce": pytest.approx(4.2)}


def test_what_a_cadence_takes_of_the_demo_by_hand() -> None:
    """8 trays of 16 days (14 and 2 to turn) are 128 tray-days a week of 154, for 1,104 heads."""
    taken = {t.what: t for t in Bounds(demo()).taken(demo().scenario.cadence)}
    assert (taken["nursery"].taken, taken["nursery"].there_is) == (pytest.approx(128), 154)
    assert taken["lettuce"].there_is == 1104
    assert taken["lettuce"].taken == pytest.approx(8 * 200 * 0.83305152)


def base() -> Candidate:
    return Candidate(
        "base", Cadence(lines=(CadenceLine(crop="lettuce", trays={"Mon": 4, "Thu": 3}),))
    )


def varied() -> Variations:
    return Variations(demo(), KindYear(demo()), ["lettuce"])


def test_a_tray_less_in_one_term() -> None:
    """The demo's closings of a week or more (winter, spring break) make three terms."""
    terms = [c for c in varied().less(base()) if "then" in c.name or len(c.cadence.lines) > 1]
    assert [c.name for c in terms] == [
        "3 trays Mon, 3 trays Thu, every week to Jan 3, 2027; then 4 trays Mon, 3 trays Thu, every "
        "week from Jan 4, 2027; in breaks: seed if staffed",
        "4 trays Mon, 3 trays Thu, every week to Jan 3, 2027; then 3 trays Mon, 3 trays Thu, every "
        "week from Jan 4, 2027 to Mar 21, 2027; then 4 trays Mon, 3 trays Thu, every week from "
        "Mar 22, 2027; in breaks: seed if staffed",
        "4 trays Mon, 3 trays Thu, every week to Mar 21, 2027; then 3 trays Mon, 3 trays Thu, "
        "every week from Mar 22, 2027; in breaks: seed if staffed",
    ]


def test_first_and_last_seeding_move_by_whole_weeks() -> None:
    """Later first seedings begin with heads that last to October 13; last ones end earlier."""
    own = seedings_of(base().cadence, demo())
    spans = set()
    for candidate in varied().less(base()):
        if len(candidate.cadence.lines) == 1:
            days = [s.day for s in seedings_of(candidate.cadence, demo())]
            spans.add((min(days) - own[0].day, own[-1].day - max(days)))
    firsts, lasts = {first for first, _ in spans}, {last for _, last in spans}
    assert firsts == {0, 7}
    assert lasts == {0, 7, 14}
    assert KindYear(demo()).lasts("lettuce", own[0].day)


def test_more_trays_in_one_term_keep_the_rest() -> None:
    """One more on the emptiest day of a term; the seedings of other terms stay the same."""
    before = {(s.day, s.trays) for s in seedings_of(base().cadence, demo())}
    for candidate in varied().more(base()):
        after = {(s.day, s.trays) for s in seedings_of(candidate.cadence, demo())}
        assert {trays for _, trays in after - before} == {4}
        assert len(after) == len(before)
        assert 0 < len(after - before) < len(before) / 2


def test_lines_that_follow_each_other_are_told_so() -> None:
    """Then: after all others of the crop; plus: beside one of them."""
    one = CadenceLine(crop="bibb", trays={"Mon": 4}, last_day=date(2027, 1, 3))
    two = CadenceLine(crop="bibb", trays={"Mon": 3}, first_day=date(2027, 1, 4))
    assert told(Cadence(lines=(one, two)), ["bibb"]) == (
        "4 trays Mon, every week to Jan 3, 2027; then 3 trays Mon, every week from Jan 4, 2027; "
        "in breaks: seed if staffed"
    )
    both = told(Cadence(lines=(one, two.model_copy(update={"first_day": date(2027, 1, 3)}))), [])
    assert "then" not in both


def test_where_nobody_works_no_people_are_a_ceiling() -> None:
    """The small bench has no crew: places and heads are what there is."""
    bench = Plan(load_scenario(DEMO.parent / "small-bench-summer.toml"))
    found = [t.what for t in Bounds(bench).taken(bench.scenario.cadence)]
    assert found == ["nursery", "channels", "bibb lettuce"]
