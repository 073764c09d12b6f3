"""A scenario made ready for the study of its closures: variants, and their years under one luck."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sim.breaks_calendar import Closure
from sim.breaks_cover import OwnCover
from sim.breaks_harm import Seasons
from sim.breaks_seedings import dated, listed, split
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

    def surprised(self, week: Closure) -> Scenario:
        """The scenario with a closure that nobody saw coming: no seeding is moved for it."""
        return dated(closed(self.frozen, week), self.own_list)


class Case:
    """One closure with its variants of the scenario.

    `open_`: class as usual on its days, without its cover. `nothing`: nobody comes to cover it,
    and seedings with nobody there are skipped. `usual` are the seedings of `open_`, `left`
    those of `nothing`. `bare` and `bare_as_written` are the scenario without this cover, the one
    with frozen orders, the other with the orders as its calendar makes them.
    """

    def __init__(self, study: Study, closure: Closure) -> None:
        self.study, self.closure = study, closure
        self.bare = study.cover.taken_from(study.frozen, closure)
        self.bare_as_written = study.cover.taken_from(study.scenario, closure)
        without_it = opened(self.bare, closure)
        self.usual = listed(without_it)
        self.open_ = dated(without_it, self.usual)
        self.nothing = self.nothing_but(())
        self.table = Timetable(self.nothing)
        self.left, _ = split(self.usual, self.table)
        self.leavings = leavings(self.nothing, self.table)

    def nothing_but(self, added: Sequence[Seeding]) -> Scenario:
        """Nothing is done but some seedings added."""
        return dated(self.bare, self.usual, added)
