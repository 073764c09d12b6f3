"""`seedbeat cadence`: find the cadence with the fewest wasted plants among those that will do."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.commands.base import (
    Answer,
    Command,
    finish,
    luck_options,
    many_runs,
    positive,
    target_options,
)

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    target_options(parser)
    parser.add_argument(
        "--runs", type=positive, default=6000, help="simulated years at most, all in all (6000)"
    )
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.aim import Aim
    from sim.cadence import search
    from sim.choosing import cadence_answer, flat
    from sim.report import csv_text, ready_folder, tables
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed)
    with many_runs(args) as runs:
        found = search(loaded.scenario, aim, runs)
    answer = cadence_answer(loaded, found, aim)
    files = tables(answer, ("seedings", "bounds", "assumed"))
    files["candidates.csv"] = csv_text(flat(answer["simulated"]))
    return finish(answer, folder, files, _screen)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_cadence
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: the seeding cadence, seed {answer['seed']}",
        list(telling_cadence.sentences(answer)),
        telling_cadence.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command("cadence", "find the seeding cadence", _options, _answer, _screen)
