"""`seedbeat worklist`: what to seed, move, harvest, wash and deliver, by day and class period."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from sim.commands.base import (
    Answer,
    Command,
    a_day,
    benches_options,
    finish,
    positive,
    scenario_of,
    seed,
)

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    benches_options(parser)
    parser.add_argument(
        "--week", type=a_day, metavar="DATE", help="any day of the week wanted (this week)"
    )
    parser.add_argument("--years", type=positive, default=40, help="simulated years (40)")
    parser.add_argument("--seed", type=seed, default=1, help="seed of all luck (1)")


def _answer(args: argparse.Namespace) -> Answer:
    from sim.report import ready_folder
    from sim.screen import progress
    from sim.worklist import work_of, worklist_answer

    folder = ready_folder(args.out)
    loaded = scenario_of(args)
    with progress("simulated years", quiet=args.json) as heard:
        week = work_of(
            loaded.scenario, monday=args.week, today=date.today(), years=args.years,
            seed=args.seed, progress=heard,
        )  # fmt: skip
    answer = worklist_answer(loaded, week, args.seed)
    if folder is None:
        return answer

    from sim.worklist_book import workbook
    from sim.worklist_calendar import calendar
    from sim.worklist_page import page

    files: dict[str, str | bytes] = {
        "worklist.html": page(answer),
        "worklist.xlsx": workbook(answer),
        "worklist.ics": calendar(week),
    }
    return finish(answer, folder, files)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_worklist
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: work of the week of {telling.iso(answer['week_of'], year=True)}",
        list(telling_worklist.sentences(answer)),
        telling_worklist.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "worklist", "list the work of a week by day and class period", _options, _answer, _screen
)
