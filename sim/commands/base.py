"""What all commands share: their shape, their options, and how they come by simulated years."""

from __future__ import annotations

import argparse
import os
import shlex
import signal
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import KeptError, WorkerError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from sim.kept import Kept, Unfiled
    from sim.runs import Runs
    from sim.scenario_file import LoadedScenario
    from sim.telling import Screen

Answer = dict[str, Any]
Files = Mapping[str, str | bytes]


@dataclass(frozen=True)
class Command:
    """One command: `answer` does the work and gives plain data, `screen` tells them.

    Modules of commands import nothing heavy before `answer` is called: `--help` is to be quick.
    """

    name: str
    does: str
    options: Callable[[argparse.ArgumentParser], None]
    answer: Callable[[argparse.Namespace], Answer]
    screen: Callable[[Answer], Screen]
    files: bool = True  # whether it can write files of its answer


def add(commands: Any, command: Command) -> None:
    """Add a command with the options that every command has."""
    parser = commands.add_parser(
        command.name, help=command.does, description=f"{command.does[0].upper()}{command.does[1:]}."
    )
    parser.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    parser.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    if command.files:
        parser.add_argument(
            "--out", type=Path, metavar="DIR", help="also write tables, pictures and a page here"
        )
    else:
        parser.set_defaults(out=None)
    command.options(parser)
    parser.set_defaults(command=command)


def luck_options(parser: argparse.ArgumentParser) -> None:
    """The options of commands that simulate many years."""
    parser.add_argument("--seed", type=seed, default=1, help="seed of all luck (1)")
    parser.add_argument(
        "--workers", type=positive, default=os.cpu_count() or 1, help="processes (all cores)"
    )
    parser.add_argument(
        "--cluster", metavar="ADDRESS", help="simulate on the Dask cluster at this address"
    )
    parser.add_argument(
        "--keep", type=Path, metavar="KEPT",
        help="keep finished years in this file, and do not simulate again what it holds",
    )  # fmt: skip


def benches_options(parser: argparse.ArgumentParser) -> None:
    """The options of commands that may start from today's benches."""
    parser.add_argument(
        "--benches", type=Path, metavar="BENCHES",
        help="start from what stands there, as this file says (an empty greenhouse)",
    )  # fmt: skip
    parser.add_argument(
        "--on", type=a_day, metavar="DATE", help="the day of those benches (as the file says)"
    )


def scenario_of(args: argparse.Namespace) -> LoadedScenario:
    """The scenario of FILE, from the benches on if there are any."""
    from sim.scenario_file import read_scenario

    loaded = read_scenario(args.file)
    if args.benches is None:
        return loaded
    from sim.benches_file import with_benches

    return with_benches(loaded, args.benches, args.on)


def target_options(parser: argparse.ArgumentParser) -> None:
    """The options of commands that search a cadence."""
    parser.add_argument(
        "--steadiness", type=share, default=0.95, metavar="SHARE",
        help="share of weeks that must be met (0.95)",
    )  # fmt: skip
    parser.add_argument(
        "--weakest-week", type=share, default=0.85, metavar="SHARE",
        help="share of years in which every calendar week must be met (0.85)",
    )  # fmt: skip


def positive(text: str) -> int:
    """A whole number of at least 1, from the command line."""
    if not text.isdecimal() or not 1 <= int(text) <= 10_000_000:
        raise argparse.ArgumentTypeError(
            f"must be a whole number from 1 to 10,000,000, but it was {text!r}"
        )
    return int(text)


def seed(text: str) -> int:
    """A seed, from the command line."""
    if not text.isdecimal() or len(text) > 18:
        raise argparse.ArgumentTypeError(
            f"must be a whole number of at most 18 digits, but it was {text!r}"
        )
    return int(text)


def share(text: str) -> float:
    """A share above 0 and at most 1, from the command line."""
    try:
        found = float(text)
    except ValueError:
        found = -1.0
    if not 0.0 < found <= 1.0:
        raise argparse.ArgumentTypeError(
            f"must be a share above 0 and at most 1, such as 0.95, but it was {text!r}"
        )
    return found


