"""To which shift of the timetable a row of the records belongs."""

from __future__ import annotations

from collections import defaultdict

from sim.agreement import advice
from sim.counts_values import WrongError
from sim.counts_words import Names
from sim.timetable import Timetable

_EDGE = 1e-9  # clock times are sums of floats; closer than this is the same moment [d]


class Shifts:
    """The dated shifts of a timetable, found by day, clock time, crew and the shift's name."""

    def __init__(self, timetable: Timetable) -> None:
        self.dated = timetable.shifts
        crews = timetable.scenario.crews
        self._titles = [crews[s.crew].shifts[s.number].name for s in self.dated]
        self._by_day: defaultdict[int, list[int]] = defaultdict(list)
        for number, shift in enumerate(self.dated):
            self._by_day[shift.day].append(number)
        titles = dict.fromkeys(s.name for crew in crews.values() for s in crew.shifts if s.name)
        self._names = Names("a shift", titles, {})
        self._known = list(titles)

    def title(self, written: str) -> str:
        """The name of a shift that people mean, such as "period 1" by "1"; "" for an empty cell.

        Raises WrongError if there is no such shift.
        """
        if not written:
            return ""
        if found := self._names.find(written):
            return found
        if not self._known:
            raise WrongError("empty, as no shift has a name", "write the time instead", "period")
        raise WrongError("a shift of the scenario", advice(written, self._known), "period")

    def find(self, day: int, at: float | None, crew: str, title: str) -> int | None:
        """The number of the one shift of a day that fits what is known; None if none or several.

        What is written for the moment at which a shift ends belongs to it if none begins then.
        """
        fitting = [
            number
            for number in self._by_day[day]
            if (not crew or self.dated[number].crew == crew)
            and (not title or self._titles[number] == title)
        ]
        if at is None:
            return fitting[0] if len(fitting) == 1 else None
        for later in (_EDGE, -_EDGE):  # the edges as those of a shift that begins, then of one over
            time = day + at + later
            held = [n for n in fitting if self.dated[n].start <= time < self.dated[n].end]
            if held:
                return held[0] if len(held) == 1 else None
        return None
