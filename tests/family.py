"""A family of invented greenhouses, made from a seed: small and large, one to four crops, with and
without people in summer.

Each is sized from its orders: places and people are a quarter to four fifths more than a steady
week needs, as a school would have planned it. All numbers are invented.
"""  # noqa: D205 - one sentence

from __future__ import annotations

from datetime import date, time
from math import ceil
from random import Random
from typing import Any, NamedTuple

from sim.parts import (
    Cadence,
    CadenceLine,
    ColdStore,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Shift,
    Stage,
    Task,
    Weekday,
)
from sim.scenario import Scenario

CROPS = ("lettuce", "chard", "basil", "pak choi")
BREAKS = (
    Dates(first_day=date(2026, 11, 25), last_day=date(2026, 11, 27), name="fall break"),
    Dates(first_day=date(2026, 12, 21), last_day=date(2027, 1, 1), name="winter break"),
    Dates(first_day=date(2027, 3, 22), last_day=date(2027, 3, 26), name="spring break"),
)
SUMMERS = (
    Dates(first_day=date(2026, 6, 15), last_day=date(2026, 8, 23), name="summer 2026"),
    Dates(first_day=date(2027, 6, 12), last_day=date(2027, 8, 22), name="summer 2027"),
)


class Kind(NamedTuple):
    """One of the family: heads a week, crops, and whether it goes on through the summer."""

    heads: int
    crops: int
    summer: bool


KINDS = (
    Kind(60, 1, False), Kind(60, 1, True), Kind(90, 2, False), Kind(240, 2, True),
    Kind(400, 1, False), Kind(400, 1, True), Kind(600, 3, False), Kind(600, 3, True),
    Kind(1200, 1, False), Kind(1200, 2, True), Kind(1500, 4, False), Kind(2400, 2, False),
    Kind(2400, 4, True), Kind(5000, 1, True),
)  # fmt: skip


class _Grown(NamedTuple):
    """A crop with what a week of its orders takes: trays, plants moved, container-weeks."""

    crop: Crop
    heads: int
    trays: float
    moved: float
    nursery_weeks: float
    channel_weeks: float


def greenhouse(number: int) -> Scenario:
    """Number 0 ... `len(KINDS)` - 1 of the family, always the same."""
    kind, pick = KINDS[number], Random(f"family, number {number}")
    small, large = kind.heads < 300, kind.heads > 1000
    cells = pick.choice((15, 18) if small else (128, 200) if large else (50, 72))
    sites = pick.choice((6, 8) if small else (12, 18, 24))
    shares = [1.0, 0.6, 0.4, 0.3][: kind.crops]
    grown = {
        name: _grown(pick, round(kind.heads * share / sum(shares)), cells, sites)
        for name, share in zip(CROPS, shares, strict=False)
    }
    tasks = {
        "seeding": Task(minutes_each=float(pick.randint(8, 15))),
        "transplant": Task(minutes_each=pick.choice((0.25, 0.3, 0.4))),
        "harvest": Task(minutes_each=pick.choice((0.5, 0.75, 1.0)), priority=3),
        "washing": Task(minutes_each=float(pick.randint(3, 6)), priority=6),
    }
    room = pick.uniform(1.35, 1.75)
    nursery = ceil(room * sum(g.nursery_weeks for g in grown.values())) + len(grown)
    channels = ceil(room * sum(g.channel_weeks for g in grown.values())) + len(grown)
    work = _work(grown, tasks, sites)
    return Scenario(
        name=f"number {number + 1}: {_told(kind)}",
        school=School(
            first_day=date(2026, 8, 24),
            last_day=date(2027, 12, 17) if kind.summer else date(2027, 6, 11),
            closed=(*BREAKS, *(SUMMERS[1:] if kind.summer else ())),
        ),
        run_first_day=SUMMERS[0].first_day if kind.summer else None,
        places={
            "nursery": Place(container="tray", count=nursery, sites_each=cells),
            "channels": Place(count=channels, sites_each=sites, washed_by="washing"),
        },
        crops={name: g.crop for name, g in grown.items()},
        tasks=tasks,
        crews=_crews(pick, work, kind),
        orders=tuple(order for name, g in grown.items() for order in _orders(pick, name, g, kind)),
        cold_store=ColdStore(holds_heads=kind.heads, keep_days=2.0),
        cadence=Cadence(
            lines=tuple(
                CadenceLine(crop=name, trays=_halves(ceil(g.trays))) for name, g in grown.items()
            )
        ),
        window=_window(kind),
    )  # fmt: skip


def _told(kind: Kind) -> str:
    crops = "1 crop" if kind.crops == 1 else f"{kind.crops} crops"
    return f"{kind.heads:,} heads a week, {crops}, {'all year' if kind.summer else 'school year'}"


