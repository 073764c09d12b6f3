"""The reference simulation as a whole: by hand, by published benches, by balances."""

from __future__ import annotations

import math
from collections import Counter
from datetime import timedelta

import pytest
from reference import run_reference
from reference.examples import MONDAY, nft_bench, r8k, tiny, two_stage, weeks
from reference.house import Reference


def test_a_tiny_greenhouse_worked_by_hand() -> None:
    """One tray, minute by minute (worked on paper).

    Mon 9:06 the tray is seeded; finished Wed 0:00; moved 9:06, 9:12, 9:18, 9:24 into channels
    A (held from 9:00) and B (from 9:18); ready Sat 0:00. The request for Sunday's 3 heads opens
    on Sunday; 4 heads in 2 channels stand 2 and 2: heads at 9:10 and 9:20 empty B, the third at
    9:30 leaves A, B is washed by 9:35. The last head is over-mature on Wed 0:00 (day 9), and A
    is washed by 9:05 that day.
    """
    got = run_reference(tiny(), seed=1)
    minute, hour = 1 / 1440, 1 / 24
    assert (got.heads_ordered, got.heads_delivered, got.weeks_due, got.weeks_met) == (3, 3, 1, 1)
    assert got.delivered_by_week == [3, 0]
    assert (got.dumped, got.lost) == ({"over-mature": 1}, {})
    assert got.minutes == {"seeding": 6, "moving": 24, "harvest": 30, "washing": 10}
    assert got.capacity_minutes == pytest.approx(14 * 60)
    assert got.wait_days["seedling"] == pytest.approx(9 * hour + 15 * minute)
    assert got.wait_days["head"] == pytest.approx(1 + 9 * hour + 20 * minute)
    assert got.age_at_delivery_days == pytest.approx(5 * hour + 40 * minute)
    assert got.seed_to_delivery_days == pytest.approx(6 + 6 * hour - 6 * minute)
    assert got.containers["nursery"]["in use"] * 14 == pytest.approx(2 + 24 * minute)
    in_use = (6 + 15 * hour) + (4 + 2 * minute)
    assert got.containers["bench"]["in use"] * 14 == pytest.approx(in_use)
    assert got.containers["bench"]["to wash"] * 14 == pytest.approx(9 * hour + 20 * minute)
    assert got.containers["bench"]["resting"] * 14 == pytest.approx(2 * 2 * hour)
    assert got.sites_occupied["nursery"] * 14 == pytest.approx(4 * (2 + 9 * minute))
    # left on day 6 at 9:10, 9:20, 9:30 and day 9 at 0:00, less the four arrivals on day 2
    assert got.sites_occupied["bench"] * 14 == pytest.approx(19 - 9 * hour)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("channels", [25, 60])
def test_every_plant_meets_one_fate_or_is_on_hand(channels: int, seed: int) -> None:
    """Cells seeded = lost + dumped + delivered + on hand, counted where they stand."""
    got = run_reference(two_stage(10, 4, channels), seed)
    fates = Counter(got.run_totals)
    seeded = fates.pop("seeded")
    assert seeded == sum(fates.values())
    assert seeded > 1000
    assert min(fates["lost"], fates["dumped"], fates["delivered"]) > 0


@pytest.mark.parametrize("seed", range(3))
def test_no_shift_works_more_minutes_than_its_crew_has(seed: int) -> None:
    """Minutes worked stay within people present x working minutes x pace, shift by shift."""
    got = run_reference(two_stage(10, 4, 25), seed)
    assert all(0 <= worked <= capacity + 1e-6 for worked, capacity in got.shift_minutes)
    assert sum(got.minutes.values()) <= got.capacity_minutes
    assert any(worked > 0.9 * capacity > 0 for worked, capacity in got.shift_minutes)


