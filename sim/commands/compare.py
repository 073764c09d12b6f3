"""`seedbeat compare`: what differs between scenarios that meet the same chances, and how surely."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from sim.commands.base import Answer, Command, finish, luck_options, many_runs, positive

if TYPE_CHECKING:
    from sim.comparing import Change, Comparison, Pair
    from sim.replications import Years
    from sim.scenario_file import LoadedScenario
    from sim.telling import Screen

BETTER = {  # 1: more is better, -1: less is better; bench_fill and labor_use are neither
    "unit_fill_rate": 1, "order_fill_rate": 1, "steadiness": 1, "weakest_week": 1,
    "useful_bench_share": 1, "heads_per_week": 1, "wasted_plants": -1,
}  # fmt: skip


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "others", nargs="+", metavar="OTHER", help="one or more scenario files to compare with FILE"
    )
    parser.add_argument(
        "--years", type=positive, default=200, help="simulated years of each scenario (200)"
    )
    luck_options(parser)


def _answer(args: argparse.Namespace) -> Answer:
    from sim.comparing import compare
    from sim.report import csv_text, ready_folder
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    loaded = [read_scenario(file) for file in (args.file, *args.others)]
    with many_runs(args) as runs:
        found = compare([one.scenario for one in loaded], args.years, args.seed, runs)
    answer = compare_answer(loaded, found)
    if folder is None:
        return answer
    from sim.plots_compare import figures

    names = [f"{s['letter']}: {s['label']}" for s in answer["scenarios"]]
    files = {f"{name}.csv": csv_text(rows) for name, rows in flat(answer).items() if rows}
    return finish(answer, folder, files, _screen, figures(found.results, names))


def compare_answer(loaded: Sequence[LoadedScenario], found: Comparison) -> Answer:
    """Everything `seedbeat compare` says."""
    from sim.answers import plain
    from sim.comparing import ERROR, LETTERS, RESAMPLES
    from sim.measures import MEASURES
    from sim.replications import ROUGH_BELOW

    first, lettered = found.results[0], list(zip(LETTERS, loaded, strict=False))
    scenarios = [
        {"letter": letter, "label": label, **_scenario(one, years)}
        for (letter, one), label, years in zip(lettered, labels(loaded), found.results, strict=True)
    ]
    answer = {
        "command": "compare",
        **{key: ", ".join(s[key] for s in scenarios) for key in ("file", "scenario_hash")},
        "seed": first.seed,
        "years": first.count,
        "rough": first.count < ROUGH_BELOW,
        "scenarios": scenarios,
        "comparisons": [
            {"scenario": letter, "less": LETTERS[0], **_pair(pair)}
            for (letter, _), pair in zip(lettered[1:], found.pairs, strict=True)
        ],
        "error": {
            "of_all_verdicts": ERROR,
            "shared_by": len(MEASURES) * len(found.pairs),
            "method": "Bonferroni",
        },
        "resamples": RESAMPLES,
        **_around_all(lettered),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _around_all(lettered: Sequence[tuple[str, LoadedScenario]]) -> Answer:
    """What was assumed and of which scenarios, and inputs, notes, sources and cautions, each once.

    The inputs are those of the first scenario, and those of each other that differ from them.
    """
    from sim.answers import around

    parts = {letter: around(one) for letter, one in lettered}
    assumed: dict[tuple[Any, ...], list[str]] = {}
    for letter, part in parts.items():
        for row in part["assumed"]:
            assumed.setdefault(tuple(row.items()), []).append(letter)
    return {
        "assumed": [{"of": ", ".join(of), **dict(row)} for row, of in assumed.items()],
        "inputs": list(_inputs(parts)),
        "notes": _once(parts, "notes"),
        "sources": {letter: part["sources"] for letter, part in parts.items()},
        "cautions": _once(parts, "cautions"),
    }


def _inputs(parts: dict[str, Answer]) -> Iterator[Answer]:
    first = next(iter(parts.values()))["inputs"]
    for letter, part in parts.items():
        for row in part["inputs"]:
            if part["inputs"] is first or row not in first:
                yield {**row, "where": f"{letter}: {row['where']}"}


def _once(parts: dict[str, Answer], key: str) -> list[str]:
    return list(dict.fromkeys(text for part in parts.values() for text in part[key]))


def labels(loaded: Sequence[LoadedScenario]) -> list[str]:
    """A name for each: the scenario's, or if names repeat the file's, or if those do the path."""
    names, files = [one.scenario.name for one in loaded], [one.path.name for one in loaded]
    ways = (names, files, [str(one.path) for one in loaded])
    return next((way for way in ways if len(set(way)) == len(way)), files)


def _scenario(loaded: LoadedScenario, years: Years) -> Answer:
    from dataclasses import asdict

    from sim.answers import about

    table, week = years.timetable, years.weakest
    known = {key: value for key, value in about(loaded, "compare").items() if key != "command"}
    return {
        **known,
        "window": {
            "first_day": table.date_of(table.window_start),
            "last_day": table.date_of(table.window_end - 1),
            "weeks": table.weeks,
        },
        "weeks_due": int((years.met[0] >= 0).sum()),
        "ordered_per_week": float(years.weekly["heads ordered"].mean()),
        "measures": {name: asdict(e) for name, e in years.measures().items()},
        "weakest_week_of": None if week is None else table.week_monday(week),
    }


def _pair(pair: Pair) -> Answer:
    from dataclasses import asdict

    return {
        "not_like_for_like": list(pair.unlike),
        "differences": {name: _change(name, change) for name, change in pair.changes.items()},
        "weeks": [asdict(week) for week in pair.weeks],
    }


def _change(name: str, change: Change) -> dict[str, Any]:
    from dataclasses import asdict

    side = BETTER.get(name, 0) * change.mean if change.verdict == "real" else 0.0
    words = {True: "better", False: "worse"}
    return {
        **asdict(change),
        "same_in_every_year": change.exact,
        "verdict": change.verdict,
        "direction": words[side > 0] if side else None,
    }


def flat(answer: Answer) -> dict[str, list[Answer]]:
    """The answer's tables, each row one level of columns, by name: for CSV files."""
    pairs = [({"scenario": p["scenario"], "less": p["less"]}, p) for p in answer["comparisons"]]
    return {
        "measures": [
            {"scenario": s["letter"], "name": s["label"], "measure": name, **estimate}
            for s in answer["scenarios"]
            for name, estimate in s["measures"].items()
        ],
        "differences": [
            {**which, "measure": name, **change}
            for which, pair in pairs
            for name, change in pair["differences"].items()
        ],
        "weeks": [{**which, **week} for which, pair in pairs for week in pair["weeks"]],
    }


def _screen(answer: Answer) -> Screen:
    from sim import telling_compare
    from sim.telling import Screen

    return Screen(
        f"{len(answer['scenarios'])} scenarios compared: {answer['years']:,} simulated years of "
        f"each, seed {answer['seed']}",
        list(telling_compare.sentences(answer)),
        telling_compare.tables(answer),
        telling_compare.endings(answer),
    )


COMMAND = Command("compare", "compare scenarios under the same chances", _options, _answer, _screen)
