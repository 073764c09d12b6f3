"""Seeding cadences worth trying for a scenario, each with a plain name.

The grid: one to three of the weekdays on which somebody may seed, at least two days apart; every
week, or every second to fourth if heads keep that long; trays from a bit below to a good deal
above what the orders need; all break rules. Several crops are seeded on the same weekdays under
the same break rule, their trays scaled together: crops with rhythms of their own are left out.
Trays are seeded from the crop's first day to its last useful one; other first and last days, and
trays by term, are listed for the best cadence only (`variants`). Added are the scenario's own
cadence and two that a grower would count back without a tool.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations
from math import ceil, floor, inf

from sim.errors import ScenarioError
from sim.flows import ordered, week_of
from sim.order_book import Leaving
from sim.parts import WEEKDAYS, BreakRule, Cadence, CadenceLine, Seeding, Weekday
from sim.seeding import BREAK_RULES
from sim.timetable import Timetable, cycle_days
from sim.workload import CropNeeds, crop_needs

TRAYS_OF_NEED = (0.9, 1.0, 1.1, 1.2, 1.3, 1.45, 1.6)  # trays tried, in shares of those needed
OVERSEEDING = 1.2  # cells per head wanted when a grower counts back from an order
GIVEN = 3  # cadences at the head of the list that are tried whatever the arithmetic says
_MOST_DAYS = 3  # seeding days in a week
_MOST_WEEKS = 4  # weeks from one seeding to the next
_WEEK = len(WEEKDAYS)

IN_BREAKS: dict[BreakRule, str] = {
    "if staffed": "seed if staffed",
    "nearest staffed day": "seed on the nearest staffed day",
    "fit transplant and harvest": "shift so that moving and harvest fall on staffed days",
    "seed more before": "seed more before",
    "skip paused weeks": "skip what would be ready when orders pause",
    "skip closed days": "skip days when school is closed",
}


@dataclass(frozen=True)
class Candidate:
    """A cadence to try. `given` ones (own, counted back) are tried whatever the arithmetic says."""

    name: str
    cadence: Cadence
    given: bool = False


def list_candidates(timetable: Timetable, leavings: Sequence[Leaving]) -> list[Candidate]:
    """All candidates: the scenario's own first, two counted back, then the grid.

    Raises ScenarioError if nothing is ordered, no plant comes through or nobody may seed.
    """
    needs = _needs(timetable, leavings)
    days = seeding_days(timetable, [need.chain.crop for need in needs])
    frame = _Frame(timetable, needs)
    own = timetable.scenario.cadence
    return [
        Candidate(f"own cadence ({told(own, frame.crops)})", own, given=True),
        _from_mean_orders(frame, days),
        _from_dated_orders(frame, leavings),
        *_grid(frame, days),
    ]


def _needs(timetable: Timetable, leavings: Sequence[Leaving]) -> list[CropNeeds]:
    """What the ordered crops need in a full week."""
    found = crop_needs(timetable, ordered(timetable, leavings))
    due = {x.crop for x in leavings if week_of(timetable, x.time) is not None}
    needs = [need for need in found if need.heads_per_week > 0 and need.chain.crop in due]
    if not needs:
        raise ScenarioError(
            f"Scenario {timetable.scenario.name!r}: [[orders]] must hold an order with a delivery "
            "in the measuring window, or there is nothing to seed for; it holds none. Add one."
        )
    for need in needs:
        if need.trays_per_week == inf:
            raise ScenarioError(
                f"Scenario {timetable.scenario.name!r}: the losses of crop {need.chain.crop!r} "
                "leave no plant, so no number of trays is enough. Lower a loss_percent."
            )
    return needs


def seeding_days(timetable: Timetable, crops: Iterable[str]) -> list[Weekday]:
    """The weekdays on which all these crops can be seeded, at least half as often as on any other.

    Raises ScenarioError if there is none.
    """
    scenario = timetable.scenario
    tasks = {scenario.crops[crop].stages[0].moved_in_by for crop in crops}
    often = Counter(
        WEEKDAYS[timetable.date_of(day).weekday()]
        for day in range(timetable.window_end)
        if all(timetable.staffed(task, day) for task in tasks)
    )
    if not often:
        named = ", ".join(sorted(repr(task) for task in tasks if task))
        raise ScenarioError(
            f"Scenario {scenario.name!r}: nobody is there who may do {named}, so nothing can be "
            "seeded. Give a crew shifts before the end of the window, or let it do the task."
        )
    return [w for w in WEEKDAYS if 2 * often[w] >= max(often.values())]


def day_sets(days: Sequence[Weekday]) -> list[tuple[Weekday, ...]]:
    """Sets of one to three weekdays, at least two days apart, pairs three if every day will do."""
    numbers = [WEEKDAYS.index(day) for day in days]
    return [
        tuple(WEEKDAYS[n] for n in some)
        for size in range(1, _MOST_DAYS + 1)
        for some in combinations(numbers, size)
        if _apart(some) >= (2 if len(days) <= 5 else _WEEK // size)
    ]


def _apart(days: Sequence[int]) -> int:
    """The fewest days from one seeding to the next, from week to week."""
    return min((b - a - 1) % _WEEK + 1 for a, b in zip(days, [*days[1:], days[0]], strict=True))


def split(trays: int, days: int, turn: int) -> list[int]:
    """Trays spread evenly over so many days; what is over goes to day `turn` and those after it."""
    each, over = divmod(trays, days)
    return [each + ((day - turn) % days < over) for day in range(days)]


class _Frame:
    """What all candidates share: the crops they seed, from when on, and what they leave alone."""

    def __init__(self, timetable: Timetable, needs: Sequence[CropNeeds]) -> None:
        self.timetable = timetable
        self.needs = needs
        self.crops = [need.chain.crop for need in needs]
        own = timetable.scenario.cadence
        self._other_lines = tuple(line for line in own.lines if line.crop not in self.crops)
        self._other_added = tuple(s for s in own.added if s.crop not in self.crops)

    def cadence(
        self,
        rule: BreakRule,
        lines: Iterable[CadenceLine] = (),
        added: Iterable[Seeding] = (),
    ) -> Cadence:
        """A cadence with the own one's dated skips, `late_days` and crops without orders."""
        own = self.timetable.scenario.cadence
        return own.model_copy(
            update={
                "lines": (*lines, *self._other_lines),
                "break_rule": rule,
                "added": (*added, *self._other_added),
            }
        )

    def line(
        self, crop: str, days: Sequence[Weekday], trays: Sequence[int], every: int
    ) -> CadenceLine:
        """A line from the first to the last day of the crop's own lines."""
        own = [line for line in self.timetable.scenario.cadence.lines if line.crop == crop]
        starts, ends = [line.first_day for line in own], [line.last_day for line in own]
        return CadenceLine(
            crop=crop,
            trays={day: n for day, n in zip(days, trays, strict=True) if n},
            every_weeks=every,
            first_day=min((d for d in starts if d), default=None) if all(starts) else None,
            last_day=max((d for d in ends if d), default=None) if all(ends) else None,
        )


