"""Many simulated years: shared out to processes or a cluster, kept in a file, never done twice."""

from __future__ import annotations

import pickle
import signal
from collections.abc import Iterable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, as_completed
from functools import lru_cache
from multiprocessing import active_children
from types import TracebackType
from typing import TYPE_CHECKING, NamedTuple, Protocol, Self

from sim.errors import WorkerError
from sim.greenhouse.plan import Plan
from sim.replications import Years
from sim.scenario import Scenario
from sim.trials import Bench, Trial
from sim.year_numbers import Layout

if TYPE_CHECKING:
    from sim.kept import Kept, Unfiled

MODEL = 1  # to be raised when the same scenario and luck give another year
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

    `scenario` is a pickled Scenario that this program made itself.
    """
    ready = _ready(form, scenario)
    return [ready.year(seed, n) for n in range(first, first + count)]


class _Task(NamedTuple):
    number: int  # of the scenario, in the order in which it was first asked for
    first: int
    years: int


class Runs:
    """Simulated years on request; use it in a `with` statement.

    `executor` is any `concurrent.futures.Executor` whose workers can import this package; without
    one, `workers` local processes are used, or this one if that is 1. `kept` holds finished years
    (`kept.Kept`). The years are the same for any workers and any sharing out (rule L2).

    If the block ends with an exception, Ctrl-C included, local workers are ended at once; what
    they had finished is kept.
    """

    def __init__(
        self,
        *,
        workers: int = 1,
        executor: Executor | None = None,
        kept: Kept | Unfiled | None = None,
        progress: Progress | None = None,
    ) -> None:
        self.done = 0  # years given so far
        self.simulated = 0  # years that had to be simulated for that
        self.total = 0  # years that will be given at most, 0 if nobody knows
        self.note = ""  # what is left to decide
        self._workers, self._executor, self._own = workers, executor, executor is None
        self._kept, self._progress = kept, progress
        self._others = set(active_children())
        self._known: dict[int, int] = {}  # number of a scenario by its id
        self._scenarios: list[tuple[Scenario, str, bytes]] = []  # with its hash, and pickled

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        if self._own and self._executor:
            if error is not None:
                for worker in set(active_children()) - self._others:
                    worker.terminate()
            self._executor.shutdown()
        if self._kept:
            self._kept.write()

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
        for task, years in self._simulated(form, self._tasks(missing), seed):
            found |= self._take(form, task, years, seed)
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
            for number, replications in wanted.items()
            for n, year in self._kept.find(self._key(form, number, seed), replications).items()
        }

    def _key(self, form: str, number: int, seed: int) -> tuple[str, str, int, int]:
        return form, self._scenarios[number][1], MODEL, seed

    def _take(
        self, form: str, task: _Task, years: list[bytes], seed: int
    ) -> dict[tuple[int, int], bytes]:
        self.simulated += task.years
        if self._kept:
            key = self._key(form, task.number, seed)
            self._kept.add(key, dict(enumerate(years, task.first)))
        return {(task.number, task.first + n): year for n, year in enumerate(years)}

    def _tasks(self, pairs: Sequence[tuple[int, int]]) -> list[_Task]:
        """Stretches of replications of one scenario."""
        size = max(1, min(MOST_YEARS, len(pairs) // (_TASKS_EACH * self._workers)))
        tasks: list[_Task] = []
        for number, n in pairs:
            last = tasks[-1] if tasks else _Task(-1, 0, 0)
            if last.number == number and last.first + last.years == n and last.years < size:
                tasks[-1] = last._replace(years=last.years + 1)
            else:
                tasks.append(_Task(number, n, 1))
        return tasks

    def _simulated(
        self, form: str, tasks: list[_Task], seed: int
    ) -> Iterable[tuple[_Task, list[bytes]]]:
        """Each task with its years, as they are finished."""

        def arguments(task: _Task) -> tuple[str, bytes, int, int, int]:
            return form, self._scenarios[task.number][2], seed, task.first, task.years

        if self._executor is None and (self._workers <= 1 or len(tasks) == 1):
            for task in tasks:
                yield task, simulate(*arguments(task))
            return
        pool = self._pool()
        futures = {pool.submit(simulate, *arguments(task)): task for task in tasks}
        try:
            for future in as_completed(futures):
                yield futures.pop(future), future.result()
        except BrokenExecutor as error:
            raise WorkerError(
                "A process that simulates ended too early; perhaps there is too little memory. "
                "Give fewer --workers. Years that were finished are kept."
            ) from error
        finally:
            self._leave(futures, form, seed)

    def _leave(self, futures: dict[Future[list[bytes]], _Task], form: str, seed: int) -> None:
        """Keep what was finished before something went wrong; give up the rest."""
        for future, task in futures.items():
            if not self._own:  # own workers are ended, and their pool minds cancelled tasks
                future.cancel()
            if future.done() and not future.cancelled() and not future.exception():
                self._take(form, task, future.result(), seed)

    def _pool(self) -> Executor:
        if self._executor is None:
            self._executor = ProcessPoolExecutor(self._workers, initializer=_start_worker)
        return self._executor


def _start_worker() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the main process, which ends us


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
