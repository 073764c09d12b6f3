"""What `seedbeat breaks` answers, as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date

from sim.answers import Answer, about, around, plain
from sim.breaks import WORST, Breaks, Found, Surprise
from sim.breaks_calendar import Closure
from sim.breaks_cover import HOURS, MOST_DAYS
from sim.breaks_harm import TOLERANCE, TOUCHED, Harm, Week
from sim.breaks_remedies import Remedy, Way
from sim.breaks_seedings import SeedingChange
from sim.cautions import COVER_IN_CLOSURES
from sim.replications import ROUGH_BELOW
from sim.scenario_file import LoadedScenario

COMPARED = (
    "Compared are years with the same chances. Nothing done: nobody comes to cover the closure, "
    "and seedings with nobody there are skipped. Without it: class as usual on its days. All else "
    "is alike, also the orders: those that pause when school is closed pause on the same dates in "
    "both. A surprise week is compared with the scenario as it stands: nobody comes from Monday "
    "to Friday, and the orders of those days stay."
)
SURE = (
    '"Real": zero lies outside an interval for which all closures, and all remedies of one '
    'closure, share an error of 5 %. Anything else "could be noise".'
)


def breaks_answer(
    loaded: LoadedScenario, found: Breaks, seed: int, asked: str | date | None
) -> Answer:
    """Everything `seedbeat breaks` says; `asked` is the closure that was asked for, if any."""
    table = found.table
    rest = around(loaded)
    answer = {
        **about(loaded, "breaks"),
        "seed": seed,
        "years": found.years,
        "remedy_years": found.wanted.years,
        "surprise_years": found.surprise_years,
        "rough": found.wanted.years < ROUGH_BELOW,
        "compared": COMPARED,
        "how_sure": SURE,
        "asked": asked,
        "window": {
            "first_day": table.date_of(table.window_start),
            "last_day": table.date_of(table.window_end - 1),
            "weeks": table.weeks,
        },
        "target": {
            "weakest_week": found.wanted.weakest_week,
            "tolerance": TOLERANCE,
            "touched_from": TOUCHED,
        },
        "tried": {
            "closures": WORST,
            "cover_crew": found.cover[0],
            "cover_people": found.cover[1],
            "cover_hours": HOURS,
            "cover_days_a_week": MOST_DAYS,
        },
        "closures": [_closure(one) for one in found.found],
        "surprises": None if found.surprises is None else [_surprise(s) for s in found.surprises],
        "runs": found.runs,
        **rest,
        "cautions": [*rest["cautions"], COVER_IN_CLOSURES],
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _named(closure: Closure) -> Answer:
    return {
        "name": closure.name,
        "kind": closure.kind,
        "first_day": closure.first_day,
        "last_day": closure.last_day,
        "school_days": len(closure.days),
    }


def _closure(found: Found) -> Answer:
    best, by_seeding = found.best, found.by_seeding
    return {
        **_named(found.closure),
        "harm": _harm(found.nothing),
        "as_it_stands": _harm(found.own),
        "seedings": [asdict(caught) for caught in found.caught],
        "seed_for_week_of": found.seed_for,
        "last_dates_to_act": [{"crop": c, "day": day} for c, day in found.act.items()],
        "weeks": [_week(week) for week in found.weeks],
        "remedies_tried": found.remedies is not None,
        "remedies": [_remedy(r) for r in found.remedies or ()],
        "nothing_holds": found.nothing_holds,
        "no_change": found.no_change,
        "best": best.way.name if best else None,
        "seeding_changes": [_change(c) for c in best.changes] if best else [],
        "best_by_seeding": by_seeding.way.name if by_seeding else None,
    }


def _surprise(found: Surprise) -> Answer:
    seedings = [asdict(caught) for caught in found.caught]
    return {**_named(found.week), "harm": _harm(found.harm), "seedings": seedings}


def _harm(harm: Harm) -> Answer:
    first, last = harm.first_range or (None, None)
    return {
        "heads_short": asdict(harm.heads_short),
        "weeks_hit": asdict(harm.weeks_hit),
        "share_of_years_hit": harm.years_hit,
        "first_week_hit": harm.first_week,
        "first_week_hit_p05": first,
        "first_week_hit_p95": last,
        "plants_dumped": asdict(harm.plants_dumped),
        "dumped_by_cause": {cause: asdict(plants) for cause, plants in harm.wasted.items()},
        "verdict": harm.verdict,
    }


def _week(week: Week) -> Answer:
    return {
        "week_of": week.week_of,
        "ordered": week.ordered,
        "touched": week.touched,
        **{
            name: {"delivered": mean, "p05": low, "p95": high, "share_complete": week.kept[name]}
            for name, (mean, low, high) in week.delivered.items()
        },
    }


def _remedy(remedy: Remedy) -> Answer:
    return {
        **_way(remedy.way),
        "heads_short": asdict(remedy.heads_short),
        "weeks_hit": asdict(remedy.weeks_hit),
        "heads_short_less": {**asdict(remedy.less), "verdict": remedy.less.verdict},
        "plants_dumped_more": {**asdict(remedy.dumped), "verdict": remedy.dumped.verdict},
        "heads_paused": remedy.heads_paused,
        "trays_more": remedy.trays_more,
        "holds": remedy.holds,
        "seeding_changes": [_change(c) for c in remedy.changes],
    }


def _way(way: Way) -> Answer:
    visit = way.visit
    return {
        "kind": way.kind,
        "name": way.name,
        "person_hours": way.person_hours,
        "people": visit.people if visit else None,
        "hours": visit.hours if visit else None,
        "starts": f"{visit.starts:%H:%M}" if visit else None,
        "days": visit.days if visit else [],
        "searched": [{"hours": hours, "holds": held} for hours, held in way.searched],
    }


def _change(change: SeedingChange) -> Answer:
    return asdict(change)


def flat(answer: Answer) -> dict[str, list[Answer]]:
    """The answer's tables, each row one level of columns, by name: for CSV files."""
    closures = answer["closures"]
    tables = {
        "closures": [
            {**_whole(c), **_flat_harm(c["harm"]), **_flat_harm(c["as_it_stands"], "own_")}
            for c in closures
        ],
        "caught_seedings": _rows(closures, "seedings"),
        "caught_by_surprise": _rows(answer["surprises"] or (), "seedings"),
        "remedies": [
            {**_which(c), **_flat_remedy(r), "best": r["name"] == c["best"]}
            for c in closures
            for r in c["remedies"]
        ],
        "seeding_changes": [
            {**_which(c), "remedy": r["name"], "best": r["name"] == c["best"], **change}
            for c in closures
            for r in c["remedies"]
            for change in r["seeding_changes"]
        ],
        "surprises": [{**_whole(s), **_flat_harm(s["harm"])} for s in answer["surprises"] or ()],
    }
    return {name: rows for name, rows in tables.items() if rows}


