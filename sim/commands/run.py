"""`seedbeat run`: simulate years of a scenario and answer what a coordinator asks first."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from sim.commands.base import (
    Answer,
    Command,
    benches_options,
    finish,
    luck_options,
    many_runs,
    positive,
    scenario_of,
)

if TYPE_CHECKING:
    from sim.telling import Screen
    from sim.year import Year


def _options(parser: argparse.ArgumentParser) -> None:
    benches_options(parser)
    parser.add_argument("--years", type=positive, default=100, help="simulated years (100)")
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.answers import run_answer
    from sim.report import measures_csv, ready_folder, tables

    folder = ready_folder(args.out)
    loaded = scenario_of(args)
    with many_runs(args) as runs:
        runs.total = args.years
        done = runs.years(loaded.scenario, args.years, args.seed)
    answer = run_answer(loaded, done)
    if folder is None:
        return answer

    from sim.plots import figures
    from sim.year import run

    names = ("weeks", "losses", "work", "sites", "seedings", "assumed")
    year = run(loaded.scenario, seed=args.seed)
    files = {"measures.csv": measures_csv(answer), "rows.csv": _rows(year)}
    files |= tables(answer, names)
    return finish(answer, folder, files, _screen, figures(done, year))


def _rows(year: Year) -> str:
    """The rows of one year as CSV."""
    from io import StringIO

    from sim.records_file import write_rows

    rows = StringIO(newline="")
    write_rows(year.events, year.timetable.start, rows)
    return rows.getvalue()


def _screen(answer: Answer) -> Screen:
    from sim import telling
    from sim.answers import next_seedings
    from sim.telling import Screen

    tables = [
        telling.measures_table(answer),
        telling.weak_weeks_table(answer),
        telling.losses_table(answer),
        telling.work_table(answer),
        telling.sites_table(answer),
    ]
    return Screen(
        f"{answer['scenario']}: {answer['years']:,} simulated years, seed {answer['seed']}",
        list(telling.run_sentences(answer, next_seedings(answer, date.today()))),
        tables,
        telling.endings(answer),
    )


COMMAND = Command("run", "simulate school years and measure them", _options, _answer, _screen)
