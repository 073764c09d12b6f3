"""The flow of plants, by arithmetic alone: no luck.

What is ordered; what comes of seeded cells; how long plants stand and what they take up. All
numbers are means. With `bad_events` (the default) the loss of rare events such as damping-off
is spread over all batches; without, an ordinary batch is meant. Stays are those at a pace of
100 percent, or in a named month. Finishing sites and the cells of earlier stages are told apart
by place and never added up.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from math import inf

from sim.order_book import Leaving
from sim.parts import Crop, Month, Order
from sim.scenario import Scenario
from sim.school_year import weekday
from sim.timetable import Timetable


@dataclass(frozen=True, slots=True)
class PlaceSites:
    """The sites of one place, and which crops stand there last (to finish) or earlier.

    `containers` and `sites` are None where there is no limit.
    """

    place: str
    container: str
    containers: int | None
    sites_each: int
    finishing: tuple[str, ...]
    earlier: tuple[str, ...]

    @property
    def sites(self) -> int | None:
        """Sites, or cells, of this place alone."""
        return None if self.containers is None else self.containers * self.sites_each


def place_sites(scenario: Scenario) -> list[PlaceSites]:
    """The sites of every place, in the file's order."""
    found = []
    for name, place in scenario.places.items():
        last = (c for c, crop in scenario.crops.items() if crop.stages[-1].place == name)
        earlier = (
            c for c, crop in scenario.crops.items() if name in (s.place for s in crop.stages[:-1])
        )
        found.append(
            PlaceSites(
                name, place.container, place.count, place.sites_each, tuple(last), tuple(earlier)
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class Ordered:
    """What one customer orders of one crop: heads in a full week, and as due in the window.

    `heads_per_week` leaves pauses out of account; `heads_due` and `weeks_due` do not.
    """

    crop: str
    customer: str
    heads_per_week: float
    heads_due: int
    weeks_due: int


def week_of(timetable: Timetable, time: float) -> int | None:
    """The measured week that holds a time [d], None outside the window (rule T2)."""
    inside = timetable.window_start <= time < timetable.window_end
    return int(time - timetable.window_start) // 7 if inside else None


def ordered(timetable: Timetable, leavings: Iterable[Leaving]) -> list[Ordered]:
    """The standing orders by crop and customer.

    A full week is a week of the window in which no order starts or ends between two of its
    deliveries; if there is none, every week with a delivery counts. Their mean is taken.
    """
    full, weekly = _full_weeks(timetable), Counter[tuple[str, str]]()
    for order in timetable.scenario.orders:
        heads = sum(sum(_planned(order, timetable, week)) for week in full)
        weekly[order.crop, order.customer] += heads
    due = Counter[tuple[str, str]]()
    weeks: dict[tuple[str, str], set[int]] = {}
    for leaving in leavings:
        if (week := week_of(timetable, leaving.time)) is not None:
            for delivery in leaving.deliveries:
                key = (leaving.crop, delivery.customer)
                due[key] += delivery.heads
                weeks.setdefault(key, set()).add(week)
    return [
        Ordered(*key, heads / max(1, len(full)), due[key], len(weeks.get(key, ())))
        for key, heads in weekly.items()
    ]


def _planned(order: Order, timetable: Timetable, week: int) -> list[int]:
    """The heads of each delivery in a week inside the order's dates, pauses not counted."""
    first = order.first_day or timetable.scenario.school.first_day
    last = order.last_day or timetable.scenario.school.last_day
    days = (timetable.week_monday(week) + timedelta(days=n) for n in range(7))
    inside = (order.heads.get(weekday(day), 0) for day in days if first <= day <= last)
    return [heads for heads in inside if heads]


def _full_weeks(timetable: Timetable) -> list[int]:
    """The weeks in which each order has all its deliveries or none."""
    full, some = [], []
    for week in range(timetable.weeks):
        planned = [(len(_planned(o, timetable, week)), o) for o in timetable.scenario.orders]
        if any(count for count, _ in planned):
            some.append(week)
            if all(count in (0, sum(map(bool, o.heads.values()))) for count, o in planned):
                full.append(week)
    return full or some


def heads_by_crop(orders: Iterable[Ordered]) -> dict[str, float]:
    """Heads ordered in a full week, by crop."""
    heads: dict[str, float] = defaultdict(float)
    for order in orders:
        heads[order.crop] += order.heads_per_week
    return dict(heads)


@dataclass(frozen=True, slots=True)
class Step:
    """One stage of a crop: plants set and plants that finish it, per cell seeded; its stay [d]."""

    crop: str
    stage: str
    place: str
    plants_set: float
    plants_finished: float
    days: float
    turnaround_days: float

    @property
    def stay(self) -> float:
        """Days that a container is taken by one use, turnaround included [d]."""
        return self.days + self.turnaround_days

    @property
    def turns_per_year(self) -> float:
        """Uses of a container in 365 days, without a pause."""
        return 365.0 / self.stay


@dataclass(frozen=True, slots=True)
class Chain:
    """A crop's way from the cell to the head."""

    crop: str
    steps: tuple[Step, ...]

    @property
    def heads_per_cell(self) -> float:
        """Heads ready for harvest per cell seeded."""
        return self.steps[-1].plants_finished

    @property
    def transplants_per_cell(self) -> float:
        """Plants set in the finishing place per cell seeded."""
        return self.steps[-1].plants_set

    def cells_for(self, heads: float) -> float:
        """Cells to seed for so many heads; infinite where no plant comes through."""
        if not heads:
            return 0.0
        return heads / self.heads_per_cell if self.heads_per_cell else inf


def chain(name: str, crop: Crop, *, month: Month | None = None, bad_events: bool = True) -> Chain:
    """The mean yields and stays of a crop, at a pace of 100 percent or of one month."""
    plants, steps = 1.0, []
    for number, stage in enumerate(crop.stages):
        plants *= 1.0 - stage.move_loss_percent / 100.0 if number else 1.0
        entering = plants
        plants *= 1.0 - stage.loss_percent / 100.0
        if bad_events and (event := stage.bad_event):
            plants *= 1.0 - event.percent_of_batches / 100.0 * event.loss_percent / 100.0
        pace = stage.pace_percent.get(month, 100.0) / 100.0 if month else 1.0
        steps.append(
            Step(
                name, stage.name, stage.place, entering, plants,
                stage.days / pace, stage.turnaround_days,
            )
        )  # fmt: skip
    return Chain(name, tuple(steps))


def chains(
    scenario: Scenario, *, month: Month | None = None, bad_events: bool = True
) -> dict[str, Chain]:
    """The chains of all crops, by crop."""
    return {
        name: chain(name, crop, month=month, bad_events=bad_events)
        for name, crop in scenario.crops.items()
    }


@dataclass(frozen=True, slots=True)
class Load:
    """What one stage takes of its place when so many plants are set there every week.

    The plants that stand there are the plants set per week x days / 7 (Little's law, from
    memory: J. D. C. Little 1961, Operations Research 9:383-387). Containers are counted full;
    batches that leave one part-filled need more.
    """

    step: Step
    plants_per_week: float
    sites_each: int

    @property
    def containers_per_week(self) -> float:
        """Containers filled per week."""
        return self.plants_per_week / self.sites_each

    @property
    def standing(self) -> float:
        """Plants that stand in this stage at any time; those lost count until its end."""
        return self.plants_per_week * self.step.days / 7.0

    @property
    def containers(self) -> float:
        """Containers taken at any time, turnaround included."""
        return self.containers_per_week * self.step.stay / 7.0

    @property
    def sites(self) -> float:
        """Sites taken at any time, turnaround included."""
        return self.containers * self.sites_each


def plants_set(cells: float, step: Step) -> float:
    """Plants set in a stage from so many cells; infinite cells set infinitely many."""
    return cells * step.plants_set if cells < inf else inf


def loads(scenario: Scenario, of_crop: Chain, cells: float) -> list[Load]:
    """The loads of a crop's stages when so many cells are seeded per week, week after week."""
    return [
        Load(step, plants_set(cells, step), scenario.places[step.place].sites_each)
        for step in of_crop.steps
    ]
