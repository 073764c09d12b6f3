"""What is said of a cadence's swings, as plain data: for `swings` and for `cadence --swings`."""

from __future__ import annotations

from dataclasses import asdict

from sim.answers import Answer, plain
from sim.cadence_answer import Difference, Measured
from sim.replications import ROUGH_BELOW
from sim.swings import End, Swing, Swings
from sim.swings_beside import Judged, Tried
from sim.swings_inputs import Input


def swings_part(found: Swings) -> Answer:
    """All swings, the largest first, with the cadence as given and what was left out.

    Shares are between 0 and 1. `told` is a number with its unit, or what changes where several
    numbers differ; `value` is then None.
    """
    ends = [end for swing in found.swings for end in swing.ends if end.told != swing.told]
    part = {
        "cadence": found.name,
        "years": found.years,
        "first_year": found.first,
        "rough": found.years < ROUGH_BELOW,
        "target": {
            "steadiness": found.target.steadiness,
            "weakest_week": found.target.weakest_week,
            "weeks": len(found.target.weeks),
        },
        "given": _judged(found.base),
        "inputs": [_swing(swing) for swing in found.swings],
        "left_out": [{"key": i.key, "label": i.label, "why": why} for i, why in found.left_out],
        "rivals": list(found.rivals),
        "ends": len(ends),
        "ends_tried": found.tried,
    }
    return plain(part)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _swing(swing: Swing) -> Answer:
    return {
        **_about(swing.moved),
        "value": swing.value,
        "told": swing.told,
        "low": _end(swing.low, swing),
        "high": _end(swing.high, swing),
    }


def _about(moved: Input) -> Answer:
    points = "points" if moved.unit == "%" else moved.unit
    return {
        "key": moved.key,
        "label": moved.label,
        "phrase": moved.phrase,
        "unit": moved.unit,
        "range": list(moved.range),
        "range_unit": "%" if moved.how == "percent" else points,
        "why": moved.why,
    }


def _end(end: End, swing: Swing) -> Answer:
    return {
        "value": end.value,
        "told": end.told,
        "moves": end.told != swing.told,
        **_judged(end.judged),
        "steadiness_change": _difference(end.steadiness),
        "weakest_week_change": _difference(end.weakest_week),
    }


def _judged(judged: Judged) -> Answer:
    return {
        **_measured(judged.measured),
        "standing": judged.standing,
        "change": judged.change,
        "instead": judged.instead,
        "rivals": [_tried(t) for t in judged.rivals],
    }


def _tried(tried: Tried) -> Answer:
    return {
        "name": tried.name,
        "standing": tried.standing,
        **_measured(tried.measured),
        "wasted_plants_less": _difference(tried.wasted),
    }


def _measured(m: Measured) -> Answer:
    return {
        "steadiness": asdict(m.steadiness),
        "weakest_week": {"week_of": m.weakest.monday, **asdict(m.weakest.met)},
        "wasted_plants": asdict(m.wasted_plants),
    }


def _difference(d: Difference) -> Answer:
    verdict = d.verdict if d.years > 1 else "could be noise"  # one year has no interval
    return {**asdict(d), "verdict": verdict}


def flat(part: Answer) -> list[Answer]:
    """A row for each end of each range, for a CSV file."""
    return [
        {
            "input": swing["key"],
            "end": side,
            "given": swing["told"],
            "moved_to": end["told"],
            "steadiness": end["steadiness"]["mean"],
            **_columns("steadiness_change", end["steadiness_change"]),
            "weakest_week_of": end["weakest_week"]["week_of"],
            "weakest_week": end["weakest_week"]["mean"],
            **_columns("weakest_week_change", end["weakest_week_change"]),
            "wasted_plants": end["wasted_plants"]["mean"],
            "standing": end["standing"],
            "change": end["change"],
            "instead": end["instead"],
            "why_this_range": swing["why"],
        }
        for swing in part["inputs"]
        for side in ("low", "high")
        for end in [swing[side]]
    ]


def _columns(name: str, difference: Answer) -> Answer:
    return {name: difference["mean"], **{f"{name}_{k}": difference[k] for k in ("low", "high")}}


def flat_rivals(part: Answer) -> list[Answer]:
    """A row for each other cadence wherever it was tried, for a CSV file."""
    states = [("as given", part["given"])]
    states += [
        (f"{swing['label']}: {swing[side]['told']}", swing[side])
        for swing in part["inputs"]
        for side in ("low", "high")
    ]
    return [
        {
            "where": where,
            "cadence": tried["name"],
            "standing": tried["standing"],
            "steadiness": tried["steadiness"]["mean"],
            "weakest_week": tried["weakest_week"]["mean"],
            "wasted_plants": tried["wasted_plants"]["mean"],
            **_columns("wasted_plants_less", tried["wasted_plants_less"]),
        }
        for where, judged in states
        for tried in judged["rivals"]
    ]
