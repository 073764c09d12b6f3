"""Ready heads, harvest requests, and what leaves for the customers."""

from __future__ import annotations

from bisect import insort
from collections import deque
from collections.abc import Sequence
from functools import partial
from operator import attrgetter
from typing import TYPE_CHECKING

from sim.greenhouse.cold_store import NAME
from sim.greenhouse.jobs import FOREVER, Complete, Job
from sim.order_book import Delivery, Leaving, SurplusDay

if TYPE_CHECKING:
    from sim.greenhouse.batch import Part
    from sim.greenhouse.house import House
    from sim.records import Row

_AFTER_ALL_ORDERS = 1e7  # added to the age of harvests that no order waits for
_by_leaving = attrgetter("until")


class Field:
    """The ready heads of one crop, oldest first, and the open requests for them."""

    def __init__(self, crop: str, house: House) -> None:
        plan = house.plan.crops[crop]
        self.crop = crop
        self.house = house
        self.task = plan.harvest_task
        self.ready = 0
        self.parts: deque[Part] = deque()
        self.requests: list[Request] = []
        self._always = Request(self, FOREVER, 2.0 * _AFTER_ALL_ORDERS) if plan.when_ready else None

    def ripen(self, part: Part) -> None:
        """A part is ready for harvest."""
        self.parts.append(part)
        self.ready += part.left
        if self._always:
            self._always.want(self.ready)
        self.house.stir()

    def drop(self, part: Part) -> None:
        """A part's remaining heads are over-mature."""
        self.parts.remove(part)
        self.ready -= part.left
        if self._always:
            self._always.want(self.ready)

    @property
    def held_up(self) -> bool:
        """Whether the harvest of all that is ready waits for space in the cold store."""
        return self._always is not None and self._always.held_up

    def ripe(self, day: float) -> int:
        """Ready heads that would be over-mature by `day` [d]."""
        return sum(p.left for p in self.parts if 0 <= p.deadline <= day)

    def pick(self, heads: int) -> list[tuple[Part, int]]:
        """Set ready heads aside for cutting, the oldest part first."""
        picked = []
        self.ready -= heads
        for part in self.parts:
            n = part.left if part.left < heads else heads
            if n:
                part.left -= n
                heads -= n
                picked.append((part, n))
            if not heads:
                break
        return picked

    def cut(self, heads: int, picked: list[tuple[Part, int]], crew: str, minutes: float) -> None:
        """Put so many cut heads in the cold store and empty their channels."""
        house, now = self.house, self.house.clock.time
        for part, n in picked:
            batch = part.batch.name
            house.rows.append(
                (now, "harvested", batch, self.crop, part.room.name, "", crew, "",
                 n, 0, minutes * n / heads, part.placed, "")
            )  # fmt: skip
            house.store.put(self.crop, batch, n)
            part.leave(n)
            if not part.there:
                self.parts.remove(part)

    def reckon(self) -> None:
        """Work out again what each open request still wants (rule O2)."""
        if self.requests and not self._always:
            for request, stock in zip(self.requests, self.claims(), strict=True):
                request.want(max(0, request.heads - stock - request.coming))

    def claims(self) -> list[int]:
        """Stored heads that each open request counts on."""
        return self.house.store.claims(self.crop, self.requests)


class Request(Job):
    """Heads wanted for one leaving; what is not cut by then lapses. The unit is a head."""

    __slots__ = ("_ripe_by", "coming", "field", "heads", "held_up", "wanted")

    def __init__(
        self, field: Field, until: float, age: float, heads: int = 0, ripe_by: float = FOREVER
    ) -> None:
        Job.__init__(self, field.house, field.task, age, until)
        self.field = field
        self.heads = heads
        self.coming = 0
        self.wanted = 0
        self.held_up = False
        self._ripe_by = ripe_by

    def want(self, heads: int) -> None:
        """Set how many heads are still to be cut."""
        self.wanted = heads
        if heads and not self.listed:
            self.house.board.add(self)
        elif self.listed and not heads:
            self.house.board.remove(self)

    def workable(self) -> int:
        """Heads that are ready and for which the store has space."""
        field = self.field
        ready = self.wanted if self.wanted < field.ready else field.ready
        if self._ripe_by != FOREVER:
            ready = min(ready, field.ripe(self._ripe_by))
        space = self.house.store.space(ready)
        self.held_up = space < ready
        return space if self.held_up else ready

    def begin(self, units: int) -> Complete:
        """Set heads and store space aside; done, they are in the store."""
        self.want(self.wanted - units)
        self.coming += units
        self.house.store.set_aside(units)
        return partial(self._complete, units, self.field.pick(units))

    def _complete(
        self, units: int, picked: list[tuple[Part, int]], crew: str, minutes: float
    ) -> None:
        self.coming -= units
        self.field.cut(units, picked, crew, minutes)


