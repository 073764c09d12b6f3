"""What each closure of the calendar does to deliveries and benches, and what helps.

Compared are years of the same luck. *Nothing done*: nobody comes to cover the closure, and
seedings with nobody there are skipped. *Without it*: class as usual on its days, without its
cover. Everything else is alike, also the orders: those that pause when school is closed pause on
the same dates in both, so that the same deliveries are due.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sim.breaks_calendar import (
    Closure,
    closures_of,
    find_closure,
    find_surprise,
    surprises,
)
from sim.breaks_cover import MOST_DAYS
from sim.breaks_harm import Harm, Seasons, Week, harm, touched, weeks_around
from sim.breaks_remedies import (
    MOST_TRAYS,
    Remedies,
    Remedy,
    Wanted,
    best_by_seeding,
    best_of,
)
from sim.breaks_seedings import Caught, caught, dates_to_act
from sim.breaks_study import Case, Study, SurpriseCase
from sim.comparing import ERROR
from sim.errors import SeedbeatError
from sim.order_book import leavings
from sim.runs import Runs
from sim.scenario import Scenario
from sim.seeding import BREAK_RULES
from sim.timetable import Timetable

WORST = 3  # closures for which remedies are tried
LEAST_YEARS = 10
_FOR_REMEDIES, _FOR_SURPRISES = 0.4, 0.2  # of the years


@dataclass(frozen=True)
class Found:
    """What was found of one closure.

    `nothing` is its harm if nothing is done, `own` that of the scenario as it stands. `seed_for` is
    the Monday of the week that more seedings are meant for, `act` by crop the last date to seed
    for it, empty if no seeding is in time. `remedies` is None if none were tried. `nothing_holds`
    says that the target is kept if nothing is done; then, or if nothing helps, `best` is None.
    `by_seeding` is what helps most without people, if anything does for sure. `no_change` are the
    break rules under which nothing is done about this closure.
    """

    closure: Closure
    nothing: Harm
    own: Harm
    caught: tuple[Caught, ...]
    weeks: tuple[Week, ...]
    seed_for: date | None
    act: dict[str, date]
    remedies: tuple[Remedy, ...] | None
    best: Remedy | None
    by_seeding: Remedy | None
    nothing_holds: bool
    no_change: tuple[str, ...]


@dataclass(frozen=True)
class Surprise:
    """A surprise week: its harm, and the seedings that it catches."""

    week: Closure
    harm: Harm
    caught: tuple[Caught, ...]


@dataclass(frozen=True)
class Breaks:
    """The closures, those with most heads short first, and surprise weeks in order of time.

    `years` were simulated for each closure, `remedy_years` for each remedy, `surprise_years` for
    each surprise week. `surprises` is None if they were not asked for. `runs` are all years.
    """

    table: Timetable
    found: tuple[Found, ...]
    surprises: tuple[Surprise, ...] | None
    wanted: Wanted
    years: int
    surprise_years: int
    cover: tuple[str | None, int]
    runs: int


def breaks(
    scenario: Scenario,
    runs: Runs,
    *,
    years: int = 100,
    seed: int = 1,
    weakest_week: float = 0.85,
    closure: str | None = None,
    surprise: date | None = None,
) -> Breaks:
    """Study every closure; or the one of this name or ISO date; or a surprise closure.

    A surprise closure is that of the week of a date. Remedies are tried for the `WORST` closures,
    or the one that was asked for.

    Raises SeedbeatError for too few years, a scenario without orders in the measured weeks, or a
    closure that is not there.
    """
    if years < LEAST_YEARS:
        raise SeedbeatError(
            f"--years: must be at least {LEAST_YEARS}, because remedies are tried in two fifths "
            f"and surprise weeks in one fifth of them, but it was {years}; 100 are usual."
        )
    table = Timetable(scenario)
    closures, weeks = _asked(table, closure, surprise)
    study, wanted = Study(scenario, runs, seed), Wanted(weakest_week, int(years * _FOR_REMEDIES))
    _refuse_without_orders(study)
    few = int(years * _FOR_SURPRISES)
    worst = min(WORST, len(closures))
    each = (len(BREAK_RULES) + MOST_TRAYS + 4 * MOST_DAYS + 1) * wanted.years
    runs.total = years + 2 * years * len(closures) + worst * each + few * len(weeks or ())
    cases = [_assessed(study, c, years, ERROR / max(len(closures), 1)) for c in closures]
    cases.sort(key=lambda a: (-a.nothing.heads_short.mean, a.case.closure.first_day))
    found = [
        _found(a, wanted, remedies=n < worst and (a.matters or weeks is None))
        for n, a in enumerate(cases)
    ]
    told = None if weeks is None else _surprised(study, weeks, few)
    crew, people, _ = study.cover.crew()
    return Breaks(
        study.table, tuple(found), told, wanted, years, few, (crew, people.people), runs.done
    )


def _asked(
    table: Timetable, closure: str | None, surprise: date | None
) -> tuple[list[Closure], list[Closure] | None]:
    """The closures to study, and the surprise weeks; None if one closure was asked for."""
    if surprise is not None:
        return [find_surprise(surprise, table)], None
    closures = closures_of(table)
    if closure is not None:
        return [find_closure(closures, closure, table)], None
    return closures, surprises(table)


def _refuse_without_orders(study: Study) -> None:
    table = study.table
    due = leavings(study.scenario, table)
    if not any(table.window_start <= x.time < table.window_end for x in due):
        raise SeedbeatError(
            "breaks: nothing is ordered in the measured weeks, so nothing can be short; add an "
            "order, or mend the window."
        )


@dataclass(frozen=True)
class _Assessed:
    """A closure's years with nothing done, without it, and as the scenario stands."""

    case: Case
    years: dict[str, Seasons]
    nothing: Harm
    own: Harm

    @property
    def matters(self) -> bool:
        """Whether it makes heads short for sure."""
        return self.nothing.verdict == "real" and self.nothing.heads_short.mean > 0


