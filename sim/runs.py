"""Many simulated years: shared out to processes or a cluster, kept in a file, never done twice."""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from functools import lru_cache
from types import TracebackType
from typing import TYPE_CHECKING, NamedTuple, Protocol, Self

from sim.errors import KeptError, WorkerError
from sim.greenhouse.plan import Plan
from sim.replications import Years
from sim.scenario import Scenario
from sim.trials import Bench, Trial
from sim.workers import Workers, called_off, deaf_to_ctrl_c
from sim.year_numbers import Layout

if TYPE_CHECKING:
    from sim.kept import Kept, Unfiled

MODEL = 1  # to be raised when the same scenario and luck give other results, or in other bytes
MOST_YEARS = 25  # years of one scenario that a worker does at a time
_TASKS_EACH = 4  # tasks for each worker in a small round, so that none waits long for another
_PLANS = 128  # plans that a worker holds ready

Asked = tuple[Scenario, int]  # a scenario and the number of the replication
_FORMS: dict[str, type[Layout] | type[Bench]] = {"year": Layout, "trial": Bench}


class Progress(Protocol):
    """Hears years done, years at most (if known), and what is left to decide, in words."""

    def __call__(self, done: int, total: int, note: str) -> None: ...  # noqa: D102


@lru_cache(maxsize=_PLANS)
def _ready(form: str, scenario: bytes) -> Layout | Bench:
    return _FORMS[form](Plan(pickle.loads(scenario)))


def simulate(form: str, scenario: bytes, seed: int, first: int, count: int) -> list[bytes]:
    """Simulate replications `first` ... `first + count - 1`: what a worker does.

    `scenario` is a pickled Scenario that this program made itself. A worker that is to end gives
    the years that it has.
    """
    ready = _ready(form, scenario)
    years: list[bytes] = []
    while len(years) < count and not called_off():
        years.append(ready.year(seed, first + len(years)))
    return years


class _Task(NamedTuple):
    form: str
    number: int  # of the scenario, in the order in which it was first asked for
    seed: int
    first: int
    years: int


