"""Simulated years by any executor; Ctrl-C, kill -9 and progress of the commands."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import resource
import signal
import struct
import subprocess
import sys
import termios
import time
import tracemalloc
from argparse import Namespace
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from functools import cache
from multiprocessing import active_children
from pathlib import Path
from random import Random
from typing import Any

import pytest
from running import (
    ROOT,
    SCENARIOS,
    finished,
    group,
    interrupt,
    is_sound,
    kept_years,
    start,
    uninterrupted,
    wait_until,
    wait_until_gone,
)
from test_workers import bits, differing

from sim import runs as runs_module
from sim import workers as workers_module
from sim.cadence import CadenceAnswer, find_cadence
from sim.commands import base
from sim.errors import WorkerError
from sim.kept import Unfiled
from sim.replications import Years
from sim.runs import Runs, replicate
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.trials import Bench
from sim.year_numbers import Layout

DEMO = SCENARIOS / "maple-hollow.toml"
SHORT = SCENARIOS / "maple-hollow-short.toml"
SMALL = SCENARIOS / "small-bench-summer.toml"  # quick, and without luck
STOPPED = "seedbeat: stopped by Ctrl-C; "
GO_ON = re.compile(
    r"([\d,]+) finished years? (?:is|are) kept in (\S+); to go on from there give the same command "
    r"(again|with --keep (\S+))\.\n$"
)


@cache
def shipped(name: str) -> Scenario:
    return load_scenario(SCENARIOS / f"{name}.toml")


@cache
def alone() -> Years:
    """24 years of the demo, one after the other in this process."""
    return replicate(shipped("maple-hollow"), 24, seed=7)


# -- any executor ------------------------------------------------------------------------------


@pytest.fixture(params=["threads", "processes"])
def executor(request: pytest.FixtureRequest) -> Iterator[Executor]:
    kinds = {"threads": ThreadPoolExecutor, "processes": ProcessPoolExecutor}
    with kinds[request.param](2) as given:
        yield given


def test_any_executor_gives_the_same_bits_and_is_left_open(executor: Executor) -> None:
    """L2: the caller's threads or processes, which still work afterwards."""
    shared = replicate(shipped("maple-hollow"), 24, seed=7, executor=executor, workers=2)
    assert differing(alone(), shared) == []
    assert executor.submit(abs, -3).result() == 3


def test_threads_that_change_places_all_the_time_give_the_same_bits() -> None:
    """L2: years share what is worked out once for a scenario, but no year disturbs another."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    try:
        with ThreadPoolExecutor(4) as executor:
            shared = replicate(shipped("maple-hollow"), 24, seed=7, executor=executor, workers=4)
    finally:
        sys.setswitchinterval(usual)
    assert differing(alone(), shared) == []


@pytest.mark.parametrize("chunk", [1, 5, 24])
def test_any_sharing_out_gives_the_same_bits(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """L2: tasks of 1, 5 or 24 years."""
    sizes: list[int] = []
    simulate = runs_module.simulate

    def watched(form: str, scenario: bytes, seed: int, first: int, count: int) -> list[bytes]:
        sizes.append(count)
        return simulate(form, scenario, seed, first, count)

    monkeypatch.setattr(runs_module, "MOST_YEARS", chunk)
    monkeypatch.setattr(runs_module, "_TASKS_EACH", 1)
    monkeypatch.setattr(runs_module, "simulate", watched)
    with ThreadPoolExecutor(1) as executor:
        shared = replicate(shipped("maple-hollow"), 24, seed=7, executor=executor)
    assert differing(alone(), shared) == []
    assert max(sizes) == chunk


@pytest.mark.proof
def test_a_search_by_any_executor_gives_the_same_answer() -> None:
    """L2: `find_cadence` takes the caller's executor too, and leaves it open."""

    def answer(**how: Any) -> CadenceAnswer:
        return find_cadence(shipped("maple-hollow-short"), seed=2, budget=500, **how)

    with ThreadPoolExecutor(2) as executor:
        assert answer(executor=executor, workers=2) == answer()
        assert executor.submit(abs, -3).result() == 3


def test_years_asked_for_twice_are_simulated_once() -> None:
    """Trials come in the order in which they were asked for, and equal ones are done once."""
    scenario, other = shipped("maple-hollow-short"), shipped("r8k")
    asked = [(scenario, 3), (other, 3), (scenario, 3), (scenario, 1)]
    with Runs() as runs:
        found = runs.trials(asked, seed=5)
        assert (runs.simulated, runs.done) == (3, 4)
        single = [runs.trials([one], seed=5)[0] for one in asked]
    assert [str(one) for one in found] == [str(one) for one in single]
    assert str(found[0]) == str(found[2]) != str(found[3])


