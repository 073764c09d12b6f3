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
        return [search(demo, Aim(seed=seed), runs) for seed in SEEDS]


@pytest.mark.proof
def test_twenty_searches_choose_what_meets_the_target() -> None:
    """Over 20 seeds at most 4 are too close to call; at least 17 choose what meets both targets.

    The targets are checked in 1,000 years of luck that no search saw, of each cadence chosen, the
    weakest week as the lowest of 33 estimates.
    """
    demo = load_scenario(DEMO)
    meets = 0
    with Runs(workers=2) as runs:
        seen: dict[str, bool] = {}
        for answer in answers():
            assert answer.runs <= 6000
            if answer.chosen is None:
                continue
            name = answer.chosen.name
            if name not in seen:
                scenario = demo.model_copy(update={"cadence": answer.chosen.cadence})
                trials = runs.trials([(scenario, n) for n in range(FRESH_YEARS)], FRESH_SEED)
                found = measured(name, trials, answer.target)
                seen[name] = found.steadiness.mean >= 0.95 and found.weakest.met.mean >= 0.85
                print(f"{name}: {found.steadiness.mean:.4f}, weakest {found.weakest.met.mean:.3f}")
            meets += seen[name]
    close = sum(answer.verdict == "too close to call" for answer in answers())
    print(f"measured: {meets} of 20 meet both targets, {close} too close to call")
    assert close <= 4
    assert meets >= 17


def brute_force() -> list[dict[str, str]]:
    with RESULTS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.proof
def test_choices_are_within_the_indifference_of_the_true_best() -> None:
    """The best of 400 years each wastes little less than the choices of at least 17 of 20 searches.

    The best of all cadences that a search simulates and that meet both targets; little is the
    indifference, give or take both intervals.
    """
    rows = {row["cadence"]: row for row in brute_force()}
    assert {int(row["years"]) for row in rows.values()} == {YEARS}
    good = [
        row for row in rows.values()
        if float(row["steadiness"]) >= 0.95 and float(row["weakest_week"]) >= 0.85
    ]  # fmt: skip
    best = min(good, key=lambda row: float(row["wasted_plants"]))
    plan = Plan(load_scenario(DEMO))
    window = range(plan.timetable.window_start, plan.timetable.window_end)
    heads = sum(leaving.heads for leaving in plan.leavings if int(leaving.time) in window)
    near = 0
    for answer in answers():
        if answer.chosen:
            row = rows[answer.chosen.name]
            more = float(row["wasted_low"]) - float(best["wasted_high"])
            near += more <= INDIFFERENCE * heads
    print(f"measured: {near} of 20 near the best, {best['cadence']}")
    assert near >= 17
