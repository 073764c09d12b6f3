"""The outlook as plain data, and what is kept of it for a later review."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import numpy as np

from sim.answers import Answer, about, around, plain
from sim.cautions import COVER_IN_CLOSURES
from sim.comparing import Change
from sim.outlook import ENOUGH, Effect, Outlook, Week
from sim.replications import ROUGH_BELOW
from sim.scenario_file import LoadedScenario
from sim.school_year import monday
from sim.weeks import Floats

MOST_HELPS = 3  # actions named for a week
LEVELS = tuple(step / 20 for step in range(21))  # of the quantiles that are kept
_TOLD = {"p10": 0.1, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p90": 0.9}
_KEPT = ("day", "leaves", "customer", "crop", "ordered", "expected", "sd", "share_complete",
         "quantiles")  # fmt: skip


def outlook_answer(loaded: LoadedScenario, found: Outlook, source: str) -> Answer:
    """Everything `seedbeat outlook` says of benches that came from the file `source`.

    A range is of heads that can be counted, not in between.
    """
    last = found.weeks[-1].monday + timedelta(days=6)
    ordered = sum(week.ordered for week in found.weeks)
    short = np.sum([week.short for week in found.weeks], axis=0)
    answer = {
        **about(loaded, "outlook"),
        "source": source,
        "day": found.table.start,
        "last_day": last,
        "seed": found.seed,
        "futures": len(short),
        "rough": len(short) < ROUGH_BELOW,
        "action_futures": found.action_futures,
        "enough": ENOUGH,
        "total": _heads(ordered, short),
        "weeks": [_week(week, found) for week in found.weeks],
        "deliveries": _deliveries(found),
        "actions": [_action(effect, found) for effect in found.effects],
        **around(loaded),
    }
    if any(action["kind"] == "cover" for action in answer["actions"]):
        answer["cautions"].append(COVER_IN_CLOSURES)
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _heads(ordered: int, short: Floats) -> Answer:
    """Heads to expect of those ordered, with ranges of the futures."""
    heads = ordered - short
    found: dict[str, Any] = {"ordered": ordered, "expected": float(heads.mean())}
    found |= {name: int(_quantile(heads, level)) for name, level in _TOLD.items()}
    return {**found, "share_complete": float((short == 0).mean())}


def _quantile(heads: Floats, level: float) -> float:
    """The least number of heads that at least this share of the futures does not exceed."""
    return float(np.quantile(heads, level, method="inverted_cdf"))


def _week(week: Week, found: Outlook) -> Answer:
    number = (week.monday - monday(found.table.start)).days // 7
    some = week.short[week.short > 0]
    return {
        "week_of": week.monday,
        **_heads(week.ordered, week.short),
        "weak": week.weak,
        "futures_short": len(some),
        "short_when_short": float(some.mean()) if len(some) else 0.0,
        "causes": week.causes,
        "crop": week.crop,
        "last_seeding_that_helps": week.act,
        "seeded_today_is_ready": week.ready,
        "helps": _helps(number, found.effects) if week.weak else [],
    }


def _helps(week: int, effects: Sequence[Effect]) -> list[Answer]:
    """The actions that help a week most, for sure; `action` is its place among the actions."""
    gains = [(e.by_week[week], n) for n, e in enumerate(effects) if week in e.by_week]
    real = [(gain, n) for gain, n in gains if gain.verdict == "real" and gain.mean > 0]
    best = sorted(real, key=lambda one: -one[0].mean)[:MOST_HELPS]
    return [{"action": n, **_change(gain)} for gain, n in best]


def _change(change: Change) -> Answer:
    return {"mean": change.mean, "low": change.low, "high": change.high, "verdict": change.verdict}


def _deliveries(found: Outlook) -> list[Answer]:
    listed = []
    for number, due in enumerate(found.due):
        short = found.short[:, number]
        day = due.leaves.date()
        listed.append({
            "day": day,
            "leaves": f"{due.leaves:%H:%M}",
            "week_of": monday(day),
            "customer": due.customer,
            "crop": due.crop,
            **_heads(due.heads, short),
            "sd": float(short.std()),
            "quantiles": [int(_quantile(due.heads - short, level)) for level in LEVELS],
        })  # fmt: skip
    return listed


def _action(effect: Effect, found: Outlook) -> Answer:
    first = monday(found.table.start)
    told = {key: value for key, value in _fields(effect).items() if key != "scenario"}
    return {
        **told,
        "heads_paused": effect.heads_paused,
        "heads": _change(effect.heads),
        "weeks": _change(effect.weeks),
        "by_week": [
            {"week_of": first + timedelta(days=7 * week), **_change(change)}
            for week, change in effect.by_week.items()
        ],
    }


def _fields(effect: Effect) -> Answer:
    action = effect.action
    return {name: getattr(action, name) for name in action.__dataclass_fields__}


def kept(answer: Answer) -> Answer:
    """What a review needs of an outlook: its day, and the deliveries with their quantiles."""
    names = ("command", "scenario", "file", "scenario_hash", "day", "seed", "futures")
    deliveries = [{key: d[key] for key in _KEPT} for d in answer["deliveries"]]
    return {**{name: answer[name] for name in names}, "levels": LEVELS, "deliveries": deliveries}


def flat(answer: Answer) -> dict[str, list[Answer]]:
    """The answer's tables, each row one level of columns, by name: for CSV files."""
    levels = [f"q{100 * level:02.0f}" for level in LEVELS]
    weeks = [
        {k: v for k, v in week.items() if k not in ("causes", "helps")}
        | {"causes": "; ".join(week["causes"])}
        for week in answer["weeks"]
    ]
    deliveries = [
        {k: v for k, v in d.items() if k != "quantiles"}
        | dict(zip(levels, d["quantiles"], strict=True))
        for d in answer["deliveries"]
    ]
    actions = []
    for action in answer["actions"]:
        row = {k: v for k, v in action.items() if k not in ("heads", "weeks", "by_week", "days")}
        row["days"] = " ".join(action["days"])
        for name in ("heads", "weeks"):
            row |= {f"{name}_{key}": value for key, value in action[name].items()}
        actions.append(row)
    return {"weeks": weeks, "deliveries": deliveries, "actions": actions}