def test_first_says_where_the_replications_begin() -> None:
    """Years 20 to 23 asked for by themselves are those of a longer run."""
    with Runs() as runs:
        last = runs.years(shipped("maple-hollow"), 4, 7, first=20)
    assert last.met.tobytes() == alone().met[20:].tobytes()
    for name, values in bits(last)["values"].items():  # type: ignore[attr-defined]
        assert values == alone().values[name][20:].tobytes()


# -- when a worker or the program ends --------------------------------------------------------


def test_a_worker_that_ends_too_early_is_told_and_the_rest_is_kept() -> None:
    """One message says what to do; no worker is left; years finished before it are kept."""
    held = Unfiled()
    scenario = shipped("small-bench-winter")

    def until_it_breaks() -> None:
        with Runs(workers=2, kept=held) as runs:
            runs.trials([(scenario, n) for n in range(30)])
            for worker in active_children():
                worker.kill()
            runs.trials([(scenario, n) for n in range(30, 60)])

    with pytest.raises(WorkerError, match="fewer --workers"):
        until_it_breaks()
    assert not active_children()
    assert sum(len(years) for _, years in held._new) == 30


@pytest.mark.proof
def test_more_workers_than_the_computer_can_have_are_refused(tmp_path: Path) -> None:
    """Processes that cannot be started make one message, and none is left."""
    process = start(
        tmp_path, "run", SMALL, "--years", 9_000, "--workers", 3_000,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (64, 64)),
    )  # fmt: skip
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (2, "")
    assert err.startswith("seedbeat: --workers 3,000: so many processes cannot be started here")
    assert err.count("\n") == 1
    wait_until_gone(process, 2.0)


def test_kill_9_leaves_no_worker_behind(tmp_path: Path) -> None:
    """Workers end when the process that wanted them is gone, however it went."""
    process = start(tmp_path, "run", DEMO, "--years", 9_000, "--workers", 2)
    wait_until(process, lambda: len(group(process)) == 3, "two workers")
    process.kill()
    process.communicate(timeout=10)
    wait_until_gone(process, 2.0)


def test_a_block_that_ends_with_an_error_ends_its_workers_only() -> None:
    """Processes that somebody else started meanwhile are left alone."""
    scenario = shipped("small-bench-winter")

    def fail(other: Executor) -> None:
        with Runs(workers=2) as runs:
            runs.trials([(scenario, n) for n in range(4)])
            other.submit(abs, -1).result()
            raise ZeroDivisionError

    with ProcessPoolExecutor(1) as other:
        with pytest.raises(ZeroDivisionError):
            fail(other)
        assert len(active_children()) == 1
        assert other.submit(abs, -3).result() == 3
    assert not active_children()


def test_years_that_take_long_do_not_hold_up_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    """Workers that do not end in time are killed; years finished before are kept."""
    ordinary = Bench.year

    def long_after_the_second(bench: Bench, seed: int, replication: int) -> bytes:
        if replication >= 2:
            time.sleep(30)
        return ordinary(bench, seed, replication)

    monkeypatch.setattr(workers_module, "_PATIENCE", 0.2)
    monkeypatch.setattr(Bench, "year", long_after_the_second)
    held = Unfiled()
    scenario = shipped("small-bench-summer")

    def interrupted() -> None:
        with Runs(workers=2, kept=held) as runs:
            runs.trials([(scenario, n) for n in range(2)])
            signal.setitimer(signal.ITIMER_REAL, 0.3)
            runs.trials([(scenario, n) for n in range(2, 200)])

    def raise_interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, raise_interrupt)
    began = time.monotonic()
    try:
        with pytest.raises(KeyboardInterrupt):
            interrupted()
    finally:
        signal.signal(signal.SIGALRM, before)
    assert not active_children()
    assert time.monotonic() - began < 2.5
    assert sum(len(years) for _, years in held._new) == 2


# -- Ctrl-C ------------------------------------------------------------------------------------


def stopped_within_two_seconds(process: subprocess.Popen[str]) -> str:
    """Send Ctrl-C; the message, after all that must hold of any interrupted command.

    Python may also end by the signal itself, which shells tell as 130 too, if it came while a
    module was being loaded.
    """
    took, out, err = interrupt(process)
    assert process.returncode in (130, -signal.SIGINT), err
    assert out == ""
    assert err.startswith(STOPPED)
    assert err.count("\n") == 1, err
    assert took < 2.0
    wait_until_gone(process, 0.5)
    return err


def go_on(folder: Path, args: tuple[object, ...], message: str) -> str:
    """Do what the message says; what the command prints then."""
    said = GO_ON.search(message)
    assert said, message
    assert int(said[1].replace(",", "")) == kept_years(folder / said[2]) > 0
    return finished(folder, *args, *(("--keep", said[4]) if said[4] else ()))


