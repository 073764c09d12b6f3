"""The reference simulation rule by rule, each case small enough to work by hand."""

from __future__ import annotations

import math
from datetime import date, time, timedelta

import pytest
from reference import ReferenceResult, run_reference
from reference.examples import MONDAY, NINE_TO_TEN, tiny
from reference.house import Reference
from reference.jobs import HarvestJob, OneUnit
from reference.plan import Delivery, Plan
from reference.things import Part, Plant, Room

from sim.parts import (
    BadEvent,
    Cadence,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Seeding,
    Shift,
    Stage,
    Task,
)


@pytest.mark.parametrize(("plants", "held"), [(16, 3), (3, 3), (2, 3), (1, 2), (18, 3), (7, 2)])
def test_m_of_n_plants_left_hold_their_share_of_the_containers(plants: int, held: int) -> None:
    """P2: when m of the n plants left are still there, ceil(m c / n) containers are held."""
    house = Reference(tiny(), seed=1)
    room = Room(Place(count=held, sites_each=9), house.within)
    part = Part(None, 1, 0)  # type: ignore[arg-type]
    part.containers = [room.take(0.0) for _ in range(held)]
    part.plants = [Plant(0.0) for _ in range(plants)]
    for plant in part.plants:
        plant.part = part
    part.spread()
    for left in range(plants, 0, -1):
        assert len(part.containers) == math.ceil(left * held / plants)
        house.lift(part.plants.pop())
    assert part.containers == []


def test_stock_is_shared_by_priority_then_pro_rata() -> None:
    """O4: 10 heads among 6 (first), then 5, 3 and 3: 6, then 4 pro rata: 2, 1, 1."""
    house = Reference(tiny(), seed=1)
    house.store.heads = [Plant(0.0) for _ in range(10)]
    assert house.store.share(Delivery(1.0, [(2, 5), (1, 6), (2, 3), (2, 3)])) == [2, 6, 1, 1]
    house.store.heads = [Plant(0.0) for _ in range(4)]
    assert house.store.share(Delivery(1.0, [(1, 3), (1, 3)])) == [2, 2]
    house.store.heads = [Plant(0.0) for _ in range(5)]
    assert house.store.share(Delivery(1.0, [(1, 3), (1, 3)])) == [3, 2]


@pytest.mark.parametrize(
    ("closed", "heads", "opens"),
    [
        ((), 6, 4),  # 60 of 60 minutes on the day itself
        ((), 7, 3),  # the day before is needed too
        ((4,), 6, 3),  # nobody on the day itself
        ((3, 4), 6, None),  # Wednesday's shift ends before the keep limit begins at 15:00
    ],
)
def test_a_request_opens_on_the_latest_day_whose_minutes_suffice(
    closed: tuple[int, ...], heads: int, opens: float | None
) -> None:
    """O2: opening day of a Friday delivery that leaves at 15:00, two days' keep, 60 min a day."""
    shut = tuple(
        Dates(first_day=MONDAY + timedelta(days=n), last_day=MONDAY + timedelta(days=n))
        for n in closed
    )
    school = School(first_day=MONDAY, last_day=MONDAY + timedelta(days=99), closed=shut)
    order = Order(
        customer="kitchen",
        crop="lettuce",
        heads={"Fri": heads},
        last_day=MONDAY + timedelta(days=6),
    )
    crew = Crew(people=1, shifts=(Shift(starts=time(9), ends=time(10)),))
    plan = Plan(tiny(school=school, orders=(order,), crews={"staff": crew}))
    (delivery,) = plan.deliveries
    assert delivery.opens == opens


def test_minutes_set_aside_for_an_earlier_delivery_do_not_count() -> None:
    """O2: Friday's 60 minutes go to Friday's 6 heads; Saturday's 3 open on Thursday at 8:00."""
    orders = (
        Order(customer="kitchen", crop="lettuce", heads={"Fri": 6}, last_day=MONDAY + timedelta(6)),
        Order(
            customer="pantry", crop="lettuce", heads={"Sat": 3}, leaves=time(8),
            last_day=MONDAY + timedelta(6),
        ),
    )  # fmt: skip
    crew = Crew(people=1, shifts=(Shift(starts=time(9), ends=time(10)),))
    plan = Plan(tiny(orders=orders, crews={"staff": crew}))
    assert [delivery.opens for delivery in plan.deliveries] == pytest.approx([4, 3 + 8 / 24])