class Runs:
    """Simulated years on request; use it in a `with` statement.

    `executor` is any `concurrent.futures.Executor` whose workers can import this package; it is
    not shut down. Without one, `workers` local processes are used, or this one if that is 1; with
    one, `workers` says how many it has, so that work is shared out well. `kept` holds finished
    years (`kept.Kept`). The years are the same for any workers and any sharing out (rule L2).

    If the block ends with an exception, Ctrl-C included, local workers end after the year at
    hand, or after a second; what was finished is kept. Raises WorkerError if `workers` is below 1,
    cannot be had, or one of them ends too early.
    """

    def __init__(
        self,
        *,
        workers: int = 1,
        executor: Executor | None = None,
        kept: Kept | Unfiled | None = None,
        progress: Progress | None = None,
    ) -> None:
        if workers < 1:
            raise WorkerError(f"workers must be at least 1, but it was {workers}")
        self.done = 0  # years given so far
        self.simulated = 0  # years that had to be simulated for that
        self.total = 0  # years that will be given at most, 0 if nobody knows
        self.note = ""  # what is left to decide
        self._workers, self._executor, self._kept = workers, executor, kept
        self._progress = progress
        self._local: Workers | None = None
        self._running: dict[Future[list[bytes]], _Task] = {}
        self._known: dict[int, int] = {}  # number of a scenario by its id
        self._scenarios: list[tuple[Scenario, str, bytes]] = []  # with its hash, and pickled

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        if error is None:
            if self._local:
                with deaf_to_ctrl_c():
                    self._local.close()
            if self._kept:
                self._kept.write()
            return
        with deaf_to_ctrl_c():
            self._break_off()
            if self._kept and not isinstance(error, KeptError):
                self._keep_finished(self._kept)

    def _break_off(self) -> None:
        if self._local:
            self._local.break_off()
            return
        for future in self._running:
            future.cancel()

    def _keep_finished(self, kept: Kept | Unfiled) -> None:
        """Keep what was finished but not yet asked after when something went wrong."""
        for future, task in self._running.items():
            if future.done() and not future.cancelled() and not future.exception():
                kept.add(self._key(*task[:3]), dict(enumerate(future.result(), task.first)))
        self._running.clear()
        kept.write()

    def years(self, scenario: Scenario, count: int, seed: int = 1, *, first: int = 0) -> Years:
        """Replications `first` ... `first + count - 1` of one scenario, put together."""
        asked = [(scenario, first + n) for n in range(count)]
        layout = _ready("year", self._scenarios[self._number(scenario)][2])
        assert isinstance(layout, Layout)
        return Years.of(layout, seed, self._results("year", asked, seed))

    def trials(self, asked: Sequence[Asked], seed: int = 1) -> list[Trial]:
        """What a choice needs of each of these years, in their order."""
        return [Trial.of(year) for year in self._results("trial", asked, seed)]

    def tell(self) -> None:
        """Let the progress be heard."""
        if self._progress:
            self._progress(self.done, max(self.total, self.done), self.note)

    def _number(self, scenario: Scenario) -> int:
        number = self._known.get(id(scenario))
        if number is None:
            number = self._known[id(scenario)] = len(self._scenarios)
            pickled = pickle.dumps(scenario)
            self._scenarios.append((scenario, scenario.fingerprint(), pickled))
        return number

    def _results(self, form: str, asked: Sequence[Asked], seed: int) -> list[bytes]:
        pairs = [(self._number(scenario), n) for scenario, n in asked]
        found = self._find(form, pairs, seed)
        self.done += len(found)
        if found:
            self.tell()
        missing = sorted(set(pairs) - found.keys())
        for task, years in self._simulated(self._tasks(form, missing, seed)):
            if self._kept:
                self._kept.add(self._key(*task[:3]), dict(enumerate(years, task.first)))
            found |= {(task.number, n): year for n, year in enumerate(years, task.first)}
            self.simulated += task.years
            self.done += task.years
            self.tell()
        self.done += len(pairs) - len(found)  # asked for more than once
        return [found[pair] for pair in pairs]

    def _find(
        self, form: str, pairs: Iterable[tuple[int, int]], seed: int
    ) -> dict[tuple[int, int], bytes]:
        if not self._kept:
            return {}
        wanted: dict[int, list[int]] = {}
        for number, n in pairs:
            wanted.setdefault(number, []).append(n)
        return {
            (number, n): year
            for number, numbers in wanted.items()
            for n, year in self._kept.find(self._key(form, number, seed), numbers).items()
        }

    def _key(self, form: str, number: int, seed: int) -> tuple[str, str, int, int]:
        return form, self._scenarios[number][1], MODEL, seed

    def _alone(self, tasks: int) -> bool:
        """Whether so many tasks are done in this process."""
        here = self._executor is None and self._local is None
        return here and min(self._workers, tasks) <= 1

    def _tasks(self, form: str, pairs: Sequence[tuple[int, int]], seed: int) -> list[_Task]:
        """Stretches of replications of one scenario; here single years, to be stopped at any."""
        size = max(1, min(MOST_YEARS, len(pairs) // (_TASKS_EACH * self._workers)))
        if self._alone(len(pairs)):
            size = 1
        tasks: list[_Task] = []
        for number, n in pairs:
            last = tasks[-1] if tasks else None
            if last and (last.number, last.first + last.years) == (number, n) and last.years < size:
                tasks[-1] = last._replace(years=last.years + 1)
            else:
                tasks.append(_Task(form, number, seed, n, 1))
        return tasks

    def _simulated(self, tasks: list[_Task]) -> Iterator[tuple[_Task, list[bytes]]]:
        """Each task with its years, as they are finished."""
        if self._alone(len(tasks)):
            for task in tasks:
                yield task, simulate(*self._arguments(task))
            return
        self._running = {}
        try:
            pool = self._pool()
            for task in tasks:
                self._running[pool.submit(simulate, *self._arguments(task))] = task
            for future in as_completed(list(self._running)):
                yield self._running[future], future.result()
                del self._running[future]
        except BrokenExecutor as error:
            raise WorkerError(
                "A process that simulates ended too early; perhaps there is too little memory. "
                "Give fewer --workers."
            ) from error

    def _arguments(self, task: _Task) -> tuple[str, bytes, int, int, int]:
        return task.form, self._scenarios[task.number][2], task.seed, task.first, task.years

    def _pool(self) -> Executor:
        if self._executor is not None:
            return self._executor
        if self._local is None:
            self._local = Workers(self._workers)
        return self._local.executor


def replicate(
    scenario: Scenario,
    years: int,
    seed: int = 1,
    *,
    workers: int = 1,
    executor: Executor | None = None,
    kept: Kept | Unfiled | None = None,
    progress: Progress | None = None,
) -> Years:
    """Simulate `years` years of a scenario; the arguments are those of `Runs`."""
    with Runs(workers=workers, executor=executor, kept=kept, progress=progress) as runs:
        runs.total = years
        return runs.years(scenario, years, seed)