def _grown(pick: Random, heads: int, cells: int, sites: int) -> _Grown:
    days, growing = pick.randint(10, 16), pick.randint(21, 32)
    stand, moved, kept = (
        pick.uniform(0.85, 0.95), pick.uniform(0.96, 0.99), pick.uniform(0.94, 0.98)
    )  # fmt: skip
    stages = (
        Stage(
            name="nursery", place="nursery", days=float(days), days_sd=1.0,
            loss_percent=round(100 * (1 - stand), 1), loss_sd_points=2.0, moved_in_by="seeding",
            keep_days=pick.randint(5, 8), turnaround_days=2.0,
        ),
        Stage(
            name="channels", place="channels", days=float(growing),
            days_sd=pick.choice((1.0, 1.5)), moved_in_by="transplant",
            move_loss_percent=round(100 * (1 - moved), 1), loss_percent=round(100 * (1 - kept), 1),
            loss_sd_points=1.5, keep_days=pick.randint(8, 12), turnaround_days=3.5,
        ),
    )  # fmt: skip
    plants = heads / kept
    trays = plants / moved / stand / cells
    return _Grown(
        Crop(stages=stages), heads, trays, plants, trays * (days + 2.0) / 7.0,
        plants / sites * (growing + 3.5) / 7.0,
    )  # fmt: skip


def _work(grown: dict[str, _Grown], tasks: dict[str, Task], sites: int) -> float:
    """Person-minutes of a steady week."""
    each = {name: task.minutes_each for name, task in tasks.items()}
    return sum(
        g.trays * each["seeding"] + g.moved * (each["transplant"] + each["washing"] / sites)
        + g.heads * each["harvest"]
        for g in grown.values()
    )  # fmt: skip


def _crews(pick: Random, work: float, kind: Kind) -> dict[str, Crew]:
    """Students in two periods, an adult an hour a day, cover on two days a week of breaks."""
    room = pick.uniform(1.4, 1.8)
    per_student = 2 * 5 * 35 * 0.92
    students = max(4, ceil(room * work / per_student))
    cover = max(2, ceil(pick.uniform(1.0, 1.4) * work / (2 * 5 * 60)))
    shifts = (
        Shift(name="morning", starts=time(9, 40), ends=time(10, 25), working_minutes=35.0),
        Shift(name="afternoon", starts=time(13, 10), ends=time(13, 55), working_minutes=35.0),
    )
    away: dict[str, Any] = {"on": ("closed",), "starts": time(8), "ends": time(13)}
    crews = {
        "class": Crew(people=students, students=True, absent_percent=8.0, shifts=shifts),
        "staff": Crew(people=1, shifts=(Shift(name="daily", starts=time(14), ends=time(15)),)),
        "cover": Crew(
            people=cover,
            shifts=(Shift(name="cover", weekdays=("Mon", "Thu"), only=BREAKS, **away),),
        ),
    }  # fmt: skip
    if kind.summer:
        hands = max(2, ceil(1.5 * work / (5 * 5 * 60)))
        crews["summer crew"] = Crew(
            people=hands, shifts=(Shift(name="summer", only=SUMMERS, **away),)
        )
    return crews


def _orders(pick: Random, crop: str, grown: _Grown, kind: Kind) -> list[Order]:
    """Two customers on two days each; in a school year the second pauses when school is closed."""
    first = grown.heads * pick.choice((0.4, 0.5, 0.6))
    days: list[tuple[Weekday, Weekday]] = [("Tue", "Fri"), ("Mon", "Thu"), ("Tue", "Thu")]
    when = pick.sample(days, 2)
    paused = "deliver" if kind.summer else "pause"
    return [
        Order(
            customer=customer, crop=crop, heads={day: max(1, round(heads / 2)) for day in on},
            leaves=time(15), school_closed=closed, **_ordered(kind),
        )
        for customer, heads, on, closed in (
            ("kitchen", first, when[0], "deliver"),
            ("cafeteria", grown.heads - first, when[1], paused),
        )
    ]  # type: ignore[arg-type]  # fmt: skip


def _ordered(kind: Kind) -> dict[str, date]:
    if kind.summer:
        return {}
    return {"first_day": date(2026, 10, 26), "last_day": date(2027, 5, 28)}


def _window(kind: Kind) -> Dates | None:
    if not kind.summer:
        return None
    return Dates(first_day=date(2026, 8, 31), last_day=date(2027, 8, 29))


def _halves(trays: int) -> dict[Weekday, int]:
    return {"Mon": trays - trays // 2, "Thu": trays // 2}
