"""Past outlooks against what happened: whether their ranges held, and which way they erred.

A delivery counts as inside its range from the 10th to the 90th percent. Many ranges end at the
order, because no more than that can leave; then far more than 80 % are inside however sure the
outlook was. `weight` is therefore the share of an outcome's own stretch of the distribution that
lies between 10 and 90 %: 1 or 0 for most, in between where many futures gave the same number. Its
mean is 80 % for an outlook that is as sure as it should be (the mean of the randomized
probability integral transform: Czado, Gneiting & Held, Biometrics 65:1254, 2009).

Deliveries of one week share batches and people, so a week counts once however many deliveries and
outlooks it has, and its deliveries are taken to err together. How far a mean may be off by chance
is worked out from the spread that the outlooks themselves state, not from what was seen: seasons
without a rare bad week would look surer than they are. Weeks are taken as independent; in futures
of one start their heads hardly hang together.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt
from statistics import fmean

from sim.counts import Counts
from sim.counts_orders import NO_ROW
from sim.errors import RecordsError
from sim.records import CAUSE, COUNT, CROP, CUSTOMER, KIND, TIME
from sim.review_files import HIGH, LOW, Kept, KeptDelivery
from sim.review_stages import StageLook, stage_looks
from sim.scenario import Scenario
from sim.school_year import monday
from sim.timetable import Timetable

SHARE = 0.8  # of outcomes that belong between 10 and 90 %
LEAST_WEEKS = 6  # with deliveries, below which there is too little to tell
_NORMAL = 1.959964  # 97.5 % quantile of the standard normal distribution
LEADS = ((0, 1), (2, 3), (4, 5), (6, 51))  # weeks from an outlook to a delivery, from and to

Key = tuple[date, str, str]  # day, crop, customer


@dataclass(frozen=True)
class Pair:
    """A delivery as one outlook expected it, and as it was.

    `sd` [heads] and `weight_sd` are what the outlook says of the spread of heads and of weights.
    """

    outlook: date
    day: date
    customer: str
    crop: str
    ordered: int
    expected: float
    low: int
    high: int
    delivered: int
    sd: float
    weight: float
    weight_sd: float

    @property
    def inside(self) -> bool:
        """Whether it was inside the range of 10-90 %, its ends included."""
        return self.low <= self.delivered <= self.high

    @property
    def lead(self) -> int:
        """Weeks from the outlook's to the delivery's."""
        return (monday(self.day) - monday(self.outlook)).days // 7


@dataclass(frozen=True)
class Mean:
    """A mean over weeks, with the 95 % interval that the outlooks' own spread gives."""

    mean: float
    low: float
    high: float

    @classmethod
    def of(cls, weeks: Sequence[Sequence[tuple[float, float]]]) -> Mean:
        """The mean of weeks, from values and their standard deviations by week."""
        mean = fmean(fmean(value for value, _ in some) for some in weeks)
        error = sqrt(sum(fmean(sd for _, sd in some) ** 2 for some in weeks)) / len(weeks)
        return cls(mean, mean - _NORMAL * error, mean + _NORMAL * error)

    def within(self, least: float, most: float) -> Mean:
        """The same, its interval cut where nothing can lie."""
        return Mean(self.mean, max(least, self.low), min(most, self.high))


@dataclass(frozen=True)
class Score:
    """How some pairs did: shares inside, and heads delivered less expected a delivery."""

    pairs: int
    weeks: int
    inside: float
    weight: Mean
    bias: Mean
    heads_expected: float
    heads_delivered: int

    @property
    def enough(self) -> bool:
        """Whether there are weeks enough to tell."""
        return self.weeks >= LEAST_WEEKS


@dataclass(frozen=True)
class Review:
    """Past outlooks beside the records.

    Of the `records`' file `refused` rows could not be used. `not_yet` deliveries lie after the
    records, `unwritten` ones have no row in them, `changed` ones were ordered otherwise or not at
    all. `by_lead` has the weeks ahead, from and to.
    """

    records: str
    refused: int
    outlooks: int
    first: date
    last: date
    pairs: tuple[Pair, ...]
    whole: Score | None
    by_lead: tuple[tuple[tuple[int, int], Score], ...]
    not_yet: int
    unwritten: int
    changed: int
    stages: tuple[StageLook, ...]


