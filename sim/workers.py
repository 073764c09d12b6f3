"""Processes of this computer that simulate: quick to stop, and never left behind."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import RawValue, parent_process
from threading import Thread, current_thread, main_thread
from time import monotonic
from typing import Any

from sim.errors import WorkerError

_PATIENCE = 1.0  # for workers to finish the year at hand when the work is broken off [s]

_flags: list[Any] = []  # in a worker: the number that its owner sets to call the work off


def called_off() -> bool:
    """Whether this process is a worker that is to do no more."""
    return any(flag.value for flag in _flags)


class Workers:
    """So many processes; `executor` gives them work.

    They heed no Ctrl-C, which is for their owner, and end when their owner does, even by kill -9.
    Raises WorkerError if there cannot be so many.
    """

    def __init__(self, count: int) -> None:
        self._off = RawValue("b", 0)
        try:
            self.executor = ProcessPoolExecutor(count, initializer=_begin, initargs=(self._off,))
            self._start(count)
        except (OSError, ValueError) as error:
            raise WorkerError(
                f"--workers {count:,}: so many processes cannot be started here ({error}). Give "
                "fewer: more than the computer has cores help nobody."
            ) from None

    def _start(self, count: int) -> None:
        try:
            with _without_ctrl_c():
                for _ in range(count):
                    self.executor.submit(int)
        except BaseException:
            self.break_off()
            raise

    def close(self) -> None:
        """End the workers when all work is done."""
        self.executor.shutdown()

    def break_off(self) -> None:
        """End the workers after the year at hand, or after a second if that takes longer.

        A worker that is killed while it sends results, or while its pool sends work, makes the
        pool wait for ever; so they are asked first, and the pipes are closed before they are
        killed.
        """
        pool: Any = self.executor
        processes, keeper = list((pool._processes or {}).values()), pool._executor_manager_thread
        pipes = [pool._call_queue._reader, pool._result_queue._writer] if processes else []
        self._off.value = 1
        pool.shutdown(wait=False, cancel_futures=True)
        until = monotonic() + _PATIENCE
        for process in processes:
            process.join(max(0.0, until - monotonic()))
        late = [process for process in processes if process.is_alive()]
        if late:
            for end in pipes:
                end.close()
        for process in late:
            process.kill()
        for process in late:
            process.join()
        if keeper:  # it waits for them too, and of two that wait one hears of the end later
            keeper.join(_PATIENCE)


def _begin(flag: Any) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _flags.append(flag)
    Thread(target=_end_with_owner, daemon=True).start()


def _end_with_owner() -> None:
    owner = parent_process()
    if owner:
        owner.join()
        os._exit(1)


@contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """Let no second Ctrl-C disturb what the first one began, for the moments that it takes."""
    if current_thread() is not main_thread():  # which alone gets it
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)


@contextmanager
def _without_ctrl_c() -> Iterator[None]:
    """Hold Ctrl-C back for a moment; processes that start meanwhile never get it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
