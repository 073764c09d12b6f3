"""Published greenhouse lines, and production lines whose throughput is known exactly.

Error rates: every statistical limit below is 4 standard errors, which a right program misses
for 1 of 16,000 seeds; the seeds are fixed. Where a limit is wider, its docstring says so.
"""

from __future__ import annotations

from collections import defaultdict
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
from sim.parts import CadenceLine, Crop, Dates, Place, School, Seeding, Stage
from sim.records import BATCH, COUNT, CROP, KIND, PLACE, SINCE, TIME, TO, Row
from sim.replications import Years
from sim.runs import replicate
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
# ready, a seeding always waiting. Two stations with a buffer of b pass (b + 2) / (b + 3), three
# without buffers 22/39 (G. C. Hunt, Sequential arrays of waiting lines, Operations Research
# 4:674-683, 1956; from memory); all eight numbers are solved again below from their Markov chains.

START = date(2001, 1, 1)
MEAN = 100  # days at a station
WARM = 40  # pieces that leave before counting begins
JOBS = 250  # pieces counted in each run
LATE = 10 * MEAN  # a seeding waits this long: more than a dozen wait at any time
SETTLED = 30 * MEAN  # the waiting list has grown by then [d]

FORMS = {
    (2, 0): 2 / 3, (3, 0): 22 / 39, (4, 0): 0.514775, (5, 0): 0.485798,
    (2, 1): 3 / 4, (2, 2): 4 / 5, (3, 1): 0.670466, (3, 2): 0.734017,
}  # fmt: skip


IDLE, BUSY, BLOCKED = range(3)
State = tuple[tuple[int, ...], tuple[int, ...]]  # of each station, and pieces waiting before it


def settled(stations: list[int], waiting: list[int], buffer: int) -> State:
    """Move pieces on until none can move; the first station always has another one."""
    moved = True
    while moved:
        moved = False
        for k in range(1, len(stations)):
            if stations[k] == IDLE and waiting[k]:
                stations[k], waiting[k], moved = BUSY, waiting[k] - 1, True
            elif stations[k - 1] == BLOCKED and (waiting[k] < buffer or stations[k] == IDLE):
                stations[k - 1], waiting[k], moved = IDLE, waiting[k] + 1, True
    stations[0] = BUSY if stations[0] == IDLE else stations[0]
    return tuple(stations), tuple(waiting)


def chain_throughput(stations: int, buffer: int) -> float:
    """Share of time that the last station is at work, from the balance equations of the chain."""
    states = [settled([IDLE] * stations, [0] * stations, buffer)]
    jumps: list[tuple[State, State]] = []
    for state in states:  # grows while it is gone through
        for k in (k for k in range(stations) if state[0][k] == BUSY):
            after = list(state[0])
            after[k] = IDLE if k == stations - 1 else BLOCKED
            jumps.append((state, settled(after, list(state[1]), buffer)))
            if jumps[-1][1] not in states:
                states.append(jumps[-1][1])
    rates = np.zeros((len(states), len(states)))
    for before, then in jumps:
        rates[states.index(then), states.index(before)] += 1
        rates[states.index(before), states.index(before)] -= 1
    rates[0] = 1  # chances add up to one
    chances = np.linalg.solve(rates, np.eye(len(states))[0])
    return float(sum(c for c, s in zip(chances, states, strict=True) if s[0][-1] == BUSY))


@pytest.mark.parametrize(("stations", "buffer"), FORMS)
def test_exact_throughputs_are_those_of_the_markov_chain(stations: int, buffer: int) -> None:
    """The numbers that the lines are held against, to 6 digits."""
    assert chain_throughput(stations, buffer) == pytest.approx(FORMS[stations, buffer], abs=5e-7)


