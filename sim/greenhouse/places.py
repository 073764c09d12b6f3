"""Places and their containers: taken, emptied, cleared, washed, rested, free again."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from sim.greenhouse.clock import Alarm
from sim.greenhouse.jobs import Complete, Job
from sim.parts import Place

if TYPE_CHECKING:
    from sim.greenhouse.fate import Batch
    from sim.greenhouse.house import House

UNLIMITED = 2**62


class Room:
    """One place. Only counts are kept, never single containers, so size costs nothing."""

    def __init__(self, name: str, place: Place, house: House) -> None:
        self.name = name
        self.sites = place.sites_each
        self.free = UNLIMITED if place.count is None else place.count
        self._house = house
        self._rest = place.rest_hours / 24.0
        self._clear = Upkeep(house, self, place.cleared_by, "cleared") if place.cleared_by else None
        self._wash = Upkeep(house, self, place.washed_by, "washed") if place.washed_by else None

    @property
    def dirty(self) -> int:
        """Containers that wait for washing."""
        return self._wash.waiting if self._wash else 0

    def emptied(self, containers: int, batch: Batch, dumped: bool) -> None:
        """Containers that lost their last plant; dumped plants have to be cleared first."""
        house = self._house
        house.rows.append(
            (house.clock.time, "emptied", batch.name, batch.crop.name, self.name, "", "", "",
             0, containers, 0.0, 0.0, "")
        )  # fmt: skip
        if dumped and self._clear:
            self._clear.add(containers)
        else:
            self.cleared(containers)

    def left_to_clean(self, to_clear: int, to_wash: int) -> None:
        """Containers that are not clean when the run begins."""
        self.free -= to_clear + to_wash
        if to_clear and self._clear:
            self._clear.add(to_clear)
        elif to_clear:
            self.cleared(to_clear)
        if to_wash:
            self.cleared(to_wash)

    def cleared(self, containers: int) -> None:
        """Containers without plants or remains."""
        if self._wash:
            self._wash.add(containers)
        else:
            self.washed(containers)

    def washed(self, containers: int) -> None:
        """Containers that are clean; they may have to rest."""
        if self._rest:
            clock = self._house.clock
            Alarm(clock, clock.time + self._rest, lambda _: self._rested(containers))
        else:
            self._freed(containers)

    def _rested(self, containers: int) -> None:
        self._freed(containers)
        self._house.do_free_steps()

    def _freed(self, containers: int) -> None:
        self.free += containers
        house = self._house
        house.rows.append(
            (house.clock.time, "freed", "", "", self.name, "", "", "", 0, containers, 0.0, 0.0, "")
        )
        house.stir()


class Upkeep(Job):
    """Containers of one place that wait to be cleared, or to be washed."""

    __slots__ = ("_kind", "room", "waiting")

    def __init__(self, house: House, room: Room, task: str, kind: str) -> None:
        super().__init__(house, task, 0.0)
        self.room = room
        self.waiting = 0
        self._kind = kind

    def add(self, containers: int) -> None:
        """Let more containers wait."""
        self.waiting += containers
        if not self.listed:
            self.age = self.house.clock.time
            self.house.board.add(self)

    def workable(self) -> int:
        """All that wait."""
        return self.waiting

    def begin(self, units: int) -> Complete:
        """Take them in hand; done, cleared ones go on to washing, washed ones to rest."""
        self.waiting -= units
        if not self.waiting:
            self.house.board.remove(self)
        return partial(self._complete, units)

    def _complete(self, units: int, crew: str, minutes: float) -> None:
        house = self.house
        house.rows.append(
            (house.clock.time, self._kind, "", "", self.room.name, "", crew, "",
             0, units, minutes, 0.0, "")
        )  # fmt: skip
        if self._kind == "cleared":
            self.room.cleared(units)
        else:
            self.room.washed(units)
