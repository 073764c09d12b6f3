"""`seedbeat review`: past outlooks against what was written down since."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command, finish

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "records", type=Path, metavar="RECORDS", help="what was done and delivered: CSV or .xlsx"
    )
    parser.add_argument(
        "--outlooks", type=Path, nargs="+", default=[Path()], metavar="DIR",
        help="folders that seedbeat outlook --out wrote to, or folders of these (this folder)",
    )  # fmt: skip


def _answer(args: argparse.Namespace) -> Answer:
    from sim.counts import read_counts
    from sim.report import ready_folder, tables
    from sim.review import review
    from sim.review_answer import review_answer
    from sim.review_files import read_outlooks
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    outlooks = read_outlooks(args.outlooks)
    counts = read_counts(args.records, loaded.scenario)
    answer = review_answer(loaded, review(loaded.scenario, counts, outlooks))
    flat = {**answer, "stages": [{**s, **s["found"]} for s in answer["stages"]]}
    for stage in flat["stages"]:
        del stage["found"]
    return finish(answer, folder, tables(flat, ("pairs", "stages")), _screen)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_review
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: past outlooks and what happened",
        list(telling_review.sentences(answer)),
        telling_review.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "review", "compare past outlooks with what happened, and say what looks off", _options, _answer,
    _screen,
)  # fmt: skip