def saturated_line(stations: int, buffer: int, pieces: int) -> Scenario:
    """A line of stations, long enough for so many pieces.

    A buffer of b is a place with b containers and a stage of one day, the shortest there is.
    """
    places: dict[str, Place] = {}
    stages: list[Stage] = []
    for k in range(stations):
        if k and buffer:
            places[f"buffer {k}"] = Place(count=buffer, sites_each=1)
            stages.append(Stage(name=f"buffer {k}", place=f"buffer {k}", days=1))
        name = f"station {k}"
        places[name] = Place(count=1, sites_each=1)
        stages.append(Stage(name=name, place=name, days=MEAN, days_shape="exponential"))
    days = pieces * MEAN / FORMS[stations, buffer]
    end = START + timedelta(days=SETTLED + 1.2 * days)
    return Scenario(
        school=School(first_day=START, last_day=end),
        places=places,
        crops={"piece": Crop(stages=tuple(stages), harvest="when ready", harvested_by=None)},
        cadence=Cadence(
            lines=(CadenceLine(crop="piece", trays={"Mon": 1}, every_weeks=10),), late_days=LATE
        ),
        window=Dates(first_day=START, last_day=end),
    )


@dataclass(frozen=True)
class Trace:
    """What the rows of a run say of each piece, in the order in which they leave.

    `entered` and `left` are times [d], `stays` the lengths of its stages [pieces, places] [d].
    """

    entered: Floats
    left: Floats
    stays: Floats

    @classmethod
    def of(cls, rows: list[Row]) -> Trace:
        """Read the rows, and check that a seeding was always waiting."""
        always_waiting(rows)
        stays: defaultdict[str, list[float]] = defaultdict(list)
        for row in rows:
            if row[KIND] == "finished":
                stays[row[BATCH]].append(row[TIME] - row[SINCE])
        seeded = {row[BATCH]: row[TIME] for row in rows if row[KIND] == "seeded"}
        left = {row[BATCH]: row[TIME] for row in rows if row[KIND] == "harvested"}
        return cls(
            np.array([seeded[batch] for batch in left], dtype=np.float64),
            np.array(list(left.values()), dtype=np.float64),
            np.array([stays[batch] for batch in left], dtype=np.float64),
        )


def always_waiting(rows: list[Row]) -> None:
    """Check that the first station, once the line has settled, is never left without work."""
    seeded = {row[TIME] for row in rows if row[KIND] == "seeded"}
    freed = {row[TIME] for row in rows if row[KIND] == "freed" and row[PLACE] == "station 0"}
    settled = {time for time in freed if time > SETTLED}
    assert settled
    assert settled <= seeded


def blocked_line(stays: Floats, spots: list[int], entered: Floats) -> Floats:
    """When each piece leaves each place, shape [pieces, places], if none overtakes another.

    A piece enters a place when it has finished in the one before and a spot is free there: when
    the piece so many ahead of it has left. That is the definition of blocking after service.
    """
    left = np.zeros_like(stays)
    for n, time in enumerate(entered):
        for k, stay in enumerate(stays[n]):
            time += stay  # noqa: PLW2901 - the piece's clock
            if k + 1 < len(spots) and n >= spots[k + 1]:
                time = max(time, left[n - spots[k + 1], k + 1])  # noqa: PLW2901
            left[n, k] = time
    return left


@pytest.mark.parametrize(("stations", "buffer"), [(3, 0), (3, 2)])
def test_every_piece_leaves_a_blocked_line_when_the_recursion_says(
    stations: int, buffer: int
) -> None:
    """P4: given the stage lengths, all of 150 departures are those of the recursion, to the day."""
    plan = Plan(saturated_line(stations, buffer, 150))
    found = Trace.of(run_year(plan, 1, 0))
    spots = [plan.scenario.places[stage.place].count or 0 for stage in plan.crops["piece"].stages]
    assert list(found.entered) == sorted(found.entered)  # nobody overtook
    left = blocked_line(found.stays, spots, found.entered)
    assert len(left) >= 150
    assert list(left[:, -1]) == list(found.left)
    settled = found.entered[1:] > SETTLED
    assert list(found.entered[1:][settled]) == list(left[:-1, 0][settled])


