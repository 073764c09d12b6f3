"""What each command does: read, simulate, answer, write files. Printing is `screen`'s."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sim.answers import run_answer
from sim.greenhouse.plan import Plan
from sim.replications import Progress, Years, replicate
from sim.report import csv_text, measures_csv, pictures, ready_folder, run_json, tables, write_files
from sim.scenario_file import LoadedScenario, read_scenario

Answer = dict[str, Any]
Files = Mapping[str, str | bytes]


def check(file: str, *, out: Path | None = None) -> Answer:
    """What a scenario means and what it can do at most, without simulation."""
    from sim.checking import check_answer

    folder = ready_folder(out) if out else None
    answer = check_answer(read_scenario(file))
    names = (
        "ceilings",
        "places",
        "crops",
        "work",
        "weeks_over",
        "impossible_weeks",
        "collisions",
        "changed_seedings",
        "seedings",
        "assumed",
    )
    return _written(answer, folder, {**tables(answer, names)})


def run(
    file: str, years: int, seed: int, workers: int,
    *, out: Path | None = None, progress: Progress | None = None,
) -> Answer:  # fmt: skip
    """Simulate years of a scenario and answer what a coordinator asks first."""
    folder = ready_folder(out) if out else None
    loaded = read_scenario(file)
    plan = Plan(loaded.scenario)
    done = replicate(loaded.scenario, years, seed, workers=workers, progress=progress)
    answer = run_answer(loaded, plan, done)
    if folder is None:
        return answer
    names = ("weeks", "losses", "work", "sites", "seedings", "assumed")
    files: dict[str, str | bytes] = {"measures.csv": measures_csv(answer), **tables(answer, names)}
    files |= _typical_year(loaded, plan, done)
    return _written(answer, folder, files)


def _typical_year(loaded: LoadedScenario, plan: Plan, years: Years) -> dict[str, str | bytes]:
    """Pictures, and the rows of the first year."""
    from io import StringIO

    from sim.plots import figures
    from sim.records_file import write_rows
    from sim.year import run as run_one

    year, rows = run_one(loaded.scenario, seed=years.seed), StringIO(newline="")
    write_rows(year.events, plan.timetable.start, rows)
    return {"rows.csv": rows.getvalue(), **pictures(figures(years, year))}


def cadence(
    file: str, seed: int, workers: int, *, steadiness: float, weakest_week: float, runs: int,
    out: Path | None = None, progress: Progress | None = None,
) -> Answer:  # fmt: skip
    """Search the cadence with the fewest wasted plants among those that meet both targets."""
    from sim.cadence import find_cadence
    from sim.choosing import cadence_answer, flat

    folder = ready_folder(out) if out else None
    loaded = read_scenario(file)
    found = find_cadence(
        loaded.scenario, seed=seed, workers=workers, steadiness=steadiness,
        weakest_week=weakest_week, budget=runs, progress=progress,
    )  # fmt: skip
    answer = cadence_answer(loaded, found, seed)
    files = tables(answer, ("seedings", "pruned", "assumed"))
    return _written(
        answer, folder, {"candidates.csv": csv_text(flat(answer["candidates"])), **files}
    )


def _written(answer: Answer, folder: Path | None, files: Files) -> Answer:
    if folder:
        written = write_files(folder, {"run.json": run_json(answer), **files})
        answer["files"] = [path.name for path in written]
    return answer
