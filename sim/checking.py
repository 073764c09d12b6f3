"""What `seedbeat check` answers: what was understood, and what can be done at most."""

from __future__ import annotations

from dataclasses import asdict

from sim.answers import Answer, about, around, plain, seedings
from sim.ceilings import ceilings, highest_steadiness, impossible_weeks
from sim.collisions import changes, collisions
from sim.flows import Ordered, ordered, place_sites
from sim.greenhouse.plan import Plan
from sim.scenario_file import LoadedScenario
from sim.workload import (
    CropNeeds,
    WeekBalance,
    check_days,
    crop_needs,
    mean_minutes,
    ordinary_weeks,
    week_balances,
    weekly_staffing,
    weekly_work,
)  # fmt: skip


def check_answer(loaded: LoadedScenario) -> Answer:
    """Everything `seedbeat check` says; arithmetic only, no simulation.

    Raises ScenarioError if no whole week can be measured.
    """
    plan = Plan(loaded.scenario)
    table, leavings = plan.timetable, plan.leavings
    orders = ordered(table, leavings)
    needs = crop_needs(table, orders)
    weeks = week_balances(table, leavings, needs)
    closest = [c for c in collisions(table, plan.seedings) if c.waiting or c.lost]
    answer = {
        **about(loaded, "check"),
        "school": _school(plan),
        "window": {
            "first_day": table.date_of(table.window_start),
            "last_day": table.date_of(table.window_end - 1),
            "weeks": table.weeks,
        },
        "places": _places(plan, needs),
        "crops": _crops(plan, needs, orders),
        "orders": [asdict(o) for o in orders],
        "staffed_minutes": sum(_ordinary(plan).values()),
        "staffed_by_crew": _ordinary(plan),
        "work": _work(plan, needs),
        "ceilings": [asdict(c) for c in ceilings(table, leavings)],
        "weeks_over": [_week(w) for w in weeks if w.tightest.exceeds],
        "highest_steadiness": highest_steadiness(table, leavings),
        "impossible_weeks": [asdict(w) for w in impossible_weeks(table, leavings)],
        "collisions": [asdict(c) for c in closest],
        "changed_seedings": [asdict(c) for c in changes(table, leavings, plan.seedings)],
        "seedings": seedings(plan),
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _school(plan: Plan) -> Answer:
    school, year = plan.scenario.school, plan.timetable.school_year
    return {
        "first_day": school.first_day,
        "last_day": school.last_day,
        "days_in_session": year.session_days(),
        "closures": [c.model_dump() for c in school.closed],
        "special": [c.model_dump() for c in school.special],
    }


def _places(plan: Plan, needs: list[CropNeeds]) -> list[Answer]:
    """Sites and turns of each place; seedling cells and finishing sites are never added up."""
    turns = {step.place: step.turns_per_year for need in needs for step in need.chain.steps}
    return [
        {**asdict(p), "sites": p.sites, "turns_per_year": turns.get(p.place)}
        for p in place_sites(plan.scenario)
    ]


def _crops(plan: Plan, needs: list[CropNeeds], orders: list[Ordered]) -> list[Answer]:
    """The chain from cell to head, with and without rare events, and the trays it takes."""
    ordinary = crop_needs(plan.timetable, orders, bad_events=False)
    return [
        {
            "crop": need.chain.crop,
            "days": sum(step.days for step in need.chain.steps),
            "heads_per_week": need.heads_per_week,
            "transplants_per_week": need.transplants_per_week,
            "trays_per_week": need.trays_per_week,
            "trays_per_week_without_rare_events": without.trays_per_week,
            "trays_seeded_per_week": need.trays_seeded,
            "heads_per_cell": need.chain.heads_per_cell,
        }
        for need, without in zip(needs, ordinary, strict=True)
    ]


def _ordinary(plan: Plan) -> dict[str, float]:
    """Person-minutes of an ordinary week by crew [min]."""
    return mean_minutes(ordinary_weeks(weekly_staffing(plan.timetable)))


def _work(plan: Plan, needs: list[CropNeeds]) -> list[Answer]:
    """The work of the orders in an ordinary week, by task, at the trays that are seeded."""
    week = ordinary_weeks(weekly_staffing(plan.timetable))[0]
    work = weekly_work(
        plan.scenario,
        needs,
        trays={need.chain.crop: need.trays_seeded for need in needs},
        harvested={need.chain.crop: need.heads_per_week for need in needs},
        check_days=check_days(plan.timetable, week),
    )
    return [asdict(w) for w in work if w.minutes]


def _week(week: WeekBalance) -> Answer:
    return {
        "week_of": week.staffing.monday,
        "why": ", ".join(week.staffing.special),
        "crews": ", ".join(week.tightest.crews),
        "staffed": week.tightest.staffed,
        "work": week.tightest.work,
    }
