"""What `seedbeat sure` says, as plain data."""

from __future__ import annotations

from dataclasses import asdict
from statistics import NormalDist

import numpy as np

from sim.answers import Answer, about, around, plain
from sim.calibration import Calibration
from sim.calibration_answer import UNITS, key_of
from sim.calibration_shares import LEVEL
from sim.replications import ROUGH_BELOW
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario
from sim.sureness import Sureness
from sim.sureness_counts import Counted, Ranking
from sim.sureness_draws import Plausible
from sim.sureness_split import ALPHA, Split
from sim.swings_inputs import INPUTS

_QUANTILES = {"p05": 0.05, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p95": 0.95}
_TOLD_BY_RECORDS = (  # inputs of `swings` that a calibration measures
    "stand", "moving-loss", "grow-out-loss", "spread", "nursery-days", "grow-out-days",
    "task-minutes", "absence", "rare-event",
)  # fmt: skip


def sure_answer(
    loaded: LoadedScenario, found: Calibration, sure: Sureness, records: str, seed: int, *,
    searched: str | None = None, refused: int = 0,
) -> Answer:  # fmt: skip
    """Everything `seedbeat sure` says; `searched` is the sentence of a search for the cadence.

    Shares are between 0 and 1; those of the ranking are of all that is uncertain of the steadiness.
    """
    table = found.timetable
    answer = {
        **about(loaded, "sure"),
        "records": records,
        "rows": found.rows,
        "refused": refused,
        "first_day": table.date_of(found.first_day),
        "last_day": table.date_of(found.last_day),
        "seed": seed,
        "searched": searched,
        **_standing(sure),
        "split": {
            "steadiness": _split(sure.steadiness, 1.0),
            "heads_per_week": _split(sure.heads, sure.ordered),
        },
        **_numbers(loaded.scenario, sure),
        "plausible_sets": _sets(loaded.scenario, sure),
        "level": LEVEL,
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _standing(sure: Sureness) -> Answer:
    """The cadence and its target, how many sets meet it, and what comes of them."""
    measured = sure.as_measured
    return {
        "cadence": sure.name,
        "years": sure.years,
        "first_year": sure.first,
        "rough": sure.years < ROUGH_BELOW,
        "target": {
            "steadiness": sure.target.steadiness,
            "weakest_week": sure.target.weakest_week,
            "weeks": len(sure.target.weeks),
            "weeks_left_out": sure.left_out,
        },
        "verdict": sure.meeting.verdict,
        "sets": asdict(sure.meeting),
        "as_measured": {
            "steadiness": asdict(measured.steadiness),
            "weakest_week": {"week_of": measured.weakest.monday, **asdict(measured.weakest.met)},
            "heads_per_week": sure.ordered * measured.unit_fill_rate.mean,
            "standing": sure.stands,
        },
        "ordered_per_week": sure.ordered,
        "over_sets": {
            name: _over_sets([getattr(one, name) for one in sure.sets])
            for name in ("steadiness", "weakest_week", "heads_per_week")
        },
    }


def _numbers(scenario: Scenario, sure: Sureness) -> Answer:
    """How each number varies, and which count would help most."""
    ranking = sure.ranking
    return {
        "numbers": [_number(scenario, one) for one in sure.numbers],
        "ranking": [_counted(scenario, row) for row in ranking.rows] if ranking else [],
        "explained": ranking.explained if ranking else None,
        "takes_off_again": sum(row.again for row in ranking.rows) if ranking else None,
        "count_next": _count_next(scenario, ranking),
        "never_counted": _never_counted(scenario),
    }


def _over_sets(values: list[float]) -> Answer:
    """The middle of the sets, and what so many lie below."""
    return {name: float(np.quantile(values, q)) for name, q in _QUANTILES.items()}


def _split(found: Split, most: float) -> Answer:
    """The mean over all sets and years, its normal 95 % interval, and what its error is made of.

    The interval is that of the mean under the true numbers, which is `most` at most.
    """
    parts = found.parts
    half = NormalDist().inv_cdf(1.0 - ALPHA / 2.0) * parts.total**0.5
    return {
        "mean": parts.mean,
        "low": max(parts.mean - half, 0.0),
        "high": min(parts.mean + half, most),
        "standard_error": parts.total**0.5,
        "variance_between_sets": parts.between,
        "variance_of_luck": parts.luck,
        "variance_of_both": parts.both,
        **{name: asdict(part) for name, part in found.shares.items()},
    }


def _number(scenario: Scenario, one: Plausible) -> Answer:
    number = one.number
    return {
        "key": key_of(scenario, number.path),
        "where": number.where,
        "kind": number.kind,
        "unit": UNITS[number.kind],
        "value": number.new,
        "how": one.how,
        "low": one.low,
        "high": one.high,
        "n": number.count,
        "of": number.of,
        "why": one.why,
    }


def _counted(scenario: Scenario, row: Counted) -> Answer:
    return {
        **_number(scenario, row.of),
        "share": row.share,
        "more": row.more,
        "takes_off": row.takes_off,
        "takes_off_error": row.error,
        "takes_off_again": row.again,
    }


def _count_next(scenario: Scenario, ranking: Ranking | None) -> Answer | None:
    """The count to take next, what else it tells, and the counts that come after it."""
    if ranking is None or not ranking.counts or ranking.rows[0].takes_off <= 0.0:
        return None
    first, *then = ([row for row in of if row.takes_off > 0.0] for of in ranking.counts)
    return {
        **_together(scenario, first),
        "clear": ranking.clear,
        "then": [_together(scenario, of) for of in then[:2] if of],
    }


def _together(scenario: Scenario, of: list[Counted]) -> Answer:
    """A way of counting: the number that it tells best, the others, and what all take off."""
    first, *beside = of
    return {
        **_counted(scenario, first),
        "beside": [_counted(scenario, row) for row in beside],
        "takes_off_together": sum(row.takes_off for row in of),
    }


def _never_counted(scenario: Scenario) -> list[Answer]:
    """What is guessed and no record tells, so that it stayed as given in all sets."""
    return [
        {"key": one.key, "label": one.label}
        for one in INPUTS
        if one.key not in _TOLD_BY_RECORDS and list(one.find(scenario))
    ]


def _sets(scenario: Scenario, sure: Sureness) -> list[Answer]:
    """A row for each set: what came of it, and its numbers by key."""
    keys = [key_of(scenario, one.number.path) for one in sure.varying]
    return [
        {
            "set": which,
            "standing": one.standing,
            "reached": one.reached,
            "steadiness": one.steadiness,
            "weakest_week": one.weakest_week,
            "heads_per_week": one.heads_per_week,
            **dict(zip(keys, one.values, strict=True)),
        }
        for which, one in enumerate(sure.sets)
    ]
