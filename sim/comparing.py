"""Scenarios beside each other, year by year under the same luck: what differs, and how surely.

Differences are those of each other scenario from the first. The interval of a mean difference is
Student's t on the yearly differences; that of the weakest week is a bootstrap over years, see
`weakest_change`. A verdict rests on a wider interval: an error of 5 % is shared out over all
measures and scenarios (Bonferroni). Single weeks share out an error of 5 % of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import isnan, log, nan, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sim.errors import SeedbeatError
from sim.measures import MEASURES
from sim.replications import Years, mean_estimate
from sim.runs import Runs
from sim.scenario import Scenario
from sim.school_year import spoken
from sim.weeks import Floats

Verdict = Literal["the same", "real", "could be noise", "no number"]
Bools = NDArray[np.bool_]

LETTERS = "ABCDEF"  # short names of the scenarios; no picture tells more of them apart
ERROR = 0.05
RESAMPLES = 10_000
_AT_A_TIME = 2_000_000  # years drawn at a time, for memory


@dataclass(frozen=True)
class Change:
    """What another scenario has more than the first, mean of the years, with a 95 % interval.

    The verdict rests on the wider interval `sure_low` ... `sure_high`. All are nan if a scenario
    has no such number.
    """

    mean: float
    low: float
    high: float
    sure_low: float
    sure_high: float
    years: int

    @property
    def exact(self) -> bool:
        """Whether no year differs from another in this difference."""
        return self.sure_low == self.sure_high

    @property
    def verdict(self) -> Verdict:
        """Whether the wider interval leaves zero out."""
        if isnan(self.mean):
            return "no number"
        if self.exact and self.mean == 0.0:
            return "the same"
        return "could be noise" if self.sure_low <= 0.0 <= self.sure_high else "real"


@dataclass(frozen=True)
class WeekChange:
    """A calendar week: shares of years in which each scenario met it, and years of one only."""

    week_of: date
    share_first: float
    share_other: float
    years_only_first: int
    years_only_other: int
    verdict: Verdict


@dataclass(frozen=True)
class Pair:
    """Another scenario against the first.

    `changes` by measure; `weeks` with a delivery due in both, none if the windows differ;
    `unlike` says in words why the two are not like for like.
    """

    changes: Mapping[str, Change]
    weeks: tuple[WeekChange, ...]
    unlike: tuple[str, ...]


@dataclass(frozen=True)
class Comparison:
    """The years of each scenario, in their order, and each other one against the first."""

    results: tuple[Years, ...]
    pairs: tuple[Pair, ...]


def compare(scenarios: Sequence[Scenario], years: int, seed: int, runs: Runs) -> Comparison:
    """Simulate the same years of two to six scenarios and compare the others with the first.

    Raises SeedbeatError for too many scenarios, or too few years for an interval.
    """
    if len(scenarios) > len(LETTERS):
        raise SeedbeatError(
            f"compare: at most {len(LETTERS)} scenarios can be told apart in one picture, but "
            f"{len(scenarios)} were given; compare fewer at a time."
        )
    if years < 2:
        raise SeedbeatError(
            "--years: must be at least 2, because a single year says nothing of chance, but it "
            f"was {years}; 200 are usual."
        )
    runs.total = years * len(scenarios)
    results = tuple(runs.years(scenario, years, seed) for scenario in scenarios)
    return Comparison(results, tuple(pairs(results)))


def pairs(results: Sequence[Years]) -> Iterator[Pair]:
    """Each other scenario's years against the first's; years of one number have the same luck."""
    first, others = results[0], results[1:]
    shared = [_weeks_in_both(first, other) for other in others]
    weeks = sum(map(len, shared))
    for letter, other, these in zip(LETTERS[1:], others, shared, strict=False):
        yield Pair(
            changes(first, other, ERROR / (len(MEASURES) * len(others))),
            tuple(week_changes(first, other, these, ERROR / max(weeks, 1))),
            tuple(unlike(first, other, LETTERS[0], letter)),
        )


def _weeks_in_both(first: Years, other: Years) -> list[int]:
    """Weeks with a delivery due in both; none if the windows differ."""
    if _window(first) != _window(other):
        return []
    return [int(w) for w in np.flatnonzero((first.met[0] >= 0) & (other.met[0] >= 0))]


def _window(years: Years) -> tuple[date, date]:
    """First and last day of the measured weeks."""
    table = years.timetable
    return table.week_monday(0), table.week_monday(table.weeks) - timedelta(days=1)


def changes(first: Years, other: Years, error: float) -> dict[str, Change]:
    """The difference of every measure; a verdict goes wrong with a chance of about `error`."""
    weeks = [(years.met == 1)[:, years.met[0] >= 0] for years in (first, other)]
    found = {"weakest_week": weakest_change(weeks[0], weeks[1], error)}
    for name in first.values:
        found[name] = mean_change(other.values[name] - first.values[name], error)
    return {name: found[name] for name in MEASURES}


def mean_change(differences: Floats, error: float) -> Change:
    """The mean of yearly differences, with Student's t intervals of levels 95 % and 1 - `error`.

    Differences below 1e-9 are the rounding of sums, and count as none.
    """
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to import

    exactly, n = np.round(differences, 9) + 0.0, len(differences)  # + 0.0: no negative zero
    if np.ptp(exactly) == 0.0:
        return _every_year(float(exactly[0]), n)
    e = mean_estimate(exactly)
    wide = (e.mean - e.low) * float(stdtrit(n - 1, 1 - error / 2) / stdtrit(n - 1, 1 - ERROR / 2))
    return Change(e.mean, e.low, e.high, e.mean - wide, e.mean + wide, n)


def _every_year(change: float, years: int) -> Change:
    return Change(change, change, change, change, change, years)


def weakest_change(first: Bools, other: Bools, error: float, resamples: int = RESAMPLES) -> Change:
    """The difference of the lowest weekly shares of years met, each scenario's own week.

    `first` and `other` say of each year and week with a delivery due whether it was met, shape
    [years, weeks]. The lowest of many estimated shares is biased low, the more so the more weeks
    are about as weak. Intervals are of the basic bootstrap over years, which takes off the bias
    (Davison & Hinkley, Bootstrap Methods and their Application, 1997, chapter 5), for each scenario
    in the two views of `_leads`, and hold all four; the tests say how often they cover the truth.
    The resamples are the same every time.
    """
    if not first.shape[1] or not other.shape[1]:
        return _every_year(nan, len(first))
    if np.array_equal(first, other):
        return _every_year(0.0, len(first))
    found = float(other.mean(axis=0).min() - first.mean(axis=0).min())
    lows = np.concatenate(list(_resampled(first, other, resamples)), axis=-1)
    errors = [b - a for a in lows[0] for b in lows[1]]  # by view of the one and of the other

    def span(wrong: float) -> tuple[float, float]:
        low, high = np.quantile(errors, [wrong / 2, 1 - wrong / 2], axis=1)
        return max(-1.0, found - max(high.max(), 0.0)), min(1.0, found - min(low.min(), 0.0))

    told = np.round([found, *span(ERROR), *span(error)], 9) + 0.0
    mean, low, high, sure_low, sure_high = (float(number) for number in told)
    return Change(mean, low, high, sure_low, sure_high, len(first))


def _leads(met: Bools) -> Floats:
    """How far each week's share lies above the lowest, in two views, shape [2, weeks].

    As it looks; and with none for weeks so near that they may be as weak, within sqrt(ln years)
    standard errors (Andrews & Soares, Econometrica 78:119-157, 2010, section 4).
    """
    share, n = met.mean(axis=0), len(met)
    lead, spread = share - share.min(), np.sqrt(share * (1 - share) / n)
    near = lead <= sqrt(log(n)) * np.maximum(spread, spread[share.argmin()])
    return np.array([lead, np.where(near, 0.0, lead)])


def _resampled(first: Bools, other: Bools, resamples: int) -> Iterator[Floats]:
    """Errors of the lowest shares in years drawn with replacement, [scenario, view, resample]."""
    rng, n, cut = np.random.default_rng(1), len(first), first.shape[1]
    met = np.hstack([first, other]).astype(np.float64)
    views = np.hstack([_leads(first), _leads(other)]) - met.mean(axis=0)
    many = max(1, _AT_A_TIME // n)
    for done in range(0, resamples, many):
        draws = min(many, resamples - done)
        drawn = rng.integers(0, n, (draws, n)) + n * np.arange(draws)[:, None]
        shares = np.bincount(drawn.ravel(), minlength=draws * n).reshape(draws, n) @ met / n
        both = [shares + view for view in views]
        yield np.array([[s[:, :cut].min(1) for s in both], [s[:, cut:].min(1) for s in both]])


def week_changes(
    first: Years, other: Years, weeks: Sequence[int], error: float
) -> Iterator[WeekChange]:
    """These weeks one by one, by the exact sign test of years in which only one met the week.

    McNemar, Psychometrika 12:153-157 (1947); a verdict goes wrong with a chance below `error`.
    """
    from scipy.special import bdtr  # noqa: PLC0415 - slow to import

    for week in weeks:
        one, two = first.met[:, week] == 1, other.met[:, week] == 1
        only = int((one & ~two).sum()), int((two & ~one).sum())
        chance = 2.0 * float(bdtr(min(only), sum(only), 0.5))
        verdict: Verdict = "real" if chance <= error else "could be noise"
        yield WeekChange(
            first.timetable.week_monday(week), float(one.mean()), float(two.mean()), *only,
            verdict if any(only) else "the same",
        )  # fmt: skip


def unlike(first: Years, other: Years, a: str, b: str) -> Iterator[str]:
    """What keeps two scenarios, called `a` and `b`, from being like for like, in words."""
    windows = [_window(years) for years in (first, other)]
    if windows[0] != windows[1]:
        told = [f"{spoken(w[0], year=True)} to {spoken(w[1], year=True)}" for w in windows]
        yield (
            f"The measured weeks differ: {a} is measured from {told[0]}, {b} from {told[1]}. "
            "Measures over other weeks can differ for that reason alone, and weeks are not "
            "compared one by one."
        )
    yield from _other_orders(first, other, a, b)
    yield from _other_days(first, other, a, b)


def _other_orders(first: Years, other: Years, a: str, b: str) -> Iterator[str]:
    """Deliveries due in only one of the two, on days that both measure."""
    starts, ends = zip(_window(first), _window(other), strict=True)
    one, two = (_deliveries(years, max(starts), min(ends)) for years in (first, other))
    if one != two:
        heads = [years.weekly["heads ordered"].mean() for years in (first, other)]
        yield (
            f"The orders differ: {(one - two).total():,} deliveries are due in {a} only and "
            f"{(two - one).total():,} in {b} only; {heads[0]:,.0f} heads a week are ordered in "
            f"{a} and {heads[1]:,.0f} in {b}. Shares are of each scenario's own orders."
        )


def _deliveries(years: Years, start: date, end: date) -> Counter[tuple[object, ...]]:
    """Deliveries by day, minute, crop, customer and heads, from one day to another."""
    found: Counter[tuple[object, ...]] = Counter()
    for leaving in years.plan.leavings:
        day, minute = years.timetable.date_of(leaving.time), round(leaving.time % 1 * 1440)
        if start <= day <= end:
            due = leaving.deliveries
            found.update((day, minute, leaving.crop, d.customer, d.heads) for d in due)
    return found


def _other_days(first: Years, other: Years, a: str, b: str) -> Iterator[str]:
    """Days of another kind in the two calendars, from the first day of a run to the last week."""
    tables = first.timetable, other.timetable
    start, end = min(t.start for t in tables), max(_window(first)[1], _window(other)[1])
    days = (start + timedelta(days=n) for n in range((end - start).days + 1))
    one, two = (table.school_year for table in tables)
    differing = [day for day in days if one.kind(day) != two.kind(day)]
    if differing:
        day, count = differing[0], len(differing)
        yield (
            f"The school calendars differ on {count:,} {'day' if count == 1 else 'days'}, the "
            f"first {spoken(day, year=True)}: {one.kind(day)} in {a}, {two.kind(day)} in {b}."
        )
