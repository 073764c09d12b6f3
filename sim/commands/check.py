"""`seedbeat check`: what a scenario means and what it can do at most, without simulation."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from sim.commands.base import Answer, Command, finish

if TYPE_CHECKING:
    from sim.telling import Screen

_TABLES = (
    "ceilings", "places", "crops", "work", "weeks_over", "impossible_weeks", "collisions",
    "changed_seedings", "seedings", "assumed",
)  # fmt: skip


def _options(_: argparse.ArgumentParser) -> None:
    pass


def _answer(args: argparse.Namespace) -> Answer:
    from sim.checking import check_answer
    from sim.report import ready_folder, tables
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    answer = check_answer(read_scenario(args.file))
    return finish(answer, folder, tables(answer, _TABLES), _screen)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_check
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: what was understood, and what can be done at most",
        list(telling_check.sentences(answer)),
        telling_check.tables(answer),
        telling.endings(answer)[1 if answer["assumed"] else 0 :],
    )


COMMAND = Command(
    "check", "say what a scenario means and what it can do at most", _options, _answer, _screen
)