def review(scenario: Scenario, counts: Counts, outlooks: Sequence[Kept]) -> Review:
    """Put outlooks beside what was written down.

    Raises RecordsError if there is no outlook, or the records hold no delivery.
    """
    if not outlooks:
        raise RecordsError(
            "review: no outlook was found; keep them with seedbeat outlook --out, and name their "
            "folders as --outlooks DIR."
        )
    if counts.ordered is None:
        raise RecordsError(
            f"{counts.file}: must hold deliveries, but it holds none; write down how many heads "
            "left for whom."
        )
    table = Timetable(scenario.model_copy(update={"benches": None}))
    happened = _Happened(counts, table)
    pairs = [pair for kept in outlooks for pair in happened.pairs(kept)]
    leads = [(span, [p for p in pairs if span[0] <= p.lead <= span[1]]) for span in LEADS]
    return Review(
        counts.file, counts.refused, len(outlooks), counts.ordered.first, counts.ordered.last,
        tuple(pairs),
        score(pairs) if pairs else None,
        tuple((span, score(some)) for span, some in leads if some),
        happened.aside["not yet"], happened.aside["unwritten"], happened.aside["changed"],
        tuple(stage_looks(table, counts.rows)),
    )  # fmt: skip


class _Happened:
    """The deliveries that were written down, by day, crop and customer."""

    def __init__(self, counts: Counts, table: Timetable) -> None:
        assert counts.ordered is not None
        self._last = counts.ordered.last
        self._first = counts.ordered.first
        self._ordered: Counter[Key] = Counter()
        self._short: Counter[Key] = Counter()
        self._unwritten: set[Key] = set()
        self.aside: Counter[str] = Counter()
        for row in counts.rows:
            key = table.date_of(row[TIME]), row[CROP], row[CUSTOMER]
            if row[KIND] == "due":
                self._ordered[key] += row[COUNT]
            elif row[KIND] == "short":
                self._short[key] += row[COUNT]
                if row[CAUSE] == NO_ROW:
                    self._unwritten.add(key)

    def pairs(self, kept: Kept) -> Iterable[Pair]:
        """The deliveries of one outlook that were written down."""
        for delivery in kept.deliveries:
            key = delivery.day, delivery.crop, delivery.customer
            if delivery.day > self._last:
                self.aside["not yet"] += 1
            elif delivery.day < self._first or key in self._unwritten:
                self.aside["unwritten"] += 1
            elif self._ordered[key] != delivery.ordered:
                self.aside["changed"] += 1
            else:
                yield _pair(kept.day, delivery, delivery.ordered - self._short[key])


def _pair(day: date, d: KeptDelivery, delivered: int) -> Pair:
    at = dict(zip(d.levels, d.quantiles, strict=True))
    return Pair(
        day, d.day, d.customer, d.crop, d.ordered, d.expected, at[LOW], at[HIGH], delivered, d.sd,
        weight(d, delivered), weight_sd(d.share_complete),
    )  # fmt: skip


def weight(d: KeptDelivery, delivered: int) -> float:
    """The share of an outcome's stretch of the distribution that lies between 10 and 90 %.

    The stretch reaches from the share of futures with fewer heads to that with as many or fewer,
    or, if no future gave this number, to the next quantile. From kept quantiles it is known to a
    twentieth, for complete deliveries exactly.
    """
    at = list(zip(d.levels, d.quantiles, strict=True))
    below = max((level for level, heads in at if heads < delivered), default=0.0)
    above = max((level for level, heads in at if heads <= delivered), default=0.0)
    if above <= below:
        above = min((level for level, heads in at if heads > delivered), default=1.0)
    if delivered == d.ordered:
        below, above = 1.0 - d.share_complete, 1.0
    if above <= below:
        return float(LOW <= above <= HIGH)
    return max(0.0, min(above, HIGH) - max(below, LOW)) / (above - below)


def weight_sd(complete: float) -> float:
    """The standard deviation of weights, given the share of futures that are complete.

    All other outcomes are taken to be 0 or 1, which is the most that they can vary.
    """
    whole = max(0.0, HIGH - max(1.0 - complete, LOW)) / complete if complete else 0.0
    square = complete * whole**2 + (SHARE - complete * whole)
    return sqrt(max(0.0, square - SHARE**2))


def score(pairs: Sequence[Pair]) -> Score:
    """How these pairs did, at least one."""
    by_week: defaultdict[date, list[Pair]] = defaultdict(list)
    for pair in pairs:
        by_week[monday(pair.day)].append(pair)
    weeks = list(by_week.values())
    return Score(
        len(pairs), len(weeks), sum(p.inside for p in pairs) / len(pairs),
        Mean.of([[(p.weight, p.weight_sd) for p in some] for some in weeks]).within(0.0, 1.0),
        Mean.of([[(p.delivered - p.expected, p.sd) for p in some] for some in weeks]),
        sum(p.expected for p in pairs), sum(p.delivered for p in pairs),
    )  # fmt: skip
