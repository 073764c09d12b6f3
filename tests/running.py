"""The command in processes of its own, to be stopped, killed and gone on with."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing, suppress
from functools import cache
from pathlib import Path

import psutil

ROOT = Path(__file__).parent.parent
SCENARIOS = ROOT / "scenarios"
# the package of this folder, for processes that begin in another
ENVIRONMENT = {
    **os.environ,
    "COLUMNS": "80",
    "PYTHONPATH": os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH")))),
}
PATIENCE = 60.0  # the longest that a test waits for something to happen [s]


def start(folder: Path, *args: object, **options: object) -> subprocess.Popen[str]:
    """`seedbeat` with these arguments in a folder, in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "sim", *map(str, args)],
        cwd=folder, env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True, **options,
    )  # fmt: skip


def finished(folder: Path, *args: object) -> str:
    """What the command prints; it must end well and say nothing on stderr."""
    process = start(folder, *args)
    out, err = process.communicate(timeout=300)
    assert (process.returncode, err) == (0, "")
    return out


@cache
def uninterrupted(*args: object) -> str:
    """What the command prints if nothing happens to it and nothing is kept."""
    return finished(ROOT, *args, "--workers", 1)


def wait_until(process: subprocess.Popen[str], happens: Callable[[], object], what: str) -> None:
    """Look every 10 ms until a condition holds while the command runs."""
    until = time.monotonic() + PATIENCE
    while not happens():
        if time.monotonic() > until or process.poll() is not None:
            for left in group(process):
                left.kill()
            raise AssertionError((what, process.communicate()))
        time.sleep(0.01)


def group(process: subprocess.Popen[str]) -> list[psutil.Process]:
    """Processes of the command's process group that are still alive."""
    found = []
    for pid in psutil.pids():
        with suppress(ProcessLookupError, psutil.NoSuchProcess):
            if os.getpgid(pid) == process.pid:
                member = psutil.Process(pid)
                if member.status() != psutil.STATUS_ZOMBIE:
                    found.append(member)
    return found


def wait_until_gone(process: subprocess.Popen[str], seconds: float) -> None:
    """See that nothing of the command is left after so long at most."""
    until = time.monotonic() + seconds
    while group(process):
        assert time.monotonic() < until, group(process)
        time.sleep(0.02)


def interrupt(process: subprocess.Popen[str]) -> tuple[float, str, str]:
    """Ctrl-C, as a terminal sends it, to the whole group: seconds to the end, stdout, stderr."""
    asked = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=PATIENCE)
    return time.monotonic() - asked, out, err


def kept_years(path: Path) -> int:
    """How many years a file of kept results holds, 0 while it is being made."""
    if not path.exists() or not path.stat().st_size:
        return 0
    with closing(sqlite3.connect(path, timeout=PATIENCE)) as file:
        try:
            return int(file.execute("SELECT count(*) FROM years").fetchone()[0])
        except sqlite3.OperationalError:  # no such table: not made yet
            return 0


def is_sound(path: Path) -> bool:
    """Whether SQLite finds no fault in the whole file."""
    with closing(sqlite3.connect(path, timeout=PATIENCE)) as file:
        return bool(file.execute("PRAGMA integrity_check").fetchall() == [("ok",)])
