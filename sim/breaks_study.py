"""A scenario made ready for the study of its closures: variants, and their years under one luck."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from sim.breaks_calendar import Closure
from sim.breaks_cover import OwnCover, Visit
from sim.breaks_harm import Seasons
from sim.breaks_seedings import Seedings, dated, listed, same_seedings, split
from sim.breaks_variants import closed, frozen, opened
from sim.order_book import leavings
from sim.parts import Seeding
from sim.runs import Runs
from sim.scenario import Scenario
from sim.timetable import Timetable


class Study:
    """The scenario as it stands, and its simulated years; each variant is simulated once.

    `frozen` is the scenario whose orders no longer hang on the calendar, `own_list` its seedings.
    """

    def __init__(self, scenario: Scenario, runs: Runs, seed: int) -> None:
        self.scenario, self.runs, self._seed = scenario, runs, seed
        self.table = Timetable(scenario)
        self.frozen = frozen(scenario, self.table)
        self.own_list = listed(scenario)
        self.own = dated(self.frozen, self.own_list)
        self.cover = OwnCover(scenario, self.table)
        self.mondays: list[date] = [self.table.week_monday(w) for w in range(self.table.weeks)]
        self._known: dict[str, dict[tuple[int, int], Seasons]] = {}

    def seasons(self, scenario: Scenario, count: int, first: int = 0) -> Seasons:
        """Replications `first` ... `first + count - 1` of a variant."""
        known = self._known.setdefault(scenario.fingerprint(), {})
        for (start, years), seasons in known.items():
            if start <= first and first + count <= start + years:
                return seasons if years == count else seasons.part(first - start, count)
        found = Seasons.of(self.runs.years(scenario, count, self._seed, first=first))
        return known.setdefault((first, count), found)


class Case:
    """One closure with its variants of the scenario.

    `open_`: class as usual on its days, without its cover. `nothing`: nobody comes to cover it,
    and seedings with nobody there are skipped. `own`: the scenario as it stands. `usual` are the
    seedings of `open_`, `left` those of `nothing`. `bare` and `bare_as_written` are the scenario
    without this cover, the one with frozen orders, the other with the orders as its calendar makes
    them. More can be seeded from `acts_from` on.
    """

    acts_from = date.min

    def __init__(self, study: Study, closure: Closure) -> None:
        self.study, self.closure = study, closure
        self.bare, self.bare_as_written = (
            self._uncovered(s) for s in (study.frozen, study.scenario)
        )
        self.usual, self.open_ = self._as_usual()
        self.table = Timetable(self.nothing_but(()))
        self.left, _ = split(self.usual, self.table)
        same = self.bare is study.frozen and same_seedings(self.left, study.own_list)
        self.nothing = study.own if same else self.nothing_but(())
        self.own = self._own()
        self.leavings = leavings(self.nothing, self.table)

    def _uncovered(self, scenario: Scenario) -> Scenario:
        return self.study.cover.taken_from(scenario, self.closure)

    def _as_usual(self) -> tuple[Seedings, Scenario]:
        without_it = opened(self.bare, self.closure)
        usual = listed(without_it)
        return usual, dated(without_it, usual)

    def _own(self) -> Scenario:
        return self.study.own

    def nothing_but(self, added: Sequence[Seeding]) -> Scenario:
        """Nothing is done but some seedings added."""
        return dated(self.bare, self.usual, added)

    def covered(self, visit: Visit) -> tuple[Scenario, Seedings]:
        """Cover comes, and the seeding list is the one that the break rule makes of that."""
        cover = self.study.cover
        seedings = listed(cover.added_to(self.bare_as_written, visit))
        return dated(cover.added_to(self.bare, visit), seedings), seedings


class SurpriseCase(Case):
    """A closure that nobody saw coming: nobody at all comes, and no seeding is moved for it.

    Without it the scenario is as it stands; as it stands, nothing is done. What helps can begin
    only in it, so that more can be seeded after it only.
    """

    def __init__(self, study: Study, closure: Closure) -> None:
        super().__init__(study, closure)
        self.acts_from = closure.last_day + timedelta(days=1)

    def _uncovered(self, scenario: Scenario) -> Scenario:
        return closed(scenario, self.closure)

    def _as_usual(self) -> tuple[Seedings, Scenario]:
        return self.study.own_list, self.study.own

    def _own(self) -> Scenario:
        return self.nothing

    def covered(self, visit: Visit) -> tuple[Scenario, Seedings]:
        """Cover comes, and seedings that it is there for are done."""
        scenario = dated(self.study.cover.added_to(self.bare, visit), self.usual)
        return scenario, split(self.usual, Timetable(scenario))[0]
