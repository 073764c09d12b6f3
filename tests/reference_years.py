"""Years of the reference simulation, kept because they take long.

Run `python tests/reference_years.py` from the project's folder: it writes
tests/results/reference-years.csv anew, in about seven minutes on two cores.
"""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

RESULTS = Path(__file__).parent / "results" / "reference-years.csv"
YEARS = {"r8k": 400, "maple-hollow": 100}  # by scenario
_OTHERS = ("scenario", "year", "simulated_on")


def kept_years(scenario: str) -> list[dict[str, float]]:
    """The kept years of a scenario, in their order; what did not happen is left out."""
    with RESULTS.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["scenario"] == scenario]
    assert [int(row["year"]) for row in rows] == list(range(YEARS[scenario]))
    return [{k: float(v) for k, v in row.items() if k not in _OTHERS and v} for row in rows]


def main() -> None:
    """Simulate all and write them."""
    from test_reference_agreement import reference_years, scenario_of

    found = {name: reference_years(scenario_of(name), range(n)) for name, n in YEARS.items()}
    names = sorted({name for years in found.values() for year in years for name in year})
    with RESULTS.open("w", newline="") as file:
        writer = csv.DictWriter(file, [*_OTHERS, *names], restval="", lineterminator="\n")
        writer.writeheader()
        for scenario, years in found.items():
            for number, year in enumerate(years):
                about = {"scenario": scenario, "year": number, "simulated_on": date.today()}
                writer.writerow(about | {name: repr(float(n)) for name, n in year.items()})
    print(f"{sum(map(len, found.values()))} years written to {RESULTS}")


if __name__ == "__main__":
    main()
