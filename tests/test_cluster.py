"""Simulating on a Dask cluster: the same bytes, whatever happens to its workers."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from running import ENVIRONMENT, ROOT, SCENARIOS, finished, interrupt, kept_years, start, wait_until
from test_workers import differing

from sim import cluster as cluster_module
from sim.__main__ import main
from sim.cluster import cluster
from sim.errors import WorkerError
from sim.kept import Unfiled
from sim.runs import Runs, replicate
from sim.scenario_file import load_scenario

SHORT = SCENARIOS / "maple-hollow-short.toml"

# a cluster in a process of its own, so that what Dask warns of is not told here
CLUSTER = """
import json, sys
from dask.distributed import LocalCluster
if __name__ == "__main__":
    cluster = LocalCluster(
        n_workers=int(sys.argv[1]), threads_per_worker=1, dashboard_address=None,
        silence_logs="CRITICAL",
    )
    workers = [nanny.pid for nanny in cluster.workers.values()]
    print(json.dumps([cluster.scheduler_address, workers]), flush=True)
    sys.stdin.read()
    cluster.close()
"""


class Running:
    """A local cluster: its address, its own process, and those of its workers."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout
        self.process = process
        self.address, self.workers = json.loads(process.stdout.readline())


@contextmanager
def running(
    folder: Path, workers: int, seedbeat: Path | None = None, **settings: str
) -> Iterator[Running]:
    script = folder / "a_cluster.py"
    script.write_text(CLUSTER)
    environment = {**ENVIRONMENT, **settings}
    if seedbeat:
        environment["PYTHONPATH"] = os.pathsep.join((str(seedbeat), ENVIRONMENT["PYTHONPATH"]))
    with subprocess.Popen(
        [sys.executable, str(script), str(workers)], cwd=folder, env=environment, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
    ) as process:  # fmt: skip
        try:
            yield Running(process)
        finally:
            process.communicate()


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A cluster with two worker processes."""
    with running(tmp_path_factory.mktemp("cluster"), 2) as found:
        yield found


def refusal(address: str) -> str:
    with pytest.raises(WorkerError) as refused, cluster(address):
        raise AssertionError(address)
    return str(refused.value)


# -- the same years ----------------------------------------------------------------------------


def test_the_result_is_the_same_when_a_worker_is_killed(two: Running) -> None:
    """L2: after the first 12 of 100 years one of two workers ends by kill -9."""
    scenario, left = load_scenario(SHORT), list(two.workers)

    def kill_one(*_: object) -> None:
        if len(left) == 2:
            os.kill(left.pop(), signal.SIGKILL)

    with cluster(two.address) as (executor, size):
        assert size == 2
        found = replicate(
            scenario, 100, seed=3, executor=executor, workers=size, progress=kill_one
        )  # fmt: skip
    assert len(left) == 1
    assert differing(found, replicate(scenario, 100, seed=3)) == []


@pytest.mark.proof
def test_a_command_prints_the_same_bytes_and_leaves_nothing_behind(
    two: Running, tmp_path: Path
) -> None:
    """Nothing on stderr, no file; years already kept are not simulated again."""
    args = ("run", SHORT, "--years", 40, "--json")
    out = finished(tmp_path, *args, "--cluster", two.address)
    assert out == finished(tmp_path, *args, "--workers", 1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.proof
@pytest.mark.parametrize(
    "args",
    [
        ("capacity", SCENARIOS / "small-bench-summer.toml", "--case", 6, "--runs", 2500),
        ("size", "channels", SCENARIOS / "small-bench-winter.toml", "--years", 2),
    ],
    ids=["capacity", "size"],
)
def test_a_search_prints_the_same_bytes_on_a_cluster(
    two: Running, tmp_path: Path, args: tuple[object, ...]
) -> None:
    """L2: many small rounds, each waited for before the next is known, go to the cluster alike."""
    out = finished(tmp_path, *args, "--json", "--cluster", two.address)
    assert out == finished(tmp_path, *args, "--json", "--workers", 1)
    assert json.loads(out)["runs"] > 200
    assert list(tmp_path.iterdir()) == []


def test_threads_of_a_cluster_end_with_it(two: Running) -> None:
    """Nothing of the client is left when the block ends."""
    before = set(threading.enumerate())
    with cluster(two.address) as (executor, _):
        assert executor.submit(abs, -3).result() == 3
    until = time.monotonic() + 5.0
    while set(threading.enumerate()) - before:
        assert time.monotonic() < until, threading.enumerate()
        time.sleep(0.02)


# -- no cluster that could help ----------------------------------------------------------------


def test_without_dask_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, code 2."""
    monkeypatch.setitem(sys.modules, "dask.distributed", None)
    assert main(["run", str(SHORT), "--cluster", "tcp://127.0.0.1:1"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "pip install 'seedbeat[cluster]'" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("tcp://127.0.0.1:1", "0.2 s"),
        ("127.0.0.1:1", "0.2 s"),
        ("", "missing port number"),
        ("tcp://127.0.0.1", "missing port number"),
        ("http://127.0.0.1:1", "unknown address scheme"),
        ("tls://127.0.0.1:1", "TLS"),
    ],
)
def test_an_address_where_nobody_is_is_refused_in_time(
    address: str, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message names the address, what it must be, the reason, and what to do."""
    monkeypatch.setattr(cluster_module, "_WAIT", 0.2)
    began = time.monotonic()
    message = refusal(address)
    assert time.monotonic() - began < 5.0
    assert message.startswith(f"--cluster {address}: must be the address of a running Dask")
    assert says in message
    assert "leave --cluster out" in message


def _say_nothing(_: socket.socket) -> None:
    pass


def _speak_otherwise(connection: socket.socket) -> None:
    connection.sendall(b"HTTP/1.0 400 Bad Request\r\n\r\nthis is another service altogether")


@contextmanager
def listener(answer: Callable[[socket.socket], None]) -> Iterator[str]:
    """The address of a service that is no scheduler."""
    with closing(socket.create_server(("127.0.0.1", 0))) as service:
        connections: list[socket.socket] = []

        def serve() -> None:
            while True:
                try:
                    connections.append(service.accept()[0])
                    answer(connections[-1])
                except OSError:
                    return

        serving = threading.Thread(target=serve)
        serving.start()
        yield "tcp://{}:{}".format(*service.getsockname())
        service.shutdown(socket.SHUT_RDWR)
        serving.join()
        for connection in connections:
            connection.close()


@pytest.mark.parametrize("answer", [_say_nothing, _speak_otherwise])
def test_another_service_at_the_address_is_refused_in_time(
    answer: Callable[[socket.socket], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that never answers does not hold the command up; one that answers is not understood."""
    monkeypatch.setattr(cluster_module, "_WAIT", 0.2)
    with listener(answer) as address:
        began = time.monotonic()
        assert "must be the address of a running Dask scheduler" in refusal(address)
        assert time.monotonic() - began < 5.0


@pytest.mark.proof
def test_a_cluster_without_workers_is_refused(tmp_path: Path) -> None:
    """The message says how to start one."""
    with running(tmp_path, 0) as empty:
        assert f"Start dask worker {empty.address}" in refusal(empty.address)


def changed_copy(folder: Path) -> Path:
    """A seedbeat that differs by a comment."""
    shutil.copytree(ROOT / "sim", folder / "sim", ignore=shutil.ignore_patterns("__pycache__"))
    with (folder / "sim" / "draws.py").open("a") as source:
        source.write("# another\n")
    return folder


def namesake(folder: Path) -> Path:
    """Some other package of the same name."""
    (folder / "sim").mkdir()
    (folder / "sim" / "__init__.py").write_text("")
    return folder


@pytest.mark.parametrize(
    ("other", "says"),
    [
        pytest.param(changed_copy, "but one has another", id="changed"),
        pytest.param(namesake, "but one has not", id="none", marks=pytest.mark.proof),
    ],
)
def test_workers_with_another_program_are_refused(
    other: Callable[[Path], Path], says: str, tmp_path: Path
) -> None:
    """Every worker must have the same seedbeat, to the letter."""
    with running(tmp_path, 1, seedbeat=other(tmp_path)) as foreign:
        message = refusal(foreign.address)
    assert "every worker must have" in message
    assert says in message
    assert "Install the same version" in message


# -- a cluster that is lost --------------------------------------------------------------------


@pytest.mark.proof
def test_when_the_cluster_is_lost_the_work_is_kept_and_goes_on_without_it(tmp_path: Path) -> None:
    """The scheduler ends by kill -9: one line, code 2, and what it tells to do works."""
    args = ("run", SHORT, "--years", 400, "--json", "--keep", "my.kept")
    with running(tmp_path, 2) as lost:
        process = start(tmp_path, *args, "--cluster", lost.address)
        wait_until(process, lambda: kept_years(tmp_path / "my.kept"), "kept years")
        lost.process.kill()
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (2, "")
    assert err.startswith(f"seedbeat: --cluster {lost.address}: the cluster was lost on the way")
    assert err.count("\n") == 1
    assert err.endswith("finished years are kept in my.kept; to go on from there give the same "
                        "command again.\n")  # fmt: skip
    assert 0 < kept_years(tmp_path / "my.kept") < 400
    assert finished(tmp_path, *args, "--workers", 1) == finished(tmp_path, *args[:-2])


@pytest.mark.proof
def test_workers_that_are_killed_too_often_end_the_work(tmp_path: Path) -> None:
    """Where Dask tries nothing twice, one worker killed in mid-work is one too many."""
    once = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}
    held, scenario = Unfiled(), load_scenario(SHORT)
    with running(tmp_path, 1, **once) as fragile:

        def kill_all(*_: object) -> None:
            while fragile.workers:
                os.kill(fragile.workers.pop(), signal.SIGKILL)

        with (
            pytest.raises(WorkerError, match="the cluster was lost"),
            cluster(fragile.address) as (executor, size),
            Runs(executor=executor, workers=size, kept=held, progress=kill_all) as runs,
        ):
            runs.years(scenario, 400)
    assert not fragile.workers
    assert runs.simulated >= 25


@pytest.mark.proof
def test_ctrl_c_leaves_the_cluster_at_once(two: Running, tmp_path: Path) -> None:
    """Within two seconds, with what is done kept, and the cluster ready for the next."""
    args = ("run", SHORT, "--years", 4_000, "--keep", "my.kept", "--cluster", two.address)
    process = start(tmp_path, *args)
    wait_until(process, lambda: kept_years(tmp_path / "my.kept"), "kept years")
    took, out, err = interrupt(process)
    assert (process.returncode, out) == (130, "")
    assert "finished years are kept in my.kept" in err
    assert err.count("\n") == 1
    assert took < 2.0
    with cluster(two.address) as (executor, _):
        assert executor.submit(abs, -3).result(timeout=10) == 3
