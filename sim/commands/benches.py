"""`seedbeat benches`: a form to count what stands there, filled in with what is expected."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command, a_day, finish, positive, seed

if TYPE_CHECKING:
    from sim.telling import Screen


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--on", type=a_day, metavar="DATE", help="the day of the count, before its work (today)"
    )
    parser.add_argument("--years", type=positive, default=40, help="simulated years (40)")
    parser.add_argument("--seed", type=seed, default=1, help="seed of all luck (1)")


def _answer(args: argparse.Namespace) -> Answer:
    from sim.benches_expected import expected
    from sim.benches_file import benches_csv
    from sim.benches_form import benches_answer, form
    from sim.report import ready_folder
    from sim.scenario_file import read_scenario
    from sim.screen import progress

    folder = ready_folder(args.out)
    loaded = read_scenario(args.file)
    with progress("simulated years", quiet=args.json) as heard:
        found = expected(
            loaded.scenario, args.on or date.today(), years=args.years, seed=args.seed,
            progress=heard,
        )  # fmt: skip
    answer = benches_answer(loaded, found, args.seed)
    note = (
        f"What a simulation of {loaded.path.name} expects; nobody has counted it yet. Change the\n"
        "numbers to what you counted, write 0 for what is gone, add rows for what is new."
    )
    files: dict[str, str | bytes] = {
        "benches.html": form(answer),
        "benches.csv": benches_csv(found.benches, loaded.scenario, note),
    }
    return finish(answer, folder, files)


def _screen(answer: Answer) -> Screen:
    from sim import benches_form, telling
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: what should stand there on {telling.iso(answer['day'], year=True)}",
        list(benches_form.sentences(answer)),
        benches_form.tables(answer),
        telling.endings(answer),
    )


COMMAND = Command(
    "benches", "write a form to count what stands in the greenhouse", _options, _answer, _screen
)