def test_stock_counts_only_where_no_earlier_delivery_claims_it() -> None:
    """O2: 3 heads too old for either and 8 usable, 6 for Friday, then 5 for Saturday: 3 wanted."""
    orders = tuple(
        Order(customer=day, crop="lettuce", heads={day: heads}, last_day=MONDAY + timedelta(6))
        for day, heads in (("Fri", 6), ("Sat", 5))
    )
    house = Reference(tiny(orders=orders), seed=1)
    friday, saturday = house.plan.deliveries
    for harvested in [2.0] * 3 + [4.0] * 8:
        house.store.heads.append(Plant(0.0))
        house.store.heads[-1].harvested = harvested
    assert house.store.still_wanted(friday) == 6 - 8
    assert house.store.still_wanted(saturday) == 5 - 2
    house.store.requests[friday.leaves] = HarvestJob(house, friday)
    house.store.requests[friday.leaves].in_hand = 1
    assert house.store.still_wanted(friday) == 5 - 8
    assert house.store.still_wanted(saturday) == 5 - 3


def test_a_pace_below_one_stretches_a_stage_day_by_day() -> None:
    """C4: 14 days at a pace of .95 take 14.74, rounded 15; pace 1 to Nov 30, then .5: 5 + 18."""
    plan = Plan(tiny())
    slow = Stage(name="a", place="b", days=14, pace_percent={"Sep": 95})
    assert plan.whole_days(slow, 14.0, 0) == 15
    assert plan.whole_days(slow.model_copy(update={"pace_percent": {}}), 14.4, 0) == 14
    assert plan.whole_days(slow, -3.0, 0) == 1
    december = Stage(name="a", place="b", days=14, pace_percent={"Dec": 50})
    assert plan.whole_days(december, 14.0, (date(2026, 11, 26) - MONDAY).days) == 5 + 18


@pytest.mark.parametrize(("late_days", "missed"), [(0, 1), (1, 0)])
def test_a_seeding_waits_for_tray_space_until_its_late_days_are_over(
    late_days: int, missed: int
) -> None:
    """K4: Tuesday's tray finds the only tray space free on Wednesday at 9:24."""
    added = tuple(
        Seeding(day=MONDAY + timedelta(days=n), crop="lettuce", trays=1) for n in range(2)
    )
    got = run_reference(tiny(cadence=Cadence(added=added, late_days=late_days)), seed=1)
    assert (got.missed_trays, got.batches, got.cells_seeded) == (missed, 2 - missed, 8 - 4 * missed)


@pytest.mark.parametrize(("minute", "delivered"), [(10, 4), (11, 3), (30, 2)])
def test_a_head_exactly_at_the_keep_limit_is_usable(minute: int, delivered: int) -> None:
    """O3: heads of Saturday 9:10, 9:20, 9:30, 9:40, kept 2 days, for a Monday delivery."""
    scenario = tiny()
    crop = scenario.crops["lettuce"].model_copy(update={"harvest": "when ready"})
    order = Order(customer="kitchen", crop="lettuce", heads={"Mon": 4}, leaves=time(9, minute))
    first = MONDAY + timedelta(days=7)
    order = order.model_copy(update={"first_day": first, "last_day": first})
    got = run_reference(tiny(crops={"lettuce": crop}, orders=(order,)), seed=1)
    assert got.heads_delivered == delivered
    assert got.dumped.get("past keep", 0) == 4 - delivered


