"""Many simulated years of one scenario: workers, and what the years say together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from math import nan, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import MEASURES, WORK, Frame, by_kind, weeks_met, year_measures
from sim.records import Row
from sim.scenario import Scenario
from sim.timetable import Timetable
from sim.weeks import (
    Floats,
    by_cause,
    crews_work,
    short_causes,
    together,
    weekly_containers,
    weekly_counts,
    weekly_plants,
)

CHUNK = 25  # years that a worker does at a time
ROUGH_BELOW = 50  # years below which an interval is called rough

Progress = Callable[[int, int], None]


@dataclass
class Years:
    """What simulated years of one scenario say; index 0 of every array is the year.

    `values` by measure [years]; `met` 1, 0 or -1 (nothing due) [years, weeks]; `weekly` by name
    of the count and `yearly_work`, person-minutes by kind of work [years, weeks];
    `yearly_plants` and `yearly_containers` [years, places, weeks]; `yearly_crews`, person-minutes
    by (crew, kind of work) [years]. `lost`, `dumped` and `missed` by (place, cause) and `short` by
    (week, cause) are totals over all years. Means are taken over all years at once, so that they
    do not depend on the chunks in which the years were simulated.
    """

    timetable: Timetable
    seed: int
    count: int
    values: dict[str, Floats]
    met: NDArray[np.int8]
    weekly: dict[str, Floats]
    yearly_work: dict[str, Floats]
    yearly_plants: Floats
    yearly_containers: Floats
    yearly_crews: dict[tuple[str, str], Floats]
    lost: dict[tuple[str, str], int]
    dumped: dict[tuple[str, str], int]
    missed: dict[tuple[str, str], int]
    short: dict[tuple[int, str], int]

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
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to import, not always needed

    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits, n - hits + 1, tail))
    high = 1.0 if hits == n else float(betaincinv(hits + 1, n - hits, 1.0 - tail))
    return low, high


def summarize(plan: Plan, seed: int, first: int, count: int) -> Years:
    """Simulate years `first` ... `first + count - 1`, one after the other."""
    frame = Frame.of(plan.timetable)
    numbers = range(first, first + count)
    return join([_one_year(plan, frame, seed, run_year(plan, seed, n)) for n in numbers])


def _one_year(plan: Plan, frame: Frame, seed: int, rows: list[Row]) -> Years:
    kinds, places = by_kind(rows), list(plan.scenario.places)
    met, crews = weeks_met(kinds, frame), crews_work(kinds, frame)
    no_work = np.zeros(frame.weeks)
    names = [(c, w) for c in plan.scenario.crews for w in (*WORK.values(), "staffed")]
    return Years(
        plan.timetable,
        seed,
        1,
        {name: np.array([x]) for name, x in year_measures(kinds, frame, met).items()},
        np.array([met], dtype=np.int8),
        {name: x[None] for name, x in weekly_counts(kinds, frame).items()},
        {name: x[None] for name, x in together(crews, frame).items()},
        weekly_plants(kinds, frame, places)[None],
        weekly_containers(kinds, frame, places)[None],
        {name: np.array([crews.get(name, no_work).sum()]) for name in names},
        by_cause(kinds["lost"], frame),
        by_cause(kinds["dumped"], frame),
        by_cause(kinds["missed"], frame),
        short_causes(kinds, frame),
    )


def join(parts: list[Years]) -> Years:
    """One summary of several, in their order."""

    def arrays(name: str) -> Any:
        first = getattr(parts[0], name)
        if isinstance(first, dict):
            return {key: np.concatenate([getattr(p, name)[key] for p in parts]) for key in first}
        return np.concatenate([getattr(p, name) for p in parts])

    def total(name: str) -> dict[Any, int]:
        added: defaultdict[Any, int] = defaultdict(int)
        for part in parts:
            for key, number in getattr(part, name).items():
                added[key] += number
        return dict(added)

    return Years(
        parts[0].timetable,
        parts[0].seed,
        sum(p.count for p in parts),
        *(arrays(n) for n in ("values", "met", "weekly", "yearly_work", "yearly_plants",
                              "yearly_containers", "yearly_crews")),
        *(total(n) for n in ("lost", "dumped", "missed", "short")),
    )  # fmt: skip


_plan: Plan | None = None  # the plan a worker process works on


def _start_worker(scenario: Scenario) -> None:
    global _plan  # noqa: PLW0603 - a worker process is set up once for all its chunks
    _plan = Plan(scenario)


def _work_chunk(seed: int, first: int, count: int) -> Years:
    assert _plan is not None
    return summarize(_plan, seed, first, count)


def replicate(
    scenario: Scenario,
    years: int,
    seed: int = 1,
    *,
    workers: int = 1,
    progress: Progress | None = None,
) -> Years:
    """Simulate `years` years of a scenario; `progress` hears (years done, years in all).

    The result is the same, bit for bit, for any number of workers (rule L2): years are always
    simulated and added up in chunks of `CHUNK`, in order.
    """
    plan = Plan(scenario)
    chunks = [(seed, k, min(CHUNK, years - k)) for k in range(0, years, CHUNK)]
    parts: list[Years] = []
    for part in _chunks_done(plan, chunks, workers):
        parts.append(part)
        if progress:
            progress(sum(p.count for p in parts), years)
    return join(parts)


def _chunks_done(plan: Plan, chunks: list[tuple[int, int, int]], workers: int) -> Iterator[Years]:
    if workers <= 1 or len(chunks) == 1:
        for chunk in chunks:
            yield summarize(plan, *chunk)
        return
    with ProcessPoolExecutor(workers, initializer=_start_worker, initargs=(plan.scenario,)) as pool:
        try:
            yield from pool.map(_work_chunk, *zip(*chunks, strict=True))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
