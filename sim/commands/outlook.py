"""`seedbeat outlook`: the weeks ahead from today's benches, and what still helps."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command, a_day, finish, positive, seed

if TYPE_CHECKING:
    from sim.telling import Screen

MOST_WEEKS = 52


def weeks(text: str) -> int:
    """A number of weeks, from the command line."""
    found = positive(text)
    if found > MOST_WEEKS:
        raise argparse.ArgumentTypeError(
            f"must be a whole number from 1 to {MOST_WEEKS}, but it was {text!r}"
        )
    return found


def _options(parser: argparse.ArgumentParser) -> None:
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument(
        "--benches", type=Path, metavar="BENCHES",
        help="what stands there: a file such as seedbeat benches --out writes",
    )  # fmt: skip
    source.add_argument(
        "--records", type=Path, metavar="RECORDS",
        help="take what stands there from the season's records instead",
    )  # fmt: skip
    parser.add_argument("--on", type=a_day, metavar="DATE", help="the day of the benches")
    parser.add_argument("--weeks", type=weeks, default=8, help="weeks ahead, this one included (8)")
    parser.add_argument("--futures", type=positive, default=200, help="simulated futures (200)")
    parser.add_argument("--seed", type=seed, default=1, help="seed of all luck (1)")


def _answer(args: argparse.Namespace) -> Answer:
    from sim.benches_file import with_benches
    from sim.benches_records import with_records
    from sim.outlook import outlook
    from sim.outlook_answer import flat, kept, outlook_answer
    from sim.report import csv_text, json_text, ready_folder
    from sim.scenario_file import read_scenario
    from sim.screen import progress

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    source = args.benches or args.records
    loaded = (with_benches if args.benches else with_records)(loaded, source, args.on)
    with progress("simulated futures", quiet=args.json) as heard:
        found = outlook(
            loaded.scenario, weeks=args.weeks, futures=args.futures, seed=args.seed, progress=heard
        )
    answer = outlook_answer(loaded, found, source.name)
    if folder is None:
        return answer

    from sim.plots_outlook import figures

    files = {f"{name}.csv": csv_text(rows) for name, rows in flat(answer).items()}
    files["outlook.json"] = json_text(kept(answer))
    return finish(answer, folder, files, _screen, figures(answer, found.table))


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_outlook
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: outlook from {telling.iso(answer['day'], year=True)}, "
        f"seed {answer['seed']}",
        list(telling_outlook.sentences(answer)),
        telling_outlook.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "outlook", "say what deliveries to expect from today's benches, and what helps", _options,
    _answer, _screen,
)  # fmt: skip