def _grid(frame: _Frame, days: Sequence[Weekday]) -> Iterator[Candidate]:
    for every in _intervals(frame):
        totals = dict.fromkeys(
            tuple(max(1, floor(share * every * n.trays_per_week + 0.5)) for n in frame.needs)
            for share in TRAYS_OF_NEED
        )
        for some in day_sets(days):
            for total in totals:
                for lines in _lines(frame, some, total, every):
                    for rule in BREAK_RULES:
                        cadence = frame.cadence(rule, lines)
                        yield Candidate(told(cadence, frame.crops), cadence)


def _intervals(frame: _Frame) -> Iterator[int]:
    """Weeks between seedings: as many as the heads of a batch outlast, less one."""
    scenario = frame.timetable.scenario
    keeps = [scenario.crops[crop].stages[-1].keep_days for crop in frame.crops]
    shortest = min((keep for keep in keeps if keep is not None), default=inf)
    for every in range(1, _MOST_WEEKS + 1):
        if _WEEK * (every - 1) <= shortest + scenario.cold_store.keep_days:
            yield every


def _lines(
    frame: _Frame, days: tuple[Weekday, ...], totals: tuple[int, ...], every: int
) -> list[tuple[CadenceLine, ...]]:
    """Each way to spread these trays; the extra trays of several crops fall on different days."""
    spreads = dict.fromkeys(
        tuple(tuple(split(n, len(days), turn + k)) for k, n in enumerate(totals))
        for turn in range(len(days) if every == 1 else 1)
    )
    return [
        tuple(frame.line(c, days, n, every) for c, n in zip(frame.crops, spread, strict=True))
        for spread in spreads
        if all(any(trays[k] for trays in spread) for k in range(len(days)))
    ]


