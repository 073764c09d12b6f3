"""A capacity justification: the greenhouse as it is, and a proposal under the same luck.

What the years and the ceilings say is put together here; `grant_answer` makes plain data of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal

import numpy as np

from sim.batch_story import ready_day
from sim.comparing import ERROR, Change, changes, mean_change, unlike
from sim.errors import SeedbeatError
from sim.grant_rows import Looks, look
from sim.greenhouse.plan import Plan
from sim.measures import MEASURES, WORK
from sim.replications import Estimate, Years, mean_estimate
from sim.runs import Runs
from sim.scenario_file import LoadedScenario
from sim.school_year import spoken
from sim.weeks import Floats

PRESENT, PROPOSED = "the present greenhouse", "the proposal"
LIMIT = 0.95  # share in use from which a week counts as one at the limit
WEEKS_AT_LIMIT = 1.0  # such weeks in a mean year from which the limit counts as reached
LOOKED_AT = 40  # years whose rows are looked at
YEARLY = (
    "heads_ordered", "heads_delivered", "heads_short", "deliveries_short", "weeks_not_met",
    "plants_lost", "trays_missed",
)  # fmt: skip
Kind = Literal["finishing", "nursery", "people", "cold store"]


@dataclass(frozen=True)
class Resource:
    """One thing that can be full, and how full it is in the measured weeks.

    `amount` [unit] is None where there is no limit, and so are the shares. `mean` is the share in
    use over all weeks and years, `busiest` that of the week `week` in which it is highest, mean
    of the years; `at_limit` is the number of weeks in a mean year with a share of at least `LIMIT`.
    """

    kind: Kind
    name: str
    now: str
    amount: float | None
    unit: str
    mean: float | None = None
    busiest: float | None = None
    week: int | None = None
    at_limit: float | None = None

    @property
    def reached(self) -> bool:
        """The rule: at least `WEEKS_AT_LIMIT` weeks at the limit in a mean year."""
        return self.at_limit is not None and self.at_limit >= WEEKS_AT_LIMIT


@dataclass(frozen=True)
class Case:
    """One greenhouse: its file, its simulated years, and a closer look at some of them."""

    loaded: LoadedScenario
    years: Years
    looks: Looks

    @cached_property
    def yearly(self) -> dict[str, Floats]:
        """Counts of each simulated year over the measured weeks, by name, shape [years]."""
        weekly, due = self.years.weekly, self.deliveries_due
        share = np.nan_to_num(self.years.values["order_fill_rate"], nan=1.0)
        found = [
            weekly["heads ordered"].sum(axis=1), weekly["heads delivered"].sum(axis=1),
            weekly["heads short"].sum(axis=1), np.round(due * (1.0 - share)),
            (self.years.met == 0).sum(axis=1).astype(float), weekly["plants lost"].sum(axis=1),
            weekly["trays missed"].sum(axis=1),
        ]  # fmt: skip
        return dict(zip(YEARLY, found, strict=True))

    @property
    def estimates(self) -> dict[str, Estimate]:
        """The same with their intervals and ranges."""
        return {name: mean_estimate(values) for name, values in self.yearly.items()}

    @property
    def deliveries_due(self) -> int:
        """Deliveries due in the measured weeks: one customer, crop and date each."""
        table = self.years.timetable
        inside = (x for x in self.years.plan.leavings
                  if table.window_start <= x.time < table.window_end)  # fmt: skip
        return sum(len(leaving.deliveries) for leaving in inside)

    @property
    def resources(self) -> list[Resource]:
        """The places where heads are finished, those before, the people, the cold store."""
        places = [self._place(k, name) for k, name in enumerate(self.loaded.scenario.places)]
        places.sort(key=lambda resource: resource.kind != "finishing")
        return [*places, self._people(), self._store()]

    def _place(self, number: int, name: str) -> Resource:
        scenario = self.loaded.scenario
        place = scenario.places[name]
        last = {crop.stages[-1].place for crop in scenario.crops.values()}
        kind: Kind = "finishing" if name in last else "nursery"
        unit = f"{place.container}s"
        if place.count is None:
            return Resource(kind, name, f"unlimited {unit} x {place.sites_each:,}", None, unit)
        now = f"{place.count:,} {unit} x {place.sites_each:,}"
        shares = self.years.yearly_containers[:, number, :] / place.count
        return Resource(kind, name, now, float(place.count), unit, *used(shares))

    def _people(self) -> Resource:
        scenario, minutes = self.loaded.scenario, self.years.yearly_work
        staffed = minutes["staffed"]
        if not scenario.crews or not staffed.any():
            return Resource("people", "people", "nobody at work", None, "person-minutes")
        crews = (f"{crew.people:,} {name}" for name, crew in scenario.crews.items())
        worked = np.sum([minutes[work] for work in WORK.values()], axis=0)
        shares = np.where(staffed > 0, worked / np.where(staffed > 0, staffed, 1.0), np.nan)
        unit = "person-minutes a week"
        return Resource(
            "people", "people", ", ".join(crews), float(staffed.mean()), unit, *used(shares)
        )

    def _store(self) -> Resource:
        holds = self.loaded.scenario.cold_store.holds_heads
        if holds is None:
            return Resource("cold store", "cold store", "unlimited", None, "heads")
        told = f"{holds:,} heads"
        shares = self.looks.store / holds
        return Resource("cold store", "cold store", told, float(holds), "heads", *used(shares))


def used(shares: Floats) -> tuple[float, float, int, float]:
    """Mean share in use, that of the busiest week, which week, and weeks a year at the limit.

    `shares`, of shape [years, weeks], are nan where there was nothing to be used.
    """
    known = ~np.isnan(shares)
    by_week = np.where(known, shares, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    week = int(by_week.argmax())
    at_limit = float((np.where(known, shares, 0.0) >= LIMIT - 1e-9).sum(axis=1).mean())
    return float(shares[known].mean()), float(by_week[week]), week, at_limit


@dataclass(frozen=True)
class FirstMore:
    """When heads of a crop that a changed greenhouse seeds first can be delivered.

    At mean lengths, the pace of the months included; `leaves` is None if no delivery is due then.
    """

    crop: str
    seeded: date
    ready: date
    leaves: date | None


@dataclass(frozen=True)
class Grant:
    """The present greenhouse, and if one is proposed, the proposal and what differs.

    `differences` are proposal less present by name of the measure or the yearly count, year by
    year under the same luck; their verdicts share an error of `ERROR`. `unlike` says why the two
    are not like for like.
    """

    present: Case
    proposed: Case | None
    differences: Mapping[str, Change]
    unlike: tuple[str, ...]
    first_more: tuple[FirstMore, ...]


def justify(
    present: LoadedScenario,
    proposed: LoadedScenario | None,
    runs: Runs,
    *,
    years: int,
    seed: int,
    starts: date | None = None,
) -> Grant:
    """Simulate the same years of both and put together what a justification says.

    `starts` is the day on which the proposal is ready to be used.

    Raises SeedbeatError for too few years for a range, or a start that cannot be used.
    """
    if years < 2:
        raise SeedbeatError(
            "--years: must be at least 2, because one year has no range, but it was "
            f"{years}; 200 are usual."
        )
    if starts and not proposed:
        raise SeedbeatError(
            f"--starts {starts}: needs a proposal that starts then; name it with --compare."
        )
    both = [one for one in (present, proposed) if one]
    runs.total = years * len(both)
    first_more = _first_more(proposed, starts) if proposed and starts else ()
    cases = [_case(one, runs.years(one.scenario, years, seed)) for one in both]
    if len(cases) == 1:
        return Grant(cases[0], None, {}, (), ())
    a, b = (case.years for case in cases)
    return Grant(
        cases[0], cases[1], _differences(*cases), tuple(unlike(a, b, PRESENT, PROPOSED)), first_more
    )


def _case(loaded: LoadedScenario, years: Years) -> Case:
    return Case(loaded, years, look(years.plan, years.seed, min(years.count, LOOKED_AT)))


def _differences(present: Case, proposed: Case) -> dict[str, Change]:
    error = ERROR / (len(MEASURES) + len(YEARLY))
    found = changes(present.years, proposed.years, error)
    for name in YEARLY:
        found[name] = mean_change(proposed.yearly[name] - present.yearly[name], error)
    return found


def _first_more(proposed: LoadedScenario, starts: date) -> tuple[FirstMore, ...]:
    """For each crop: the first day with somebody to seed, ready after one cycle, delivered."""
    plan = Plan(proposed.scenario)
    table, found = plan.timetable, []
    last = table.date_of(table.days - 1)
    if not table.start <= starts <= last:
        raise SeedbeatError(
            f"--starts: must lie inside the run of {proposed.path.name}, from "
            f"{spoken(table.start, year=True)} to {spoken(last, year=True)}, but it is "
            f"{spoken(starts, year=True)}; choose a day of that year."
        )
    for name, crop in proposed.scenario.crops.items():
        days = range(table.day_of(starts), table.days)
        task = crop.stages[0].moved_in_by
        seeded = next((day for day in days if table.staffed(task, day)), None)
        if seeded is not None:
            ready = ready_day(table, crop, seeded)
            times = (x.time for x in plan.leavings if x.crop == name and x.time >= ready)
            leaves = min(times, default=None)
            found.append(
                FirstMore(
                    name, table.date_of(seeded), table.date_of(ready),
                    None if leaves is None else table.date_of(leaves),
                )
            )  # fmt: skip
    return tuple(found)