def test_plants_that_need_nobody_move_oldest_first() -> None:
    """P4: of two batches that wait for one container, the one that was ready first gets it.

    Worked by hand. The gate is held by "first" from day 0, ready on day 5, and the field behind
    it by "ahead" until day 10. "older" waits for the gate from day 3, "younger" from day 7. On
    day 10 "first" can leave, and the gate goes to "older"; "younger" follows 20 days later.
    """
    stays = {"older": 3, "first": 5, "younger": 7}
    crops = {
        "ahead": Crop(
            stages=(Stage(name="f", place="field", days=10),),
            harvest="when ready",
            harvested_by=None,
        )
    }
    for name, days in stays.items():
        begins = "gate" if name == "first" else "waiting"
        stages = [Stage(name="w", place=begins, days=days)]
        if name != "first":
            stages.append(Stage(name="g", place="gate", days=20))
        stages.append(Stage(name="f", place="field", days=1))
        crops[name] = Crop(stages=tuple(stages), harvest="when ready", harvested_by=None)
    scenario = Scenario(
        school=School(first_day=START, last_day=START + timedelta(days=60)),
        places={
            "waiting": Place(count=2, sites_each=1),
            "gate": Place(count=1, sites_each=1),
            "field": Place(count=1, sites_each=1),
        },
        crops=crops,
        cadence=Cadence(added=tuple(Seeding(day=START, crop=c, trays=1) for c in crops)),
        window=Dates(first_day=START, last_day=START + timedelta(days=60)),
    )
    rows = run_year(Plan(scenario), 1, 0)
    moved = [(row[CROP], row[TIME]) for row in rows if row[KIND] == "moved" and row[TO] == "gate"]
    assert moved == [("older", 10), ("younger", 30)]


def rounded_mean() -> float:
    """Mean of an exponential length rounded to whole days, at least one (rule C3) [d].

    Rounded half up, k days are reached with chance exp(-(k - .5) / mean); and what is below half
    a day counts as one.
    """
    return exp(-0.5 / MEAN) / (1 - exp(-1 / MEAN)) + 1 - exp(-0.5 / MEAN)


def throughput(stations: int, buffer: int, runs: int) -> tuple[float, float]:
    """Pieces a mean station time, and the standard error, from independent runs.

    Each run gives, after a warm-up, the time between the departures of two pieces `JOBS` apart.
    The mean stage length of the pieces between has a known expectation, so the runs are
    regressed on it (a control variate: Law, Simulation Modeling and Analysis, ch. 11).
    """
    plan = Plan(saturated_line(stations, buffer, WARM + JOBS))
    cycles, excess = [], []
    for number in range(runs):
        found = Trace.of(run_year(plan, 1, number))
        first, last = found.left[WARM], found.left[WARM + JOBS]
        cycles.append((last - first) / JOBS / MEAN)
        lengths = found.stays[WARM + 1 : WARM + JOBS + 1]
        at_stations = lengths[:, ::2] if buffer else lengths
        excess.append(at_stations.mean() / rounded_mean() - 1)
    slope, _ = np.polyfit(excess, cycles, 1)
    adjusted = np.array(cycles) - slope * np.array(excess)
    cycle = float(adjusted.mean())
    error = float(adjusted.std()) * (runs / (runs - 2)) ** 0.5 / runs**0.5
    return 1 / cycle, error / cycle**2


def test_saturated_line_of_three_stations() -> None:
    """Three stations pass 22/39 of what one does (Hunt 1956), to 4 standard errors, about .017.

    With 8 runs (6 degrees of freedom) a right program misses that for 7 of 1,000 seeds. Rounding
    to whole days moves the number by less than .0001: as many lengths are rounded up as down.
    """
    found, error = throughput(3, 0, runs=8)
    assert error < 0.006
    assert abs(found - FORMS[3, 0]) < LIMIT * error


@pytest.mark.proof
@pytest.mark.parametrize(("stations", "buffer"), FORMS)
def test_saturated_lines(stations: int, buffer: int) -> None:
    """Eight saturated lines with blocking after service, to 4 standard errors of .003 or less.

    With 60 runs a right program misses that for 2 of 10,000 seeds in each of the eight.
    A buffer's stage lasts at least one day where the exact answer has none; that costs at most
    one day in each time between departures, and by the recursion .0003 to .0007 of the
    throughput: .001 is allowed for it, in that direction only.
    """
    found, error = throughput(stations, buffer, runs=60)
    assert error < 0.003
    low = FORMS[stations, buffer] - (0.001 if buffer else 0)
    assert low - LIMIT * error < found < FORMS[stations, buffer] + LIMIT * error