def _from_mean_orders(frame: _Frame, days: Sequence[Weekday]) -> Candidate:
    """Trays for a full week's orders at mean losses, rounded up; breaks are not looked at."""
    own = {
        day
        for line in frame.timetable.scenario.cadence.lines
        for day in (*line.trays, *line.heads_wanted)
    }
    some = tuple(day for day in WEEKDAYS if day in own) or day_sets(days)[-1]
    lines = [
        frame.line(need.chain.crop, some, split(ceil(need.trays_per_week), len(some), 0), 1)
        for need in frame.needs
    ]
    cadence = frame.cadence("if staffed", lines)
    name = f"counted from mean orders, breaks ignored: {told(cadence, frame.crops)}"
    return Candidate(name, cadence, given=True)


def _from_dated_orders(frame: _Frame, leavings: Iterable[Leaving]) -> Candidate:
    """Each order counted back by the mean days to ready, with 20 percent more cells than heads.

    A seeding for which nobody would be there is put on the last staffed day before it.
    """
    table, heads = frame.timetable, Counter[tuple[int, str]]()
    for leaving in leavings:
        crop = table.scenario.crops[leaving.crop]
        day = floor(leaving.time - cycle_days(crop))
        while day >= 0 and not table.staffed(crop.stages[0].moved_in_by, day):
            day -= 1
        if day >= 0:
            heads[day, leaving.crop] += leaving.heads
    cells = {need.chain.crop: need.cells_per_tray for need in frame.needs}
    added = [
        Seeding(day=table.date_of(day), crop=crop, trays=ceil(n * OVERSEEDING / cells[crop]))
        for (day, crop), n in sorted(heads.items())
        if crop in cells
    ]
    name = "counted back from each order, 20 percent more cells than heads"
    return Candidate(name, frame.cadence("if staffed", added=added), given=True)


def told(cadence: Cadence, crops: Sequence[str]) -> str:
    """A cadence in plain words; crops are named if there are several of them."""
    parts: list[str] = []
    lines = [line for line in cadence.lines if line.crop in crops]
    for number, line in enumerate(lines):
        after = lines[number + 1] if number + 1 < len(lines) else None
        rhythm = (line.every_weeks, line.first_day, line.last_day)
        same = after and rhythm == (after.every_weeks, after.first_day, after.last_day)
        crop = f"{line.crop} " if len(crops) > 1 else ""
        more = _follows(line, [before for before in lines[:number] if before.crop == line.crop])
        told_line = more + crop + _told_days(line)
        parts.append(told_line if same else f"{told_line}, {_told_rhythm(line)}")
    dated = [s for s in cadence.added if s.crop in crops]
    if dated:
        parts.append(f"{len(dated)} dated seedings")
    return "; ".join([*(parts or ["no seedings"]), f"in breaks: {IN_BREAKS[cadence.break_rule]}"])


def _follows(line: CadenceLine, before: Sequence[CadenceLine]) -> str:
    """How a line is joined to those of its crop before it: at another time, or beside them."""
    if not before:
        return ""
    after = all(b.last_day and line.first_day and b.last_day < line.first_day for b in before)
    return "then " if after else "plus "


def _told_days(line: CadenceLine) -> str:
    counted: list[tuple[int, str, Weekday]] = []
    counted += [(n, "tray" if n == 1 else "trays", day) for day, n in line.trays.items() if n]
    counted += [(n, "heads wanted", day) for day, n in line.heads_wanted.items() if n]
    counted.sort(key=lambda item: WEEKDAYS.index(item[2]))
    return ", ".join(f"{n} {what} {day}" for n, what, day in counted) or "nothing"


def _told_rhythm(line: CadenceLine) -> str:
    every = "every week" if line.every_weeks == 1 else f"every {line.every_weeks} weeks"
    return every + _told_date(" from", line.first_day) + _told_date(" to", line.last_day)


def _told_date(word: str, day: date | None) -> str:
    return f"{word} {day:%b} {day.day}, {day.year}" if day else ""
