"""The walk-in cold store: first in, first out, a capacity, a keep limit."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import simpy

from sim.greenhouse.clock import Alarm
from sim.parts import ColdStore
from sim.records import COLD_STORE

if TYPE_CHECKING:
    from sim.greenhouse.deliveries import Request
    from sim.greenhouse.house import House

NAME = COLD_STORE
UNLIMITED = 2**62
_EDGE = 1e-9  # ages are differences of floats; closer than this is exactly at the limit
_JUST_AFTER = 1e-6  # the timer looks this much after a limit [d], about a tenth of a second


@dataclass(slots=True)
class Lot:
    """Heads of one batch put in at one time [d]."""

    batch: str
    time: float
    heads: int


class Store:
    """Heads in the cold store, by crop in order of arrival.

    Heads past their limit are taken out when somebody looks, with a row of the time at which the
    limit was reached; a timer runs only while a harvest waits for space.
    """

    def __init__(self, store: ColdStore, crops: list[str], house: House) -> None:
        self._house = house
        self._keep = store.keep_days
        self._lots: dict[str, deque[Lot]] = {crop: deque() for crop in crops}
        self._space = UNLIMITED if store.holds_heads is None else store.holds_heads
        self._refused = False  # a harvest waits for space
        self._timed = False

    def space(self, wanted: int) -> int:
        """Heads for which there is space; if fewer than wanted, the house stirs when it frees."""
        if self._space < wanted:
            self.expire()
            if self._space < wanted:
                self._refused = True
                self._set_timer()
        return self._space

    def set_aside(self, heads: int) -> None:
        """Keep space for heads that are being cut."""
        self._space -= heads

    def put(self, crop: str, batch: str, heads: int) -> None:
        """Store heads whose space was set aside before."""
        self._lots[crop].append(Lot(batch, self._house.clock.time, heads))
        if self._refused:
            self._set_timer()

    def put_before(self, crop: str, batch: str, heads: int, time: float) -> None:
        """Heads that were put in before the run began [d < 0]; called in order of time."""
        self._lots[crop].append(Lot(batch, time, heads))
        self._space -= heads

    def claims(self, crop: str, requests: list[Request]) -> list[int]:
        """How many stored heads each of these requests may count on, in turn.

        Heads past their limit when a request's delivery leaves do not count.
        """
        if not self._lots[crop]:  # most of the time
            return [0] * len(requests)
        left = [[lot.time + self._keep + _EDGE, lot.heads] for lot in self._lots[crop]]
        claimed = []
        for request in requests:
            missing = request.heads
            for lot in left:
                if missing and lot[0] >= request.until:
                    n = min(missing, int(lot[1]))
                    lot[1] -= n
                    missing -= n
            claimed.append(request.heads - missing)
        return claimed

    def stored(self, crop: str) -> int:
        """Heads of a crop in the store."""
        return sum(lot.heads for lot in self._lots[crop])

    def take(self, crop: str, heads: int) -> list[Lot]:
        """Take up to `heads` within their limit, the oldest first; what was taken, lot by lot."""
        self.expire()
        lots, taken = self._lots[crop], []
        while heads and lots:
            lot = lots[0]
            if lot.heads <= heads:
                lots.popleft()
            else:
                lot.heads -= heads
                lot = Lot(lot.batch, lot.time, heads)
            taken.append(lot)
            heads -= lot.heads
            self._space += lot.heads
        return taken

    def expire(self) -> None:
        """Dump heads past their limit."""
        oldest = self._house.clock.time - self._keep - _EDGE
        for crop, lots in self._lots.items():
            while lots and lots[0].time < oldest:
                lot = lots.popleft()
                self._space += lot.heads
                self._house.rows.append(
                    (lot.time + self._keep, "dumped", lot.batch, crop, NAME, "", "", "",
                     lot.heads, 0, 0.0, lot.time, "kept too long")
                )  # fmt: skip

    def _set_timer(self) -> None:
        """Look again just after the next heads reach their limit, if there are any."""
        times = [lots[0].time for lots in self._lots.values() if lots]
        if times and not self._timed:
            self._timed = True
            Alarm(self._house.clock, min(times) + self._keep + _JUST_AFTER, self._look_again)

    def _look_again(self, _event: simpy.Event) -> None:
        self._timed = self._refused = False
        self.expire()
        self._house.stir()
        self._house.do_free_steps()
