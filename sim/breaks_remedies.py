"""What helps against a closure: break rules, seeding more, cover, pausing orders; each simulated.

Hours of cover are searched in other years than those that are told, so that the numbers told
have no part in the choice of hours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.breaks_cover import HOURS, MOST_DAYS, CoverDays, Visit
from sim.breaks_harm import holds
from sim.breaks_seedings import (
    SeedingChange,
    Seedings,
    dated,
    one_more_tray,
    same_seedings,
    seeding_changes,
    skipped_ones,
    under_rule,
)
from sim.breaks_study import Case
from sim.breaks_variants import opened, paused
from sim.comparing import ERROR, Change, mean_change
from sim.parts import Seeding
from sim.replications import Estimate, mean_estimate
from sim.scenario import Scenario
from sim.seeding import BREAK_RULES

MOST_TRAYS = 4  # seeding days with one more tray
Kind = Literal["as it stands", "break rule", "seed more", "cover", "pause"]


@dataclass(frozen=True)
class Wanted:
    """The share of years in which touched weeks are to be complete, and the years of a remedy."""

    weakest_week: float
    years: int


@dataclass(frozen=True)
class Way:
    """Something to do about a closure, not yet simulated.

    `seedings` and `added` are its dated list. `searched` are the hours tried, and whether each
    held the target.
    """

    kind: Kind
    name: str
    scenario: Scenario
    seedings: Seedings
    added: tuple[Seeding, ...] = ()
    person_hours: float = 0.0
    visit: Visit | None = None
    searched: tuple[tuple[int, bool], ...] = ()


@dataclass(frozen=True)
class Remedy:
    """What simulated years say of a way to meet a closure.

    `heads_short` [heads a year] and `weeks_hit` are beyond the years without the closure. `less`
    and `dumped` are paired with the years in which nothing is done: heads short less, plants dumped
    more. `heads_paused` [heads a year] are no longer ordered, `trays_more` [trays] are seeded
    beyond those of nothing done. `holds` says whether the touched weeks keep to the target.
    `changes` turn the scenario's own seeding list into this one.
    """

    way: Way
    heads_short: Estimate
    weeks_hit: Estimate
    less: Change
    dumped: Change
    heads_paused: float
    trays_more: int
    holds: bool
    changes: tuple[SeedingChange, ...]

    @property
    def cost(self) -> tuple[float, int, float]:
        """Person-hours [h], then trays, then plants dumped more: the order of costs."""
        return self.way.person_hours, self.trays_more, self.dumped.mean


class Remedies:
    """Tries what may help against one closure in replications of the same luck.

    `hit` are the weeks that the closure touches; `act` has by crop the last date to seed for the
    week that one more tray is meant for.
    """

    def __init__(
        self, case: Case, wanted: Wanted, hit: NDArray[np.bool_], act: dict[str, date]
    ) -> None:
        self._case, self._wanted, self._hit, self._act = case, wanted, hit, act
        self._study = case.study

    def tried(self) -> list[Remedy]:
        """Every way that differs from doing nothing, simulated; the scenario's own comes first."""
        ways = {way.scenario.fingerprint(): way for way in self._ways()}
        ways.pop(self._case.nothing.fingerprint(), None)
        return [self._remedy(way, ERROR / len(ways)) for way in ways.values()]

    def nothing_holds(self) -> bool:
        """Whether the target is kept if nothing is done."""
        return self._holds(self._case.nothing, self._wanted.years)

    def no_change(self) -> list[str]:
        """The break rules under which nothing is done about this closure."""
        return [way.name for way in self._rules if same_seedings(way.seedings, self._case.left)]

    def _ways(self) -> Iterator[Way]:
        case, study = self._case, self._study
        hours, name = study.cover.person_hours(case.closure), "as the scenario stands"
        if case.own is not case.nothing:
            yield Way("as it stands", name, study.own, study.own_list, person_hours=hours)
        yield from (w for w in self._rules if not same_seedings(w.seedings, case.left))
        yield from self._more_trays()
        yield from self._covers()
        yield Way("pause", "all orders pause", paused(case.nothing, case.closure), case.left)

    @cached_property
    def _rules(self) -> list[Way]:
        """The break rules, each applied to this closure alone; none to exams and surprises."""
        case = self._case
        if case.closure.kind in ("exam week", "surprise"):
            return []
        ways = []
        open_ = opened(case.bare_as_written, case.closure)
        for rule in BREAK_RULES:
            seedings = under_rule(case.usual, open_, case.bare_as_written, rule)
            ways.append(Way("break rule", rule, dated(case.bare, seedings), seedings))
        return ways

    def _more_trays(self) -> Iterator[Way]:
        case = self._case
        surprise = case.closure.kind == "surprise"
        for times in range(1, MOST_TRAYS + 1):
            added = one_more_tray(case.left, case.table, self._act, times, case.acts_from)
            if times in Counter(seeding.crop for seeding in added).values():
                name = f"a tray more on {times} seeding day{'s' if times > 1 else ''} "
                name += "after" if surprise else "before"
                yield Way("seed more", name, case.nothing_but(added), case.left, added)
        if surprise and (late := skipped_ones(case.usual, case.closure, case.table)):
            name = "seeding the skipped trays on the first day back"
            yield Way("seed more", name, case.nothing_but(late), case.left, late)

    def _covers(self) -> Iterator[Way]:
        """Cover on one to three days of each week, each with the fewest hours that hold."""
        case, cover = self._case, self._study.cover
        unserved = [x for x in case.leavings if not x.staffed]
        days_of = CoverDays(case.table, unserved, case.usual, cover.crew()[2])
        days_tried = set()
        for per_week in range(1, MOST_DAYS + 1):
            days = days_of.of(case.closure, per_week)
            if days not in days_tried:
                days_tried.add(days)
                yield self._least_hours(days)

    def _least_hours(self, days: Sequence[date]) -> Way:
        """The fewest hours of the grid that hold, by halves, or the most if none holds.

        That rests on an assumption: if some hours hold, more hours hold too.
        """
        searched: dict[int, bool] = {}
        low, high = 0, len(HOURS)
        while low < high:
            middle = (low + high) // 2
            way = self._cover(days, HOURS[middle])
            searched[HOURS[middle]] = self._holds(way.scenario, 0)
            low, high = (low, middle) if searched[HOURS[middle]] else (middle + 1, high)
        way = self._cover(days, HOURS[min(low, len(HOURS) - 1)])
        return replace(way, searched=tuple(sorted(searched.items())))

    def _cover(self, days: Sequence[date], hours: int) -> Way:
        visit = self._study.cover.visit(days, hours)
        scenario, seedings = self._case.covered(visit)
        name = f"{visit.people} adult{'s' if visit.people > 1 else ''}, {hours} h on "
        name += f"{len(days)} day{'s' if len(days) > 1 else ''}"
        return Way("cover", name, scenario, seedings, (), visit.person_hours, visit)

    def _holds(self, scenario: Scenario, first: int) -> bool:
        years = self._wanted.years
        tried, open_ = (self._study.seasons(s, years, first) for s in (scenario, self._case.open_))
        return holds(tried, open_, self._hit, self._wanted.weakest_week)

    def _remedy(self, way: Way, error: float) -> Remedy:
        case, study, years = self._case, self._study, self._wanted.years
        open_, nothing, tried = (
            study.seasons(s, years, years) for s in (case.open_, case.nothing, way.scenario)
        )
        more = tried.short - open_.short
        trays = sum(s.trays for s in way.seedings) + sum(s.trays for s in way.added)
        return Remedy(
            way,
            mean_estimate(more.sum(axis=1)),
            mean_estimate((more > 0).sum(axis=1).astype(float)),
            mean_change((nothing.short - tried.short).sum(axis=1), error),
            mean_change((tried.dumped - nothing.dumped).sum(axis=1), error),
            float((nothing.ordered - tried.ordered).sum(axis=1).mean()),
            trays - sum(s.trays for s in case.left),
            self._holds(way.scenario, years),
            tuple(seeding_changes(study.own_list, way.seedings, way.added, study.table)),
        )


def best_by_seeding(remedies: Sequence[Remedy]) -> Remedy | None:
    """The remedy that helps most for sure with nobody there more, of equals that of least cost."""
    by_seeding = [r for r in remedies if r.way.kind in ("break rule", "seed more")]
    helping = [r for r in by_seeding if r.less.verdict == "real" and r.less.mean > 0]
    return min(helping, key=lambda r: (-r.less.mean, r.cost), default=None)


def best_of(remedies: Sequence[Remedy]) -> Remedy | None:
    """The remedy with the least cost among those that hold the target.

    If none holds it, the one that helps most for sure; pausing orders only if no other remedy
    holds or helps. None if none helps for sure.
    """
    holding = [r for r in remedies if r.holds and r.less.mean > 0]
    if holding:
        return min(_without_pause(holding), key=lambda r: r.cost)
    helping = [r for r in remedies if r.less.verdict == "real" and r.less.mean > 0]
    return max(_without_pause(helping), key=lambda r: r.less.mean, default=None)


def _without_pause(remedies: list[Remedy]) -> list[Remedy]:
    return [r for r in remedies if r.way.kind != "pause"] or remedies
