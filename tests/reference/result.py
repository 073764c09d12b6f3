"""What the reference simulation is asked for: the measures of its window, by plain counting."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from .house import Reference
    from .things import Plant


@dataclass(frozen=True)
class ReferenceResult:
    """One run's measures. "In the window" means whole weeks of the scenario's window.

    `cells_seeded`, plants `dumped` and `lost`, `batches` and `missed_trays` are those seeded
    (or due) from the run's first day until the window's end, whenever they met their fate.
    """

    heads_ordered: int  # in the window [heads]
    heads_delivered: int  # in the window [heads]
    deliveries_due: int  # one per order and leaving date
    deliveries_complete: int
    weeks_due: int  # weeks with something due
    weeks_met: int  # weeks with something due whose deliveries were all complete
    ordered_by_week: list[int]  # [heads], from the window's first week
    delivered_by_week: list[int]
    cells_seeded: int
    dumped: dict[str, int]  # cause -> plants: overgrown, over-mature, past keep
    lost: dict[str, int]  # cause -> plants
    containers: dict[str, dict[str, float]]  # place -> state -> time average
    sites_occupied: dict[str, float]  # place -> time average of living plants
    minutes: dict[str, float]  # task -> [person-min] in the window
    capacity_minutes: float  # people present x working minutes x pace [person-min]
    wait_days: dict[str, float]  # stage -> mean from finished to moved or harvested [d]
    age_at_delivery_days: float  # mean from harvest to leaving [d]
    seed_to_delivery_days: float  # mean from seeding to leaving [d]
    batches: int
    missed_trays: int
    run_totals: dict[str, int]  # whole run: seeded, lost, dumped, delivered, on hand [plants]
    shift_minutes: list[tuple[float, float]]  # whole run: (worked, capacity) per crew and shift

    def held(self, place: str) -> float:
        """Time average of containers taken and not yet usable again."""
        return sum(n for state, n in self.containers[place].items() if state != "free")


def measured(house: Reference) -> ReferenceResult:
    """The measures of a finished run."""
    plan, days = house.plan, house.plan.closes - house.plan.opens
    early = [plant for plant in house.plants if plant.seeded < plan.closes]
    out = [p for p in house.plants if plan.opens <= p.delivered < plan.closes]
    _close_stays(house)
    return ReferenceResult(
        **_deliveries(house),
        cells_seeded=len(early),
        dumped=_fates(early, "dumped"),
        lost=_fates(early, "lost"),
        containers={
            name: {state: spent / days for state, spent in room.days.items()}
            for name, room in house.rooms.items()
        },
        sites_occupied={name: room.plant_days / days for name, room in house.rooms.items()},
        minutes=dict(house.crews.minutes),
        capacity_minutes=sum(
            capacity
            for starts, _, capacity in house.crews.shift_minutes
            if plan.opens <= starts < plan.closes
        ),
        wait_days={stage: sum(waits) / len(waits) for stage, waits in house.waits.items()},
        age_at_delivery_days=_mean(p.delivered - p.harvested for p in out),
        seed_to_delivery_days=_mean(p.delivered - p.seeded for p in out),
        batches=sum(seeded < plan.closes for seeded in house.batches.values()),
        missed_trays=sum(trays for day, trays in house.missed_trays if day < plan.closes),
        run_totals=_run_totals(house),
        shift_minutes=[(worked, capacity) for _, worked, capacity in house.crews.shift_minutes],
    )


def _close_stays(house: Reference) -> None:
    """Count the stays that the run's end cuts off."""
    for room in house.rooms.values():
        for container in room.containers:
            container.turn(container.state, house.now)
            for plant in container.plants:
                room.plant_days += room.within(plant.entered, house.now)


def _fates(plants: list[Plant], kind: str) -> dict[str, int]:
    return dict(Counter(p.fate[1] for p in plants if p.fate and p.fate[0] == kind))


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / len(listed) if listed else float("nan")


def _run_totals(house: Reference) -> dict[str, int]:
    """Plants of the whole run; those on hand are counted where they stand, not by fate."""
    totals = Counter(plant.fate[0] for plant in house.plants if plant.fate)
    standing = sum(len(c.plants) for room in house.rooms.values() for c in room.containers)
    return {
        "seeded": len(house.plants),
        "lost": totals["lost"],
        "dumped": totals["dumped"],
        "delivered": totals["delivered"],
        "on hand": standing + len(house.store.heads),
    }


def _deliveries(house: Reference) -> dict[str, Any]:
    """Orders and deliveries in the window, and by week."""
    plan = house.plan
    weeks = (plan.closes - plan.opens) // 7
    ordered, delivered, short = [0] * weeks, [0] * weeks, [0] * weeks
    due = complete = 0
    for delivery, given in house.store.left:
        if not plan.opens <= delivery.leaves < plan.closes:
            continue
        week = int(delivery.leaves - plan.opens) // 7
        for (_, asked), heads in zip(delivery.asked, given, strict=True):
            ordered[week] += asked
            delivered[week] += heads
            short[week] += asked - heads
            due += 1
            complete += heads == asked
    return {
        "heads_ordered": sum(ordered),
        "heads_delivered": sum(delivered),
        "deliveries_due": due,
        "deliveries_complete": complete,
        "weeks_due": sum(heads > 0 for heads in ordered),
        "weeks_met": sum(o > 0 and s == 0 for o, s in zip(ordered, short, strict=True)),
        "ordered_by_week": ordered,
        "delivered_by_week": delivered,
    }
