"""What a cadence takes week after week, against the containers and minutes that there are."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sim.flows import loads, ordered
from sim.greenhouse.plan import Plan
from sim.parts import Cadence
from sim.workload import (
    Balance,
    CropNeeds,
    check_days,
    crop_needs,
    mean_minutes,
    ordinary_weeks,
    tightest,
    weekly_staffing,
    weekly_work,
)

Why = tuple[str, str]  # the reason in a word or two, the bound in words


def trays_per_week(cadence: Cadence, first: date, last: date) -> dict[str, float]:
    """Trays that the lines seed per week before any break, by crop.

    A line that is in force for a part of the days from `first` to `last` counts for that part.
    """
    trays: dict[str, float] = defaultdict(float)
    for line in cadence.lines:
        begins, ends = max(line.first_day or first, first), min(line.last_day or last, last)
        share = max(0, (ends - begins).days + 1) / ((last - first).days + 1)
        trays[line.crop] += share * sum(line.trays.values()) / line.every_weeks
    return trays


@dataclass(frozen=True)
class Taken:
    """What a cadence takes of one bound in an ordinary week, and what there is.

    `what` is the place, the crews or the crop, `unit` what is counted; of heads at least those
    ordered are to come, of all others at most those there are may be taken.
    """

    what: str
    unit: str
    taken: float
    there_is: float


class Bounds:
    """What a cadence takes week after week, against the containers and minutes that there are.

    The seedings of the ordered crops alone are counted, set-up minutes are not, and places and
    minutes are those of an ordinary week at mean stays: the least there can be.
    """

    def __init__(self, plan: Plan) -> None:
        table = plan.timetable
        self._scenario = plan.scenario
        self._span = plan.scenario.rhythm_start, table.date_of(table.window_end - 1)
        found = crop_needs(table, ordered(table, plan.leavings))
        self._needs = [need for need in found if need.heads_per_week > 0]
        weeks = ordinary_weeks(weekly_staffing(table))
        self._minutes = mean_minutes(weeks)
        self._check_days = sum(check_days(table, week) for week in weeks) / len(weeks)
        self._known: dict[tuple[tuple[float, ...], tuple[float, ...]], Why | None] = {}

    def trays_per_week(self, cadence: Cadence) -> dict[str, float]:
        """Trays that the lines seed per week before any break, by crop, up to the window's end."""
        return trays_per_week(cadence, *self._span)

    def broken(self, cadence: Cadence) -> Why | None:
        """The first bound that the cadence breaks, if any."""
        weekly, most = self.trays_per_week(cadence), Counter[str]()
        for line in cadence.lines:
            most[line.crop] = max(most[line.crop], *line.trays.values())
        key = (
            tuple(weekly[need.chain.crop] for need in self._needs),
            tuple(float(most[need.chain.crop]) for need in self._needs),
        )
        if key not in self._known:
            self._known[key] = self._at_once(most) or self._places(key[0]) or self._hands(key[0])
        return self._known[key]

    def _at_once(self, most: Counter[str]) -> Why | None:
        for need in self._needs:
            place = need.chain.steps[0].place
            count = self._scenario.places[place].count
            if count is not None and most[need.chain.crop] > count:
                return "places", f"seeds more than the {count} containers of {place} in one day"
        return None

    def _places(self, trays: Sequence[float]) -> Why | None:
        for name, containers in self._containers(trays).items():
            place = self._scenario.places[name]
            if place.count is not None and containers > place.count:
                word = f"the {place.count} containers ({place.container}) of {name}"
                return "places", f"takes more than {word}, week after week"
        return None

    def _containers(self, trays: Sequence[float]) -> dict[str, float]:
        """Containers that are taken at any time, by place."""
        taken: dict[str, float] = defaultdict(float)
        for need, seeded in zip(self._needs, trays, strict=True):
            for load in loads(self._scenario, need.chain, seeded * need.cells_per_tray):
                taken[load.step.place] += load.containers
        return taken

    def _hands(self, trays: Sequence[float]) -> Why | None:
        least = self._work(trays)
        if not least.exceeds:
            return None
        crews = ", ".join(least.crews)
        return "hands", f"takes more than the {least.staffed:,.0f} person-minutes a week of {crews}"

    def _work(self, trays: Sequence[float]) -> Balance:
        """The balance of the crews that have least to spare."""
        needs = [_growing(need, n) for need, n in zip(self._needs, trays, strict=True)]
        work = weekly_work(
            self._scenario,
            needs,
            trays={need.chain.crop: n for need, n in zip(needs, trays, strict=True)},
            harvested={need.chain.crop: need.heads_per_week for need in self._needs},
            check_days=self._check_days,
        )
        return tightest(self._scenario, self._minutes, work)

    def taken(self, cadence: Cadence) -> list[Taken]:
        """What the lines of a cadence take of each bound."""
        trays = self.trays_per_week(cadence)
        rows, weekly = [], [trays.get(need.chain.crop, 0.0) for need in self._needs]
        for name, containers in self._containers(weekly).items():
            place = self._scenario.places[name]
            if place.count is not None:
                unit = f"{place.container}-days"
                rows.append(Taken(name, unit, 7.0 * containers, 7.0 * place.count))
        work = self._work(weekly)
        if work.crews:
            rows.append(Taken(", ".join(work.crews), "person-minutes", work.work, work.staffed))
        for need, seeded in zip(self._needs, weekly, strict=True):
            heads = seeded * need.cells_per_tray * need.chain.heads_per_cell
            rows.append(Taken(need.chain.crop, "heads", heads, need.heads_per_week))
        return rows


def _growing(need: CropNeeds, trays: float) -> CropNeeds:
    """The needs of a crop of which so many trays a week are seeded and moved on."""
    heads = trays * need.cells_per_tray * need.chain.heads_per_cell
    return replace(need, heads_per_week=heads)
