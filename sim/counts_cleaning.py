"""Which containers plants leave behind, and when they can be used again: rows nobody writes.

A place whose washing (or clearing) nobody wrote down counts as cleaned when it is empty.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import cast

from sim.records import BATCH, CONTAINERS, COUNT, CROP, KIND, PLACE, SINCE, TIME, TO, Row
from sim.scenario import Scenario

_OUT = frozenset({"moved", "lost", "harvested", "dumped"})
_HOURS = 24.0


class _Stay:
    """One part: how many plants came, how many are there, and the containers they hold."""

    __slots__ = ("came", "held", "taken", "there")

    def __init__(self) -> None:
        self.came = self.there = self.taken = self.held = 0

    def come(self, plants: int, containers: int) -> None:
        self.came += plants
        self.there += plants
        self.taken += containers
        self.held += containers

    def go(self, plants: int, *, lost: bool) -> int:
        """So many leave; the number of containers that this empties (rule P2).

        Losses do not consolidate: the plants left stay spread over the same containers.
        """
        self.there -= plants
        if lost and self.there > 0:
            self.came, self.taken = self.there, self.held
        holds = -(-self.there * self.taken // self.came) if self.there > 0 else 0
        emptied = max(0, self.held - holds)
        self.held -= emptied
        return emptied


class Cleaning:
    """Follows rows in order of time, and adds those of containers emptied and freed.

    No more are cleared than dumped plants left behind; `not_dumped` are those left out, by place.
    """

    def __init__(self, scenario: Scenario, rows: Sequence[Row]) -> None:
        self._scenario, self._rows = scenario, rows
        self._done = {(row[KIND], row[PLACE]) for row in rows}  # what is written down, and where
        self._stays: defaultdict[tuple[str, str, int], _Stay] = defaultdict(_Stay)  # part
        self._waits: defaultdict[tuple[str, str], int] = defaultdict(int)  # what for, place
        self._all: list[Row] = []
        self.not_dumped: Counter[str] = Counter()

    def rows(self) -> list[Row]:
        """All rows in order of time."""
        for row in self._rows:
            kind = row[KIND]
            if kind in ("washed", "cleared"):
                self._clean(row)
                continue
            emptied = 0
            part = row[BATCH], row[PLACE], int(row[SINCE])
            if kind in _OUT and part in self._stays:
                emptied = self._stays[part].go(row[COUNT], lost=kind == "lost")
            if kind in ("seeded", "moved"):
                into = row[TO] if kind == "moved" else row[PLACE]
                part = row[BATCH], into, int(row[TIME])
                self._stays[part].come(row[COUNT], row[CONTAINERS])
            self._empty(row, emptied)
        return sorted(self._all, key=lambda row: row[TIME])

    def _empty(self, row: Row, emptied: int) -> None:
        """The row, and that of what it emptied.

        Emptied containers that follow a row of dumped plants wait to be cleared; where nobody
        writes the clearing down they stand before it, and do not.
        """
        place = row[PLACE]
        of = row[BATCH], row[CROP], place
        empty: Row = (row[TIME], "emptied", *of, "", "", "", 0, emptied, 0.0, 0.0, "")
        if not emptied:
            self._all.append(row)
        elif row[KIND] == "dumped" and self._waits_for("cleared", place):
            self._all += [row, empty]
            self._waits["cleared", place] += emptied
        else:
            self._all += [empty, row] if row[KIND] == "dumped" else [row, empty]
            self._to_wash(row[TIME], place, emptied)

    def _waits_for(self, kind: str, place: str) -> bool:
        given = self._scenario.places[place]
        task = given.cleared_by if kind == "cleared" else given.washed_by
        return task is not None and (kind, place) in self._done

    def _clean(self, row: Row) -> None:
        """Containers cleared or washed, as far as there are any that wait for it."""
        place = row[PLACE]
        number = min(row[CONTAINERS], self._waits[row[KIND], place])
        self._waits[row[KIND], place] -= number
        if row[KIND] == "cleared":
            self.not_dumped[place] += row[CONTAINERS] - number
            row = cast(Row, (*row[:CONTAINERS], number, *row[CONTAINERS + 1 :]))
        self._all.append(row)
        if row[KIND] == "cleared":
            self._to_wash(row[TIME], place, number)
        else:
            self._free(row[TIME], place, number)

    def _to_wash(self, time: float, place: str, containers: int) -> None:
        if self._waits_for("washed", place):
            self._waits["washed", place] += containers
        else:
            self._free(time, place, containers)

    def _free(self, time: float, place: str, containers: int) -> None:
        if containers:
            free = time + self._scenario.places[place].rest_hours / _HOURS
            self._all.append(
                (free, "freed", "", "", place, "", "", "", 0, containers, 0.0, 0.0, "")
            )
