"""Today's benches from the records of the season so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from sim.benches_file import starting_from
from sim.benches_rows import benches_of
from sim.counts import Counts, read_counts
from sim.errors import RecordsError
from sim.greenhouse.plan import Plan
from sim.scenario_file import Assumption, LoadedScenario
from sim.school_year import spoken

_MOST = 3  # refused rows that are told


def with_records(
    loaded: LoadedScenario, path: str | Path, day: date | None = None
) -> LoadedScenario:
    """The scenario that starts on a day from what its records say stands there.

    Without a day it is the one after the last record. Raises RecordsError if the records cannot
    be read in full, or the day is not one after their first.
    """
    counts = read_counts(path, loaded.scenario)
    if counts.problems or counts.first is None or counts.last is None:
        raise RecordsError(_not_whole(counts))
    day = day or counts.last + timedelta(days=1)
    if day <= counts.first:
        first = spoken(counts.first, year=True)
        raise RecordsError(
            f"--on {day}: must be after {first}, the first day in {counts.file}; give a later day."
        )
    plan = Plan(loaded.scenario.model_copy(update={"benches": None}))
    benches = benches_of(plan, counts.rows, plan.timetable.day_of(day))
    scenario = starting_from(loaded.scenario, benches, counts.file)
    why = (
        "plants are taken as ready where a record says so; all others grow on from the day they "
        "were moved in"
    )
    assumed = Assumption(counts.file, f"what stands there on {day}", why)
    return replace(loaded, scenario=scenario, assumed=(*loaded.assumed, assumed))


def _not_whole(counts: Counts) -> str:
    """Why records cannot say what stands there."""
    if not counts.problems:
        return f"{counts.file}: must hold records, but it holds none; fill it in first."
    told = "\n".join(
        f'{counts.file}, row {p.row}, column "{p.column}": must be {p.must}; {p.remedy}.'
        for p in counts.problems[:_MOST]
    )
    return (
        f"{told}\nEvery record is needed to know what stands there, but {counts.refused:,} "
        f"row{'s' if counts.refused > 1 else ''} cannot be used; mend them, or count the benches "
        "and give --benches instead."
    )
