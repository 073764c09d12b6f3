"""`seedbeat sure`: how sure a cadence is with a school's own data, and what to count next."""

from __future__ import annotations

import argparse
from pathlib import Path
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
    from sim.calibration import Calibration
    from sim.scenario_file import LoadedScenario
    from sim.sureness import Sureness
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "records", type=Path, metavar="RECORDS",
        help="what was done and counted in a season: CSV or .xlsx",
    )  # fmt: skip
    parser.add_argument(
        "--sets", type=positive, help="plausible sets of numbers (100, or more for many numbers)"
    )
    parser.add_argument("--years", type=positive, default=60, help="simulated years each (60)")
    parser.add_argument(
        "--search", action="store_true", help="find a cadence first and ask about that one"
    )
    parser.add_argument(
        "--runs", type=positive, default=6000, help="simulated years of that search, at most (6000)"
    )
    target_options(parser)
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.report import csv_text, ready_folder, tables
    from sim.scenario_file import read_scenario
    from sim.sure_answer import sure_answer

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    measured, refused = _measured(args, loaded)
    found, searched = _found(args, measured)
    answer = sure_answer(
        loaded, measured, found, args.records.name, args.seed, searched=searched, refused=refused
    )
    if folder is None:
        return answer

    from sim.plots_sure import figures

    files = tables(answer, ("ranking", "numbers"))
    files["sets.csv"] = csv_text(answer["plausible_sets"])
    return finish(answer, folder, files, _screen, figures(answer))


def _measured(args: argparse.Namespace, loaded: LoadedScenario) -> tuple[Calibration, int]:
    """What the records say of the scenario's numbers, and how many rows were refused."""
    from sim.calibration import calibrate
    from sim.commands.calibrate import read_records

    read = read_records(args.records, loaded)
    return calibrate(read.timetable, read.rows, read.stands), read.refused


def _found(args: argparse.Namespace, measured: Calibration) -> tuple[Sureness, str | None]:
    """How sure the cadence is, and the sentence of the search for it, if there was one."""
    from sim.aim import Aim
    from sim.cadence import search
    from sim.sureness import sureness_of_found, sureness_of_own
    from sim.sureness_draws import calibrated

    scenario = calibrated(measured.timetable.scenario, measured.changes())
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed, thorough=True)
    numbers, how = measured.numbers, {"sets": args.sets, "years": args.years}
    with many_runs(args) as runs:
        if not args.search:
            return sureness_of_own(scenario, numbers, aim, runs, **how), None
        chosen = search(scenario, aim, runs)
        found = sureness_of_found(scenario, numbers, chosen, runs, args.seed, **how)
        return found, chosen.sentence


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_sure, telling_sure_tables
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: how sure the cadence is with the records in {answer['records']}, "
        f"seed {answer['seed']}",
        list(telling_sure.sentences(answer)),
        telling_sure_tables.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "sure", "say how sure a cadence is with the school's own records, and what to count next",
    _options, _answer, _screen,
)  # fmt: skip
