"""The search on the demo, over many seeds, and against every cadence that could be tried."""

from __future__ import annotations

import csv
from functools import cache

import pytest
from brute_force import DEMO, RESULTS, YEARS

from sim.aim import Aim
from sim.cadence import INDIFFERENCE, search
from sim.cadence_answer import CadenceAnswer, measured
from sim.greenhouse.plan import Plan
from sim.runs import Runs
from sim.scenario_file import load_scenario

SEEDS = range(101, 121)
FRESH_YEARS = 1000
FRESH_SEED = 77


@cache
def answers() -> list[CadenceAnswer]:
    """One search for each seed, each ended within its budget."""
    demo = load_scenario(DEMO)
    with Runs(workers=2) as runs:
        return [search(demo, Aim(seed=seed, thorough=True), runs) for seed in SEEDS]


@pytest.mark.proof
def test_twenty_searches_choose_what_meets_the_target() -> None:
    """Over 20 seeds at most 4 are too close to call; at least 18 choose what meets both targets.

    Within the tolerance of a search (a point of steadiness, five points of a week); at least 14
    choose what meets them in full. The targets are checked in 1,000 years of luck that no search
    saw, of each cadence chosen, the weakest week as the lowest of 33 estimates.
    """
    demo = load_scenario(DEMO)
    nearly = fully = 0
    with Runs(workers=2) as runs:
        seen: dict[str, tuple[bool, bool]] = {}
        for answer in answers():
            assert answer.runs <= 6000
            if answer.chosen is None:
                continue
            name = answer.chosen.name
            if name not in seen:
                scenario = demo.model_copy(update={"cadence": answer.chosen.cadence})
                trials = runs.trials([(scenario, n) for n in range(FRESH_YEARS)], FRESH_SEED)
                found = measured(name, trials, answer.target)
                met, weakest = found.steadiness.mean, found.weakest.met.mean
                seen[name] = met >= 0.94 and weakest >= 0.80, met >= 0.95 and weakest >= 0.85
                print(f"{name}: {met:.4f}, weakest {weakest:.3f}")
            nearly += seen[name][0]
            fully += seen[name][1]
    close = sum(answer.verdict == "too close to call" for answer in answers())
    print(f"measured: {nearly} of 20 within the tolerance, {fully} in full, {close} too close")
    assert close <= 4
    assert nearly >= 18
    assert fully >= 14


def brute_force() -> list[dict[str, str]]:
    with RESULTS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def meeting(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Those that meet both targets by 400 years' estimates."""
    return [r for r in rows if float(r["steadiness"]) >= 0.95 and float(r["weakest_week"]) >= 0.85]


def indifferent() -> float:
    """Wasted plants that do not matter."""
    plan = Plan(load_scenario(DEMO))
    window = range(plan.timetable.window_start, plan.timetable.window_end)
    return INDIFFERENCE * sum(x.heads for x in plan.leavings if int(x.time) in window)


@pytest.mark.proof
def test_choice_is_within_the_indifference_of_the_true_best() -> None:
    """Of all that no bound keeps out, what varies the best included, in 400 years each.

    The search is the default one, with seed 1. Give or take the intervals of both.
    """
    rows = brute_force()
    assert {int(row["years"]) for row in rows} == {YEARS}
    with Runs(workers=2) as runs:
        found = search(load_scenario(DEMO), Aim(thorough=True), runs)
    assert found.chosen
    row = next(row for row in rows if row["cadence"] == found.chosen.name)
    best = min(meeting(rows), key=lambda row: float(row["wasted_plants"]))
    print(f"chosen: {row['wasted_plants']}; best: {best['wasted_plants']} {best['cadence']}")
    assert float(row["wasted_low"]) - float(best["wasted_high"]) <= indifferent()


@pytest.mark.proof
def test_choices_waste_no_more_than_the_best_of_the_grid() -> None:
    """Over 20 seeds at least 17 are within the indifference of the grid's best, or below it."""
    grid = [row for row in brute_force() if row["listed"] == "grid"]
    best = min(float(row["wasted_high"]) for row in meeting(grid))
    low = [a.fresh.chosen.wasted_plants.low for a in answers() if a.chosen]
    near = sum(wasted - best <= indifferent() for wasted in low)
    print(f"measured: {near} of 20 waste at most as much as the best of the grid, {best:,.0f}")
    assert near >= 17
