"""`seedbeat new`: ten questions to a first scenario file, and what it then means."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Ask ten numbers and a few facts of the school, write a commented scenario file, and say "
        "what it means. Without a terminal the file is written with example numbers to change. "
        "Ctrl-C keeps the answers; the same command goes on. No file is ever overwritten."
    )


def _answer(args: argparse.Namespace) -> Answer:
    from sim.asking import ask, template
    from sim.checking import check_answer
    from sim.scenario_file import read_scenario

    path, today = Path(args.file), date.today()
    if sys.stdin.isatty() and not args.json:
        written = ask(path, today, input, print)
    else:
        written = template(path, today)
    return {**check_answer(read_scenario(written)), "command": "new", "written": str(written)}


def _screen(answer: Answer) -> Screen:
    from sim.commands.check import COMMAND as CHECK

    screen = CHECK.screen(answer)
    first = (
        f"Written to {answer['written']}: open it in any text editor to change a number, then "
        f"run: seedbeat check {answer['written']}"
    )
    return screen._replace(sentences=[first, *screen.sentences])


COMMAND = Command(
    "new", "write a first scenario file from ten questions", _options, _answer, _screen, files=False
)