def _assessed(study: Study, closure: Closure, years: int, error: float) -> _Assessed:
    study.runs.note = closure.name
    case = SurpriseCase(study, closure) if closure.kind == "surprise" else Case(study, closure)
    scenarios = {"without": case.open_, "nothing": case.nothing, "own": case.own}
    seasons = {name: study.seasons(s, years) for name, s in scenarios.items()}
    nothing, own = (
        harm(seasons[name], seasons["without"], study.mondays, error) for name in ("nothing", "own")
    )
    return _Assessed(case, seasons, nothing, own)


def _found(assessed: _Assessed, wanted: Wanted, *, remedies: bool) -> Found:
    case, years = assessed.case, assessed.years
    study, closure = case.study, case.closure
    hit = touched(years["nothing"], years["without"])
    week, act = _to_seed_for(assessed)
    trial = Remedies(case, wanted, hit, act)
    study.runs.note = f"{closure.name}: what helps"
    tried = tuple(trial.tried()) if remedies else None
    enough = trial.nothing_holds()
    return Found(
        closure,
        assessed.nothing,
        assessed.own,
        tuple(caught(case.usual, closure, case.table)),
        weeks_around(years, study.mondays, closure, hit),
        week,
        act,
        tried,
        None if enough else best_of(tried or ()),
        best_by_seeding(tried or ()),
        enough,
        tuple(trial.no_change()) if remedies else (),
    )


def _to_seed_for(assessed: _Assessed) -> tuple[date | None, dict[str, date]]:
    """The week that more seedings are meant for, and the dates to act for it.

    That is the week with most heads short more, of those that a seeding can still be in time for;
    if there is none, the week with most, and no date.
    """
    years, case = assessed.years, assessed.case
    more = (years["nothing"].short - years["without"].short).mean(axis=0)
    weeks = dict(zip(case.study.mondays, more, strict=True))
    after = [w for w in weeks if w > case.closure.last_day and weeks[w] > 0]
    for week in sorted(after, key=lambda w: (-weeks[w], w)):
        if act := dates_to_act(case.table, case.leavings, week, case.acts_from):
            return week, act
    worst = max(weeks, key=lambda w: weeks[w])
    return (worst if weeks[worst] > 0 else None), {}


def _surprised(study: Study, weeks: Sequence[Closure], years: int) -> tuple[Surprise, ...]:
    """The harm of a surprise closure in each of the weeks."""
    usual = study.seasons(study.own, years)
    told = []
    for week in weeks:
        study.runs.note = f"surprise closure, {week.name}"
        case = SurpriseCase(study, week)
        seasons = study.seasons(case.nothing, years)
        hurt = harm(seasons, usual, study.mondays, ERROR / len(weeks))
        stopped = tuple(caught(case.usual, week, case.table))
        told.append(Surprise(week, hurt, stopped))
    return tuple(told)
