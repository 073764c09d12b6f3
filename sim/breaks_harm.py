"""What a closure does to deliveries and benches: the same years with it less those without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from sim.breaks_calendar import Closure
from sim.comparing import Verdict, mean_change
from sim.replications import Estimate, Years, mean_estimate
from sim.school_year import monday
from sim.weeks import Floats

TOUCHED = 0.05  # of the years in which a week must be hit to count as touched
TOLERANCE = 0.05  # of the years in which a touched week may be short for all that helps
CAUSES = ("over-mature", "overgrown", "kept too long")
_AROUND = timedelta(days=14)
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Seasons:
    """What the harm is counted from, each of shape [years, weeks].

    `wasted` are plants dumped by cause, each of shape [years].
    """

    short: Floats
    dumped: Floats
    delivered: Floats
    ordered: Floats
    wasted: dict[str, Floats]

    @classmethod
    def of(cls, years: Years) -> Seasons:
        """Read it from simulated years."""
        weekly, none = years.weekly, np.zeros(years.count)
        wasted = {
            cause: sum((n for (_, c), n in years.yearly_dumped.items() if c == cause), none)
            for cause in CAUSES
        }
        return cls(
            weekly["heads short"], weekly["plants dumped"], weekly["heads delivered"],
            weekly["heads ordered"], wasted,
        )  # fmt: skip

    def part(self, first: int, count: int) -> Seasons:
        """So many of the years, from number `first` on."""
        span = slice(first, first + count)
        return Seasons(
            self.short[span], self.dumped[span], self.delivered[span], self.ordered[span],
            {cause: plants[span] for cause, plants in self.wasted.items()},
        )  # fmt: skip

    @property
    def kept(self) -> NDArray[np.bool_]:
        """Whether no delivery of a week was short, shape [years, weeks]."""
        return np.asarray(self.short == 0)


@dataclass(frozen=True)
class Harm:
    """What the years with a closure have more than the same years without it.

    A week is *hit* in a year in which more heads are short in it than without the closure.
    `heads_short` [heads a year] and `plants_dumped` [plants a year] are differences, `weeks_hit`
    are weeks a year. `first_week` is the median Monday of the first week hit, over the years with
    one, and `first_range` its 5-95 % range; None if no year is hit. `wasted` are the plants by
    cause that make up `plants_dumped`. The verdict is about `heads_short`.
    """

    heads_short: Estimate
    weeks_hit: Estimate
    plants_dumped: Estimate
    wasted: dict[str, Estimate]
    years_hit: float
    first_week: date | None
    first_range: tuple[date, date] | None
    verdict: Verdict


def harm(closed: Seasons, open_: Seasons, mondays: Sequence[date], error: float) -> Harm:
    """The harm of a closure; the verdict is wrong with a chance of about `error`."""
    more = closed.short - open_.short
    hit = more > 0
    in_year = hit.any(axis=1)
    first = hit.argmax(axis=1)[in_year]
    week, span = None, None
    if first.size:
        at = np.quantile(first, [0.05, 0.5, 0.95], method="inverted_cdf").astype(int)
        low, week, high = (mondays[n] for n in at)
        span = low, high
    heads = more.sum(axis=1)
    return Harm(
        mean_estimate(heads),
        mean_estimate(hit.sum(axis=1).astype(float)),
        mean_estimate((closed.dumped - open_.dumped).sum(axis=1)),
        {cause: mean_estimate(n - open_.wasted[cause]) for cause, n in closed.wasted.items()},
        float(in_year.mean()),
        week,
        span,
        mean_change(heads, error).verdict,
    )


@dataclass(frozen=True)
class Week:
    """One calendar week around a closure, dated by its Monday; heads are means over the years.

    `delivered` has, by the name of what was done, mean, 5 % and 95 % of the years; `kept` the
    share of years without a short delivery; `touched` says whether it counts for the target.
    """

    week_of: date
    ordered: float
    delivered: dict[str, tuple[float, float, float]]
    kept: dict[str, float]
    touched: bool


def touched(closed: Seasons, open_: Seasons) -> NDArray[np.bool_]:
    """The weeks that are hit in at least `TOUCHED` of the years, shape [weeks]."""
    return np.asarray((closed.short > open_.short).mean(axis=0) >= TOUCHED)


def holds(tried: Seasons, open_: Seasons, weeks: NDArray[np.bool_], weakest_week: float) -> bool:
    """Whether every one of the weeks keeps to the target, or nearly does as without the closure.

    A week keeps to it if its deliveries are complete in a share `weakest_week` of the years, or in
    a share that is at most `TOLERANCE` below that of the years without the closure.
    """
    each, usual = tried.kept[:, weeks].mean(axis=0), open_.kept[:, weeks].mean(axis=0)
    return bool((each >= np.minimum(weakest_week, usual - TOLERANCE) - _ROUNDING).all())


def weeks_around(
    seasons: dict[str, Seasons],
    mondays: Sequence[date],
    closure: Closure,
    hit: NDArray[np.bool_],
) -> tuple[Week, ...]:
    """The weeks from two before a closure to two after it, or after the last one that it touches.

    `seasons` are the same years under several names.
    """
    ends = [week for week, at in zip(mondays, hit, strict=True) if at]
    first = monday(closure.first_day) - _AROUND
    last = max([closure.last_day, *ends]) + _AROUND
    numbers = [n for n, week in enumerate(mondays) if first <= week <= last]
    return tuple(_week(seasons, n, mondays[n], touched=bool(hit[n])) for n in numbers)


def _week(seasons: dict[str, Seasons], n: int, week_of: date, *, touched: bool) -> Week:
    ordered = next(iter(seasons.values())).ordered[:, n]
    delivered = {}
    for name, s in seasons.items():
        heads = s.delivered[:, n]
        low, high = np.quantile(heads, [0.05, 0.95])
        delivered[name] = (float(heads.mean()), float(low), float(high))
    kept = {name: float(s.kept[:, n].mean()) for name, s in seasons.items()}
    return Week(week_of, float(ordered.mean()), delivered, kept, touched)
