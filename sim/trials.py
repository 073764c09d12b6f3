"""What a choice among cadences needs of one simulated year, and the same as bytes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.greenhouse.house import run_by_kind
from sim.greenhouse.plan import Plan
from sim.measures import Frame, weeks_met, year_measures
from sim.weeks import Floats, weekly_minutes


class Trial(NamedTuple):
    """What the choice needs of one simulated year.

    `met` 1, 0 or -1 (nothing due) by week; `minutes` worked by week [person-min]; `wasted_plants`
    and `unit_fill_rate` as `measures` defines them.
    """

    met: NDArray[np.int8]
    minutes: Floats
    wasted_plants: float
    unit_fill_rate: float

    @classmethod
    def of(cls, year: bytes) -> Trial:
        """Read what `Bench.year` gives."""
        weeks = (len(year) - 16) // 9
        numbers = np.frombuffer(year, offset=weeks)
        met = np.frombuffer(year, dtype=np.int8, count=weeks)
        return cls(met, numbers[:weeks], float(numbers[weeks]), float(numbers[weeks + 1]))


class Bench:
    """Simulates years of one plan for a choice."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._frame = plan, Frame.of(plan.timetable)

    def year(self, seed: int, replication: int) -> bytes:
        """Simulate one year and give what a `Trial` is read from."""
        frame = self._frame
        kinds = run_by_kind(self._plan, seed, replication)
        met = weeks_met(kinds, frame)
        measures = year_measures(kinds, frame, met)
        minutes = sum(weekly_minutes(kinds, frame), np.zeros(frame.weeks))
        two = np.array([measures["wasted_plants"], measures["unit_fill_rate"]])
        return np.array(met, dtype=np.int8).tobytes() + minutes.tobytes() + two.tobytes()