def a_day(text: str) -> date:
    """A date, from the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"must be a date written year-month-day, such as 2027-02-01, but it was {text!r}"
        ) from None


class Stopped(KeyboardInterrupt):
    """Ctrl-C during long work; the message says what was kept, and how to go on."""


@contextmanager
def many_runs(args: argparse.Namespace) -> Iterator[Runs]:
    """Simulated years as the options ask for them, with progress; Ctrl-C keeps what is done.

    Raises KeptError or WorkerError if the options cannot be followed, `Stopped` for Ctrl-C.
    """
    from sim.kept import Kept, Unfiled
    from sim.runs import Runs
    from sim.screen import progress

    kept = Kept(args.keep) if args.keep else Unfiled()
    try:
        with (
            first_ctrl_c_only(),
            _cluster(args) as (executor, workers),
            progress("simulated years", quiet=args.json) as heard,
            Runs(workers=workers, executor=executor, kept=kept, progress=heard) as runs,
        ):
            yield runs
    except KeyboardInterrupt:
        told = _save(kept, args)
        nothing = f"nothing was added to {args.keep}" if args.keep else "no file was written"
        raise Stopped(told or nothing) from None
    except WorkerError as error:
        told = _save(kept, args)
        raise WorkerError(f"{error} So far, {told}." if told else str(error)) from None
    finally:
        kept.close()


@contextmanager
def first_ctrl_c_only() -> Iterator[None]:
    """Hear one Ctrl-C and no other: what it begins, to the command's end, is not disturbed."""

    def hear(*_: object) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        raise KeyboardInterrupt

    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:  # ignored, or not ours
        yield
        return
    signal.signal(signal.SIGINT, hear)
    try:
        yield
    finally:
        if signal.getsignal(signal.SIGINT) is hear:
            signal.signal(signal.SIGINT, signal.default_int_handler)


@contextmanager
def _cluster(args: argparse.Namespace) -> Iterator[tuple[Executor | None, int]]:
    """Who simulates, if not local processes, and how many they are."""
    if args.cluster is None:
        yield None, args.workers
        return
    from sim.cluster import cluster

    with cluster(args.cluster) as elsewhere:
        yield elsewhere


def _save(kept: Kept | Unfiled, args: argparse.Namespace) -> str:
    """Keep what was finished, and tell how to go on from there; "" if nothing was finished."""
    from sim.kept import Kept

    try:
        filed = kept if isinstance(kept, Kept) else kept.save(Path(f"{Path(args.file).stem}.kept"))
        kept.close()
    except KeptError as error:
        return f"what was finished could not be kept: {str(error).rstrip('.')}"
    if not filed or not filed.added:
        return ""
    years = f"{filed.added:,} finished {'year is' if filed.added == 1 else 'years are'}"
    again = "again" if filed is kept else f"with --keep {shlex.quote(str(filed.path))}"
    return f"{years} kept in {filed.path}; to go on from there give the same command {again}"


def finish(
    answer: Answer,
    out: Path | None,
    files: Files,
    screen: Callable[[Answer], Screen] | None = None,
    figures: Mapping[str, Any] | None = None,
) -> Answer:
    """Write the files of an answer, if a folder was named: `run.json`, tables, pictures, a page.

    `figures` are matplotlib's, by the stem of their file's name.
    """
    from sim.page import Picture, page
    from sim.report import pictures, run_json, words_of, write_files

    if out:
        figures = figures or {}
        drawn = pictures(figures)
        files = {"run.json": run_json(answer), **files, **drawn}
        if screen:
            shown = [Picture(drawn[f"{name}.png"], words_of(f)) for name, f in figures.items()]
            files["page.html"] = page(screen(answer), answer, shown)
        answer["files"] = [path.name for path in write_files(out, files)]
    return answer
