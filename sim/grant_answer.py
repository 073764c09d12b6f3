"""A capacity justification as plain data: what all its documents are made of."""

from __future__ import annotations

import platform
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, timedelta
from operator import itemgetter

from sim.answers import Answer, about, around, plain, run_answer
from sim.comparing import ERROR, Change
from sim.grant import LIMIT, WEEKS_AT_LIMIT, Case, Grant, Resource
from sim.grant_cost import Cost, costs_answer
from sim.grant_rows import expected_hours
from sim.inputs import Input, inputs
from sim.measures import WORK
from sim.replications import ROUGH_BELOW, mean_estimate
from sim.scenario import Scenario
from sim.school_year import days_of, spoken
from sim.timetable import cycle_days

BETTER = {  # 1: more is better, -1: less is better; fuller sites and more work are neither
    "unit_fill_rate": 1, "order_fill_rate": 1, "steadiness": 1, "weakest_week": 1,
    "useful_bench_share": 1, "heads_per_week": 1, "heads_delivered": 1, "heads_short": -1,
    "deliveries_short": -1, "weeks_not_met": -1, "wasted_plants": -1, "plants_lost": -1,
    "trays_missed": -1,
}  # fmt: skip


def grant_answer(
    grant: Grant,
    costs: Sequence[Cost] = (),
    wage: float | None = None,
    starts: date | None = None,
    largest: Sequence[Answer] = (),
) -> Answer:
    """Everything `seedbeat grant` says.

    `largest` are the answers of `capacity` for the present greenhouse and the proposal, if these
    were asked for.
    """
    present, proposed = grant.present, grant.proposed
    found = [_largest(one) if one else None for one in (*largest, None, None)]
    answer = {
        **about(present.loaded, "grant"),
        "seed": present.years.seed,
        "years": present.years.count,
        "rough": present.years.count < ROUGH_BELOW,
        "looked_at": present.looks.years,
        "limit": {"share": LIMIT, "weeks": WEEKS_AT_LIMIT},
        "present": _case(present, costs, wage) | {"largest": found[0]},
        "proposed": _case(proposed, costs, wage) | {"largest": found[1]} if proposed else None,
        "not_like_for_like": list(grant.unlike),
        "changed_inputs": list(_changed(present, proposed)) if proposed else [],
        "differences": {name: _change(name, c) for name, c in grant.differences.items()},
        "error": {"of_all_verdicts": ERROR, "shared_by": len(grant.differences)},
        "starts": starts,
        "first_more": [asdict(one) for one in grant.first_more],
        "costs": [{"what": name, "dollars": amount} for name, amount in costs],
        "wage": wage,
        "inputs": [asdict(one) for one in inputs(present.loaded)],
        "system": f"{platform.system()} {platform.machine()}",
        **around(present.loaded),
    }
    if proposed:
        both = [*answer["cautions"], *around(proposed.loaded)["cautions"]]
        answer["cautions"] = list(dict.fromkeys(both))
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _case(case: Case, costs: Sequence[Cost], wage: float | None) -> Answer:
    """What one greenhouse's years say."""
    of_run = run_answer(case.loaded, case.years)
    left_out = ("command", "cautions", "seed", "years", "rough", "seedings")
    estimates, table = case.estimates, case.years.timetable
    school_year = expected_hours(table, 0.0, table.day_of(case.loaded.scenario.school.last_day) + 1)
    crews = case.loaded.scenario.crews.items()
    adults = sum(school_year[name] for name, crew in crews if not crew.students)
    return {
        **{key: value for key, value in of_run.items() if key not in left_out},
        "counts": {name: asdict(e) for name, e in estimates.items()},
        "deliveries_due": case.deliveries_due,
        "resources": [_resource(case, one) for one in case.resources],
        "short_causes": _by_cause(case, "short"),
        "missed_causes": _by_cause(case, "missed"),
        "hours": list(_hours(case, school_year)),
        "work_hours": list(_work(case)),
        "months": list(_months(case)),
        "run": [table.start, table.date_of(table.days - 1)],
        "costs": costs_answer(costs, wage, estimates["heads_delivered"], adults),
        **_logic(case.loaded.scenario),
    }


def _largest(answer: Answer) -> Answer:
    """What a justification says of the answer of `capacity`."""
    names = ("target", "present", "claim", "next_larger", "limits", "orders", "steps", "runs",
             "allowance")  # fmt: skip
    return {name: answer[name] for name in names}


def _logic(scenario: Scenario) -> Answer:
    """What the scenario says of how things go on: for the methods and the evaluation plan."""
    tasks = [{"task": name, "priority": t.priority} for name, t in scenario.tasks.items()]
    return {
        "cycles": [
            {"crop": name, "days": cycle_days(crop), "harvest": crop.harvest,
             "stages": [{"place": s.place, "days": s.days} for s in crop.stages]}
            for name, crop in scenario.crops.items()
        ],
        "tasks": sorted(tasks, key=itemgetter("priority")),
        "crews": [
            {"crew": name, "students": crew.students,
             "shifts": list(dict.fromkeys(s.name or "shift" for s in crew.shifts))}
            for name, crew in scenario.crews.items()
        ],
        "break_rule": scenario.cadence.break_rule,
        "school": [scenario.school.first_day, scenario.school.last_day],
        "starts_empty": scenario.benches is None,
    }  # fmt: skip


