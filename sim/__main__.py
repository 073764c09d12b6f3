"""The command line: reads arguments, calls, prints."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sim.errors import SeedbeatError

ABOUT = """Plan the seeding of a school greenhouse.

  seedbeat check FILE     what was understood, and what can be done at most
  seedbeat run FILE       simulate school years: complete or short, and why
  seedbeat cadence FILE   find the seeding cadence that keeps deliveries steady

FILE is a scenario in TOML; scenarios/maple-hollow.toml is an example to copy."""


def parser() -> argparse.ArgumentParser:
    """All commands and their options."""
    main = argparse.ArgumentParser(
        prog="seedbeat", description=ABOUT, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = main.add_subparsers(dest="command", required=True, metavar="COMMAND")
    check = _command(commands, "check", "say what a scenario means and what it can do at most")
    check.set_defaults(call=_check)
    run = _command(commands, "run", "simulate school years and measure them")
    run.add_argument("--years", type=_positive, default=100, help="simulated years (100)")
    _luck(run)
    run.set_defaults(call=_run)
    cadence = _command(commands, "cadence", "find the seeding cadence")
    _luck(cadence)
    cadence.add_argument(
        "--steadiness", type=_share, default=0.95, metavar="SHARE",
        help="share of weeks that must be met (0.95)",
    )  # fmt: skip
    cadence.add_argument(
        "--weakest-week", type=_share, default=0.85, metavar="SHARE",
        help="share of years in which every calendar week must be met (0.85)",
    )  # fmt: skip
    cadence.add_argument(
        "--runs", type=_positive, default=6000, help="simulated years at most, all in all (6000)"
    )
    cadence.set_defaults(call=_cadence)
    return main


def _command(commands: Any, name: str, does: str) -> argparse.ArgumentParser:
    made: argparse.ArgumentParser = commands.add_parser(name, help=does, description=does + ".")
    made.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    made.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    made.add_argument("--out", type=Path, metavar="DIR", help="also write tables and pictures here")
    return made


def _luck(command: argparse.ArgumentParser) -> None:
    command.add_argument("--seed", type=_seed, default=1, help="seed of all luck (1)")
    command.add_argument(
        "--workers", type=_positive, default=os.cpu_count() or 1, help="processes (all cores)"
    )


def _positive(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 10_000_000:
        raise argparse.ArgumentTypeError(
            f"must be a whole number from 1 to 10,000,000, but it was {text!r}"
        )
    return int(text)


def _seed(text: str) -> int:
    if not text.isdecimal() or len(text) > 18:
        raise argparse.ArgumentTypeError(
            f"must be a whole number of at most 18 digits, but it was {text!r}"
        )
    return int(text)


def _share(text: str) -> float:
    try:
        share = float(text)
    except ValueError:
        share = -1.0
    if not 0.0 < share <= 1.0:
        raise argparse.ArgumentTypeError(
            f"must be a share above 0 and at most 1, such as 0.95, but it was {text!r}"
        )
    return share


def _check(args: argparse.Namespace) -> None:
    from sim import commands, screen

    answer = commands.check(args.file, out=args.out)
    _show(args, answer, screen.check)


def _run(args: argparse.Namespace) -> None:
    from sim import commands, screen

    with screen.progress("simulated years", quiet=args.json) as progress:
        answer = commands.run(
            args.file, args.years, args.seed, args.workers, out=args.out, progress=progress
        )
    _show(args, answer, screen.run)


def _cadence(args: argparse.Namespace) -> None:
    from sim import commands, screen

    with screen.progress("simulated years", quiet=args.json) as progress:
        answer = commands.cadence(
            args.file, args.seed, args.workers, steadiness=args.steadiness,
            weakest_week=args.weakest_week, runs=args.runs, out=args.out, progress=progress,
        )  # fmt: skip
    _show(args, answer, screen.cadence)


def _show(
    args: argparse.Namespace, answer: dict[str, Any], tell: Callable[[dict[str, Any]], None]
) -> None:
    if args.json:
        from sim.report import json_text

        print(json_text(answer))
    else:
        tell(answer)
        if args.out:
            print(f"\nWritten to {args.out}: {len(answer['files'])} files, run.json among them.")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0, 2 for input that cannot be used, 130 for Ctrl-C."""
    args = parser().parse_args(argv)
    try:
        args.call(args)
        sys.stdout.flush()
    except SeedbeatError as error:
        print(f"seedbeat: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("seedbeat: stopped by Ctrl-C; no file was written.", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


if __name__ == "__main__":
    sys.exit(main())
