"""One simulated year, as people look at it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import by_kind, measures_of
from sim.records import COLUMNS, Row
from sim.scenario import Scenario
from sim.timetable import Timetable

if TYPE_CHECKING:
    import pandas as pd


class Year:
    """What happened in one simulated year.

    `events` are the rows as plain tuples in the order of `records.COLUMNS`; `rows` is the same as
    a table, made when it is asked for.
    """

    def __init__(self, timetable: Timetable, events: list[Row]) -> None:
        self.timetable = timetable
        self.events = events

    @cached_property
    def rows(self) -> pd.DataFrame:
        """All rows, one per event; the columns and units are those of `records.COLUMNS`."""
        import pandas as pd  # noqa: PLC0415 - slow to import, needed for tables only

        return pd.DataFrame(self.events, columns=list(COLUMNS))

    def weeks(self) -> pd.DataFrame:
        """The measuring window week by week, dated by Monday."""
        from sim.weeks import weeks_table  # noqa: PLC0415 - needs pandas

        return weeks_table(by_kind(self.events), self.timetable)

    def measures(self) -> dict[str, float]:
        """The measures of this year by name, as `sim.measures` defines them."""
        return measures_of(self.events, self.timetable)


def run(scenario: Scenario, *, seed: int = 1, replication: int = 0) -> Year:
    """Simulate one year; the same seed and replication give the same rows.

    Raises ScenarioError if no whole week can be measured.
    """
    plan = Plan(scenario)
    return Year(plan.timetable, run_year(plan, seed, replication))