class Dispatch(Request):
    """The request of one leaving of the run, which shares out in the end what is there."""

    __slots__ = ("_due", "_leaving")

    def __init__(self, leaving: Leaving, due: list[Row], field: Field) -> None:
        Request.__init__(self, field, leaving.time, leaving.time, leaving.heads)
        self._leaving, self._due = leaving, due

    def open(self) -> None:
        """Open the harvest request."""
        insort(self.field.requests, self, key=_by_leaving)
        self.field.reckon()

    def leave(self) -> None:
        """Share the stock among the deliveries; what is missing is short (rule O4)."""
        field, leaving, house = self.field, self._leaving, self.house
        house.board.remove(self)
        field.requests.remove(self)
        lots = house.store.take(field.crop, leaving.heads)
        shares = share(leaving.deliveries, leaving.heads, sum([lot.heads for lot in lots]))
        rows, place = house.rows, 0
        for delivery, due, heads in zip(leaving.deliveries, self._due, shares, strict=True):
            rows.append(due)
            if heads < delivery.heads:
                rows.append(
                    (leaving.time, "short", "", field.crop, NAME, "", "", delivery.customer,
                     delivery.heads - heads, 0, 0.0, 0.0, self._cause())
                )  # fmt: skip
            while heads:
                lot = lots[place]
                n = lot.heads if lot.heads < heads else heads
                rows.append(
                    (leaving.time, "delivered", lot.batch, field.crop, NAME, "", "",
                     delivery.customer, n, 0, 0.0, lot.time, "")
                )  # fmt: skip
                heads -= n  # noqa: PLW2901 - what is left of this share
                lot.heads -= n
                place += not lot.heads
        house.stock_changed(field.crop)

    def _cause(self) -> str:
        if not self._leaving.staffed:
            return "nobody there"
        if self.held_up or self.field.held_up:
            return "cold store full"
        return "not enough minutes" if self.field.ready else "no ready heads"


class Handout(Request):
    """One day of a surplus outlet: heads about to be over-mature, and unclaimed stock (O1)."""

    __slots__ = ("_day",)

    def __init__(self, day: SurplusDay, field: Field) -> None:
        super().__init__(field, day.time, _AFTER_ALL_ORDERS + day.time, ripe_by=day.ripe_by)
        self._day = day

    def open(self) -> None:
        """Ask for the heads that are about to be over-mature."""
        self.want(self._day.heads)

    def leave(self) -> None:
        """Take what no open request counts on."""
        field, house, day = self.field, self.house, self._day
        house.board.remove(self)
        unclaimed = house.store.stored(field.crop) - sum(field.claims())
        for lot in house.store.take(field.crop, min(day.heads, unclaimed)):
            house.rows.append(
                (day.time, "surplus", lot.batch, field.crop, NAME, "", "", day.outlet,
                 lot.heads, 0, 0.0, lot.time, "")
            )  # fmt: skip
        house.stock_changed(field.crop)


def share(deliveries: Sequence[Delivery], ordered: int, stock: int) -> list[int]:
    """Share `stock` heads among deliveries of `ordered` heads in all.

    By priority, within one pro rata in whole heads; largest remainder, ties to the earlier line of
    the file.
    """
    if stock >= ordered:
        return [d.heads for d in deliveries]
    given = [0] * len(deliveries)
    for priority in sorted({d.priority for d in deliveries}):
        group = [k for k, d in enumerate(deliveries) if d.priority == priority]
        wanted = sum(deliveries[k].heads for k in group)
        there = min(stock, wanted)
        stock -= there
        for k in group:
            given[k] = deliveries[k].heads * there // wanted
        rest = there - sum(given[k] for k in group)
        group.sort(key=lambda k: (-(deliveries[k].heads * there % wanted), deliveries[k].line))
        for k in group[:rest]:
            given[k] += 1
    return given
