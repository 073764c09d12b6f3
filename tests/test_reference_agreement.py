"""The simulation against the reference, which follows every single plant (tests/reference).

Reference years are run with the stage lengths of the simulation's years, so that the luck that
matters most is shared and a small difference shows; survivors, culls and absences stay the
reference's own. Where distributions are compared, the simulation's years are others.

The reference delivers on every date of a standing order; here the orders say from when to when, as
the simulation takes it where a file is silent: from the first to the last day of school.

Heads and plants are counted when a stint ends (rule W3), in the reference one by one. So heads
are up to half a stint younger when they leave, and stand a little longer where they come from.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
import reference.house
from reference import run_reference
from reference.jobs import SeedingJob
from reference.result import ReferenceResult
from reference_years import YEARS, kept_years
from scipy import stats

from sim.draws import Luck
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import Frame, by_kind, weeks_met
from sim.parts import Stage
from sim.records import BATCH, CAUSE, CONTAINERS, COUNT, SINCE, TIME, Row
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.weeks import weekly_containers, weekly_counts, weekly_plants, weekly_work

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SEED, OTHER_SEED = 1, 2
HALF_STINT = 25 / 1440  # half of the workload's longest stint, a class period [d]
Numbers = dict[str, float]

KIND_OF_WORK = {"transplant": "moving"}  # the task's name in these files, and the kind of work
CAUSES = {"past keep": "kept too long"}
DISTRIBUTIONS = ("heads delivered", "weeks met", "plants dumped")


def dated(scenario: Scenario) -> Scenario:
    """The scenario with the dates of its standing orders spelled out."""
    school = scenario.school
    orders = tuple(
        order.model_copy(
            update={
                "first_day": order.first_day or school.first_day,
                "last_day": order.last_day or school.last_day,
            }
        )
        for order in scenario.orders
    )
    return scenario.model_copy(update={"orders": orders})


def scenario_of(name: str) -> Scenario:
    """A shipped scenario by its file's name, orders dated."""
    return dated(load_scenario(SCENARIOS / f"{name}.toml"))


def workload() -> Scenario:
    """The reference workload of 8,000 sites."""
    return scenario_of("r8k")


# -- one year of each, as numbers ------------------------------------------------------------------


def simulated(plan: Plan, seed: int, year: int) -> Numbers:
    """One year of the simulation; what is counted, and over which time, is as in the reference."""
    kinds, frame = by_kind(run_year(plan, seed, year)), Frame.of(plan.timetable)
    places, late = list(plan.scenario.places), plan.scenario.cadence.late_days
    missed = [row for row in kinds["missed"] if row[TIME] - late - 1 < frame.end]
    met = weeks_met(kinds, frame)
    numbers: Numbers = {
        "heads delivered": weekly_counts(kinds, frame)["heads delivered"].sum(),
        "weeks met": met.count(1),
        "trays missed": sum(row[CONTAINERS] for row in missed),
        "cells seeded": sum(row[COUNT] for row in kinds["seeded"] if row[TIME] < frame.end),
    }
    early = {row[BATCH] for row in kinds["seeded"] if row[TIME] < frame.end}
    for kind in ("lost", "dumped"):
        numbers |= fates(kind, [row for row in kinds[kind] if row[BATCH] in early])
    held, sites = (f(kinds, frame, places).mean(axis=1) for f in (weekly_containers, weekly_plants))
    numbers |= {f"held in {place}": n for place, n in zip(places, held, strict=True)}
    numbers |= {f"plants in {place}": n for place, n in zip(places, sites, strict=True)}
    work = weekly_work(kinds, frame)
    numbers |= {f"minutes of {kind}": minutes.sum() for kind, minutes in work.items()}
    return numbers | ages(kinds, frame)


def fates(kind: str, rows: Iterable[Row]) -> Numbers:
    """Plants lost or dumped, by cause and in all."""
    causes: Counter[str] = Counter()
    for row in rows:
        causes[row[CAUSE]] += row[COUNT]
    by_cause = {f"{kind}: {cause}": float(count) for cause, count in causes.items()}
    return by_cause | {f"plants {kind}": float(causes.total())}


def ages(kinds: dict[str, list[Row]], frame: Frame) -> Numbers:
    """Mean days from harvest and from seeding to leaving, over the heads that left."""
    sown: dict[str, Counter[float]] = {}
    for row in kinds["seeded"]:
        sown.setdefault(row[BATCH], Counter())[row[TIME]] += row[COUNT]
    born = {batch: sum(t * n for t, n in c.items()) / c.total() for batch, c in sown.items()}
    out = [row for row in kinds["delivered"] if frame.start <= row[TIME] < frame.end]
    heads = sum(row[COUNT] for row in out)
    return {
        "age": sum((row[TIME] - row[SINCE]) * row[COUNT] for row in out) / heads,
        "seed to delivery": sum((row[TIME] - born[row[BATCH]]) * row[COUNT] for row in out) / heads,
    }


