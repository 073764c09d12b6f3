"""What `seedbeat size` answers, as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from math import inf

from sim.answers import Answer, about, around, plain
from sim.cadence import STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.replications import ROUGH_BELOW
from sim.scenario_file import LoadedScenario
from sim.sizing_found import BEND, Gains, Row, Service, Sizing
from sim.sizing_more import Gain
from sim.sizing_orders import Largest
from sim.sizing_things import Thing


def size_answer(loaded: LoadedScenario, found: Sizing, seed: int) -> Answer:
    """Everything `seedbeat size` says."""
    at = found.row(found.bend if found.enough is None else found.enough)
    answer = {
        **about(loaded, "size"),
        "seed": seed,
        **_thing(loaded, found.thing),
        **_aim(found),
        "impossible_weeks": [asdict(week) for week in found.impossible],
        "heads_ordered_per_week": found.heads_ordered,
        "needed_by_arithmetic": found.least,
        "enough": found.enough,
        "bend": _bend(found.bend),
        "falls_at": _falls_at(found.rows),
        "next_limits": {
            "size": at.size,
            "ceilings": [{**asdict(c), "of_this": found.thing.limited_by(c)} for c in at.ceilings],
        },
        "tested": [
            {"size": t.size, "verdict": t.decided.verdict, "years": t.decided.years}
            for t in found.tested
        ],
        "sizes": [_row(row) for row in found.rows],
        "cadences": [
            {"letter": letter_of(n), "name": plain_name(one.name), "own": n == 0}
            for n, one in enumerate(found.cadences)
        ],
        "orders_step_heads": found.orders_step,
        "heads_ordered_full_week": found.heads_full_week,
        "more_of_each": [_gains(gains) for gains in found.gains],
        "years": found.years,
        "orders_years": found.orders_years,
        "rough": found.years < ROUGH_BELOW,
        "runs": found.runs,
        "allowance": _allowance(found),
        **around(loaded),
    }  # fmt: skip
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _bend(size: int) -> Answer:
    return {"size": size, "steadiness_within": BEND[0], "weakest_week_within": BEND[1]}


def _thing(loaded: LoadedScenario, thing: Thing) -> Answer:
    crew = loaded.scenario.crews.get(thing.name) if thing.kind == "crew" else None
    return {
        "what": thing.name,
        "kind": thing.kind,
        "unit": thing.word,
        "counted_in": "people a shift" if thing.kind == "crew" else f"{thing.word}s",
        "step": thing.step,
        "students": bool(crew and crew.students),
        "present": thing.present,
        "benches_left_out": loaded.scenario.benches is not None,
    }


def _aim(found: Sizing) -> Answer:
    return {
        "target": {
            "steadiness": found.target.steadiness,
            "weakest_week": found.target.weakest_week,
            "weeks": len(found.target.weeks),
        },
        "tolerance": {"steadiness": STEADINESS_TOLERANCE, "weakest_week": WEEK_TOLERANCE},
        "confidence_percent": 100 * (1 - found.alpha),
    }


def _falls_at(rows: Sequence[Row]) -> int | None:
    """The first size whose weeks met lie surely below those of a smaller one (95 % intervals)."""
    best = -inf
    for row in rows:
        steadiness = row.best.measured.steadiness
        if steadiness.high < best:
            return row.size
        best = max(best, steadiness.low)
    return None


def letter_of(number: int) -> str:
    """A cadence's letter; A is the scenario's own."""
    return "ABCDEFGH"[number]


def plain_name(name: str) -> str:
    """A cadence's name without the remark that it is the scenario's own."""
    return name.removeprefix("own cadence (").removesuffix(")") if "own cad" in name else name


def _row(row: Row) -> Answer:
    lowest = row.ceilings[0] if row.ceilings else None
    return {
        "size": row.size,
        "verdict": row.tested.decided.verdict,
        "best": _service(row.best),
        "own": _service(row.own),
        "most_by_arithmetic": lowest.heads_per_week if lowest else None,
        "limited_by": lowest.name if lowest else None,
        "largest_orders": _largest(row.largest) if row.largest else None,
    }


def _largest(largest: Largest) -> Answer:
    """The largest orders that a size delivers, in heads of a full week."""
    met = largest.met
    return {
        "heads_full_week": met.orders.heads if met else 0.0,
        "met": met is not None,
        "cadence": met.cadence.name if met else None,
        "low": largest.low,
        "high": largest.high,
        "tried": [
            {
                "heads_full_week": t.orders.heads,
                "cadence": t.cadence.name,
                "years": t.years,
                **asdict(t.judged),
            }
            for t in largest.tried
        ],
    }


def _service(service: Service) -> Answer:
    m = service.measured
    return {
        "cadence": letter_of(service.cadence),
        "years": m.years,
        "steadiness": asdict(m.steadiness),
        "weakest_week": {"week_of": m.weakest.monday, **asdict(m.weakest.met)},
        "heads_per_week": asdict(service.heads_per_week),
        "wasted_plants": asdict(m.wasted_plants),
    }


def _gains(found: Gains) -> Answer:
    tried = found.tried
    return {
        "orders": "larger" if tried else "present",
        "heads_full_week": tried.orders.heads if tried else None,
        "cadence": tried.cadence.name if tried else None,
        "heads_short_per_week": asdict(found.heads_short),
        "years": found.years,
        "things": [_gain(gain) for gain in found.gains],
    }


def _gain(gain: Gain) -> Answer:
    each = gain.cost_per_head
    return {
        "name": gain.more.name,
        "amount": gain.more.amount,
        "unit": gain.more.unit,
        "heads_per_week": {**asdict(gain.heads), "verdict": gain.heads.verdict},
        "weeks_met": {**asdict(gain.weeks), "verdict": gain.weeks.verdict},
        "cost": gain.cost,
        "cost_per_head": dict(zip(("mean", "low", "high"), each, strict=True)) if each else None,
    }


def _allowance(found: Sizing) -> str:
    return (
        f"Allowed: {100 * found.alpha:g} in 100 that the verdict of any test is wrong, shared out "
        f"evenly over the {found.tests} tests planned beforehand (Bonferroni) and, for a size that "
        f"is not enough, over the steadiness and {len(found.target.weeks)} weeks; each test has "
        "years of its own. A size is enough if the steadiness and each week by itself are shown to "
        f"be above the target less a tolerance of {100 * STEADINESS_TOLERANCE:g} point and "
        f"{100 * WEEK_TOLERANCE:g} points; it is not enough if one of them is shown to be below "
        "the target. Weeks are tested exactly, the steadiness as if normally distributed, both "
        "after every round of years. Assumed, not shown: what is enough is so at every larger "
        "size, if need be by leaving the rest unused, and what is not is so at no smaller one. A "
        "verdict is about the cadence that suited the size best in few years; one that was not "
        "tried may do more."
    )


def flat_sizes(answer: Answer) -> list[Answer]:
    """The sizes with one level of columns, for a CSV file; a row for each size and cadence."""
    return list(_flat(answer))


def _flat(answer: Answer) -> Iterator[Answer]:
    for row in answer["sizes"]:
        for which in ("best", "own"):
            service = row[which]
            yield {
                **{k: row[k] for k in ("size", "verdict", "most_by_arithmetic", "limited_by")},
                **{
                    f"largest_orders_{k}": (row["largest_orders"] or {}).get(k)
                    for k in ("heads_full_week", "low", "high")
                },
                "which": which,
                "cadence": service["cadence"],
                "years": service["years"],
                "weakest_week_of": service["weakest_week"]["week_of"],
                **{
                    f"{measure}_{part}": service[measure][part]
                    for measure in ("steadiness", "weakest_week", "heads_per_week", "wasted_plants")
                    for part in ("mean", "low", "high")
                },
            }


def flat_gains(answer: Answer) -> list[Answer]:
    """What more of each thing adds with one level of columns, for a CSV file."""
    return [
        {
            **{k: some[k] for k in ("orders", "heads_full_week")},
            **{k: gain[k] for k in ("name", "amount", "unit", "cost")},
            **{
                f"{measure}_{part}": gain[measure][part]
                for measure in ("heads_per_week", "weeks_met")
                for part in ("mean", "low", "high", "sure_low", "sure_high", "verdict")
            },
            **{
                f"cost_per_head_{part}": (gain["cost_per_head"] or {}).get(part)
                for part in ("mean", "low", "high")
            },
        }
        for some in answer["more_of_each"]
        for gain in some["things"]
    ]
