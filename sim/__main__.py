"""The command line: reads arguments, calls, prints."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any

from sim.commands import (
    base,
    benches,
    breaks,
    cadence,
    calibrate,
    capacity,
    check,
    compare,
    counts,
    grant,
    new,
    outlook,
    review,
    run,
    size,
    sure,
    swings,
    why,
    worklist,
)
from sim.errors import SeedbeatError

COMMANDS = (
    new.COMMAND,
    check.COMMAND,
    run.COMMAND,
    cadence.COMMAND,
    swings.COMMAND,
    breaks.COMMAND,
    capacity.COMMAND,
    size.COMMAND,
    compare.COMMAND,
    why.COMMAND,
    worklist.COMMAND,
    grant.COMMAND,
    counts.COMMAND,
    calibrate.COMMAND,
    sure.COMMAND,
    benches.COMMAND,
    outlook.COMMAND,
    review.COMMAND,
)

ABOUT = """Plan the seeding of a school greenhouse.

  seedbeat new FILE       write a first scenario file from ten questions
  seedbeat check FILE     what was understood, and what can be done at most
  seedbeat run FILE       simulate school years: complete or short, and why
  seedbeat cadence FILE   find the seeding cadence that keeps deliveries steady
  seedbeat breaks FILE    rank the closures by harm, and say what helps
  seedbeat capacity FILE  find the largest steady order that can be met
  seedbeat size WHAT FILE say how large a place, crew or cold store must be
  seedbeat swings FILE    say how much the guessed numbers move a cadence
  seedbeat compare FILE OTHER
                          say what differs between scenarios, and what is real
  seedbeat why FILE       say why one week is short, back to its cause
  seedbeat worklist FILE  list the work of a week by day and class period
  seedbeat grant FILE     justify a capacity in a proposal
  seedbeat counts FILE RECORDS
                          read what the school wrote down
  seedbeat calibrate FILE RECORDS
                          put the school's own numbers into the scenario
  seedbeat sure FILE RECORDS
                          how sure a cadence is, and what to count next
  seedbeat benches FILE   a form to count what stands there today
  seedbeat outlook FILE   the coming weeks, from what stands there today
  seedbeat review FILE RECORDS
                          did past outlooks come true?

FILE is a scenario in TOML; scenarios/maple-hollow.toml is an example to copy."""


def parser() -> argparse.ArgumentParser:
    """All commands and their options."""
    main = argparse.ArgumentParser(
        prog="seedbeat", description=ABOUT, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = main.add_subparsers(required=True, metavar="COMMAND")
    for command in COMMANDS:
        base.add(commands, command)
    return main


def _show(args: argparse.Namespace, answer: dict[str, Any]) -> None:
    if args.json:
        from sim.report import json_text

        print(json_text(answer))
        return
    from sim.screen import show

    show(args.command.screen(answer))
    if args.out:
        print(f"\nWritten to {args.out}: {len(answer['files'])} files, run.json among them.")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0, 2 for input that cannot be used, 130 for Ctrl-C."""
    args = parser().parse_args(argv)
    try:
        with base.first_ctrl_c_only():
            answer = args.command.answer(args)
            _show(args, answer)
            sys.stdout.flush()
        return int(answer.get("exit_code", 0))
    except SeedbeatError as error:
        print(f"seedbeat: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt as stopped:
        told = str(stopped) or "no file was written"
        print(f"seedbeat: stopped by Ctrl-C; {told}.", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


if __name__ == "__main__":
    sys.exit(main())
