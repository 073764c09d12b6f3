"""`seedbeat breaks`: what each closure does to deliveries and benches, and what helps."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.commands.base import (
    Answer,
    Command,
    a_day,
    benches_options,
    finish,
    luck_options,
    many_runs,
    positive,
    scenario_of,
    share,
)

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    benches_options(parser)
    one = parser.add_mutually_exclusive_group()
    one.add_argument(
        "--closure", metavar="NAME|DATE", help="study this closure only, in full (all closures)"
    )
    one.add_argument(
        "--surprise", type=a_day, metavar="DATE",
        help="study a week in which, by surprise, nobody comes: the week of this date",
    )  # fmt: skip
    parser.add_argument(
        "--years", type=positive, default=100,
        help="simulated years of each closure; two fifths of them of each remedy, one fifth of "
        "each surprise week (100)",
    )  # fmt: skip
    parser.add_argument(
        "--weakest-week", type=share, default=0.85, metavar="SHARE",
        help="share of years in which every week that a closure touches is to be complete (0.85)",
    )  # fmt: skip
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.breaks import breaks
    from sim.breaks_answer import breaks_answer, flat
    from sim.report import csv_text, ready_folder, tables

    folder = ready_folder(args.out)
    loaded = scenario_of(args)
    with many_runs(args) as runs:
        found = breaks(
            loaded.scenario, runs, years=args.years, seed=args.seed,
            weakest_week=args.weakest_week, closure=args.closure, surprise=args.surprise,
        )  # fmt: skip
    answer = breaks_answer(loaded, found, args.seed, args.closure or args.surprise)
    if folder is None:
        return answer
    from sim.plots_breaks import figures

    files = {f"{name}.csv": csv_text(rows) for name, rows in flat(answer).items()}
    files |= tables(answer, ("assumed",))
    return finish(answer, folder, files, _screen, figures(answer, found.table))


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_breaks, telling_breaks_tables
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: closures and what helps, seed {answer['seed']}",
        list(telling_breaks.sentences(answer)),
        telling_breaks_tables.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "breaks", "say what closures do to deliveries, and what helps", _options, _answer, _screen
)
