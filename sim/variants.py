"""A cadence varied one thing at a time: first and last seeding, trays by term.

The grid seeds from the crop's own first day to its last useful one, the same trays all year but
for thin weeks. Of the few best cadences these are listed too: seeding begins with the first heads
that are still there for the first order, or a week later; it ends a week or two earlier; one tray
less, or one more, in one term. A term is what lies between two closings of a week or more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from sim.candidates import Candidate, told
from sim.greenhouse.plan import Plan
from sim.kind_year import KindYear, seedings_of
from sim.parts import Cadence, CadenceLine, Weekday
from sim.school_year import monday
from sim.seeding import PlannedSeeding

_WEEK = timedelta(days=7)
_DAY = timedelta(days=1)
_LONG = 7  # days closed in a row, weekends included, that end a term
_LATER, _EARLIER = (0, 1), (1, 2)  # weeks after the first useful seeding; before the last one


class Variations:
    """Varies cadences of a plan's scenario; `crops` are those that are ordered."""

    def __init__(self, plan: Plan, year: KindYear, crops: Sequence[str]) -> None:
        self._plan, self._year, self._crops = plan, year, crops
        self._start = plan.scenario.rhythm_start
        self._terms = _terms(plan)

    def less(self, base: Candidate) -> Iterator[Candidate]:
        """Later first seedings, earlier last ones, both; one tray less in a term."""
        seedings = seedings_of(base.cadence, self._plan)
        firsts = [{}, *(self._first(seedings, weeks) for weeks in _LATER)]
        lasts = [{}, *(self._last(seedings, weeks) for weeks in _EARLIER)]
        for first in firsts:
            for last in lasts:
                if first or last:
                    yield self._named(self._within(base.cadence, first, last))
        yield from self._by_term(base.cadence, -1)

    def more(self, base: Candidate) -> Iterator[Candidate]:
        """One tray more in a term."""
        yield from self._by_term(base.cadence, 1)

    def _named(self, cadence: Cadence) -> Candidate:
        return Candidate(told(cadence, self._crops), cadence)

    def _first(self, seedings: Iterable[PlannedSeeding], weeks: int) -> dict[str, date]:
        """The first day from which heads last to the crop's first harvest, so many weeks later."""
        found = {}
        for crop in self._crops:
            days = (s.day for s in seedings if s.crop == crop)
            useful = next((day for day in days if self._year.lasts(crop, day)), None)
            if useful is not None:
                found[crop] = self._plan.timetable.date_of(useful) + weeks * _WEEK
        return found

    def _last(self, seedings: Iterable[PlannedSeeding], weeks: int) -> dict[str, date]:
        """The crop's last day of seeding, so many weeks earlier."""
        last = {s.crop: s.day for s in seedings}
        return {
            crop: self._plan.timetable.date_of(last[crop]) - weeks * _WEEK
            for crop in self._crops
            if crop in last
        }

    def _by_term(self, cadence: Cadence, change: int) -> Iterator[Candidate]:
        """One tray less on the fullest day, or one more on the emptiest, by crop and term."""
        for number, line in enumerate(cadence.lines):
            first_of_crop = all(line.crop != other.crop for other in cadence.lines[:number])
            if line.crop not in self._crops or not first_of_crop or line.every_weeks > 1:
                continue
            if not line.trays or (change < 0 and sum(line.trays.values()) == 1):
                continue
            for first, last in self._terms:
                parts = self._split(line, first, last, _changed(line, change))
                lines = (*cadence.lines[:number], *parts, *cadence.lines[number + 1 :])
                yield self._named(cadence.model_copy(update={"lines": lines}))

    def _within(self, cadence: Cadence, first: dict[str, date], last: dict[str, date]) -> Cadence:
        """A cadence whose crops are seeded from `first` on, up to `last`."""
        cut = (self._cut(line, first.get(line.crop), last.get(line.crop)) for line in cadence.lines)
        return cadence.model_copy(update={"lines": tuple(line for line in cut if line)})

    def _split(
        self, line: CadenceLine, first: date | None, last: date | None, trays: dict[Weekday, int]
    ) -> list[CadenceLine]:
        """A line with other trays from one day to another, both included."""
        changed = line.model_copy(update={"trays": trays})
        parts = [self._cut(changed, first, last)]
        if first:
            parts.insert(0, self._cut(line, None, first - _DAY))
        if last:
            parts.append(self._cut(line, last + _DAY, None))
        return [part for part in parts if part]

    def _cut(self, line: CadenceLine, first: date | None, last: date | None) -> CadenceLine | None:
        """The part of a line between two days, in its own weeks; None if there is none."""
        start = line.first_day or self._start
        begins, ends = start, line.last_day
        if first and first > start:
            weeks = (monday(first) - monday(start)).days // 7
            over = -weeks % line.every_weeks
            begins = monday(first) + over * _WEEK if over else first
        if last:
            ends = min(ends, last) if ends else last
        if ends and begins > ends:
            return None
        kept = line.first_day if begins == start else begins
        return line.model_copy(update={"first_day": kept, "last_day": ends})


def _terms(plan: Plan) -> list[tuple[date | None, date | None]]:
    """First and last days of the terms, each but the first begins after a closing of a week."""
    table = plan.timetable
    begins, closed = [], 0
    for day in range(table.window_end):
        date_ = table.date_of(day)
        if table.school_year.in_session(date_):
            if closed >= _LONG:
                begins.append(date_)
            closed = 0
        else:
            closed += 1
    ends = [day - _DAY for day in begins]
    return list(zip([None, *begins], [*ends, None], strict=True)) if begins else []


def _changed(line: CadenceLine, change: int) -> dict[Weekday, int]:
    """The trays of a line with one less on the fullest day, or one more on the emptiest."""
    day = (max if change < 0 else min)(line.trays, key=lambda d: line.trays[d])
    trays = {d: n + change * (d == day) for d, n in line.trays.items()}
    return {d: n for d, n in trays.items() if n}