def test_crews_together_do_restricted_work_first() -> None:
    """W4: beside the class, staff take what only staff may do; alone, the lowest number."""
    tasks = tiny().tasks | {"washing": Task(minutes_each=5, priority=5, who=("staff",))}
    crews = {name: Crew(people=1, shifts=(NINE_TO_TEN,)) for name in ("class", "staff")}
    house = Reference(tiny(tasks=tasks, crews=crews), seed=1)
    for task in ("harvest", "washing"):
        house.crews.add(OneUnit(house, task, lambda: None))
    of_class, of_staff = house.plan.shifts[0]
    house.crews.at_work = ["staff"]
    assert house.crews.choose(of_staff, 1440.0, set()).task == "harvest"
    house.crews.at_work = ["class", "staff"]
    assert house.crews.choose(of_staff, 1440.0, set()).task == "washing"
    assert house.crews.choose(of_class, 1440.0, set()).task == "harvest"


@pytest.mark.parametrize("sd", [0.0, 6.0])
def test_losses_have_the_stated_mean_and_spread(sd: float) -> None:
    """Survivors of 200 batches of 100 cells at 20 % loss have the beta-binomial's moments.

    Mean within 4 standard errors of 80, variance within 40 % of n p (1-p) + n (n-1) sd^2: a
    right build fails in fewer than 1 of 1,000 choices of the seed.
    """
    stages = (
        Stage(name="a", place="table", days=2, loss_percent=20, loss_sd_points=sd),
        Stage(name="b", place="pots", days=1),
    )
    scenario = tiny(
        places={
            "table": Place(count=None, sites_each=100),
            "pots": Place(count=None, sites_each=1),
        },
        crops={"lettuce": Crop(stages=stages, harvest="when ready", harvested_by=None)},
        orders=(),
        cadence=Cadence(
            added=tuple(Seeding(day=MONDAY, crop="lettuce", trays=1) for _ in range(200))
        ),
    )
    house = Reference(scenario, seed=3)
    house.env.run(until=2.5)
    stands = [len(part.plants) for part in house.parts.values() if part.step == 1]
    variance = 100 * 0.8 * 0.2 + 100 * 99 * (sd / 100) ** 2
    mean = sum(stands) / 200
    assert len(stands) == 200
    assert abs(mean - 80) < 4 * math.sqrt(variance / 200)
    assert sum((n - mean) ** 2 for n in stands) / 199 == pytest.approx(variance, rel=0.4)


def one_stage_lost(**loss: object) -> ReferenceResult:
    """Ten trays of 100 cells on one day, with the losses given for the first stage."""
    seedling = {"name": "a", "place": "table", "days": 2, "moved_in_by": "seeding"} | loss
    stages = (Stage(**seedling), Stage(name="b", place="pots", days=1))  # type: ignore[arg-type]
    scenario = tiny(
        places={"table": Place(count=10, sites_each=100), "pots": Place(count=None, sites_each=1)},
        crops={"lettuce": Crop(stages=stages, harvest="when ready", harvested_by=None)},
        orders=(),
        cadence=Cadence(added=(Seeding(day=MONDAY, crop="lettuce", trays=10),)),
    )
    return run_reference(scenario, seed=2)


def test_a_bad_event_takes_its_share_under_its_own_cause() -> None:
    """C5: 40 % of 1,000 plants are lost, within 4 standard errors (1 seed in 10,000 fails)."""
    event = BadEvent(percent_of_batches=100, loss_percent=40, cause="damping-off")
    got = one_stage_lost(bad_event=event)
    assert set(got.lost) == {"damping-off"}
    assert abs(got.lost["damping-off"] - 400) < 4 * math.sqrt(1000 * 0.4 * 0.6)


def test_a_part_that_is_lost_whole_gives_its_containers_back() -> None:
    """Held from the start of each tray's 6 minutes on Monday from 9:00 to Wednesday 0:00."""
    got = one_stage_lost(loss_percent=100)
    assert got.lost == {"lost while growing": 1000}
    held = 10 * (1 + 15 / 24) - sum(6 * n for n in range(10)) / 1440
    assert got.containers["table"]["in use"] * 14 == pytest.approx(held)
