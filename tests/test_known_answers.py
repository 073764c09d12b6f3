"""Published greenhouse lines, and production lines whose throughput is known exactly.

Error rates: every statistical limit below is 4 standard errors, which a right program misses
for 1 of 16,000 seeds; the seeds are fixed. Where a limit is wider, its docstring says so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom

from sim.draws import binomial
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.parts import CadenceLine, Crop, Dates, Place, School, Stage
from sim.records import BATCH, COUNT, KIND, PLACE, SINCE, TIME, Row
from sim.replications import Years, replicate
from sim.scenario import Cadence, Scenario
from sim.scenario_file import load_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
LIMIT = 4.0  # standard errors
Floats = NDArray[np.float64]


# -- a float-raft line ----------------------------------------------------------------------------
# Rutgers University, Horticultural Engineering, "Lettuce Production" (web page, n.d.): every day
# 1,200 seeds; 12 days in the growth room; 960 transplanted (20 percent culled); 10 days at 60
# holes a board; 14 days at 21 holes a board; harvest "day 35". What follows from these numbers
# is arithmetic, done again here.

PLANTS = np.arange(1201)
CHANCE = binom.pmf(PLANTS, 1200, 0.8)
RAFT_YEARS = 6


def boards_mean_and_sd(holes: int) -> tuple[float, float]:
    """Mean and standard deviation of the boards that one day's transplants take."""
    boards = np.ceil(PLANTS / holes)
    mean = float(CHANCE @ boards)
    return mean, float(np.sqrt(CHANCE @ (boards - mean) ** 2))


@pytest.fixture(scope="module")
def raft() -> tuple[Scenario, Years]:
    """The float-raft line over 6 simulated years, 287 measured days each."""
    scenario = load_scenario(SCENARIOS / "raft-line.toml")
    return scenario, replicate(scenario, RAFT_YEARS, seed=1)


def test_raft_line_holds_the_published_plants(raft: tuple[Scenario, Years]) -> None:
    """14,400 cells, 9,600 plants at 60 holes, 13,440 at 21 holes, 960 heads a day, to 1 %.

    Rutgers, "Lettuce Production"; 1,200 x 12, 960 x 10, 960 x 14. One standard error of these
    means over 1,722 days is 0.04 %.
    """
    years = raft[1]
    cells, close, wide = years.plants.mean(axis=1)
    assert cells == pytest.approx(14_400)
    assert close == pytest.approx(9_600, rel=0.01)
    assert wide == pytest.approx(13_440, rel=0.01)
    assert years.weekly["heads harvested"].mean() / 7 == pytest.approx(960, rel=0.01)


def test_raft_boards_are_counted_batch_by_batch(raft: tuple[Scenario, Years]) -> None:
    """P2: E[ceil(X/60)] x 10 = 164.9 and E[ceil(X/21)] x 14 = 646.7 boards, X binomial.

    Rutgers, "Lettuce Production", gives 160 and 640 for exactly 960 plants a day.
    """
    years = raft[1]
    days = RAFT_YEARS * years.timetable.weeks * 7
    for row, holes, stay, known in ((1, 60, 10, 164.9), (2, 21, 14, 646.7)):
        mean, sd = boards_mean_and_sd(holes)
        assert stay * mean == pytest.approx(known, abs=0.05)
        standard_error = stay * sd / days**0.5
        assert abs(years.containers[row].mean() - stay * mean) < LIMIT * standard_error


def test_raft_heads_vary_from_day_to_day_as_a_binomial() -> None:
    """960 +- 13.9 heads a day: sqrt(1,200 x .8 x .2) = 13.86, batch by batch over 4 years.

    The standard error of a standard deviation of n normal numbers is sd / sqrt(2 n).
    """
    plan = Plan(load_scenario(SCENARIOS / "raft-line.toml"))
    heads = [
        row[COUNT]
        for year in range(4)
        for row in run_year(plan, 2, year)
        if row[KIND] == "harvested"
    ]
    days = len(heads)
    assert days > 1_000
    assert abs(np.mean(heads) - 960) < LIMIT * 13.86 / days**0.5
    assert abs(np.std(heads) - 13.86) < LIMIT * 13.86 / (2 * days) ** 0.5


