"""How sure a cadence is with a school's data: draws, the split, what to count next, the words.

The small greenhouses and their numbers are invented. "By hand" is arithmetic in the test.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import time, timedelta
from functools import cache
from math import nan, sqrt
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from reference.examples import MONDAY
from scipy import stats
from test_swings import certain as kitchen

from sim.agreement import KeyPath
from sim.aim import Aim
from sim.calibration import calibrate
from sim.calibration_numbers import Kind, Number, kept
from sim.calibration_toml import Change
from sim.commands import base
from sim.commands.sure import COMMAND
from sim.errors import RecordsError, SeedbeatError
from sim.parts import (
    Cadence,
    CadenceLine,
    Crew,
    Crop,
    Shift,
    Task,
)
from sim.plots_sure import figures
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, load_scenario
from sim.sure_answer import sure_answer
from sim.sureness import LEAST_SETS, Meeting, Sureness, sureness_of_own
from sim.sureness_counts import gain_of, more_of, rank, slopes_of, variance_of
from sim.sureness_draws import Plausible, calibrated, draws, plausible, with_numbers
from sim.sureness_split import Parts, parts_of, split
from sim.telling_sure import sentences
from sim.telling_sure_tables import tables
from sim.timetable import Timetable

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO, COUNTS = SCENARIOS / "maple-hollow.toml", SCENARIOS / "maple-hollow-counts.csv"
SHIPPED = sorted(path.stem for path in SCENARIOS.glob("*.toml"))
THURSDAY = MONDAY + timedelta(days=24)
HEADS, HARVEST = 38, ("tasks", "harvest", "minutes_each")
BENCH: KeyPath = ("crops", "lettuce", "stages", 1)


def certain(minutes_each: float = 1.0) -> Scenario:
    """No chance: 38 heads each Thursday, ready that Monday, harvested in 40 minutes on Thursday."""
    morning = Shift(weekdays=("Mon",), starts=time(8), ends=time(12))
    harvest = Shift(weekdays=("Thu",), starts=time(8), ends=time(8, 40))
    return kitchen(
        tasks={
            "seeding": Task(minutes_each=5, priority=3, who=("planters",)),
            "moving": Task(minutes_each=0.5, priority=2, who=("planters",)),
            "harvest": Task(minutes_each=minutes_each, priority=1, who=("cutters",)),
        },
        crews={
            "planters": Crew(people=2, shifts=(morning,)),
            "cutters": Crew(people=1, shifts=(harvest,)),
        },
    )


def number(
    kind: Kind, new: float, low: float, high: float, *, count: int = 20, old: float = nan,
    path: KeyPath = HARVEST, where: str = "harvest", of: str = "shifts",
) -> Number:  # fmt: skip
    return Number(path, kind, where, new if np.isnan(old) else old, new, low, high, count, of)


def one(found: Number) -> Plausible:
    (only,) = plausible([found])
    return only


def sure_of(
    scenario: Scenario, numbers: Sequence[Number], *, workers: int = 1, **how: Any
) -> Sureness:
    with Runs(workers=workers) as runs:
        return sureness_of_own(scenario, numbers, Aim(), runs, **{"sets": 40, "years": 10, **how})


# -- draws -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "new", "low", "high"),
    [
        ("stand", 12.6, 11.9, 13.4), ("growing loss", 0.0, 0.0, 4.0), ("absence", 8.1, 7.4, 8.8),
        ("rare share", 0.9, 0.17, 3.28), ("moving loss", 99.0, 97.0, 100.0),
        ("rare loss", 40.0, 25.0, 60.0), ("days", 14.37, 14.03, 14.7), ("minutes", 1.0, 0.8, 1.3),
        ("days spread", 1.39, 1.15, 1.67), ("loss spread", 0.8, 0.0, 1.6),
        ("days spread", 0.2, 0.2, 0.9),
    ],
)  # fmt: skip
def test_a_counted_number_has_the_printed_interval(kind, new, low, high):
    """Its 5 and 95 % quantiles are the interval's ends, and quantiles rise.

    An end at 0 or 100 is a limit, which no quantile inside reaches.
    """
    drawn = one(number(kind, new, low, high))
    assert drawn.how == "counted"
    if low > 0.0:
        assert drawn.at(0.05) == pytest.approx(low, abs=2e-6)
    if high < 100.0:
        assert drawn.at(0.95) == pytest.approx(high, abs=2e-6)
    points = [drawn.at(u) for u in np.linspace(0.001, 0.999, 99)]
    assert points == sorted(points)
    assert points[0] >= 0.0


def test_a_share_is_drawn_from_the_beta_distribution_that_the_interval_came_of():
    """3 lost of 20: Beta(3.5, 17.5), the Jeffreys posterior (Brown, Cai & DasGupta, 2001)."""
    beta = stats.beta(3.5, 17.5)
    low, high = 100 * beta.ppf([0.05, 0.95])
    drawn = one(number("growing loss", 100 * beta.mean(), low, high))
    points = np.linspace(0.01, 0.99, 49)
    assert [drawn.at(u) for u in points] == pytest.approx(100 * beta.ppf(points), abs=1e-4)


def test_minutes_are_drawn_from_students_t():
    """6 shifts: mean 2, error .1, so 2 +- 2.015 x .1 (t, 5 degrees, 95 %: any table of t)."""
    half = 2.015048 * 0.1
    drawn = one(number("minutes", 2.0, 2.0 - half, 2.0 + half, count=6))
    points = [0.01, 0.3, 0.5, 0.9, 0.99]
    wanted = [2.0 + 0.1 * t for t in stats.t.ppf(points, 5)]
    assert [drawn.at(u) for u in points] == pytest.approx(wanted, abs=1e-5)


def test_luck_of_draws_is_uniform_and_independent():
    """4,000 sets of two numbers: Kolmogorov-Smirnov and correlation, each wrong in 1 of 1,000."""
    pair = plausible([
        number("minutes", 1.0, 0.8, 1.3), number("days", 14.0, 13.0, 15.0, path=(*BENCH, "days")),
    ])  # fmt: skip
    uniforms = draws(pair, 7, 4000)
    assert all(stats.kstest(column, "uniform").pvalue > 0.001 for column in uniforms.T)
    assert stats.pearsonr(*uniforms.T).pvalue > 0.001
    assert abs((uniforms[:, 0] < 0.05).mean() - 0.05) < 3.3 * sqrt(0.05 * 0.95 / 4000)


def test_a_set_hangs_on_seed_set_and_key_alone():
    """However many sets or numbers are drawn, set k has the same numbers; seeds differ."""
    pair = plausible([
        number("minutes", 1.0, 0.8, 1.3), number("days", 14.0, 13.0, 15.0, path=(*BENCH, "days")),
    ])  # fmt: skip
    many = draws(pair, 1, 30)
    assert (draws(pair, 1, 5) == many[:5]).all()
    assert (draws(pair[1:], 1, 30)[:, 0] == many[:, 1]).all()
    assert not (draws(pair, 2, 30) == many).any()


def test_a_number_not_counted_goes_over_its_usual_range():
    """Grow-out days: 2 days each way; minutes: 25 % less to 50 % more, half of them below."""
    days = one(kept((*BENCH, "days"), "days", "lettuce, head", 28.0, "too few"))
    assert (days.how, days.low, days.high, days.why) == ("usual range", 26.0, 30.0, "too few")
    assert [days.at(u) for u in (1e-9, 0.25, 0.5, 1 - 1e-9)] == pytest.approx([26, 27, 28, 30])
    minutes = one(kept(HARVEST, "minutes", "harvest", 2.0, "not timed"))
    assert [minutes.at(u) for u in (1e-9, 0.5, 0.75, 1 - 1e-9)] == pytest.approx([1.5, 2, 2.5, 3])
    points = np.array([minutes.at(u) for u in (np.arange(20_000) + 0.5) / 20_000])
    assert variance_of(minutes) == pytest.approx(points.var(), rel=1e-3)


@pytest.mark.parametrize(
    "held",
    [
        kept(("crews", "class", "absent_percent"), "absence", "class", 0.0, "too few"),
        kept((*BENCH, "bad_event", "loss_percent"), "rare loss", "lettuce, head", 30.0, "unnamed"),
        number("minutes", 4.0, 4.0, 4.0),
    ],
)
def test_what_cannot_vary_is_held_and_says_why(held):
    """Given as 0, without a usual range, or counted the same in all records."""
    drawn = one(held)
    assert not drawn.varies
    assert {drawn.at(u) for u in (0.001, 0.5, 0.999)} == {held.new}
    assert drawn.why


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("u", [1e-9, 0.5, 1 - 1e-9])
def test_any_draw_is_a_scenario(name, u):
    """The farthest draws of guesses make a scenario of every shipped file; the cadence stays."""
    scenario = load_scenario(SCENARIOS / f"{name}.toml")
    kinds: dict[str, Kind] = {
        "days": "days", "days_sd": "days spread", "loss_percent": "growing loss",
        "loss_sd_points": "loss spread", "move_loss_percent": "moving loss",
    }  # fmt: skip
    guesses = [
        kept(("crops", crop, "stages", k, key), kind, "", getattr(stage, key), "guessed")
        for crop, grown in scenario.crops.items()
        for k, stage in enumerate(grown.stages)
        for key, kind in kinds.items()
    ]
    guesses += [
        kept(("tasks", task, "minutes_each"), "minutes", task, of.minutes_each, "guessed")
        for task, of in scenario.tasks.items()
    ]
    values = {p.number.path: p.at(u) for p in plausible(guesses)}
    made = with_numbers(scenario, values)
    assert made.cadence == scenario.cadence
    for task in scenario.tasks:
        assert made.tasks[task].minutes_each == values["tasks", task, "minutes_each"]


def test_the_measured_scenario_is_the_one_that_calibrate_writes():
    """Changes of numbers and of a shape are put in; everything else is as before."""
    changes = [Change(HARVEST, 1.5, ""), Change((*BENCH, "days_shape"), "gamma", "")]
    made = calibrated(certain(), changes)
    assert made.crops["lettuce"].stages[1].days_shape == "gamma"
    same = [Change(HARVEST, 1.0, ""), Change((*BENCH, "days_shape"), "normal", "")]
    assert calibrated(made, same) == certain()


# -- what is uncertain, split ----------------------------------------------------------------------


def test_an_additive_table_is_split_by_hand():
    """Sets 1, 2, 6 and years 0, 4: between 7, luck 8, nothing together; mean 5.

    Variances with one less than the number: (4 + 1 + 9) / 2 = 7, (4 + 4) / 1 = 8. Of the mean:
    counts 7, years 8 / 2, sets 7 / 3.
    """
    found = parts_of(np.array([[1.0, 5.0], [2.0, 6.0], [6.0, 10.0]]))
    assert (found.mean, found.between, found.luck) == pytest.approx((5, 7, 8))
    assert found.both == pytest.approx(0, abs=1e-12)
    assert (found.counts, found.simulated, found.drawn) == pytest.approx((7, 4, 7 / 3))


def test_expected_mean_squares_of_a_table_by_hand():
    """2 x 2 with 0, 0, 0, 4: mean squares 4, 4 and 4, so that all is put down to both together.

    (Searle, Casella & McCulloch, Variance Components, 1992, ch. 4, from memory: the estimates
    are (MS of sets - MS of the rest) / years, and the same for years.)
    """
    found = parts_of(np.array([[0.0, 0.0], [0.0, 4.0]]))
    assert (found.between, found.luck, found.both) == pytest.approx((0, 0, 4))


def bent(rng: np.random.Generator, sets: int, years: int) -> np.ndarray[Any, Any]:
    """Sets x with x^2 - 1 of the set, 2 w of the year, and 3 x w of both: variances 2, 4, 9."""
    x, w = rng.standard_normal((sets, 1)), rng.standard_normal((1, years))
    return x**2 - 1.0 + 2.0 * w + 3.0 * x * w


def test_estimates_are_right_on_average_whatever_the_distributions():
    """Mean of 600 tables of 20 sets by 15 years against 2, 4 and 9; wrong in 1 of 1,000.

    Nothing here is normal, and what both do together is one and the same line in all sets of a
    year: Efron & Stein (1981) need no more than independent sets and years.
    """
    rng = np.random.default_rng(11)
    squares = []
    for _ in range(600):
        table = bent(rng, 20, 15)
        rows, columns = table.mean(axis=1), table.mean(axis=0)
        found = parts_of(table)
        both = found.both
        squares.append((rows.var(ddof=1) - both / 15, columns.var(ddof=1) - both / 20, both))
        assert found.between == pytest.approx(squares[-1][0])
        assert found.luck == pytest.approx(squares[-1][1])
    means, errors = np.mean(squares, axis=0), np.std(squares, axis=0) / sqrt(600)
    assert (np.abs(means - [2, 4, 9]) < NormalDist().inv_cdf(1 - 0.001 / 6) * errors).all()


def test_the_total_is_the_variance_about_the_true_numbers():
    """20,000 tables of 5 sets by 4 years: the mean's square distance from one more set's mean.

    By hand 2 + 4 / 4 + 9 / 20 + 2 / 5 = 3.85; wrong in 1 of 1,000.
    """
    assert Parts(0.0, 5, 4, 2.0, 4.0, 9.0).total == pytest.approx(3.85)
    rng = np.random.default_rng(12)
    x, w = rng.standard_normal((20_000, 5, 1)), rng.standard_normal((20_000, 1, 4))
    means = (x**2 - 1.0 + 2.0 * w + 3.0 * x * w).mean(axis=(1, 2))
    squares = (means - (rng.standard_normal(20_000) ** 2 - 1.0)) ** 2
    assert abs(squares.mean() - 3.85) < 3.3 * squares.std() / sqrt(20_000)


def test_infinite_counts_leave_years_alone_and_infinite_years_counts():
    """Sets that are all alike: all comes from years. Years that are all alike: none does.

    Then counts leave K / (K + 1), and 1 / (K + 1) comes from drawing K sets only.
    """
    alike = split(np.tile([0.5, 0.7, 0.9, 0.4], (6, 1)))
    assert {k: p.share for k, p in alike.shares.items()} == {"counts": 0, "years": 1, "sets": 0}
    alike = split(np.tile([[0.5], [0.7], [0.9], [0.4]], (1, 6)))
    shares = [alike.shares[k].share for k in ("counts", "years", "sets")]
    assert shares == pytest.approx([0.8, 0, 0.2])


def test_nothing_uncertain_has_no_shares():
    assert np.isnan(split(np.ones((4, 3))).shares["counts"].share)


def test_an_estimate_below_nothing_still_has_an_interval():
    """8 sets by 6 years without any difference of sets: none is told, but not as if it were sure.

    100 tables; about half of the estimates of a variance that is 0 are below it.
    """
    rng = np.random.default_rng(16)
    tables_of = [rng.standard_normal((8, 6)) + rng.standard_normal((1, 6)) for _ in range(100)]
    below = [found for found in map(split, tables_of) if found.parts.between <= 0.0]
    assert 30 < len(below) < 80
    assert {found.shares["counts"].share for found in below} == {0.0}
    assert np.mean([found.shares["counts"].high > 0.05 for found in below]) > 0.5


@pytest.mark.proof
@pytest.mark.parametrize("slope", [0.0, 1.0])
def test_the_intervals_of_the_split_cover(slope):
    """The interval of the share of counts holds the true share in at least 90 of 100 tables.

    300 tables of 60 sets by 40 years, normal or with a line of its own in every year; at 90 %
    coverage fewer than 254 would come up in 1 of 1,000 tries.
    """
    rng, hits = np.random.default_rng(13), 0
    true = 1.0 / (1.0 + 4.0 / 40 + 2.0 / 2400 + 1.0 / 60)
    for _ in range(300):
        x, w = rng.standard_normal((60, 1)), rng.standard_normal((1, 40))
        both = slope * x * rng.standard_normal((1, 40))
        both += sqrt(1.0 - slope**2) * rng.standard_normal((60, 40))
        part = split(x + 2.0 * w + sqrt(2.0) * both).shares["counts"]
        hits += part.low <= true <= part.high
    assert hits >= 254


# -- what to count next ----------------------------------------------------------------------------


def four() -> tuple[Plausible, ...]:
    """Minutes of four tasks, counted in 10, 30, 10 and 10 shifts."""
    counts = (10, 30, 10, 10)
    return plausible(
        number("minutes", 1.0, 0.8, 1.2, count=n, path=("tasks", f"task {k}", "minutes_each"))
        for k, n in enumerate(counts)
    )


def test_parts_and_ranking_of_a_line_by_hand():
    """Y = 2 z1 + 2 z2 + z3 in every year: parts 4 : 4 : 1 of what comes from counts.

    Of 10 shifts ten more take half, of 30 a quarter; so the first takes off 2/9, the second 1/9,
    the third 1/18, of counts' K / (K + 1). A line without luck has these slopes exactly.
    """
    varying, sets = four(), 60
    uniforms = draws(varying, 3, sets)
    values = np.tile((stats.norm.ppf(uniforms) @ [2.0, 2.0, 1.0, 0.0])[:, None], (1, 4))
    found = rank(varying, uniforms, values, parts_of(values), batch={}, scenario=certain())
    assert found
    assert [row.of for row in found.rows[:3]] == list(varying[:3])
    counts = sets / (sets + 1)
    wanted = [(4 / 9, 2 / 9), (4 / 9, 1 / 9), (1 / 9, 1 / 18), (0, 0)]
    for row, (share, off) in zip(found.rows, wanted, strict=True):
        assert (row.share, row.takes_off) == pytest.approx((share * counts, off * counts), abs=1e-9)
    assert found.explained == pytest.approx(1)
    assert found.clear


def test_slopes_are_right_and_know_their_error():
    """400 tables: slope 1 of a first number, and a second that only moves single years.

    The mean slope, and the mean square error against the errors told, each wrong in 1 of 1,000.
    Errors from the fit over sets alone would be too small here by a factor of 5.
    """
    rng, found = np.random.default_rng(14), []
    for _ in range(400):
        z, w = rng.standard_normal((40, 2)), rng.standard_normal((3, 30))
        values = z[:, :1] * (1.0 + w[0]) + z[:, 1:] * 2.0 * w[1] + w[2]
        values += 0.3 * rng.standard_normal((40, 30))
        slopes, errors, _ = slopes_of(z, values)
        found.append([*slopes, *errors])
    slopes, errors = np.hsplit(np.array(found), 2)
    off = slopes - [1.0, 0.0]
    assert (np.abs(off.mean(axis=0)) < 3.5 * off.std(axis=0) / 20).all()
    ratio = off**2 / errors**2
    assert (np.abs(ratio.mean(axis=0) - 1.0) < 3.5 * ratio.std(axis=0) / 20 + 0.1).all()


def test_numbers_that_do_nothing_are_seldom_named():
    """300 tables in which four numbers move single years only, and not the mean of all years.

    One is named in at most 5 of 100; more than 28 of 300 would come up in 1 of 1,000 tries.
    """
    rng, varying, named = np.random.default_rng(15), four(), 0
    for _ in range(300):
        uniforms = rng.uniform(size=(30, 4))
        values = stats.norm.ppf(uniforms) @ rng.standard_normal((4, 20)) + rng.standard_normal(20)
        found = rank(varying, uniforms, values, parts_of(values), batch={}, scenario=certain())
        named += found is not None
    assert named <= 28


def test_numbers_of_one_count_are_put_together():
    """Days and their spread are told by the same watching; together they beat the minutes."""
    found = plausible([
        number("minutes", 1.0, 0.8, 1.2, count=10),
        number("days", 14.0, 13.0, 15.0, count=9, path=(*BENCH, "days")),
        number("days spread", 1.0, 0.8, 1.3, count=8, path=(*BENCH, "days_sd")),
    ])  # fmt: skip
    uniforms = draws(found, 3, 60)
    values = np.tile((stats.norm.ppf(uniforms) @ [1.2, 1.0, 1.0])[:, None], (1, 4))
    ranking = rank(found, uniforms, values, parts_of(values), batch={}, scenario=certain())
    assert ranking
    assert ranking.rows[0].of == found[0]
    assert {row.of.number.kind for row in ranking.counts[0]} == {"days", "days spread"}


def test_what_more_records_of_a_guess_take_off_by_hand():
    """A normal guess of variance v0 and m records: v0 / (v0 + s^2 / m) of it goes.

    (Gelman et al., Bayesian Data Analysis, 2013, section 2.5, from memory.) Days 28 +- 2, evenly:
    v0 = 4 / 3. Batches differ by 1.5 days and are seen in whole days: s^2 = 1.5^2 + 1 / 12. A rare
    event of 2 % needs 30 batches to be moved at all.
    """
    stages = certain().crops["lettuce"].stages
    crop = Crop(stages=(stages[0], stages[1].model_copy(update={"days_sd": 1.5})))
    scenario = certain().model_copy(update={"crops": {"lettuce": crop}})
    days = one(kept((*BENCH, "days"), "days", "lettuce, head", 28.0, "too few"))
    wanted = (4 / 3) / (4 / 3 + (2.25 + 1 / 12) / 10)
    assert gain_of(days, 10, scenario, {"lettuce": 40.0}) == pytest.approx(wanted)
    path = (*BENCH, "bad_event", "percent_of_batches")
    rare = one(kept(path, "rare share", "lettuce, head", 2.0, "too few", count=12))
    assert (more_of(days), more_of(rare)) == (10, 18)


# -- the whole -------------------------------------------------------------------------------------


def test_heads_and_sets_that_meet_are_those_of_arithmetic():
    """40 minutes of harvest at m each give min(38, floor(40 / m)) heads; up to 40 / 38 all is met.

    No luck: every set reaches the target if and only if its minutes allow it, the ranking names
    the harvest, and nothing comes from too few years.
    """
    found = sure_of(certain(), [number("minutes", 1.05, 0.85, 1.25, count=12)])
    minutes = [judged.values[0] for judged in found.sets]
    heads = [min(HEADS, int(40 / m + 1e-6)) for m in minutes]
    assert [judged.heads_per_week for judged in found.sets] == pytest.approx(heads)
    reached = [m <= 40 / HEADS for m in minutes]
    assert [judged.reached for judged in found.sets] == reached
    assert 10 < sum(reached) < 30  # the test tries both
    assert found.meeting.reached == sum(reached)
    assert found.heads.parts.between == pytest.approx(np.var(heads, ddof=1))
    assert found.heads.shares["counts"].share == pytest.approx(40 / 41)
    assert found.steadiness.shares["years"].share == pytest.approx(0, abs=1e-12)
    assert found.ranking
    assert found.ranking.rows[0].of.number.path == HARVEST


def test_all_sets_have_the_same_luck():
    """A number that does nothing: each year is the same in all sets, and years differ.

    A twentieth of the seedlings is lost, so that 38 heads of 40 cells are sometimes there.
    """
    stages = certain().crops["lettuce"].stages
    crop = Crop(stages=(stages[0].model_copy(update={"loss_percent": 5.0}), stages[1]))
    scenario = certain().model_copy(update={"crops": {"lettuce": crop}})
    path = ("tasks", "seeding", "minutes_each")
    found = sure_of(scenario, [number("minutes", 5.0, 4.9, 5.1, path=path)], sets=20)
    assert found.steadiness.parts.luck > 0.01
    assert found.steadiness.shares["years"].share == pytest.approx(1)
    assert found.steadiness.parts.both == pytest.approx(0, abs=1e-12)
    assert found.ranking is None


@pytest.mark.parametrize(("every", "verdict"), [(1, "meets"), (2, "misses")])
def test_known_numbers_make_it_sure(every, verdict):
    """Infinite counts: every set is the same, and nothing is uncertain."""
    line = CadenceLine(crop="lettuce", trays={"Mon": 1}, every_weeks=every)
    scenario = certain().model_copy(update={"cadence": Cadence(lines=(line,))})
    found = sure_of(scenario, [number("minutes", 1.0, 1.0, 1.0)], sets=60, years=60)
    assert found.varying == ()
    assert found.ranking is None
    assert getattr(found.meeting, verdict) == 60
    assert found.meeting.verdict == verdict
    assert np.isnan(found.steadiness.shares["counts"].share)


def test_a_number_that_is_kept_varies_over_its_range_and_no_other():
    """Kept minutes of moving go over 25 % less to 50 % more; the harvest is known."""
    moving = ("tasks", "moving", "minutes_each")
    numbers = [
        number("minutes", 1.0, 1.0, 1.0), kept(moving, "minutes", "moving", 0.5, "not timed")
    ]  # fmt: skip
    found = sure_of(certain(), numbers)
    drawn = [judged.values for judged in found.sets]
    assert {len(values) for values in drawn} == {1}
    assert min(drawn)[0] >= 0.375
    assert max(drawn)[0] <= 0.75
    assert len(set(drawn)) == len(drawn)


def test_the_range_of_the_share_is_exact():
    """Its bounds solve P(X >= shown to meet) = P(X <= not shown to miss) = .025 for a binomial X.

    (Clopper & Pearson, Biometrika 26:404, 1934.) What is reached as it stands lies between.
    """
    found = sure_of(certain(), [number("minutes", 1.05, 0.85, 1.25, count=12)], years=25)
    meeting = found.meeting
    assert meeting.sets == meeting.meets + meeting.misses + meeting.too_close
    assert stats.binom.cdf(meeting.sets - meeting.misses, meeting.sets, meeting.high) == (
        pytest.approx(0.025)
    )
    assert stats.binom.sf(meeting.meets - 1, meeting.sets, meeting.low) == pytest.approx(0.025)
    assert meeting.low < meeting.reached / meeting.sets < meeting.high


def test_too_few_records_sets_or_years_are_refused():
    """Each says what there must be."""
    few = [kept(HARVEST, "minutes", "harvest", 1.0, "timed in 2 shifts")]
    with pytest.raises(RecordsError, match="none of the scenario's 1 numbers was counted"):
        sure_of(certain(), few)
    enough = [number("minutes", 1.0, 0.8, 1.2)]
    with pytest.raises(SeedbeatError, match=f"--sets must be at least {LEAST_SETS}"):
        sure_of(certain(), enough, sets=LEAST_SETS - 1)
    with pytest.raises(SeedbeatError, match="--years must be at least 10, but it was 9"):
        sure_of(certain(), enough, years=9)


# -- the words -------------------------------------------------------------------------------------


@cache
def told() -> dict[str, Any]:
    """The answer for a small greenhouse whose harvest was timed in 12 shifts."""
    scenario = certain()
    numbers = [
        number("minutes", 1.05, 0.85, 1.25, count=12),
        kept((*BENCH, "days_sd"), "days spread", "lettuce, head", 0.0, "too few batches"),
        kept(("tasks", "moving", "minutes_each"), "minutes", "moving", 0.5, "not timed"),
    ]
    loaded = LoadedScenario(scenario, (), {}, (), Path("small.toml"))
    rows = [(1.0, "washed", "", "", "bench", "", "cutters", "", 0, 1, 5.0, 0.0, "")]
    found = calibrate(Timetable(scenario), rows)
    return sure_answer(loaded, found, sure_of(scenario, numbers), "log.csv", 1)


def test_the_first_sentences_say_whether_and_what_to_count():
    first = next(sentences(told()))
    assert f"{told()['sets']['reached']} reach it as they stand" in first
    assert "Count the minutes of harvest next: ten more shifts would take off" in first


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("misses", "The records say that this cadence does not meet the target: 39 of 40"),
        ("meets", "The records say that this cadence meets the target: 0 of 40"),
    ],
)
def test_a_plain_yes_or_no_is_said_plainly(verdict, words):
    """Yes or no comes first."""
    sets = {"sets": 40, "meets": 0, "misses": 39, "too_close": 1, "reached": 0}
    answer = {**told(), "verdict": verdict, "sets": {**sets, "low": 0.0, "high": 0.09}}
    assert next(sentences(answer)).startswith(words)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0, 0.4, "probably does not meet"), (0.2, 0.8, "leave open"),
        (0.6, 0.95, "probably meets"),
    ],
)  # fmt: skip
def test_what_more_speaks_for_is_said(low, high, words):
    """One half is the border, of the whole range."""
    sets = {"sets": 40, "meets": 12, "misses": 12, "too_close": 16, "reached": 20}
    answer = {**told(), "verdict": "open", "sets": {**sets, "low": low, "high": high}}
    first = next(sentences(answer))
    assert words in first
    assert "12 of 40 plausible sets of numbers miss it beyond noise, 12 are shown to" in first


def test_what_was_not_counted_is_told():
    text = " ".join(sentences(told()))
    assert "taken over the usual range of such a guess: moving: minutes a unit (0.375 to" in text
    assert "no record tells them: ready heads keep" in text


def test_tables_fit_80_columns_and_json_holds_all():
    """As the terminal draws them: three blanks between columns."""
    answer = told()
    json.dumps(answer, allow_nan=False)
    assert len(answer["plausible_sets"]) == 40
    for table in tables(answer):
        cells = [table.headers, *table.rows]
        wide = [max(len(row[k]) for row in cells) for k in range(len(table.headers))]
        assert sum(wide) + 3 * (len(wide) - 1) <= 80 or table.title == "The same in all sets"


def test_the_picture_shows_every_set_and_both_targets():
    """Points of all standings together are the sets; a bar for each number that leaves open."""
    answer = told()
    left, right = figures(answer)["sets"].axes
    points = sum(len(line.get_xdata()) for line in left.lines[:3])
    assert points == len(answer["plausible_sets"])
    assert left.lines[4].get_xdata()[0] == pytest.approx(95)
    assert left.lines[5].get_ydata()[0] == pytest.approx(85)
    shown = [row for row in answer["ranking"] if row["share"] >= 0.005]
    assert len(right.get_yticks()) == len(shown) + 1


def arguments(*given: object) -> argparse.Namespace:
    """As the command line reads them."""
    main = argparse.ArgumentParser()
    base.add(main.add_subparsers(), COMMAND)
    return main.parse_args(["sure", *map(str, given)])


def test_verdicts_follow_the_range():
    """No if at most a tenth of the sets may meet it, yes if at least nine tenths do."""
    plain = Meeting(100, 0, 100, 0, 0, 0.0, 0.036)
    assert plain.verdict == "misses"
    assert replace(plain, low=0.91, high=1.0).verdict == "meets"
    assert replace(plain, low=0.2, high=0.8).verdict == "open"


@pytest.mark.proof
def test_workers_and_keeping_change_no_byte(tmp_path):
    """The demo with its shipped log: 1 or 2 workers, and from kept years, the same answer."""
    how = (DEMO, COUNTS, "--sets", 60, "--years", 10, "--json", "--keep", tmp_path / "kept")
    first = COMMAND.answer(arguments(*how, "--workers", 2))
    again = COMMAND.answer(arguments(*how, "--workers", 1))
    fresh = COMMAND.answer(arguments(*how[:-2], "--workers", 1))
    assert json.dumps(first) == json.dumps(again) == json.dumps(fresh)


@pytest.mark.proof
def test_the_command_searches_first_if_asked(tmp_path):
    """The cadence asked about is the one that the search chose or came nearest to."""
    how = (DEMO, COUNTS, "--sets", 60, "--years", 10, "--runs", 500, "--search")
    answer = COMMAND.answer(arguments(*how, "--workers", 1, "--out", tmp_path))
    assert answer["searched"]
    assert answer["cadence"] in answer["searched"]
    names = {"page.html", "run.json", "sets.csv", "numbers.csv", "sets.png", "sets.svg"}
    assert names <= {path.name for path in tmp_path.iterdir()}
    assert "sets.png" in answer["files"]
