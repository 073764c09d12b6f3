"""`seedbeat grant`: a capacity justification as documents, with a proposal or without."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any

from sim.commands.base import (
    Answer,
    Command,
    a_day,
    finish,
    luck_options,
    many_runs,
    positive,
    target_options,
)

if TYPE_CHECKING:
    from sim.grant import Grant
    from sim.runs import Runs
    from sim.scenario_file import LoadedScenario
    from sim.telling import Screen

RUNS = 8_000  # simulated years at most for a largest order
_PICTURES = ("weeks_met", "sites_filled", "ordered_and_delivered", "work_and_staffing")


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--compare", metavar="PROPOSED", help="scenario file of the greenhouse that is proposed"
    )
    parser.add_argument(
        "--years", type=positive, default=200, help="simulated years of each scenario (200)"
    )
    parser.add_argument(
        "--cost", type=cost, action="append", default=[], metavar="NAME=AMOUNT",
        help="a cost, in dollars a year; give it again for more",
    )  # fmt: skip
    parser.add_argument(
        "--wage", type=dollars, metavar="DOLLARS", help="value of an adult's hour, in dollars"
    )
    parser.add_argument(
        "--starts", type=a_day, metavar="DATE", help="day on which the proposal is ready to be used"
    )
    parser.add_argument(
        "--capacity", action="store_true",
        help="also find the largest steady order of each (some minutes)",
    )  # fmt: skip
    target_options(parser)
    luck_options(parser)


def cost(text: str) -> tuple[str, float]:
    """What a cost is for, and dollars a year, from the command line."""
    name, sign, amount = text.partition("=")
    if not sign or not name.strip():
        raise argparse.ArgumentTypeError(
            f"must be NAME=AMOUNT, such as lease=2400, but it was {text!r}"
        )
    return name.strip(), dollars(amount)


def dollars(text: str) -> float:
    """An amount of dollars of at least 0, from the command line."""
    try:
        found = float(text.strip().removeprefix("$").replace(",", ""))
    except ValueError:
        found = -1.0
    if not (isfinite(found) and 0.0 <= found <= 1e12):
        raise argparse.ArgumentTypeError(
            f"must be an amount of dollars of at least 0, such as 2400, but it was {text!r}"
        )
    return found


def _answer(args: argparse.Namespace) -> Answer:
    from sim.grant import justify
    from sim.grant_answer import grant_answer
    from sim.report import pictures, ready_folder, versions
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    present = read_scenario(args.file)
    proposed = read_scenario(args.compare) if args.compare else None
    with many_runs(args) as runs:
        found = justify(
            present, proposed, runs, years=args.years, seed=args.seed, starts=args.starts
        )
        both = [one for one in (present, proposed) if one]
        largest = [_largest(one, args, runs) for one in both] if args.capacity else []
    answer = grant_answer(found, args.cost, args.wage, args.starts, largest)
    answer["versions"] = versions()
    if folder is None:
        return answer
    drawn = pictures(_figures(found))
    return finish(answer, folder, {**documents(answer, drawn), **drawn})


def _largest(loaded: LoadedScenario, args: argparse.Namespace, runs: Runs) -> Answer:
    from sim.aim import Aim
    from sim.capacity import largest_order
    from sim.capacity_answer import capacity_answer

    aim = Aim(args.steadiness, args.weakest_week, RUNS, args.seed)
    return capacity_answer(loaded, largest_order(loaded.scenario, aim, runs), args.seed)


def documents(answer: Answer, drawn: Mapping[str, bytes]) -> dict[str, str | bytes]:
    """The three documents by file name; `drawn` are the pictures by theirs."""
    from sim.grant_book import workbook
    from sim.grant_document import document
    from sim.grant_page import page
    from sim.grant_sections import sections, title

    told, name = sections(answer), title(answer)
    by_stem = {k.removesuffix(".png"): png for k, png in drawn.items() if k.endswith(".png")}
    return {
        "grant.docx": document(name, told, by_stem),
        "grant.html": page(name, told, by_stem),
        "grant.xlsx": workbook(name, told, answer["cautions"]),
    }


def _figures(found: Grant) -> dict[str, Any]:
    """Pictures of the present greenhouse, and of both beside each other."""
    from sim.plots import figures
    from sim.plots_compare import figures as compared
    from sim.year import run

    years = found.present.years
    year = run(found.present.loaded.scenario, seed=years.seed)
    drawn = {name: figure for name, figure in figures(years, year).items() if name in _PICTURES}
    if found.proposed:
        drawn |= compared([years, found.proposed.years], ["A: present", "B: proposal"])
    return drawn


def _screen(answer: Answer) -> Screen:
    from sim import telling_grant
    from sim.telling import Screen

    return Screen(
        f"{answer['scenario']}: capacity justification, {answer['years']:,} simulated years, "
        f"seed {answer['seed']}",
        list(telling_grant.sentences(answer)),
        telling_grant.tables(answer),
        telling_grant.endings(answer),
    )


COMMAND = Command(
    "grant", "write a capacity justification, with a proposal or without", _options, _answer,
    _screen,
)  # fmt: skip