def _resource(case: Case, resource: Resource) -> Answer:
    told = {**asdict(resource), "reached": resource.reached, "week_of": None, "closures": []}
    if resource.week is not None:
        monday = case.years.timetable.week_monday(resource.week)
        year = case.years.timetable.school_year
        names = [year.closure(monday + timedelta(days=n)) for n in range(7)]
        told |= {"week_of": monday, "closures": list(dict.fromkeys(filter(None, names)))}
    return told


def _by_cause(case: Case, what: str) -> list[Answer]:
    """Heads short or cells missed in a mean year by cause, the most first."""
    total: Counter[str] = Counter()
    for (_, cause), number in getattr(case.years, what).items():
        total[cause] += number
    return [
        {"cause": cause, "a_year": number / case.years.count}
        for cause, number in total.most_common()
    ]


def _hours(case: Case, school_year: dict[str, float]) -> Iterator[Answer]:
    """Person-hours present by crew: simulated in the measured weeks, and of the school year."""
    years = case.years
    for name, crew in case.loaded.scenario.crews.items():
        present = mean_estimate(case.looks.hours[name])
        worked = sum(years.crew_minutes.get((name, work), 0.0) for work in WORK.values())
        staffed = years.crew_minutes.get((name, "staffed"), 0.0)
        yield {
            "crew": name, "students": crew.students, "people": crew.people,
            "present": present.mean, "present_p05": present.p05, "present_p95": present.p95,
            "school_year": school_year[name], "available": staffed / 60 / years.count,
            "worked": worked / 60 / years.count, "share": worked / staffed if staffed else None,
        }  # fmt: skip


def _work(case: Case) -> Iterator[Answer]:
    """Hours of work in a mean year by task, of students and of adults [person-hours]."""
    minutes, count = case.years.crew_minutes, case.years.count
    crews = case.loaded.scenario.crews.items()
    for work in WORK.values():
        hours = dict.fromkeys((True, False), 0.0)
        for name, crew in crews:
            hours[crew.students] += minutes.get((name, work), 0.0) / 60 / count
        if any(hours.values()):
            both = hours[True] + hours[False]
            yield {"work": work, "students": hours[True], "adults": hours[False], "hours": both}


def _months(case: Case) -> Iterator[Answer]:
    """What the plan says of each month, from the first day to the last measured week."""
    plan, table = case.years.plan, case.years.timetable
    school = table.school_year
    rows: dict[str, Answer] = {}
    for number in range(table.window_end):
        day = table.date_of(number)
        row = rows.setdefault(f"{day:%Y-%m}", {
            "month": day.replace(day=1), "school_days": 0, "seeding_days": set(), "trays": 0,
            "deliveries": 0, "heads": 0, "closures": [],
        })  # fmt: skip
        row["school_days"] += school.in_session(day)
    for seeding in plan.seedings:
        if seeding.day < table.window_end:
            row = rows[f"{table.date_of(seeding.day):%Y-%m}"]
            row["seeding_days"].add(seeding.day)
            row["trays"] += seeding.trays
    for leaving in plan.leavings:
        if leaving.time < table.window_end:
            row = rows[f"{table.date_of(leaving.time):%Y-%m}"]
            row["deliveries"] += len(leaving.deliveries)
            row["heads"] += leaving.heads
    for stretch in sorted(case.loaded.scenario.school.closed, key=lambda s: s.first_day):
        for month in dict.fromkeys(f"{day:%Y-%m}" for day in days_of(stretch)):
            if month in rows:
                rows[month]["closures"].append(_stretch(stretch.name, stretch.first_day,
                                                        stretch.last_day))  # fmt: skip
    for row in rows.values():
        yield {**row, "seeding_days": len(row["seeding_days"])}


def _stretch(name: str, first: date, last: date) -> str:
    days = spoken(first) if first == last else f"{spoken(first)} to {spoken(last)}"
    return f"{name or 'closed'} ({days})"


def _change(name: str, change: Change) -> Answer:
    side = BETTER.get(name, 0) * change.mean
    real = change.verdict == "real" and side
    return {
        **asdict(change),
        "same_in_every_year": change.exact,
        "verdict": change.verdict,
        "direction": ("better" if side > 0 else "worse") if real else None,
    }


def _changed(present: Case, proposed: Case) -> Iterator[Answer]:
    """The inputs whose value differs between the two, in the order of the proposal's."""
    one, two = ({i.key: i for i in inputs(case.loaded)} for case in (present, proposed))
    for key in dict.fromkeys([*two, *one]):
        a, b = one.get(key), two.get(key)
        if (a and a.value) != (b and b.value):
            known = b or a
            assert known  # the key is of one of the two
            yield {"where": known.where, "what": known.what, "unit": known.unit,
                   "present": _value(a), "proposed": _value(b)}  # fmt: skip


def _value(one: Input | None) -> float | str:
    return "not there" if one is None else one.value
