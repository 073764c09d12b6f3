"""The search against the rules of a grower without a tool, on a family of invented greenhouses.

Run `python tests/family_table.py [KEPT]` from the project's folder: it writes
tests/results/family.csv anew, in about ten minutes on two cores, and prints the table of the
README. KEPT is a file of kept results, with which it can be stopped and resumed.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from family import KINDS, greenhouse

from sim.aim import Aim
from sim.cadence import FRESH_FROM, search
from sim.cadence_answer import CadenceAnswer, Measured, measured
from sim.kept import Kept
from sim.runs import Runs
from sim.scenario import Scenario

RESULTS = Path(__file__).parent / "results" / "family.csv"
SEED = 14
YEARS = 200
RULES = ("chosen", "counted", "counted_back")

Row = dict[str, object]


def row_of(number: int, runs: Runs) -> Row:
    """Search one greenhouse, and see whether any cadence that was tried meets the target."""
    scenario = greenhouse(number)
    found = search(scenario, Aim(seed=SEED, thorough=True), runs)
    counted, back = (one.measured for one in found.fresh.counted_back)
    row: Row = {"greenhouse": scenario.name, "verdict": found.verdict, "runs": found.runs}
    for rule, one in zip(RULES, (found.fresh.chosen, counted, back), strict=True):
        row |= {
            f"{rule}_weeks_met": round(one.steadiness.mean, 4),
            f"{rule}_weakest_week": round(one.weakest.met.mean, 4),
            f"{rule}_wasted_plants": round(one.wasted_plants.mean),
        }
    row["any_meets"] = "yes" if any(map(meets, others(scenario, found, runs))) else "no"
    return {**row, "years": found.fresh.chosen.years, "simulated_on": date.today()}


def others(scenario: Scenario, found: CadenceAnswer, runs: Runs) -> Iterable[Measured]:
    """Fresh years of the chosen one, or, if there is none, of every cadence that might meet it.

    That is: whose intervals in the search reach both targets.
    """
    yield found.fresh.chosen
    if found.chosen is None:
        for row, candidate in zip(found.rows, found.tried, strict=True):
            if row.steadiness.high < 0.95 or row.weakest.met.high < 0.85:
                continue
            changed = scenario.model_copy(update={"cadence": candidate.cadence})
            asked = [(changed, FRESH_FROM + n) for n in range(YEARS)]
            yield measured(candidate.name, runs.trials(asked, SEED), found.target)


def meets(one: Measured) -> bool:
    """Whether both targets are met, by the estimates alone."""
    return one.steadiness.mean >= 0.95 and one.weakest.met.mean >= 0.85


def markdown(rows: Iterable[Row]) -> str:
    """The README's table."""
    lines = ["| greenhouse | verdict | chosen | counted from a mean week | counted back |"]
    lines.append("|---|---|---|---|---|")
    for row in rows:
        cells = [str(row["greenhouse"]).partition(": ")[2], str(row["verdict"])]
        for rule in RULES:
            met, weakest, wasted = (
                float(str(row[f"{rule}_{name}"]))
                for name in ("weeks_met", "weakest_week", "wasted_plants")
            )
            cells.append(f"{100 * met:.1f} / {100 * weakest:.0f} / {wasted:,.0f}")
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main(kept: Path | None = None) -> None:
    """Search all of the family, and write the table."""
    rows = []
    with Runs(workers=2, kept=Kept(kept) if kept else None) as runs:
        for number in range(len(KINDS)):
            rows.append(row_of(number, runs))
            print(rows[-1], file=sys.stderr)
    with RESULTS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    print(markdown(rows))


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