def test_raft_heads_leave_36_days_after_seeding() -> None:
    """12 + 10 + 14 = 36 days from the day of seeding, which is day 0.

    Rutgers, "Lettuce Production", calls harvest "day 35" although its stays add up to 36; here
    every stay is counted in full, from 00:00 to 00:00.
    """
    seeded: dict[str, float] = {}
    stays = set()
    for row in run_year(Plan(load_scenario(SCENARIOS / "raft-line.toml")), 1, 0):
        if row[KIND] == "seeded":
            seeded[row[BATCH]] = row[TIME]
        elif row[KIND] == "harvested":
            stays.add(row[TIME] - seeded[row[BATCH]])
    assert stays == {36.0}


@pytest.mark.parametrize(
    ("wanted", "share", "seeds"), [(960, 0.95, 1229), (960, 0.99, 1241), (36, 0.95, 51)]
)
def test_seeds_needed_for_enough_plants(wanted: int, share: float, seeds: int) -> None:
    """Fewest seeds at 80 % for at least so many plants in so many of the batches.

    Binomial arithmetic on Rutgers' 80 % and 960 (1,229 for 95 %, 1,241 for 99 %) and on the 36
    plants of a small bench (51): the number of the program's draws and of scipy's tail agree.
    """
    drawn = next(n for n in range(wanted, 2000) if binomial(1 - share, n, 0.8) >= wanted)
    exact = next(n for n in range(wanted, 2000) if binom.sf(wanted - 1, n, 0.8) >= share)
    assert drawn == exact == seeds


# -- a small bench --------------------------------------------------------------------------------
# 8 channels of 18 holes and 144 nursery sites: H. Resh, Hobby Hydroponics, ch. 6. Summer 2 + 4
# weeks, winter 3 + 5 weeks: N. Bumgarner, Late Summer to Winter Bibb Lettuce Trial, 2013. The
# rest is arithmetic on their numbers, without losses.


def test_small_bench_in_summer_gives_36_heads_a_week() -> None:
    """144 sites / 4 weeks = 36.0 heads a week, with 36 x 2 = 72 plants in the nursery.

    Bench: Resh, Hobby Hydroponics, ch. 6; weeks: Bumgarner 2013.
    """
    years = replicate(load_scenario(SCENARIOS / "small-bench-summer.toml"), 1)
    nursery, channels = years.plants
    assert set(years.weekly["heads delivered"][0]) == {36.0}
    assert nursery == pytest.approx(72)
    assert channels == pytest.approx(144)


def winter_bench(weeks_seeded: int) -> Scenario:
    """The winter bench, 36 plants seeded in so many weeks of every five."""
    scenario = load_scenario(SCENARIOS / "small-bench-winter.toml")
    lines = tuple(
        CadenceLine(
            crop="bibb lettuce",
            trays={"Mon": 36},
            every_weeks=5,
            first_day=scenario.start + timedelta(weeks=week),
        )
        for week in range(weeks_seeded)
    )
    return scenario.model_copy(update={"cadence": Cadence(lines=lines)})


def test_small_bench_in_winter_gives_28_8_heads_a_week() -> None:
    """144 sites / 5 weeks = 28.8 heads a week; seeded so, 28.8 x 3 = 86.4 are in the nursery.

    Bench: Resh, Hobby Hydroponics, ch. 6; weeks: Bumgarner 2013. A channel never holds two
    batches, so 28.8 a week is 36 in four weeks of five; averages are over multiples of five weeks.
    """
    years = replicate(winter_bench(4), 1)
    assert years.timetable.weeks % 5 == 0
    nursery, channels = years.plants.mean(axis=1)
    assert years.weekly["heads delivered"].mean() == pytest.approx(28.8)
    assert nursery == pytest.approx(86.4)
    assert channels == pytest.approx(144)