def referred(found: ReferenceResult) -> Numbers:
    """One year of the reference, under the same names."""
    numbers: Numbers = {
        "heads delivered": found.heads_delivered,
        "weeks met": found.weeks_met,
        "trays missed": found.missed_trays,
        "cells seeded": found.cells_seeded,
        "minutes of staffed": found.capacity_minutes,
        "age": found.age_at_delivery_days,
        "seed to delivery": found.seed_to_delivery_days,
        "plants lost": sum(found.lost.values()),
        "plants dumped": sum(found.dumped.values()),
    }
    numbers |= {f"lost: {cause}": n for cause, n in found.lost.items()}
    numbers |= {f"dumped: {CAUSES.get(cause, cause)}": n for cause, n in found.dumped.items()}
    numbers |= {f"held in {place}": found.held(place) for place in found.containers}
    numbers |= {f"plants in {place}": n for place, n in found.sites_occupied.items()}
    return numbers | {
        f"minutes of {KIND_OF_WORK.get(task, task)}": n for task, n in found.minutes.items()
    }


def lengths_drawn(plan: Plan, year: int) -> dict[int, dict[int, float]]:
    """The stage lengths that the simulation draws, by day of seeding and stage [d]."""
    (crop,) = plan.crops.values()
    luck = Luck(SEED, year)
    return {
        s.day: {
            number: stage.days.at(luck.eight(crop.key, s.week, s.entry, number)[0])
            for number, stage in enumerate(crop.stages)
        }
        for s in plan.seedings
    }


def reference_year(scenario: Scenario, year: int) -> Numbers:
    """One year of the reference with the stage lengths of that year of the simulation."""
    lengths = lengths_drawn(Plan(scenario), year)

    class Given(SeedingJob):
        """A seeding whose batch has its stage lengths from the simulation."""

        def __init__(self, house: reference.house.Reference, day: int, trays: int) -> None:
            super().__init__(house, day, trays)
            self.batch.lengths |= lengths.get(day, {})

    with patch.object(reference.house, "SeedingJob", Given):
        return referred(run_reference(scenario, year))


def reference_years(scenario: Scenario, years: Sequence[int]) -> list[Numbers]:
    """These years of the reference, by two processes."""
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(partial(reference_year, scenario), years, chunksize=2))


def simulated_years(scenario: Scenario, seed: int, count: int) -> list[Numbers]:
    """So many years of the simulation."""
    plan = Plan(scenario)
    return [simulated(plan, seed, year) for year in range(count)]


