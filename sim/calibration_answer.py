"""What a calibration found, as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from math import prod
from typing import Any

from sim.agreement import KeyPath
from sim.answers import Answer, about, around, plain
from sim.calibration import Calibration
from sim.calibration_lengths import MUCH_BETTER
from sim.calibration_numbers import TOUCHES, Number, open_part
from sim.calibration_shares import KINSHIP, LEVEL, OWN_WORTH, SPREAD_WORTH
from sim.calibration_stages import StageFound
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario
from sim.written import joined

UNITS = {
    "stand": "percent", "growing loss": "percent", "moving loss": "percent",
    "loss spread": "percentage points", "rare share": "percent", "rare loss": "percent",
    "days": "days", "days spread": "days", "minutes": "minutes", "absence": "percent",
}  # fmt: skip


def calibrate_answer(
    loaded: LoadedScenario,
    found: Calibration,
    records: str,
    *,
    refused: int = 0,
    reading: Sequence[str] = (),
) -> Answer:
    """Everything `seedbeat calibrate` says; `written` and `form` are None until a file is.

    `refused` rows of the records could not be read; `reading` says how the others were.
    """
    table = found.timetable
    answer = {
        **about(loaded, "calibrate"),
        "records": records,
        "rows": found.rows,
        "refused": refused,
        "first_day": table.date_of(found.first_day),
        "last_day": table.date_of(found.last_day),
        "written": None,
        "form": None,
        "numbers": [_number(found, number) for number in found.numbers],
        "shapes": [_shape(one) for one in found.stages if one.shapes],
        "crops": _crops(found),
        "work_change_percent": _work_change(found),
        "count_next": _count_next(found),
        "level": LEVEL,
        "own_worth_batches": OWN_WORTH,
        "likeness_of_crops": KINSHIP,
        "own_spread_worth_batches": SPREAD_WORTH,
        "aic_much_better": MUCH_BETTER,
        "taken": list(found.notes),
        "reading": list(reading),
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def key_of(scenario: Scenario, path: KeyPath) -> str:
    """A key path as the full form spells it, a stage by its name."""
    key = ""
    for at, part in enumerate(path):
        if isinstance(part, int):
            name = scenario.crops[str(path[at - 2])].stages[part].name
            key += f'["{name}"]'
        else:
            key = joined(key, part)
    return key


def _number(found: Calibration, number: Number) -> Answer:
    return {
        "key": key_of(found.timetable.scenario, number.path),
        "where": number.where,
        "kind": number.kind,
        "unit": UNITS[number.kind],
        "old": number.old,
        "new": number.new,
        "low": number.low,
        "high": number.high,
        "n": number.count,
        "of": number.of,
        "moved": number.moved,
        "kept": number.kept,
        "changes_percent": found.effect(number),
        "touches": TOUCHES.get(number.kind, ""),
        "open_percent": open_part(number, found.weights, found.timetable),
    }


def _shape(one: StageFound) -> Answer:
    """The shapes tried for a length, with how much worse than the best each fits."""
    best = min(fit.aic for fit in one.shapes.values())
    return {
        "where": one.where,
        "n": one.seen.lengths.ended,
        "still_growing": len(one.seen.lengths.low) - one.seen.lengths.ended,
        "told_by": one.seen.told_by,
        "old": one.stage.days_shape,
        "new": one.better if one.moved_shape else one.stage.days_shape,
        "moved": one.moved_shape,
        "better": one.better,
        "fits": [{**asdict(f), "worse_by": f.aic - best} for f in one.shapes.values()],
    }


def _crops(found: Calibration) -> list[Answer]:
    """What the numbers mean for a crop: heads of 100 seeds in an ordinary batch, days to ready."""
    told = []
    for name, crop in found.timetable.scenario.crops.items():
        new = {n.path[3:]: n.new for n in found.numbers if n.path[:2] == ("crops", name)}
        old: dict[KeyPath, float] = {}
        for number, stage in enumerate(crop.stages):
            for key in ("days", "loss_percent", "move_loss_percent"):
                old[number, key] = getattr(stage, key)
        told.append(
            {
                "crop": name,
                "heads_of_100": {"old": _heads(old), "new": _heads({**old, **new})},
                "days": {"old": _days(old), "new": _days({**old, **new})},
            }
        )
    return told


def _heads(numbers: Mapping[KeyPath, float]) -> float:
    lost = (
        v for (_, key, *_), v in numbers.items() if key in ("loss_percent", "move_loss_percent")
    )
    return 100.0 * prod(1.0 - percent / 100.0 for percent in lost)


def _days(numbers: Mapping[KeyPath, float]) -> float:
    return sum(value for (_, key, *_), value in numbers.items() if key == "days")


def _work_change(found: Calibration) -> float:
    """What the minutes of all tasks together change [% of the season's minutes of work]."""
    return sum(found.effect(n) for n in found.numbers if n.kind == "minutes")


def _count_next(found: Calibration) -> dict[str, Any] | None:
    if found.most_open is None:
        return None
    number, leaves = found.most_open
    return {**_number(found, number), "leaves_open_percent": leaves}
