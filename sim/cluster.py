"""Simulating on a Dask cluster, for work that is too large for one machine."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from sim.errors import WorkerError

if TYPE_CHECKING:
    from dask.distributed import Client

_WAIT = 15.0  # for the cluster to answer [s]


@contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """An executor on the cluster whose scheduler is at `address`, such as tcp://10.0.0.5:8786.

    Every worker must have the same seedbeat. Raises WorkerError if dask is not installed, nobody
    answers, there is no worker, or a worker has no seedbeat or another one.
    """
    try:
        from dask.distributed import Client  # noqa: PLC0415 - an extra, and slow to import
    except ImportError:
        raise WorkerError(
            "--cluster needs the package dask, which is not installed. Install it with "
            "pip install 'seedbeat[cluster]', or leave --cluster out to use this computer."
        ) from None
    try:
        client = Client(address, timeout=_WAIT)
    except (OSError, TimeoutError, ValueError) as error:
        raise WorkerError(
            f"--cluster {address}: must be the address of a running Dask scheduler, such as "
            f"tcp://10.0.0.5:8786, but nobody answered there ({error or type(error).__name__}). "
            "Start dask scheduler and dask worker, or leave --cluster out to use this computer."
        ) from None
    with client:
        _check(client, address)
        with client.get_executor(pure=False) as executor:
            yield executor


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
    except ModuleNotFoundError:
        raise WorkerError(
            f"--cluster {address}: every worker must have seedbeat, but one has not. Install it "
            "where the workers run."
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
