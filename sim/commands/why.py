"""`seedbeat why`: why one week is short, back to the seeding, the move or the people."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.commands.base import (
    Answer,
    Command,
    a_day,
    finish,
    luck_options,
    many_runs,
    positive,
)

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--week", type=a_day, required=True, metavar="DATE", help="any day of the week in question"
    )
    parser.add_argument("--years", type=positive, default=200, help="simulated years (200)")
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.greenhouse.plan import Plan
    from sim.report import ready_folder, tables
    from sim.scenario_file import read_scenario
    from sim.telling_why import why_answer
    from sim.why import why

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    with many_runs(args) as runs:
        found = why(loaded.scenario, args.week, runs, years=args.years, seed=args.seed)
    answer = why_answer(loaded, found, Plan(loaded.scenario).timetable, args.seed)
    flat = {"batches": [{k: v for k, v in b.items() if k != "waits"} for b in answer["batches"]]}
    return finish(answer, folder, tables({**answer, **flat}, ("batches", "deliveries")), _screen)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_why
    from sim.telling import Screen, iso

    return Screen(
        f"{answer['scenario']}: the week of {iso(answer['week_of'], year=True)}, short in "
        f"{answer['years_short']} of {answer['years']} years",
        list(telling_why.sentences(answer)),
        telling_why.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command("why", "say why a week is short, back to its cause", _options, _answer, _screen)
