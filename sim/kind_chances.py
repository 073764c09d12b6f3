"""How many weeks a seeding list meets, in the mean of years in which nothing waits its turn.

In these years a greenhouse has containers, minutes and cold-store space without limit. Seedings,
moves and harvests still need a day with somebody there, stages last and plants are lost as luck
has it, and heads keep as long as they keep. The luck is that of `Luck` with a seed of its own: the
same `YEARS` years for every search, so that nothing hangs on the search's luck.

Compared with such a year the real one has trays that are not seeded, moves that wait for a
channel or for minutes, and heads that nobody has time to cut: it makes batches late or small.
Mostly that harms, but where heads come too early and keep only for days, late ones help. So no
week is judged by itself, and a candidate must fall short of the steadiness wanted by `MARGIN`
before it is ruled out: more than waiting was ever seen to add. Tests compare both kinds of year:
waiting added up to .08 in small greenhouses made at random, whose heads keep three to five days,
and never anything on the demo, whose real years are less steady by .014 to .4.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable

import numpy as np

from sim.draws import Luck, binomial
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.kind_year import KindYear
from sim.seeding import PlannedSeeding
from sim.weeks import Floats

YEARS = 24
MARGIN = 0.08  # of steadiness
_SEED = 0
_NEVER = 1e9

_Slot = tuple[str, int, int, int, int]  # crop, day, week, entry, trays


class KindChances:
    """Years without waiting of a plan's scenario; `year` knows when what could be cut."""

    def __init__(self, plan: Plan, year: KindYear) -> None:
        self._plan, self._year = plan, year
        self._luck = [Luck(_SEED, number) for number in range(YEARS)]
        self._known: dict[_Slot, tuple[Floats, Floats]] = {}

    def steadiness(
        self, seedings: Iterable[PlannedSeeding], counting: Collection[int], least: float = 0.0
    ) -> float:
        """The mean share of the weeks `counting` that are met.

        It is worked out no further than to see that it is below `least`; then it is too high.
        """
        batches: dict[str, list[tuple[Floats, Floats]]] = defaultdict(list)
        for s in seedings:
            batches[s.crop].append(self._batch(s))
        stocks = {crop: _Stock(some, self._year.keep_days(crop)) for crop, some in batches.items()}
        short = {week: np.zeros(YEARS, dtype=bool) for week in counting}
        before = -1
        for wanted in self._year.wanted:
            leaving = wanted.leaving
            stock, lacking = stocks.get(leaving.crop), np.full(YEARS, float(leaving.heads))
            if stock is not None:
                lacking = stock.take(leaving.heads, sorted(wanted.days))
            week = week_of(self._plan.timetable, leaving.time)
            if week in short:
                short[week] |= lacking >= 0.5
            if week is not None and week > before:
                before = week
                if 1.0 - np.mean(list(short.values())) < least:
                    break
        return float(1.0 - np.mean(list(short.values())))

    def _batch(self, s: PlannedSeeding) -> tuple[Floats, Floats]:
        """The day on which a seeding is ready [d] and its heads, by year."""
        slot = (s.crop, s.day, s.week, s.entry, s.trays)
        if slot not in self._known:
            years = [self._grow(s, luck) for luck in self._luck]
            self._known[slot] = (
                np.array([day for day, _ in years]),
                np.array([heads for _, heads in years]),
            )
        return self._known[slot]

    def _grow(self, s: PlannedSeeding, luck: Luck) -> tuple[float, float]:
        """The day on which one seeding is ready [d] and its heads, by rules C3 to C5."""
        crop, done = self._plan.crops[s.crop], s.day
        plants = s.trays * self._plan.scenario.places[crop.stages[0].place].sites_each
        for number, stage in enumerate(crop.stages):
            placed = self._year.placed(s.crop, number, done)
            if placed is None:
                return _NEVER, 0.0
            drawn = luck.eight(crop.key, s.week, s.entry, number)
            if number:
                plants = binomial(drawn[5], plants, 1.0 - stage.cull)
            done = stage.finished(placed, stage.days.at(drawn[0]))
            plants = binomial(drawn[2], plants, stage.stand.at(drawn[1]))
            if drawn[3] < stage.event_share:
                plants = binomial(drawn[4], plants, 1.0 - stage.event_loss)
        return float(done), float(plants)


class _Stock:
    """The ready heads of one crop, the oldest first, in each of the years."""

    def __init__(self, batches: list[tuple[Floats, Floats]], keep: float) -> None:
        ready = np.array([days for days, _ in batches])
        order = np.argsort(ready, axis=0, kind="stable")
        self._ready = np.take_along_axis(ready, order, axis=0)
        self._heads = np.take_along_axis(np.array([n for _, n in batches]), order, axis=0)
        self._keep = keep

    def take(self, heads: int, days: list[int]) -> Floats:
        """Take heads that may be cut on one of these days; how many are lacking, by year."""
        wanted = np.full(self._ready.shape[1], float(heads))
        if not days:
            return wanted
        some = slice(
            int((self._ready + self._keep <= days[0]).all(axis=1).sum()),
            int((self._ready <= days[-1]).any(axis=1).sum()),
        )
        ready, there = self._ready[some], np.zeros_like(self._ready[some], dtype=bool)
        for day in days:
            there |= (ready <= day) & (day < ready + self._keep)
        usable = np.where(there, self._heads[some], 0.0)
        before = np.cumsum(usable, axis=0) - usable
        taken = np.clip(wanted - before, 0.0, usable)
        self._heads[some] -= taken
        return np.asarray(wanted - taken.sum(axis=0))