def series(years: list[Numbers], name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """One number of all years; what did not happen is 0."""
    return np.array([year.get(name, 0.0) for year in years], dtype=np.float64)


def names_in(years: list[Numbers]) -> list[str]:
    """All numbers but the ages, that are not 0 in every year."""
    found = sorted({name for year in years for name, number in year.items() if number})
    return [name for name in found if name not in ("age", "seed to delivery")]


def check_means(ours: list[Numbers], theirs: list[Numbers], limit: float, errors: float) -> None:
    """Means agree to a share `limit` of the mean, plus so many standard errors."""
    for name in names_in(ours + theirs):
        difference = series(ours, name) - series(theirs, name)
        error = difference.std(ddof=1) / len(difference) ** 0.5
        mean = series(theirs, name).mean()
        said = f"{name}: {difference.mean():+.2f} of {mean:.2f}, standard error {error:.2f}"
        assert abs(difference.mean()) <= limit * mean + errors * error, said


def check_ages(ours: list[Numbers], theirs: list[Numbers], half_stint: float) -> None:
    """Heads leave up to half a stint after they are counted; days from seed agree to 1 %."""
    younger = (series(theirs, "age") - series(ours, "age")).mean()
    assert 0 <= younger <= half_stint
    days = series(ours, "seed to delivery").mean()
    assert days == pytest.approx(series(theirs, "seed to delivery").mean(), rel=0.01)


# -- everyday --------------------------------------------------------------------------------------


def without_losses(scenario: Scenario) -> Scenario:
    """The scenario without losses, so that only stage lengths are left to luck."""
    (name,), (crop,) = scenario.crops.keys(), scenario.crops.values()

    def spared(stage: Stage) -> Stage:
        none = {"loss_percent": 0.0, "move_loss_percent": 0.0}
        return stage.model_copy(update=none)

    stages = tuple(spared(stage) for stage in crop.stages)
    return scenario.model_copy(update={"crops": {name: crop.model_copy(update={"stages": stages})}})


def test_years_without_losses_agree_plant_by_plant() -> None:
    """With the same stage lengths and no losses, each of two years agrees to .5 %.

    Nothing is left to chance. Trays seeded and missed are the same to the tray; what is left
    comes from stints, whose channels are washed and planted some minutes earlier or later.
    """
    scenario = without_losses(workload())
    ours, theirs = simulated_years(scenario, SEED, 2), reference_years(scenario, range(2))
    for mine, yours in zip(ours, theirs, strict=True):
        for name in ("trays missed", "cells seeded", "minutes of seeding"):
            assert mine[name] == yours[name]
        for name in names_in([mine, yours]):
            assert mine[name] == pytest.approx(yours[name], rel=0.005), name


def test_a_few_years_agree() -> None:
    """Four years of the reference workload: means to 2 % and 4 standard errors of difference.

    With 3 degrees of freedom a right program misses one such limit for fewer than 3 of 100
    seeds, were there no 2 % beside; the 400 years of the proof are the sharper test.
    """
    ours, theirs = simulated_years(workload(), SEED, 4), reference_years(workload(), range(4))
    check_means(ours, theirs, limit=0.02, errors=4)
    check_ages(ours, theirs, HALF_STINT)


def test_the_first_day_is_worked_like_any_other() -> None:
    """T2: a tray to be seeded on the first day, with people there that day, is seeded that day."""
    scenario = load_scenario(SCENARIOS / "r8k.toml")
    assert scenario.start == date(2026, 6, 22)  # a Monday, a day of seeding, the crew at work
    rows = by_kind(run_year(Plan(scenario), SEED, 0))
    assert rows["seeded"][0][TIME] < 1
    assert not [row for row in rows["missed"] if row[TIME] < 7]


# -- proof -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def theirs() -> list[Numbers]:
    """400 years of the reference workload by the reference, as they are kept."""
    return kept_years("r8k")


@pytest.fixture(scope="module")
def ours() -> list[Numbers]:
    """The same years of the simulation."""
    return simulated_years(workload(), SEED, 400)


@pytest.fixture(scope="module")
def others() -> list[Numbers]:
    """1,200 years of the simulation under other luck."""
    return simulated_years(workload(), OTHER_SEED, 1200)


@pytest.mark.proof
@pytest.mark.parametrize("name", YEARS)
def test_kept_years_are_those_of_the_reference(name: str) -> None:
    """Every 25th of them, simulated anew, has the same numbers, but for the last bits.

    If it has not, `python tests/reference_years.py` keeps those of today.
    """
    years = range(7, YEARS[name], 25)
    kept = kept_years(name)
    for year, found in zip(years, reference_years(scenario_of(name), years), strict=True):
        assert found == pytest.approx(kept[year], rel=1e-9)


@pytest.mark.proof
def test_means_of_400_years(ours: list[Numbers], theirs: list[Numbers]) -> None:
    """Every mean within 1 %, its standard error (years in pairs) below .25 %."""
    for name in names_in(theirs):
        difference = series(ours, name) - series(theirs, name)
        assert difference.std() / 400**0.5 <= 0.0025 * series(theirs, name).mean(), name
    check_means(ours, theirs, limit=0.01, errors=0)
    check_ages(ours, theirs, HALF_STINT)


@pytest.mark.proof
def test_spread_of_400_years(ours: list[Numbers], theirs: list[Numbers]) -> None:
    """Standard deviations from year to year within 10 %.

    Plants lost are each simulation's own luck, so that 10 % is only 2 standard errors of
    their ratio: 20 % is allowed there. For the rest 10 % is 4 or more.
    """
    for name in names_in(theirs):
        mine, yours = series(ours, name).std(), series(theirs, name).std()
        if yours > 1e-9:
            assert mine == pytest.approx(yours, rel=0.2 if "lost" in name else 0.1), name


@pytest.mark.proof
@pytest.mark.parametrize("name", DISTRIBUTIONS)
def test_distributions_of_400_years(
    name: str, others: list[Numbers], theirs: list[Numbers]
) -> None:
    """Kolmogorov-Smirnov, 400 and 1,200 independent years, alpha .001 for each of three."""
    found = stats.ks_2samp(series(others, name), series(theirs, name))
    assert found.pvalue > 0.001


@pytest.mark.proof
def test_the_demo_school_agrees() -> None:
    """100 years of the demo school: means to 1 % and 3 standard errors of the difference.

    Absences, stands and damping-off are each simulation's own luck here. About 25 means: a right
    program fails for 1 seed in 15, were there no 1 % beside. Trays missed, about 5 of 250 a year,
    are held to that through the cells seeded: in a closed week with one shift, where trays come
    free only when a stint of moving ends, the simulation misses about one tray a year more.
    """
    ours = simulated_years(scenario_of("maple-hollow"), SEED, 100)
    theirs = kept_years("maple-hollow")
    for year in (*ours, *theirs):
        del year["trays missed"]
    check_means(ours, theirs, limit=0.01, errors=3)
    check_ages(ours, theirs, HALF_STINT)
