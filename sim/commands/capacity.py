"""`seedbeat capacity`: the largest steady order that some cadence meets."""

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
    parser.add_argument(
        "--crop", metavar="NAME", help="change the orders of this crop only (all crops)"
    )
    parser.add_argument(
        "--case", type=positive, default=24, metavar="HEADS",
        help="heads in a case; orders are whole cases (24)",
    )  # fmt: skip
    target_options(parser)
    parser.add_argument(
        "--runs", type=positive, default=8_000,
        help="simulated years at most, all in all (8000)",
    )  # fmt: skip
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.aim import Aim
    from sim.capacity import largest_order
    from sim.capacity_answer import capacity_answer, flat
    from sim.report import csv_text, ready_folder, tables
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed)
    with many_runs(args) as runs:
        found = largest_order(loaded.scenario, aim, runs, case=args.case, crop=args.crop)
    answer = capacity_answer(loaded, found, args.seed)
    if folder is None:
        return answer
    from sim.plots_capacity import figures

    files = {"sizes.csv": csv_text(flat(answer["sizes"]))}
    files |= tables(answer, ("orders", "seedings", "assumed"))
    return finish(answer, folder, files, _screen, figures(answer))


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_capacity, telling_capacity_tables
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: the largest steady order, seed {answer['seed']}",
        list(telling_capacity.sentences(answer)),
        telling_capacity_tables.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command("capacity", "find the largest steady order", _options, _answer, _screen)
