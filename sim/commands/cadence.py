"""`seedbeat cadence`: find the cadence with the fewest wasted plants among those that will do."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from sim.commands.base import (
    Answer,
    Command,
    benches_options,
    finish,
    luck_options,
    many_runs,
    positive,
    scenario_of,
    target_options,
)

if TYPE_CHECKING:
    from sim.cadence_answer import CadenceAnswer
    from sim.runs import Runs
    from sim.scenario import Scenario
    from sim.telling import Screen

DRAWN = 100  # fresh years of the chosen cadence that are drawn


def _options(parser: argparse.ArgumentParser) -> None:
    benches_options(parser)
    target_options(parser)
    parser.add_argument(
        "--runs", type=positive, default=6000, help="simulated years at most, all in all (6000)"
    )
    parser.add_argument(
        "--swings", action="store_true",
        help="also move each guessed number over its range, and see what would change",
    )  # fmt: skip
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.aim import Aim
    from sim.cadence import search
    from sim.choosing import cadence_answer, flat
    from sim.report import csv_text, ready_folder, tables
    from sim.swings import swings_of_found
    from sim.swings_answer import swings_part

    folder = ready_folder(args.out)
    loaded = scenario_of(args)
    aim = Aim(args.steadiness, args.weakest_week, args.runs, args.seed, thorough=True)
    with many_runs(args) as runs:
        found = search(loaded.scenario, aim, runs)
        moved = swings_of_found(loaded.scenario, found, runs, args.seed) if args.swings else None
        drawn = _figures(loaded.scenario, found, runs, args.seed) if folder else {}
    answer = cadence_answer(loaded, found, aim)
    if moved:
        answer["swings"] = swings_part(moved)
    if folder is None:
        return answer
    files = tables(answer, ("seedings", "bounds", "ceilings", "assumed"))
    files["candidates.csv"] = csv_text(flat(answer["simulated"]))
    if not moved:
        return finish(answer, folder, files, _screen, drawn)

    from sim.commands.swings import swings_files
    from sim.plots_swings import swings_figure

    drawn["swings"] = swings_figure(answer["swings"])
    return finish(answer, folder, files | swings_files(answer["swings"]), _screen, drawn)


def _figures(scenario: Scenario, found: CadenceAnswer, runs: Runs, seed: int) -> dict[str, Any]:
    """The pictures of `run`, of fresh years of the chosen cadence; none if none was chosen."""
    from sim.cadence import FRESH_FROM
    from sim.plots import figures
    from sim.year import run

    if found.chosen is None:
        return {}
    chosen = scenario.model_copy(update={"cadence": found.chosen.cadence})
    runs.total, runs.note = runs.done + DRAWN, "pictures of the chosen cadence"
    years = runs.years(chosen, DRAWN, seed, first=FRESH_FROM)
    return figures(years, run(chosen, seed=seed, replication=FRESH_FROM))


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_cadence, telling_swings
    from sim.telling import Screen

    sentences, tables = list(telling_cadence.sentences(answer)), telling_cadence.tables(answer)
    if part := answer.get("swings"):
        sentences += telling_swings.sentences(part)
        tables += telling_swings.tables(part)
    return Screen(
        f"{answer['scenario']}: the seeding cadence, seed {answer['seed']}",
        sentences,
        tables,
        telling.endings(answer),
    )


COMMAND = Command("cadence", "find the seeding cadence", _options, _answer, _screen)