def test_summer_seeding_kept_in_winter_lets_the_backlog_grow() -> None:
    """36 seeded less 28.8 taken: 7.2 plants more wait in the nursery every week.

    Bench: Resh, Hobby Hydroponics, ch. 6; weeks: Bumgarner 2013. The growth is measured from
    one five weeks to the next: 36 plants.
    """
    years = replicate(load_scenario(SCENARIOS / "small-bench-winter.toml"), 1)
    assert years.weekly["heads delivered"].mean() == pytest.approx(28.8)
    nursery = years.plants[0].reshape(-1, 5).mean(axis=1)
    assert np.diff(nursery) == pytest.approx(5 * 7.2)


# -- saturated lines ------------------------------------------------------------------------------
# A line of single stations with exponential times of rate 1 that is never short of work; a
# finished piece blocks its station while the next one is taken (blocking after service). In the
# greenhouse's words: places with one container of one site, moves that need nobody, harvest when
# ready, a seeding always waiting. Two and three stations without buffers: (b + 2) / (b + 3) with
# b = 0, and 22/39 (G. C. Hunt, Sequential arrays of waiting lines, Operations Research 4:674-683,
# 1956); the other numbers follow from the same Markov chains.

START = date(2001, 1, 1)
MEAN = 100  # days at a station
WARM = 40  # heads that leave before counting begins
JOBS = 250  # heads counted in each run
LATE = 10 * MEAN  # a seeding waits this long: about a dozen wait at any time


def saturated_line(stations: int, buffer: int, days: int) -> Scenario:
    """A line of stations; a buffer of b is a place with b containers and a stage of one day."""
    places: dict[str, Place] = {}
    stages: list[Stage] = []
    for k in range(stations):
        if k and buffer:
            places[f"buffer {k}"] = Place(count=buffer, sites_each=1)
            stages.append(Stage(name=f"buffer {k}", place=f"buffer {k}", days=1))
        name = f"station {k}"
        places[name] = Place(count=1, sites_each=1)
        stages.append(Stage(name=name, place=name, days=MEAN, days_shape="exponential"))
    end = START + timedelta(days=days)
    line = CadenceLine(crop="piece", trays={"Mon": 1}, every_weeks=12)
    return Scenario(
        school=School(first_day=START, last_day=end),
        places=places,
        crops={"piece": Crop(stages=tuple(stages), harvest="when ready", harvested_by=None)},
        cadence=Cadence(lines=(line,), late_days=LATE),
        window=Dates(first_day=START, last_day=end),
    )


@dataclass(frozen=True)
class Trace:
    """One run of a line: `left` [pieces] when each left; `stays` [pieces, places] stage lengths."""

    left: Floats
    stays: Floats


def trace(plan: Plan, replication: int) -> Trace:
    """Run a line, check that a seeding always waited, and read the trace from the rows."""
    rows = run_year(plan, 1, replication)
    always_waiting(rows)
    lengths: defaultdict[str, list[float]] = defaultdict(list)
    left: list[tuple[float, str]] = []
    for row in rows:
        if row[KIND] == "finished":
            lengths[row[BATCH]].append(row[TIME] - row[SINCE])
        elif row[KIND] == "harvested":
            left.append((row[TIME], row[BATCH]))
    assert left == sorted(left, key=lambda entry: entry[0])
    return Trace(
        np.array([time for time, _ in left]), np.array([lengths[batch] for _, batch in left])
    )


def always_waiting(rows: list[Row]) -> None:
    """Once the waiting list is full, the first station is taken up again the moment it is free."""
    seeded = {row[TIME] for row in rows if row[KIND] == "seeded"}
    freed = [row[TIME] for row in rows if row[KIND] == "freed" and row[PLACE] == "station 0"]
    late = [time for time in freed if time > LATE]
    assert late
    assert seeded.issuperset(late)


