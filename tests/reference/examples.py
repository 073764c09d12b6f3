"""Greenhouses to try the reference simulation on, from one tray to the reference workload."""

from __future__ import annotations

from datetime import date, time, timedelta

from sim.parts import (
    IN_SESSION,
    WEEKDAYS,
    BadEvent,
    Cadence,
    CadenceLine,
    ColdStore,
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
from sim.scenario import Scenario

MONDAY = date(2026, 9, 7)
NINE_TO_TEN = Shift(weekdays=WEEKDAYS, starts=time(9), ends=time(10), on=(*IN_SESSION, "closed"))


def weeks(first: date, count: int) -> Dates:
    return Dates(first_day=first, last_day=first + timedelta(days=7 * count - 1))


def tiny(**changes: object) -> Scenario:
    """One tray of 4 cells, channels of 3 sites, one person from 9 to 10 every day."""
    parts: dict[str, object] = {
        "school": School(first_day=MONDAY, last_day=MONDAY + timedelta(days=365)),
        "places": {
            "nursery": Place(container="tray space", count=1, sites_each=4),
            "bench": Place(count=3, sites_each=3, washed_by="washing", rest_hours=2),
        },
        "crops": {
            "lettuce": Crop(
                stages=(
                    Stage(name="seedling", place="nursery", days=2, moved_in_by="seeding"),
                    Stage(name="head", place="bench", days=3, moved_in_by="moving", keep_days=4),
                )
            )
        },
        "tasks": {
            "seeding": Task(minutes_each=6, priority=4),
            "moving": Task(minutes_each=6, priority=3),
            "harvest": Task(minutes_each=10, priority=2),
            "washing": Task(minutes_each=5, priority=5),
        },
        "crews": {"staff": Crew(people=1, shifts=(NINE_TO_TEN,))},
        "orders": (
            Order(
                customer="kitchen",
                crop="lettuce",
                heads={"Sun": 3},
                last_day=MONDAY + timedelta(days=6),
            ),
        ),
        "cadence": Cadence(added=(Seeding(day=MONDAY, crop="lettuce", trays=1),)),
        "window": weeks(MONDAY, 2),
    }
    return Scenario(**(parts | changes))  # type: ignore[arg-type]


def two_stage(loss: float, sd: float, channels: int, **changes: object) -> Scenario:
    """A small greenhouse under strain: 60 cells twice a week, few channels, one short shift."""
    head = Stage(
        name="head", place="bench", days=14, days_sd=1.5, moved_in_by="moving", keep_days=4,
        loss_percent=loss, loss_sd_points=sd, loss_cause="tipburn", move_loss_percent=3,
    )  # fmt: skip
    seedling = Stage(
        name="seedling", place="nursery", days=7, days_sd=1, moved_in_by="seeding", keep_days=3,
        loss_percent=loss, loss_sd_points=sd, bad_event=BadEvent(
            percent_of_batches=20, loss_percent=40
        ),
    )  # fmt: skip
    bench = Place(
        count=channels, sites_each=6, washed_by="washing", cleared_by="clearing", rest_hours=2
    )
    two_hours = Shift(starts=time(9), ends=time(11), working_minutes=40)
    tasks = {
        "seeding": Task(minutes_each=5, setup_minutes=7, priority=4),
        "moving": Task(minutes_each=0.7, setup_minutes=5, priority=3),
        "harvest": Task(minutes_each=1.3, setup_minutes=4, priority=2),
        "washing": Task(minutes_each=2, priority=5),
        "clearing": Task(minutes_each=3, priority=1, who=("staff",)),
    }
    parts: dict[str, object] = {
        "places": {"nursery": Place(count=12, sites_each=20), "bench": bench},
        "crops": {"lettuce": Crop(stages=(seedling, head))},
        "tasks": tasks,
        "crews": {
            "class": Crew(people=3, students=True, absent_percent=20, shifts=(two_hours,)),
            "staff": Crew(people=1, pace_percent=120, shifts=(two_hours,)),
        },
        "orders": (
            Order(customer="kitchen", crop="lettuce", heads={"Tue": 40, "Fri": 30}),
            Order(customer="pantry", crop="lettuce", heads={"Fri": 25}, priority=2),
        ),
        "cold_store": ColdStore(holds_heads=40, keep_days=2),
        "cadence": Cadence(lines=(CadenceLine(crop="lettuce", trays={"Mon": 3, "Thu": 3}),)),
        "window": weeks(MONDAY + timedelta(days=28), 6),
    }
    return tiny(**(parts | changes))


def nft_bench(nursery_days: int, channel_days: int, cells: int | None) -> Scenario:
    """36 seeds every Monday, 8 channels of 18, no losses, no work, everything at once."""
    stages = (
        Stage(name="nursery", place="nursery", days=nursery_days),
        Stage(name="channel", place="channels", days=channel_days),
    )
    return Scenario(
        school=School(first_day=MONDAY, last_day=MONDAY + timedelta(days=400)),
        places={
            "nursery": Place(count=cells, sites_each=1),
            "channels": Place(count=8, sites_each=18),
        },
        crops={"lettuce": Crop(stages=stages, harvest="when ready", harvested_by=None)},
        orders=(Order(customer="all", crop="lettuce", heads={"Mon": 72}),),
        cadence=Cadence(lines=(CadenceLine(crop="lettuce", trays={"Mon": 36}),)),
        window=weeks(MONDAY + timedelta(days=70), 10),
    )


def r8k() -> Scenario:
    """The reference workload: 2,400 nursery cells, 311 channels of 18, 840 heads a week."""
    window = weeks(date(2026, 8, 31), 52)
    summer = (weeks(date(2026, 6, 22), 10), weeks(date(2027, 6, 21), 10))
    off = [date(2026, 9, 9) + timedelta(days=14 * n) for n in range(7)]
    off += [date(2027, 1, 6) + timedelta(days=14 * n) for n in range(5)]
    off += [date(2027, 3, 24), date(2027, 4, 7), date(2027, 4, 21)]
    closed = (
        *(Dates(first_day=day, last_day=day, name="staff day") for day in off),
        weeks(date(2026, 12, 21), 2),
        weeks(date(2027, 3, 8), 1),
        summer[1],
    )
    bells = ((8, 30, 9, 20), (9, 30, 10, 20), (10, 30, 11, 20), (13, 0, 13, 50))
    periods = tuple(Shift(starts=time(a, b), ends=time(c, d)) for a, b, c, d in bells)
    cover = Shift(starts=time(9), ends=time(12), on=("closed",), only=summer)
    stages = (
        Stage(
            name="nursery", place="nursery", days=14, days_sd=1.5, loss_percent=8,
            loss_cause="no stand", moved_in_by="seeding", keep_days=7,
        ),
        Stage(
            name="grow-out", place="channels", days=28, days_sd=1.32, loss_percent=4,
            moved_in_by="transplant", move_loss_percent=3, keep_days=10,
        ),
    )  # fmt: skip
    return Scenario(
        school=School(first_day=window.first_day, last_day=date(2027, 12, 17), closed=closed),
        run_first_day=window.first_day - timedelta(days=70),
        window=window,
        places={
            "nursery": Place(container="tray space", count=12, sites_each=200),
            "channels": Place(count=311, sites_each=18, washed_by="washing"),
        },
        crops={"lettuce": Crop(stages=stages)},
        tasks={
            "seeding": Task(minutes_each=12, priority=4),
            "transplant": Task(minutes_each=0.2, priority=3),
            "harvest": Task(minutes_each=0.5, priority=2),
            "washing": Task(minutes_each=4, priority=5),
        },
        crews={
            "class": Crew(people=10, students=True, shifts=periods),
            "summer staff": Crew(people=3, shifts=(cover,)),
        },
        orders=(Order(customer="kitchen", crop="lettuce", heads={"Tue": 420, "Fri": 420}),),
        cold_store=ColdStore(keep_days=2),
        cadence=Cadence(lines=(CadenceLine(crop="lettuce", trays={"Mon": 3, "Thu": 3}),)),
    )
