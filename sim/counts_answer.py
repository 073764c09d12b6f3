"""What was read of a school's records, and what was not, as plain data."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

from sim.answers import Answer, about, around, plain
from sim.counts import Counts
from sim.counts_missing import missing_in
from sim.scenario_file import LoadedScenario
from sim.timetable import Timetable


def counts_answer(loaded: LoadedScenario, counts: Counts, today: date | None) -> Answer:
    """Everything `seedbeat counts` says; `exit_code` is 2 if any row was refused."""
    timetable = Timetable(loaded.scenario.model_copy(update={"benches": None}))
    answer = {
        **about(loaded, "counts"),
        "records": counts.file,
        "read_as": counts.read_as,
        "header_row": counts.header_row,
        "by_columns": counts.by_columns,
        "today": today,
        "lines": {
            "below_headings": counts.in_file,
            "read": counts.read,
            "refused": counts.refused,
            "blank": counts.blank,
            "set_aside": len(counts.aside),
        },
        "set_aside": [{"row": row, "why": why} for row, why in counts.aside],
        "first_day": counts.first,
        "last_day": counts.last,
        "batches": list(counts.batches),
        "kinds": [asdict(kind) for kind in counts.kinds],
        "ordered": asdict(counts.ordered) if counts.ordered else None,
        "stands": [asdict(stand) for stand in counts.stands],
        "events": len(counts.rows),
        "problems": [asdict(problem) for problem in counts.problems],
        "reading": list(counts.notes),
        "missing": [asdict(missing) for missing in missing_in(counts, timetable)],
        "exit_code": 2 if counts.problems else 0,
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer
