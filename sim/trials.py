"""Years of many candidates, simulated in as many processes as wanted; only little comes back."""

from __future__ import annotations

import signal
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import active_children
from types import TracebackType
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.measures import WORK, Frame, by_kind, weeks_met, year_measures
from sim.parts import Cadence
from sim.records import MINUTES
from sim.scenario import Scenario
from sim.weeks import Floats, weekly_sums

_MOST_YEARS = 20  # years of one candidate that a worker does at a time
_TASKS_EACH = 4  # tasks for each worker in a small round, so that none waits long for another


class Trial(NamedTuple):
    """What the choice needs of one simulated year.

    `met` 1, 0 or -1 (nothing due) by week; `minutes` worked by week [person-min]; `wasted_plants`
    and `unit_fill_rate` as `measures` defines them.
    """

    met: NDArray[np.int8]
    minutes: Floats
    wasted_plants: float
    unit_fill_rate: float


class Bench:
    """Simulates years of a scenario under any of some cadences; their plans are kept."""

    def __init__(self, scenario: Scenario, cadences: Sequence[Cadence], seed: int) -> None:
        self._scenario, self._cadences, self._seed = scenario, cadences, seed
        self._plans: dict[int, tuple[Plan, Frame]] = {}

    def years(self, cadence: int, first: int, count: int) -> list[Trial]:
        """Replications `first` ... `first + count - 1` under cadence number `cadence`."""
        if cadence not in self._plans:
            changed = {"cadence": self._cadences[cadence]}
            plan = Plan(self._scenario.model_copy(update=changed))
            self._plans[cadence] = plan, Frame.of(plan.timetable)
        return [self._year(*self._plans[cadence], n) for n in range(first, first + count)]

    def _year(self, plan: Plan, frame: Frame, replication: int) -> Trial:
        kinds = by_kind(run_year(plan, self._seed, replication))
        met = weeks_met(kinds, frame)
        measures = year_measures(kinds, frame, met)
        minutes = sum((weekly_sums(kinds[k], MINUTES, frame) for k in WORK), np.zeros(frame.weeks))
        return Trial(
            np.array(met, dtype=np.int8),
            minutes,
            measures["wasted_plants"],
            measures["unit_fill_rate"],
        )


_bench: Bench | None = None  # what a worker process works on


def _start_worker(scenario: Scenario, cadences: Sequence[Cadence], seed: int) -> None:
    global _bench  # noqa: PLW0603 - a worker process is set up once for all its tasks
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the main process, which ends us
    _bench = Bench(scenario, cadences, seed)


def _work(cadence: int, first: int, count: int) -> list[Trial]:
    assert _bench is not None
    return _bench.years(cadence, first, count)


class Trials:
    """A bench in this process, or one in each of several workers; use it in a `with` statement.

    The results are the same for any number of workers (rule L2). If the block ends with an
    exception, Ctrl-C included, the workers are ended at once.
    """

    def __init__(
        self, scenario: Scenario, cadences: Sequence[Cadence], seed: int, workers: int
    ) -> None:
        self._workers = workers
        self._others = set(active_children())
        self._bench = Bench(scenario, cadences, seed)
        self._pool = None
        if workers > 1:
            self._pool = ProcessPoolExecutor(
                workers, initializer=_start_worker, initargs=(scenario, cadences, seed)
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        if self._pool is None:
            return
        if error is not None:
            for worker in set(active_children()) - self._others:
                worker.terminate()
        self._pool.shutdown()

    def run(self, pairs: Sequence[tuple[int, int]]) -> list[Trial]:
        """The trials of (cadence, replication) pairs, in their order."""
        tasks = self._tasks(pairs)
        if self._pool is None:
            return [trial for task in tasks for trial in self._bench.years(*task)]
        # not `map`, which cancels what is pending: that trips a pool whose workers were ended
        futures = [self._pool.submit(_work, *task) for task in tasks]
        return [trial for future in futures for trial in future.result()]

    def _tasks(self, pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int, int]]:
        """Stretches of replications of one cadence: (cadence, first replication, count)."""
        size = max(1, min(_MOST_YEARS, len(pairs) // (_TASKS_EACH * self._workers)))
        tasks: list[tuple[int, int, int]] = []
        for cadence, replication in pairs:
            last = tasks[-1] if tasks else (-1, 0, 0)
            if last[0] == cadence and last[1] + last[2] == replication and last[2] < size:
                tasks[-1] = (cadence, last[1], last[2] + 1)
            else:
                tasks.append((cadence, replication, 1))
        return tasks
