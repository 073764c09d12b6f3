"""`seedbeat swings`: how much the guessed numbers move a cadence, and whether it would change."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from math import nan
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
    from sim.swings_inputs import Input
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--years", type=positive, default=100, help="simulated years each (100)")
    parser.add_argument(
        "--range", nargs=3, action="append", default=[], metavar=("KEY", "LOW", "HIGH"),
        help="move an input from LOW to HIGH, as the table of ranges says it",
    )  # fmt: skip
    parser.add_argument(
        "--search", action="store_true", help="find a cadence first and test that one"
    )
    parser.add_argument(
        "--runs", type=positive, default=6000, help="simulated years of that search, at most (6000)"
    )
    target_options(parser)
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.aim import Aim
    from sim.answers import about, around
    from sim.cadence import search
    from sim.report import ready_folder
    from sim.scenario_file import read_scenario
    from sim.swings import swings_of_found, swings_of_own
    from sim.swings_answer import swings_part

    folder = ready_folder(args.out)
    inputs = with_ranges(args.range)
    loaded = read_scenario(args.file)
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed, thorough=True)
    with many_runs(args) as runs:
        how = {"years": args.years, "inputs": inputs}
        if args.search:
            chosen = search(loaded.scenario, aim, runs)
            found = swings_of_found(loaded.scenario, chosen, runs, args.seed, **how)
        else:
            found = swings_of_own(loaded.scenario, aim, runs, **how)
    answer = {
        **about(loaded, "swings"),
        "seed": args.seed,
        "searched": chosen.sentence if args.search else None,
        "swings": swings_part(found),
        **around(loaded),
    }
    if folder is None:
        return answer

    from sim.plots_swings import swings_figure

    part = answer["swings"]
    return finish(answer, folder, swings_files(part), _screen, {"swings": swings_figure(part)})


def with_ranges(asked: Sequence[Sequence[str]]) -> tuple[Input, ...]:
    """All inputs, those asked for with other ranges: (key, low, high) as text.

    Raises SeedbeatError if a key is unknown or its range cannot be used.
    """
    from sim.agreement import advice
    from sim.errors import SeedbeatError
    from sim.swings_inputs import INPUTS

    found = {moved.key: moved for moved in INPUTS}
    for key, *ends in asked:
        if key not in found:
            raise SeedbeatError(f"--range {key}: is not an input; {advice(key, found)}.")
        try:
            low, high = (float(end) for end in ends)
        except ValueError:
            low, high = nan, nan
        if not -1e6 <= low <= 0 <= high <= 1e6 or low == high:
            example = " ".join(f"{end:g}" for end in found[key].range)
            raise SeedbeatError(
                f"--range {key}: must be two numbers, the first at most 0 and the second at least "
                f"0, such as {example}, but they are {' '.join(ends)}."
            )
        found[key] = replace(found[key], low=low, high=high, why="the range asked for")
    return tuple(found.values())


def swings_files(part: Answer) -> dict[str, str | bytes]:
    """The tables of swings as CSV, by file name."""
    from sim.report import csv_text
    from sim.swings_answer import flat, flat_rivals

    files: dict[str, str | bytes] = {"swings.csv": csv_text(flat(part))}
    if part["rivals"]:
        files["other_cadences.csv"] = csv_text(flat_rivals(part))
    return files


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_swings
    from sim.telling import Screen

    part = answer["swings"]
    return Screen(
        f"{answer['scenario']}: how sure the cadence is, seed {answer['seed']}",
        [*([answer["searched"]] if answer["searched"] else []), *telling_swings.sentences(part)],
        telling_swings.tables(part),
        telling.endings(answer),
    )


COMMAND = Command(
    "swings", "say how much the guessed numbers move a cadence", _options, _answer, _screen
)