@pytest.mark.parametrize("seed", range(3))
def test_a_container_holds_one_part_and_no_more_plants_than_sites(seed: int) -> None:
    """At every event: one part per container, never above its sites; the store within its heads."""
    house = Reference(two_stage(10, 4, 25), seed)
    most = Counter[str]()
    while house.env.peek() < house.plan.end:
        house.env.step()
        most["store"] = max(most["store"], len(house.store.heads))
        for name, room in house.rooms.items():
            assert len(room.containers) == room.spec.count
            most[name] = max(most[name], len(room.containers) - len(room.free))
            for container in room.containers:
                assert len(container.plants) <= room.spec.sites_each
                assert len({plant.part for plant in container.plants}) <= 1
                assert container.state == "in use" or not container.plants
    assert (most["bench"], most["store"]) == (25, 40)
    assert {"in use", "to wash", "to clear", "resting", "free"} <= set(house.rooms["bench"].days)


@pytest.mark.parametrize("seed", range(3))
def test_container_days_of_all_states_fill_the_window(seed: int) -> None:
    """Time averages over the states of a place add up to its count."""
    got = run_reference(two_stage(10, 4, 25), seed)
    assert sum(got.containers["bench"].values()) == pytest.approx(25)
    assert sum(got.containers["nursery"].values()) == pytest.approx(12)
    assert 6 * got.held("bench") >= got.sites_occupied["bench"] > 0


def test_the_same_seed_gives_the_same_run() -> None:
    """A run is fixed by its scenario and seed, and another seed gives another run."""
    scenario = two_stage(10, 4, 25)
    assert run_reference(scenario, 5) == run_reference(scenario, 5)
    assert run_reference(scenario, 5) != run_reference(scenario, 6)


def test_summer_bench_yields_36_heads_a_week() -> None:
    """144 sites / 4 weeks = 36.0 heads a week, and 36 x 2 = 72 plants in the nursery.

    8 channels x 18 holes: H. Resh, Hobby Hydroponics, ch. 6; 2 + 4 weeks: N. Bumgarner, Late
    Summer to Winter Bibb Lettuce Trial, 2013; the rest is arithmetic on their numbers.
    """
    got = run_reference(nft_bench(14, 28, cells=144), seed=1)
    assert got.delivered_by_week == [36] * 10
    assert got.sites_occupied == {"nursery": pytest.approx(72), "channels": pytest.approx(144)}


def test_summer_seeding_in_winter_outgrows_the_bench() -> None:
    """144 sites / 5 weeks = 28.8 heads a week; the plants waiting grow by 36 - 28.8 = 7.2 a week.

    The same bench at 3 + 5 weeks (N. Bumgarner 2013); averages over multiples of five weeks.
    """
    scenario = nft_bench(21, 35, cells=None)
    got = run_reference(scenario, seed=1)
    assert sum(got.delivered_by_week) == 288
    later = scenario.model_copy(update={"window": weeks(MONDAY + timedelta(days=105), 10)})
    grown = run_reference(later, seed=1).sites_occupied["nursery"] - got.sites_occupied["nursery"]
    assert grown == pytest.approx(5 * 7.2)


@pytest.mark.proof
def test_a_year_of_the_reference_workload() -> None:
    """Arithmetic on the workload holds in one simulated year.

    180 school days of 4 x 50 min x 10 people and 50 weekdays of 3 x 180 min; 840 heads a week;
    three weeks with nobody, so at most 49 of 52 are met; 8 % of the cells give no stand, within
    4 standard errors (a right build fails for fewer than 1 of 10,000 seeds).
    """
    got = run_reference(r8k(), seed=1)
    assert got.capacity_minutes == pytest.approx(180 * 2000 + 50 * 540)
    assert got.heads_ordered == 52 * 840
    assert got.weeks_due == 52
    assert 40 <= got.weeks_met <= 49
    cells = got.cells_seeded
    assert abs(got.lost["no stand"] - 0.08 * cells) < 4 * math.sqrt(cells * 0.08 * 0.92)