RUN = ("run", SHORT, "--json", "--years", 2000)
CADENCE = ("cadence", SHORT, "--json", "--runs", 500)
KEEP = ("--keep", "my.kept")
FEWER = ("--years", 100)


def wait_until_simulating(process: subprocess.Popen[str], workers: int, folder: Path) -> None:
    """Wait until years are being simulated: the workers are there, or the first years are kept."""
    if workers > 1:
        wait_until(process, lambda: len(group(process)) == 1 + workers, "workers")
        time.sleep(0.1)
    else:
        wait_until(process, lambda: kept_years(folder / "my.kept"), "kept years")


@pytest.mark.parametrize(
    ("args", "workers", "keep", "then"),
    [
        pytest.param(RUN, 2, (), FEWER, id="run-2-fewer"),
        pytest.param(RUN, 2, (), (), id="run-2", marks=pytest.mark.proof),
        pytest.param(RUN, 1, KEEP, (), id="run-1-keep", marks=pytest.mark.proof),
        pytest.param(RUN, 2, KEEP, (), id="run-2-keep", marks=pytest.mark.proof),
        pytest.param(CADENCE, 1, KEEP, (), id="search-1-keep", marks=pytest.mark.proof),
        pytest.param(CADENCE, 2, (), (), id="search-2", marks=pytest.mark.proof),
    ],
)  # fmt: skip
def test_ctrl_c_keeps_what_is_done_and_says_how_to_go_on(
    args: tuple[object, ...], workers: int, keep: tuple[object, ...], then: tuple[object, ...],
    tmp_path: Path,
) -> None:  # fmt: skip
    """Within two seconds: code 130, one line, no worker, no result printed, no file in --out.

    What the message says to do (or the same for fewer years, in less time) ends with the same
    bytes as a command that was not stopped.
    """
    out = tmp_path / "out"
    again = (*args, "--workers", workers, *keep)
    process = start(tmp_path, *again, "--out", out)
    wait_until_simulating(process, workers, tmp_path)
    message = stopped_within_two_seconds(process)
    assert list(out.iterdir()) == []
    assert is_sound(tmp_path / ("my.kept" if keep else f"{args[1].stem}.kept"))
    whole = uninterrupted(*args[:-2], *(then or args[-2:]))
    assert go_on(tmp_path, (*again, *then), message) == whole


@pytest.mark.proof
@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("command", [("run", DEMO, "--years", 5000), ("cadence", SHORT)], ids=str)
def test_ctrl_c_at_any_moment(command: tuple[object, ...], workers: int, tmp_path: Path) -> None:
    """At five moments of the first five seconds, arithmetic included: at once and without noise.

    Moments from a fixed seed. What is kept goes on being kept by the next attempt.
    """
    chance, held = Random(workers), 0
    for _ in range(5):
        process = start(tmp_path, *command, "--workers", workers, "--keep", "my.kept")
        wait_until(process, (tmp_path / "my.kept").exists, "the file")
        time.sleep(chance.uniform(0.0, 5.0))
        message = stopped_within_two_seconds(process)
        nothing = ("nothing was added to my.kept.\n", "no file was written.\n")
        assert GO_ON.search(message) or message.removeprefix(STOPPED) in nothing
        assert kept_years(tmp_path / "my.kept") >= held
        held = kept_years(tmp_path / "my.kept")
    assert held > 0
    assert is_sound(tmp_path / "my.kept")


@pytest.mark.proof
def test_ctrl_c_during_the_arithmetic_of_a_search(tmp_path: Path) -> None:
    """Before any year was simulated nothing is kept and nothing written; it stops at once."""
    process = start(tmp_path, "cadence", DEMO, "--keep", "my.kept", "--out", "out")
    wait_until(process, (tmp_path / "my.kept").exists, "the file")
    time.sleep(0.3)
    message = stopped_within_two_seconds(process)
    assert message == f"{STOPPED}nothing was added to my.kept.\n"
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.proof
def test_more_ctrl_c_while_it_is_stopping_harm_nothing(tmp_path: Path) -> None:
    """Impatience: two to six Ctrl-C, up to 0.1 s apart, change nothing of what one does.

    Twenty times, numbers and pauses from a fixed seed.
    """
    chance = Random(3)
    for _ in range(20):
        process = start(tmp_path, "run", DEMO, "--years", 5000, "--workers", 2)
        wait_until_simulating(process, 2, tmp_path)
        for _ in range(chance.randint(2, 6)):
            if group(process):
                os.killpg(process.pid, signal.SIGINT)
            time.sleep(chance.choice((0.0, 0.001, 0.003, 0.01, 0.03, 0.1)))
        out, err = process.communicate(timeout=20)
        assert (process.returncode, out) == (130, "")
        assert GO_ON.search(err)
        assert err.count("\n") == 1
        wait_until_gone(process, 0.5)
    assert is_sound(tmp_path / "maple-hollow.kept")


