"""Every cadence of the demo that a search simulates, each simulated for 400 years.

Run `python tests/brute_force.py [KEPT]` from the project's folder: it writes
tests/results/brute-force.csv anew, in about three minutes on two cores. KEPT is a file of kept
results, with which it can be stopped and resumed.
"""

from __future__ import annotations

import csv
import sys
from datetime import date
from pathlib import Path

from sim.aim import Aim, target_of
from sim.cadence import FRESH_YEARS, YEARS_EACH
from sim.cadence_answer import Target, measured
from sim.candidates import GIVEN, Candidate, list_candidates
from sim.greenhouse.plan import Plan
from sim.kept import Kept
from sim.kind_year import KindYear
from sim.pruning import prune
from sim.runs import Runs
from sim.scenario_file import load_scenario

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
RESULTS = Path(__file__).parent / "results" / "brute-force.csv"
SEED = 400  # luck that no other test uses
YEARS = 400
MOST = (Aim().budget - (GIVEN + 1) * FRESH_YEARS) // YEARS_EACH  # as in `search`


def unpruned(plan: Plan) -> tuple[list[Candidate], Target]:
    """All candidates that pruning leaves to a search, and the target."""
    aim, impossible = Aim(), KindYear(plan).impossible()
    target = target_of(plan, impossible, aim)
    left = prune(
        list_candidates(plan.timetable, plan.leavings), plan, steadiness=aim.steadiness,
        weakest_week=aim.weakest_week, counting=target.weeks, most=MOST,
    ).left  # fmt: skip
    return list(left), target


def main(kept: Path | None = None) -> None:
    """Simulate all and write the table, the fewest wasted plants first."""
    demo = load_scenario(DEMO)
    candidates, target = unpruned(Plan(demo))
    rows = []
    with Runs(workers=2, kept=Kept(kept) if kept else None) as runs:
        for number, candidate in enumerate(candidates):
            scenario = demo.model_copy(update={"cadence": candidate.cadence})
            trials = runs.trials([(scenario, n) for n in range(YEARS)], SEED)
            found = measured(candidate.name, trials, target)
            rows.append(
                {
                    "cadence": candidate.name,
                    "steadiness": round(found.steadiness.mean, 4),
                    "weakest_week": round(found.weakest.met.mean, 4),
                    "week_of": found.weakest.monday,
                    "wasted_plants": round(found.wasted_plants.mean, 1),
                    "wasted_low": round(found.wasted_plants.low, 1),
                    "wasted_high": round(found.wasted_plants.high, 1),
                    "years": YEARS,
                    "simulated_on": date.today(),
                }
            )
            print(f"{number + 1} of {len(candidates)}", end="\r", file=sys.stderr)
    rows.sort(key=lambda row: row["wasted_plants"])
    with RESULTS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
