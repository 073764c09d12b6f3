"""The fewest good plants that a cadence can waste, in the mean of many years, by arithmetic alone.

Every good plant of a batch is taken by somebody or dumped in the end. In the mean of many years
the heads that come of seeded cells are cells x stand x (1 - losses), rare events included,
whatever waits for whom: what is dumped before a loss could strike only adds to the waste. Nobody
takes more than is ordered and what the surplus outlets may take. So, crop by crop,

    wasted plants >= heads that come of the cells seeded - heads ordered - surplus,

both sides as means. Counted are, as in `measures`, the batches seeded before the window's end.
Where plants may stand without a limit nothing need be dumped, and the bound is zero.

Trays that are missed (rule K4) have no cells. How many are missed cannot be told without
simulation; a cadence that is not carried out as listed is another cadence. So the bound is for a
cadence of which at least `AS_LISTED` of the trays are seeded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from sim.flows import chains
from sim.greenhouse.plan import Plan
from sim.order_book import surplus_days
from sim.seeding import PlannedSeeding

AS_LISTED = 0.95  # share of its trays that a cadence must seed, or it is not the one listed


class LeastWaste:
    """The fewest plants that seeding lists can waste in a plan's scenario."""

    def __init__(self, plan: Plan) -> None:
        scenario = plan.scenario
        late = scenario.cadence.late_days
        self._counted_to = plan.timetable.window_end - late  # what is seeded late must count too
        self._per_tray = {
            name: scenario.places[crop.stages[0].place].sites_each * of.heads_per_cell
            for (name, crop), of in zip(
                scenario.crops.items(), chains(scenario).values(), strict=True
            )
            if all(stage.keep_days is not None for stage in crop.stages)
        }
        self._taken = Counter[str]()
        for leaving in plan.leavings:
            self._taken[leaving.crop] += leaving.heads
        for day in surplus_days(scenario, plan.timetable):
            self._taken[day.crop] += day.heads

    def __call__(self, seedings: Iterable[PlannedSeeding]) -> float:
        """Plants a year; the mean over many years of the measure `wasted_plants` is no lower."""
        trays = Counter[str]()
        for s in seedings:
            if s.day < self._counted_to:
                trays[s.crop] += s.trays
        return sum(
            max(0.0, AS_LISTED * trays[crop] * each - self._taken[crop])
            for crop, each in self._per_tray.items()
        )
