"""A review as plain data."""

from __future__ import annotations

from dataclasses import asdict

from sim.answers import Answer, about, around, plain
from sim.review import LEAST_WEEKS, SHARE, Mean, Review, Score
from sim.review_stages import LEAST_BATCHES
from sim.scenario_file import LoadedScenario

_ROUNDING = 1e-9


def review_answer(loaded: LoadedScenario, found: Review) -> Answer:
    """Everything `seedbeat review` says."""
    answer = {
        **about(loaded, "review"),
        "records": found.records,
        "refused_rows": found.refused,
        "outlooks": found.outlooks,
        "first_day": found.first,
        "last_day": found.last,
        "compared": len(found.pairs),
        "not_yet": found.not_yet,
        "unwritten": found.unwritten,
        "changed": found.changed,
        "share": SHARE,
        "least_weeks": LEAST_WEEKS,
        "least_batches": LEAST_BATCHES,
        "score": _score(found.whole) if found.whole else None,
        "by_lead": [
            {"from": span[0], "to": span[1], "score": _score(score)}
            for span, score in found.by_lead
        ],
        "stages": [
            {**asdict(look), "enough": look.enough, "off": look.off} for look in found.stages
        ],
        "pairs": [{**asdict(p), "lead": p.lead, "inside": p.inside} for p in found.pairs],
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _score(score: Score) -> Answer:
    return {
        **asdict(score),
        "inside_count": round(score.inside * score.pairs),
        "enough": score.enough,
        "verdict": _verdict(score.weight),
        "leans": _leans(score.bias),
    }


def _verdict(weight: Mean) -> str:
    """Whether the ranges were as wide as they should be."""
    if weight.low - _ROUNDING <= SHARE <= weight.high + _ROUNDING:
        return "as they should be"
    return "too narrow" if weight.high < SHARE else "too wide"


def _leans(bias: Mean) -> str:
    """What the outlooks expect: too many heads, too few, or neither for sure."""
    if bias.low - _ROUNDING <= 0.0 <= bias.high + _ROUNDING:
        return "none"
    return "too many" if bias.high < 0.0 else "too few"
