"""What `seedbeat cadence` answers, as plain data."""

from __future__ import annotations

from dataclasses import asdict

from sim.aim import Aim
from sim.answers import Answer, about, around, plain
from sim.cadence_answer import CadenceAnswer, CandidateRow, Compared, Difference, Measured
from sim.scenario_file import LoadedScenario

# what the grid of `candidates`, and what varies the best of it, do not hold
LEFT_OUT = (
    "more than three seeding days a week, more than four weeks from one seeding to the next, days, "
    "weeks or a rule for breaks of its own for each crop, trays that differ between terms or a "
    "later first or earlier last seeding for any but the best cadence"
)


def cadence_answer(loaded: LoadedScenario, found: CadenceAnswer, aim: Aim) -> Answer:
    """Everything `seedbeat cadence` says."""
    answer = {
        **about(loaded, "cadence"),
        "seed": aim.seed,
        "budget": aim.budget,
        "verdict": found.verdict,
        "sentence": found.sentence,
        "target": {
            "steadiness": found.target.steadiness,
            "weakest_week": found.target.weakest_week,
            "weeks": len(found.target.weeks),
        },
        "reachable": found.reachable,
        "impossible_weeks": [asdict(week) for week in found.impossible],
        "chosen": found.chosen.name if found.chosen else None,
        "cadence": found.chosen.cadence.model_dump() if found.chosen else None,
        "seedings": [{"day": s.day, "crop": s.crop, "trays": s.trays} for s in found.seedings],
        "fresh": {
            "chosen": _measured(found.fresh.chosen),
            "own": _compared(found.fresh.own),
            "counted_back": [_compared(rule) for rule in found.fresh.counted_back],
        },
        "own": _row(found.own),
        "nearest": _row(found.nearest) if found.nearest else None,
        "ties": [_row(row) for row in found.ties],
        "pending": [_row(row) for row in found.pending],
        "candidates": found.candidates,
        "pruned": found.candidates - len(found.rows),
        "bounds": [asdict(p) for p in found.pruned],
        "untried": found.untried,
        "ceilings": [asdict(taken) for taken in found.ceilings],
        "least_waste": found.least_waste,
        "left_out": LEFT_OUT,
        "simulated": [_row(row) for row in found.rows],
        "runs": found.runs,
        "allowance": found.allowance,
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _measured(m: Measured) -> Answer:
    return {
        "name": m.name,
        "years": m.years,
        "steadiness": asdict(m.steadiness),
        "weakest_week": {"week_of": m.weakest.monday, **asdict(m.weakest.met)},
        "weeks_below": [{"week_of": w.monday, **asdict(w.met)} for w in m.below],
        "wasted_plants": asdict(m.wasted_plants),
        "unit_fill_rate": asdict(m.unit_fill_rate),
    }


def _row(row: CandidateRow) -> Answer:
    return {"verdict": row.verdict, "cells_per_head": row.cells_per_head, **_measured(row)}


def _compared(c: Compared) -> Answer:
    less = {name: _difference(d) for name, d in c.differences.items()}
    return {**_measured(c.measured), "differences": less}


def _difference(d: Difference) -> Answer:
    return {**asdict(d), "verdict": d.verdict}


def flat(rows: list[Answer]) -> list[Answer]:
    """The candidates' rows as one level of columns, for a CSV file."""
    return [
        {
            "name": r["name"],
            "verdict": r["verdict"],
            "years": r["years"],
            "cells_per_head": r["cells_per_head"],
            "weakest_week_of": r["weakest_week"]["week_of"],
            **{
                f"{measure}_{part}": r[measure][part]
                for measure in ("steadiness", "weakest_week", "wasted_plants", "unit_fill_rate")
                for part in ("mean", "low", "high")
            },
        }
        for r in rows
    ]
