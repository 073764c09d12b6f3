"""Simulating on a Dask cluster, for work that is too large for one machine."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterator
from concurrent.futures import CancelledError, Executor
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from sim.errors import WorkerError

if TYPE_CHECKING:
    from dask.distributed import Client

_WAIT = 15.0  # for the cluster to answer [s]


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """An executor on the cluster with this scheduler, such as tcp://10.0.0.5:8786, and its size.

    The size is the number of years that it can simulate at a time. Every worker must have the
    same seedbeat. Raises WorkerError if dask is not installed, nobody answers, there is no
    worker, a worker has no seedbeat or another one, or the cluster is lost on the way.
    """
    try:
        from dask.distributed import Client, KilledWorker  # noqa: PLC0415 - an extra, and slow
        from distributed.comm.core import CommClosedError  # noqa: PLC0415
    except ImportError:
        raise WorkerError(
            "--cluster needs the package dask.distributed, which is not installed. Install it with "
            "pip install 'seedbeat[cluster]', or leave --cluster out to use this computer."
        ) from None
    with _quiet():
        try:
            asyncio.run(_greet(address))
            client = Client(address, timeout=_WAIT)
        except Exception as error:  # whoever listens there may answer anything
            raise WorkerError(
                f"--cluster {address}: must be the address of a running Dask scheduler, such as "
                f"tcp://10.0.0.5:8786, but none answered there ({_reason(error)}). "
                "Start dask scheduler and dask worker, or leave --cluster out to use this computer."
            ) from None
        try:
            with client:
                _check(client, address)
                executor = client.get_executor(pure=False)
                yield executor, max(1, sum(client.nthreads().values()))
        except (KilledWorker, CommClosedError, CancelledError) as error:
            raise WorkerError(
                f"--cluster {address}: the cluster was lost on the way ({_reason(error)}). See "
                "that its scheduler and its workers run and have memory enough."
            ) from None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what dask logs to itself: what matters is raised."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def _reason(error: BaseException) -> str:
    return str(error) or type(error).__name__


async def _greet(address: str) -> None:
    """See that a scheduler answers: the client waits for ever for what listens and is silent."""
    from dask.distributed import Security  # noqa: PLC0415
    from distributed.comm.core import connect  # noqa: PLC0415

    secrets = Security().get_connection_args("client")
    try:
        found = await asyncio.wait_for(connect(address, timeout=_WAIT, **secrets), _WAIT)
    except TimeoutError:
        raise TimeoutError(f"no answer in {_WAIT:g} seconds") from None
    await found.close()


def program() -> str:
    """A hash of this package's own source text: two computers with the same simulate the same."""
    home = Path(__file__).parent
    digest = sha256()
    for path in sorted(home.rglob("*.py")):
        digest.update(path.relative_to(home).as_posix().encode() + path.read_text("utf-8").encode())
    return digest.hexdigest()


def _check(client: Client, address: str) -> None:
    try:
        found = client.run(program)
    except Exception as error:  # of no more precise kind when a worker cannot import this module
        raise WorkerError(
            f"--cluster {address}: every worker must have seedbeat, but one has not, or another "
            f"one ({_reason(error)}). Install the same version where the workers run."
        ) from None
    if not found:
        raise WorkerError(
            f"--cluster {address}: must have workers, but there is none. Start dask worker "
            f"{address} on each computer that is to help."
        )
    if set(found.values()) != {program()}:
        raise WorkerError(
            f"--cluster {address}: every worker must have the same seedbeat as this computer, but "
            "one has another. Install the same version everywhere."
        )
