"""What comes of seeded cells and how long they stand, by arithmetic alone: no luck.

All numbers are means. A chain of plants is cells -> plants in each stage -> heads. With
`bad_events` (the default) the loss of rare events such as damping-off is spread over all
batches; without, an ordinary batch is meant. Stays are those at a pace of 100 percent, or in a
named month. Finishing sites and the cells of earlier stages are told apart by place and never
added up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from sim.parts import Crop, Month
from sim.scenario import Scenario


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

    @property
    def heads_per_transplant(self) -> float:
        """Heads ready for harvest per plant set in the finishing place; 0 if no plant is left."""
        return self.heads_per_cell / self.transplants_per_cell if self.transplants_per_cell else 0.0

    def cells_for(self, heads: float) -> float:
        """Cells to seed for so many heads; infinite where nothing comes up."""
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


def loads(
    scenario: Scenario, chains_of: Mapping[str, Chain], cells: Mapping[str, float]
) -> list[Load]:
    """The loads of all stages when `cells` per week of each crop are seeded, week after week."""
    return [
        Load(step, cells[crop] * step.plants_set, scenario.places[step.place].sites_each)
        for crop, of_crop in chains_of.items()
        if cells.get(crop)
        for step in of_crop.steps
    ]
