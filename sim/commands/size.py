"""`seedbeat size`: how large a place, a crew or the cold store must be."""

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

_MOST_DOLLARS = 1e9


def _options(parser: argparse.ArgumentParser) -> None:
    parser.usage = "seedbeat size [options] WHAT FILE"
    parser.add_argument(
        "words", nargs="+", metavar="WHAT",
        help="a place, a crew or: cold store; before or after FILE, which ends in .toml",
    )  # fmt: skip
    parser.add_argument(
        "--years", type=positive, default=100, help="simulated years of each size told (100)"
    )
    parser.add_argument(
        "--case", type=positive, default=24, metavar="HEADS",
        help="heads in a case of the cold store (24)",
    )  # fmt: skip
    parser.add_argument(
        "--cost", action="append", type=_cost, default=[], metavar="NAME=AMOUNT",
        help='dollars a year for one more, such as --cost nursery=40 or --cost "staff '
        'hour=9000"; names are those of the table of more',
    )  # fmt: skip
    parser.add_argument(
        "--runs", type=positive, default=16_000,
        help="simulated years at most, all in all (16000)",
    )  # fmt: skip
    target_options(parser)
    luck_options(parser)


def _cost(text: str) -> tuple[str, float]:
    """A name and dollars a year, from the command line."""
    name, _, amount = text.rpartition("=")
    try:
        dollars = float(amount.strip().removeprefix("$"))
    except ValueError:
        dollars = -1.0
    if not name.strip() or not 0.0 <= dollars <= _MOST_DOLLARS:
        raise argparse.ArgumentTypeError(
            "must be a name, an equals sign and dollars a year from 0 to 1,000,000,000, such as "
            f"nursery=40, but it was {text!r}"
        )
    return name.strip(), dollars


def named(words: list[str]) -> tuple[str, str]:
    """The scenario file and what is to be sized, in either order.

    The file is the first word, or the last, that ends in .toml; if neither does, it is the first.
    What is left is the name, so that "cold store" needs no quotes.
    """
    if words[-1].lower().endswith(".toml") and not words[0].lower().endswith(".toml"):
        return words[-1], " ".join(words[:-1])
    return words[0], " ".join(words[1:])


def _answer(args: argparse.Namespace) -> Answer:
    from sim.aim import Aim
    from sim.report import csv_text, ready_folder, tables
    from sim.scenario_file import read_scenario
    from sim.sizing import size_of
    from sim.sizing_answer import flat_gains, flat_sizes, size_answer

    args.file, what = named([args.file, *args.words])
    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed)
    with many_runs(args) as runs:
        found = size_of(
            loaded.scenario, what, aim, runs,
            years=args.years, case=args.case, costs=dict(args.cost),
        )  # fmt: skip
    answer = size_answer(loaded, found, args.seed)
    if folder is None:
        return answer
    from sim.plots_size import figures

    files = tables(answer, ("tested", "cadences", "assumed"))
    files["sizes.csv"] = csv_text(flat_sizes(answer))
    files["more_of_each.csv"] = csv_text(flat_gains(answer))
    return finish(answer, folder, files, _screen, figures(answer))


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_size, telling_size_tables
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: what size of {answer['what']} is enough, seed {answer['seed']}",
        list(telling_size.sentences(answer)),
        telling_size_tables.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "size", "say how large a place, a crew or the cold store must be", _options, _answer, _screen
)