def blocking_recursion(stays: Floats, places: list[int], entered: Floats) -> Floats:
    """When each piece leaves a line of places with so many spots each, `stays` [pieces, places].

    A piece enters a place when it has finished in the one before and a spot is free: the piece so
    many pieces ahead of it has left. This is the definition of blocking after service.
    """
    left = np.zeros_like(stays)
    for n in range(len(stays)):
        time = entered[n]
        for k in range(len(places)):
            time += stays[n, k]
            if k + 1 < len(places) and n >= places[k + 1]:
                time = max(time, left[n - places[k + 1], k + 1])
            left[n, k] = time
    return left


@pytest.mark.parametrize(("stations", "buffer"), [(3, 0), (3, 2)])
def test_every_head_leaves_a_blocked_line_when_the_recursion_says(
    stations: int, buffer: int
) -> None:
    """P4: with the same stage lengths, every one of 100 departures is the recursion's, exactly."""
    plan = Plan(saturated_line(stations, buffer, 24_000))
    found = trace(plan, 0)
    stays, count = found.stays[:100], len(plan.crops["piece"].stages)
    spots = [plan.scenario.places[stage.place].count or 0 for stage in plan.crops["piece"].stages]
    assert stays.shape == (100, count)
    assert spots == [1 if n % 2 == 0 or not buffer else buffer for n in range(count)]
    entered = np.zeros(100)
    seeded = sorted(r[TIME] for r in run_year(plan, 1, 0) if r[KIND] == "seeded")
    entered[:] = seeded[:100]
    left = blocking_recursion(stays, spots, entered)
    assert list(left[:, -1]) == list(found.left[:100])
    # and the first station is taken up again the moment it is left
    waiting = entered[1:] > LATE
    assert list(entered[1:][waiting]) == list(left[:-1, 0][waiting])


def rounded_mean() -> float:
    """Mean of an exponential length rounded to whole days, at least one (rule C3) [d]."""
    up = exp(-0.5 / MEAN) / (1.0 - exp(-1.0 / MEAN))
    return up + 1.0 - exp(-0.5 / MEAN)


def throughput(stations: int, buffer: int, runs: int) -> tuple[float, float]:
    """Throughput per mean station time, and its standard error, from independent runs.

    In each run the time between the departures of two pieces, `JOBS` apart, is measured after
    a warm-up. The stage lengths of these pieces have a known mean, so the runs are regressed on it
    (a control variate; Law, Simulation Modeling and Analysis, ch. 11). That rests on the rows only.
    """
    plan = Plan(saturated_line(stations, buffer, int(MEAN * (WARM + JOBS) * 1.25 * _slow(stations))))
    cycles, excess = [], []
    for number in range(runs):
        found = trace(plan, number)
        span = slice(WARM + 1, WARM + JOBS + 1)
        assert len(found.left) > WARM + JOBS
        cycles.append((found.left[WARM + JOBS] - found.left[WARM]) / JOBS / MEAN)
        lengths = found.stays[span, :: 2 if buffer else 1]
        excess.append(lengths.mean() / rounded_mean() - 1.0)
    slope = np.polyfit(excess, cycles, 1)[0]
    adjusted = np.array(cycles) - slope * np.array(excess)
    cycle = float(adjusted.mean())
    error = float(adjusted.std(ddof=2)) / runs**0.5
    return 1.0 / cycle, error / cycle**2


def _slow(stations: int) -> float:
    """A little more than the mean time between departures, in station times."""
    return 1.2 + 0.2 * stations


def test_x() -> None:
    import time
    for st, b in ((2,0),(3,0),(4,0),(5,0),(2,1),(2,2),(3,1),(3,2)):
        t=time.perf_counter()
        print(st,b,throughput(st,b,20), time.perf_counter()-t)
