"""Results as plain data: what --json prints, what run.json holds, what the screens are told from.

Every function returns a dictionary of plain values (numbers, text, lists); a number that cannot
be given is None. Shares are between 0 and 1, dates are ISO dates.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date
from math import isnan
from typing import Any

import numpy as np

from sim.cautions import cautions_for
from sim.ceilings import ceilings
from sim.collisions import last_seeding_for
from sim.greenhouse.plan import Plan
from sim.inputs import inputs
from sim.measures import WORK, Frame
from sim.replications import ROUGH_BELOW, Estimate, Years
from sim.scenario_file import LoadedScenario

Answer = dict[str, Any]


def plain(value: Any) -> Any:
    """A value as JSON knows it: nan becomes None, numpy numbers Python's."""
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and isnan(value):
        return None
    return value if isinstance(value, bool | int | float | str) or value is None else str(value)


def about(loaded: LoadedScenario, command: str) -> Answer:
    """What every answer says of its scenario."""
    return {
        "command": command,
        "scenario": loaded.scenario.name,
        "file": loaded.path.name,
        "scenario_hash": loaded.scenario.fingerprint(),
    }


def around(loaded: LoadedScenario) -> Answer:
    """What was assumed, every input, the calendar's notes, the sources, and the cautions."""
    return {
        "assumed": [asdict(a) for a in loaded.assumed],
        "inputs": [asdict(one) for one in inputs(loaded)],
        "notes": list(loaded.notes),
        "sources": dict(loaded.sources),
        "cautions": cautions_for(loaded.scenario),
    }


def run_answer(loaded: LoadedScenario, years: Years) -> Answer:
    """Everything `seedbeat run` says."""
    plan = years.plan
    table = plan.timetable
    window = {
        "first_day": table.date_of(table.window_start),
        "last_day": table.date_of(table.window_end - 1),
        "weeks": table.weeks,
    }
    answer = {
        **about(loaded, "run"),
        "seed": years.seed,
        "years": years.count,
        "rough": years.count < ROUGH_BELOW,
        "window": window,
        "complete": bool((years.met != 0).all()) and bool((years.met == 1).any()),
        "weeks_due": int((years.met[0] >= 0).sum()),
        "measures": {name: _numbers(e) for name, e in years.measures().items()},
        "ordered_per_week": float(years.weekly["heads ordered"].mean()),
        "weakest_week": _weakest(plan, years),
        "seedings": seedings(plan),
        "ceilings": [asdict(c) for c in ceilings(table, plan.leavings)],
        "finishing_sites": Frame.of(table).sites,
        "sites": _sites(plan, years),
        "losses": _losses(years),
        "work": _work(years),
        "weeks": _weeks(plan, years),
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return]


def _numbers(estimate: Estimate) -> Answer:
    return asdict(estimate)


def _weakest(plan: Plan, years: Years) -> Answer | None:
    week = years.weakest
    if week is None:
        return None
    causes = {c: n / years.count for (w, c), n in years.short.items() if w == week}
    table = plan.timetable
    start = table.window_start + 7 * week
    leaving = next((x for x in plan.leavings if start <= x.time < start + 7), None)
    act = last_seeding_for(table, leaving.crop, table.date_of(leaving.time)) if leaving else None
    return {
        "week_of": table.week_monday(week),
        "share_of_years_met": float(years.met_share[week]),
        "years_met": int((years.met[:, week] == 1).sum()),
        "heads_short_per_year": sum(causes.values()),
        "causes": dict(sorted(causes.items(), key=lambda item: -item[1])),
        "last_date_to_act": act,
    }


def seedings(plan: Plan) -> list[Answer]:
    """The dated seeding list."""
    return [
        {"day": plan.timetable.date_of(s.day), "crop": s.crop, "trays": s.trays, "batch": s.batch}
        for s in plan.seedings
    ]


def _sites(plan: Plan, years: Years) -> list[Answer]:
    found = []
    for k, (name, place) in enumerate(plan.scenario.places.items()):
        count, sites = place.count, place.sites_each
        plants, taken = float(years.plants[k].mean()), float(years.containers[k].mean())
        found.append({
            "place": name, "container": place.container, "count": count, "sites_each": sites,
            "mean_plants": plants, "mean_taken": taken,
            "share_of_sites": plants / (count * sites) if count else None,
            "share_of_containers": taken / count if count else None,
        })  # fmt: skip
    return found


def _losses(years: Years) -> list[Answer]:
    """Plants lost and dumped in the window, mean of a year, the largest first."""
    total = sum(years.lost.values()) + sum(years.dumped.values())
    rows = [
        {"what": what, "place": place, "cause": cause, "plants_per_year": n / years.count,
         "share": n / total}
        for what, table in (("lost", years.lost), ("dumped", years.dumped))
        for (place, cause), n in table.items()
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (-row["plants_per_year"], row["place"], row["cause"]))


def _work(years: Years) -> list[Answer]:
    """Person-minutes a week by crew and kind of work, mean over the window's weeks."""
    weeks = years.count * years.timetable.weeks
    minutes = years.crew_minutes
    rows = []
    for crew in years.timetable.scenario.crews:
        staffed = minutes.get((crew, "staffed"), 0.0) / weeks
        by_work = {w: minutes.get((crew, w), 0.0) / weeks for w in WORK.values()}
        used = sum(by_work.values())
        share = used / staffed if staffed else None
        rows.append({"crew": crew, "staffed": staffed, "worked": used, "share": share, **by_work})
    return rows


def _weeks(plan: Plan, years: Years) -> list[Answer]:
    delivered = years.weekly["heads delivered"]
    low, high = np.quantile(delivered, [0.05, 0.95], axis=0)
    return [
        {
            "week_of": plan.timetable.week_monday(week),
            "ordered": float(years.weekly["heads ordered"][:, week].mean()),
            "delivered": float(delivered[:, week].mean()),
            "delivered_p05": float(low[week]),
            "delivered_p95": float(high[week]),
            "share_of_years_met": float(years.met_share[week]),
            "trays_seeded": float(years.weekly["trays seeded"][:, week].mean()),
            "plants_dumped": float(years.weekly["plants dumped"][:, week].mean()),
        }
        for week in range(plan.timetable.weeks)
    ]


def by_day(listed: Iterable[Answer]) -> list[tuple[str, str]]:
    """A dated seeding list told by day: (ISO date, "4 trays of lettuce, 2 trays of basil")."""
    days: dict[str, list[str]] = {}
    for s in listed:
        word = "tray" if s["trays"] == 1 else "trays"
        days.setdefault(str(s["day"]), []).append(f"{s['trays']} {word} of {s['crop']}")
    return [(day, ", ".join(words)) for day, words in days.items()]


def next_seedings(answer: Answer, today: date) -> list[Answer]:
    """The next two seeding days from `today` on, or the first two if the list is yet to begin."""
    days = [{"day": day, "trays": trays} for day, trays in by_day(answer["seedings"])]
    coming = [d for d in days if d["day"] >= today.isoformat()]
    return (coming if answer["seedings"] and today.isoformat() >= days[0]["day"] else days)[:2]