def _whole(c: Answer) -> Answer:
    more = ("kind", "first_day", "last_day", "school_days")
    return {"closure": c["name"], **{key: c[key] for key in more}}


def _which(c: Answer) -> Answer:
    return {"closure": c["name"], "closure_from": c["first_day"]}


def _rows(closures: Iterable[Answer], key: str) -> list[Answer]:
    return [{**_which(c), **row} for c in closures for row in c[key]]


def _flat_harm(harm: Answer, prefix: str = "") -> Answer:
    flat_ = {}
    estimates = {name: harm[name] for name in ("heads_short", "weeks_hit", "plants_dumped")}
    for cause, plants in harm["dumped_by_cause"].items():
        estimates[cause.replace(" ", "_").replace("-", "_")] = plants
    for name, estimate in estimates.items():
        for part in ("mean", "low", "high", "p05", "p95"):
            flat_[f"{prefix}{name}_{part}"] = estimate[part]
    for name in ("first_week_hit", "first_week_hit_p05", "first_week_hit_p95", "verdict"):
        flat_[f"{prefix}{name}"] = harm[name]
    return flat_


def _flat_remedy(remedy: Answer) -> Answer:
    keys = ("kind", "name", "person_hours", "trays_more", "heads_paused", "holds")
    flat_ = {key: remedy[key] for key in keys}
    flat_["days"] = " ".join(remedy["days"])
    for name in ("heads_short", "weeks_hit"):
        for part in ("mean", "p05", "p95"):
            flat_[f"{name}_{part}"] = remedy[name][part]
    for name in ("heads_short_less", "plants_dumped_more"):
        for part in ("mean", "low", "high", "verdict"):
            flat_[f"{name}_{part}"] = remedy[name][part]
    return flat_