def saved(folder: Path, file: str, years: int, monkeypatch: pytest.MonkeyPatch) -> str:
    """What is told when so many years of a scenario file, held in memory, are saved."""
    monkeypatch.chdir(folder)
    held = Unfiled()
    for year in range(years):
        held.add(("year", "0" * 16, 1, 1), {year: b"year"})
    return base._save(held, Namespace(file=file, keep=None))


@pytest.mark.parametrize(
    ("years", "says"),
    [
        (0, ""),
        (1, "1 finished year is kept in my plan.kept; to go on from there give the same command "
            "with --keep 'my plan.kept'"),
        (1234, "1,234 finished years are kept in my plan.kept; to go on from there give the same "
               "command with --keep 'my plan.kept'"),
    ],
)  # fmt: skip
def test_what_is_told_works_when_it_is_copied(
    years: int, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name with spaces is quoted; one year is one year; nothing is said of nothing."""
    assert saved(tmp_path, "plans/my plan.toml", years, monkeypatch) == says
    assert kept_years(tmp_path / "my plan.kept") == years


def test_what_cannot_be_kept_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program's file of that name is left alone, and the message says so."""
    (tmp_path / "plan.kept").write_text("mine")
    told = saved(tmp_path, "plan.toml", 2, monkeypatch)
    assert told.startswith("what was finished could not be kept: plan.kept: ")
    assert "something else" in told
    assert (tmp_path / "plan.kept").read_text() == "mine"


# -- progress ----------------------------------------------------------------------------------


def on_a_terminal(columns: int, *args: object) -> tuple[int, bytes]:
    """Exit code, and what the command writes to a terminal of so many columns as its stderr."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("4H", 24, columns, 0, 0))
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
    process = subprocess.Popen(
        [sys.executable, "-m", "sim", *map(str, args)],
        cwd=ROOT, env={**environment, "TERM": "xterm"}, stdout=subprocess.DEVNULL, stderr=theirs,
    )  # fmt: skip
    os.close(theirs)
    written = b""
    try:
        while more := os.read(ours, 65536):
            written += more
    except OSError:  # how Linux says that nobody writes any more
        pass
    os.close(ours)
    return process.wait(timeout=60), written


CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


def frames(written: bytes) -> list[str]:
    """What was to be seen one after the other, in one line each if nothing wrapped."""
    lines = [CONTROL.sub("", line) for line in written.decode().split("\r\x1b[2K")]
    assert all("\n" not in line.rstrip() for line in lines), lines
    return [line.rstrip() for line in lines if line.strip()]


def test_progress_fits_80_columns_and_tells_what_is_left() -> None:
    """Years done of years at most, time left and candidates left, in one line each time."""
    code, written = on_a_terminal(80, "cadence", SHORT, "--runs", 500, "--workers", 2)
    seen = frames(written)
    assert code == 0
    assert max(map(len, seen)) <= 80
    told = re.compile(
        r"^simulated years .+ +(\d+)/(\d+) (\d:\d\d:\d\d) left (\d+) candidates? left$"
    )
    full = [found for line in seen if (found := told.match(line))]
    assert full
    assert {int(found[2]) for found in full} == {500}
    done = [int(found[1]) for found in full]
    assert done == sorted(done)
    assert 0 < done[-1] <= 500
    assert written.endswith(b"\x1b[2K")  # the bar is wiped out at the end


def test_no_progress_with_json() -> None:
    """Nothing at all is written to stderr, even if it is a terminal."""
    assert on_a_terminal(80, "run", SMALL, "--years", 20, "--json") == (0, b"")


# -- memory ------------------------------------------------------------------------------------


def test_years_held_in_memory_take_no_more_than_three_times_their_size(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """2,000 years of the demo's size, held to be saved on Ctrl-C, and the tables made of them."""
    scenario = shipped("maple-hollow")
    year = Layout(alone().plan).year(1, 0)
    monkeypatch.setattr(Layout, "year", lambda *_: bytes(bytearray(year)))  # a new copy each time
    held = Unfiled()
    with Runs(kept=held) as runs:
        runs.years(scenario, 1)
        tracemalloc.start()
        years = runs.years(scenario, 2_000, first=1)
        now, peak = (bytes_ / (2_000 * len(year)) for bytes_ in tracemalloc.get_traced_memory())
        tracemalloc.stop()
    print(
        f"\n{years.count:,} years of {len(year):,} bytes: {now:.2f} times that, at most {peak:.2f}"
    )
    assert now < 3.0
