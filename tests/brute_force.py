"""Every cadence of the demo that could waste as few plants as the chosen one, 400 years each.

Simulated are all that break no bound and whose least waste by arithmetic is below what the chosen
one wastes, and all that a search with seed 1 tried, what varies the best included. Run
`python tests/brute_force.py [KEPT]` from the project's folder: it writes
tests/results/brute-force.csv anew, in about ten minutes on two cores. KEPT is a file of kept
results, with which it can be stopped and resumed.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from sim.aim import Aim
from sim.cadence import search
from sim.cadence_answer import CadenceAnswer, Measured, measured
from sim.candidates import Candidate, list_candidates
from sim.greenhouse.plan import Plan
from sim.kept import Kept
from sim.pruning import Judge, pruned
from sim.runs import Runs
from sim.scenario_file import load_scenario

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
RESULTS = Path(__file__).parent / "results" / "brute-force.csv"
SEED = 400  # luck that no other test uses
YEARS = 400


def unpruned(plan: Plan, found: CadenceAnswer) -> Iterator[tuple[str, Candidate]]:
    """Candidates that no arithmetic keeps out, with where they are listed: grid or variant."""
    aim = Aim(thorough=True)
    judge = Judge(plan, found.target.weeks, aim.steadiness, aim.weakest_week, chances=True)
    grid = pruned(list_candidates(plan.timetable, plan.leavings), judge, None)
    names = {candidate.name for candidate in grid.left}
    tried = {candidate.name for candidate in found.tried}
    level = found.fresh.chosen.wasted_plants.high
    for candidate, floor in zip(grid.left, grid.floors, strict=True):
        if floor < level or candidate.name in tried:
            yield "grid", candidate
    for candidate in found.tried:
        if candidate.name not in names:
            yield "variant", candidate


def simulated(candidate: Candidate, found: CadenceAnswer, runs: Runs) -> Measured:
    """400 years of a cadence of the demo, in luck that no search saw."""
    scenario = load_scenario(DEMO).model_copy(update={"cadence": candidate.cadence})
    trials = runs.trials([(scenario, n) for n in range(YEARS)], SEED)
    return measured(candidate.name, trials, found.target)


def row_of(listed: str, one: Measured) -> dict[str, object]:
    """A row of the table."""
    return {
        "cadence": one.name,
        "listed": listed,
        "steadiness": round(one.steadiness.mean, 4),
        "weakest_week": round(one.weakest.met.mean, 4),
        "week_of": one.weakest.monday,
        "wasted_plants": round(one.wasted_plants.mean, 1),
        "wasted_low": round(one.wasted_plants.low, 1),
        "wasted_high": round(one.wasted_plants.high, 1),
        "years": YEARS,
        "simulated_on": date.today(),
    }


def main(kept: Path | None = None) -> None:
    """Simulate all and write the table, the fewest wasted plants first."""
    demo = load_scenario(DEMO)
    rows: list[dict[str, object]] = []
    with Runs(workers=2, kept=Kept(kept) if kept else None) as runs:
        found = search(demo, Aim(thorough=True), runs)
        candidates = list(unpruned(Plan(demo), found))
        for number, (listed, candidate) in enumerate(candidates):
            rows.append(row_of(listed, simulated(candidate, found, runs)))
            print(f"{number + 1} of {len(candidates)}", end="\r", file=sys.stderr)
    rows.sort(key=lambda row: float(str(row["wasted_plants"])))
    with RESULTS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
