"""`seedbeat counts`: read what a school wrote down, and say row by row what cannot be used."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command, a_day, finish

if TYPE_CHECKING:
    from sim.counts import Counts
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "records", metavar="RECORDS", help="what was done and counted: CSV or .xlsx, such as the "
        'sheet "Counts" of a work list, filled in',
    )  # fmt: skip
    parser.add_argument(
        "--today", type=a_day, metavar="DATE", help="refuse rows of later days (today)"
    )


def _answer(args: argparse.Namespace) -> Answer:
    from sim.counts import read_counts
    from sim.counts_answer import counts_answer
    from sim.report import csv_text, ready_folder, tables
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    loaded, today = read_scenario(args.file), args.today or date.today()
    counts = read_counts(args.records, loaded.scenario, today=today)
    answer = counts_answer(loaded, counts, today)
    files = {"records.csv": _rows(counts), "refused.csv": csv_text(answer["problems"])}
    files |= tables(answer, ("kinds", "stands"))
    return finish(answer, folder, files, _screen)


def _rows(counts: Counts) -> str:
    """The rows as CSV in the form of a run's."""
    from io import StringIO

    from sim.records_file import write_rows

    rows = StringIO(newline="")
    write_rows(counts.rows, counts.start, rows)
    return rows.getvalue()


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_counts
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: the records in {answer['records']}",
        list(telling_counts.sentences(answer)),
        telling_counts.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "counts", "read what the school wrote down, row by row", _options, _answer, _screen
)
