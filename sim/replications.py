"""Many simulated years of one scenario: what they say together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import nan, sqrt

import numpy as np
from numpy.typing import NDArray

from sim.greenhouse.plan import Plan
from sim.measures import MEASURES
from sim.timetable import Timetable
from sim.weeks import Floats
from sim.year_numbers import KINDS_OF_WORK, VALUES, WEEKLY, Causes, Layout, Yearly

ROUGH_BELOW = 50  # years below which an interval is called rough


@dataclass
class Years:
    """What simulated years of one scenario say; index 0 of every array is the year.

    `values` by measure [years]; `met` 1, 0 or -1 (nothing due) [years, weeks]; `weekly` by name
    of the count and `yearly_work`, person-minutes by kind of work [years, weeks];
    `yearly_plants` and `yearly_containers` [years, places, weeks]; `yearly_crews`, person-minutes
    by (crew, kind of work) [years]; `yearly_dumped`, plants by (place, cause) [years]. `lost`,
    `dumped` and `missed` by (place, cause) and `short` by (week, cause) are totals over all years.
    """

    plan: Plan
    seed: int
    count: int
    values: dict[str, Floats]
    met: NDArray[np.int8]
    weekly: dict[str, Floats]
    yearly_work: dict[str, Floats]
    yearly_plants: Floats
    yearly_containers: Floats
    yearly_crews: dict[tuple[str, str], Floats]
    yearly_dumped: Yearly
    lost: Causes
    dumped: Causes
    missed: Causes
    short: Causes

    @classmethod
    def of(cls, layout: Layout, seed: int, years: list[bytes]) -> Years:
        """Put together the numbers of single years, in their order."""
        found, causes = layout.read(years)
        works = [(c, w) for c in layout.crews for w in KINDS_OF_WORK]
        crews = found["crews"].reshape(len(years), -1)
        return cls(
            layout.plan,
            seed,
            len(years),
            _named(VALUES, found["values"]),
            found["met"].astype(np.int8),
            _named(WEEKLY, found["weekly"]),
            _named(KINDS_OF_WORK, found["work"]),
            found["plants"],
            found["containers"],
            {key: crews[:, number] for number, key in enumerate(works)},
            layout.dumped(years),
            **causes,
        )

    @property
    def timetable(self) -> Timetable:
        """Days, weeks and shifts of the scenario."""
        return self.plan.timetable

    @cached_property
    def work(self) -> dict[str, Floats]:
        """Person-minutes by kind of work, "staffed" included, mean over years [min], [weeks]."""
        return {name: minutes.mean(axis=0) for name, minutes in self.yearly_work.items()}

    @cached_property
    def plants(self) -> Floats:
        """Plants standing in each place, mean over years, shape [places, weeks]."""
        return np.asarray(self.yearly_plants.mean(axis=0))

    @cached_property
    def containers(self) -> Floats:
        """Containers not free in each place, mean over years, shape [places, weeks]."""
        return np.asarray(self.yearly_containers.mean(axis=0))

    @cached_property
    def crew_minutes(self) -> dict[tuple[str, str], float]:
        """Person-minutes by (crew, kind of work), "staffed" included, sum of all years [min]."""
        return {key: float(minutes.sum()) for key, minutes in self.yearly_crews.items()}

    @cached_property
    def met_share(self) -> Floats:
        """Share of years in which each week was met, nan where nothing was due, [weeks]."""
        due = self.met[0] >= 0
        return np.where(due, (self.met == 1).mean(axis=0), nan)

    @property
    def weakest(self) -> int | None:
        """The week met in the lowest share of years, the first of equals; None without orders."""
        share = self.met_share
        return None if np.isnan(share).all() else int(np.nanargmin(share))

    def measures(self) -> dict[str, Estimate]:
        """Every measure with its intervals, in the order of `measures.MEASURES`."""
        found = {}
        for name in MEASURES:
            if name == "weakest_week":
                found[name] = self._weakest_estimate()
            else:
                found[name] = mean_estimate(self.values[name])
        return found

    def _weakest_estimate(self) -> Estimate:
        week = self.weakest
        if week is None:
            return Estimate(nan, nan, nan, nan, nan, self.count)
        met = int((self.met[:, week] == 1).sum())
        low, high = exact_interval(met, self.count) if self.count > 1 else (nan, nan)
        return Estimate(met / self.count, low, high, nan, nan, self.count)


def _named(names: tuple[str, ...], block: Floats) -> dict[str, Floats]:
    """The parts of a block [years, parts, ...] by their names."""
    return {name: block[:, number] for number, name in enumerate(names)}


@dataclass(frozen=True)
class Estimate:
    """A mean over years with its 95 % interval, and the 5-95 % range of single years.

    A mean's interval is Student's t; the weakest week's is the exact (Clopper-Pearson 1934)
    interval of that week's share of years, which does not count that the week was picked as the
    lowest. Ranges that make no sense are nan.
    """

    mean: float
    low: float
    high: float
    p05: float
    p95: float
    n: int

    @property
    def rough(self) -> bool:
        """Whether too few years were simulated to trust the interval."""
        return self.n < ROUGH_BELOW


def mean_estimate(values: Floats) -> Estimate:
    """Mean of independent years with Student's t interval and the 5-95 % range."""
    n = len(values)
    mean = float(np.mean(values))
    p05, p95 = (float(q) for q in np.quantile(values, [0.05, 0.95]))
    half = nan
    if n > 1:
        from scipy.special import stdtrit  # noqa: PLC0415 - slow to import, not needed for one year

        half = float(stdtrit(n - 1, 0.975)) * float(np.std(values, ddof=1)) / sqrt(n)
    return Estimate(mean, mean - half, mean + half, p05, p95, n)


def exact_interval(hits: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Exact interval of a share, `hits` of `n` (Clopper & Pearson, Biometrika 26:404, 1934)."""
    from sim import selection_bounds  # noqa: PLC0415 - slow to import, not always needed

    bounds = selection_bounds.exact_interval(np.array(hits), np.array(n), 1.0 - level)
    return float(bounds.lower), float(bounds.upper)
