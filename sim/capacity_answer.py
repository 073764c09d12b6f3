"""What `seedbeat capacity` answers, as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict

from sim.answers import Answer, about, around, plain
from sim.cadence import STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.cadence_answer import Measured
from sim.capacity import Capacity, Claim
from sim.capacity_limits import Limits
from sim.capacity_room import MOST_TIMES, Bound
from sim.capacity_sizes import Size
from sim.capacity_steps import Tried, plain_name
from sim.measures import Frame
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario
from sim.timetable import Timetable
from sim.workload import WeekBalance


def capacity_answer(loaded: LoadedScenario, found: Capacity, seed: int) -> Answer:
    """Everything `seedbeat capacity` says."""
    claim, following = found.claim, found.next_larger
    answer = {
        **about(loaded, "capacity"),
        "seed": seed,
        "crop": found.crop,
        "case_heads": found.case,
        "target": {
            "steadiness": found.target.steadiness,
            "weakest_week": found.target.weakest_week,
            "weeks": len(found.target.weeks),
        },
        "tolerance": {"steadiness": STEADINESS_TOLERANCE, "weakest_week": WEEK_TOLERANCE},
        "confidence_percent": 100 * (1 - found.alpha),
        "present": _tried(found.present),
        "claim": _claim(claim) if claim else None,
        "next_larger": _tried(following) if following else None,
        "not_met": _tried(found.not_met) if found.not_met else None,
        "gap_cases": following.size.cases - claim.tried.size.cases if claim and following else None,
        "limits": _limits(found.limits) if found.limits else None,
        "most_by_arithmetic": _size(found.most) if found.most else None,
        "bound_by_arithmetic": _bound(found.bound) if found.bound else None,
        "ceilings": [asdict(c) for c in found.ceilings],
        "sizes": [_tried(tried) for tried in found.tried],
        "orders": list(_orders(loaded.scenario, claim.scenario)) if claim else [],
        "seedings": [
            {"day": s.day, "crop": s.crop, "trays": s.trays}
            for s in (claim.seedings if claim else ())
        ],
        "finishing_sites": Frame.of(Timetable(loaded.scenario)).sites,
        "steps": found.steps,
        "runs": found.runs,
        "allowance": _allowance(found),
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _size(size: Size) -> Answer:
    return {"cases": size.cases, "heads_per_week": size.heads}


def _tried(tried: Tried) -> Answer:
    found, bound = tried.found, tried.bound
    return {
        **_size(tried.size),
        "verdict": tried.verdict,
        "years": tried.years,
        "cadences": len(found.rows) if found else 0,
        "shown_alone": tried.alone is not None,
        "undecided": len(found.pending) if found and not found.chosen else 0,
        "best": _measured(tried.fresh) if tried.fresh else None,
        "bound": _bound(bound) if bound else None,
    }


def _bound(bound: Bound) -> Answer:
    return {**asdict(bound), "weeks": [asdict(week) for week in bound.weeks]}


def _measured(m: Measured) -> Answer:
    return {
        "name": plain_name(m.name),
        "years": m.years,
        "steadiness": asdict(m.steadiness),
        "weakest_week": {"week_of": m.weakest.monday, **asdict(m.weakest.met)},
        "wasted_plants": asdict(m.wasted_plants),
        "unit_fill_rate": asdict(m.unit_fill_rate),
    }


def _claim(claim: Claim) -> Answer:
    return {
        **_size(claim.tried.size),
        "cadence": claim.cadence.cadence.model_dump(),
        **_measured(claim.fresh),
        "bench_fill": asdict(claim.bench_fill),
        "useful_bench_share": asdict(claim.useful_bench_share),
    }


def _limits(limits: Limits) -> Answer:
    return {
        "first": asdict(limits.first) if limits.first else None,
        "without": _measured(limits.without),
        "reliefs": [asdict(relief) for relief in limits.reliefs],
        "together": asdict(limits.together) if limits.together else None,
        "fullness": [asdict(one) for one in limits.fullness],
        "heads_short_per_year": dict(limits.short),
        "cells_missed_per_year": dict(limits.missed),
        "plants_lost_per_year": [
            {"place": place, "cause": cause, "plants": n}
            for (place, cause), n in limits.lost.items()
        ],
        "weeks_over": [_week(week) for week in limits.weeks_over],
    }


def _week(week: WeekBalance) -> Answer:
    return {
        "week_of": week.staffing.monday,
        "why": ", ".join(week.staffing.special),
        "crews": ", ".join(week.tightest.crews),
        "staffed": week.tightest.staffed,
        "work": week.tightest.work,
    }


def _orders(now: Scenario, then: Scenario) -> Iterator[Answer]:
    """Each delivery of a week, as it is and at the claimed size."""
    for order, larger in zip(now.orders, then.orders, strict=True):
        for day, heads in order.heads.items():
            if heads:
                yield {
                    "customer": order.customer,
                    "crop": order.crop,
                    "weekday": day,
                    "heads_now": heads,
                    "heads_claimed": larger.heads[day],
                }


def _allowance(found: Capacity) -> str:
    steps = f"{found.steps} step{'' if found.steps == 1 else 's'}"
    return (
        f"Allowed: {100 * found.alpha:g} in 100 that any verdict on any size is wrong, shared out "
        f"evenly over the {steps} planned beforehand, each with years of its own, and in each "
        "step over its cadences, their "
        "limits, and those looked at alone. Not counted as wrong: a verdict on a cadence within "
        f"the tolerance of a limit ({100 * STEADINESS_TOLERANCE:g} point of steadiness, "
        f"{100 * WEEK_TOLERANCE:g} points of a week's share of years). Assumed, not shown: what is "
        f"met at one size is met at every smaller one. Sizes above {MOST_TIMES} times the present "
        "orders are not looked at."
    )


def flat(rows: list[Answer]) -> list[Answer]:
    """The sizes' rows as one level of columns, for a CSV file."""
    return [
        {
            **{k: r[k] for k in ("cases", "heads_per_week", "verdict", "years", "cadences")},
            "cadence": r["best"]["name"],
            "fresh_years": r["best"]["years"],
            "weakest_week_of": r["best"]["weakest_week"]["week_of"],
            **{
                f"{measure}_{part}": r["best"][measure][part]
                for measure in ("steadiness", "weakest_week", "wasted_plants", "unit_fill_rate")
                for part in ("mean", "low", "high")
            },
        }
        for r in rows
    ]
