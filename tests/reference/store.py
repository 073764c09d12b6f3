"""Harvest requests, cold store and deliveries of the reference simulation."""

from __future__ import annotations

import bisect
from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from .jobs import HarvestJob
from .plan import Delivery
from .things import TICK, Plant

if TYPE_CHECKING:
    from .house import Reference


class Store:
    """The cold store: heads in the order of their harvest, and who is to get them."""

    def __init__(self, house: Reference) -> None:
        self.house, self.env, self.cold = house, house.env, house.scenario.cold_store
        self.heads: list[Plant] = []
        self.to_leave = list(house.plan.deliveries)
        self.requests: dict[float, HarvestJob] = {}
        self.left: list[tuple[Delivery, list[int]]] = []
        for delivery in self.to_leave:
            self.env.process(self._leave(delivery))

    def has_room(self) -> bool:
        """Whether the store takes one more head, heads in hand counted."""
        holds = self.cold.holds_heads
        jobs = self.house.crews.jobs
        in_hand = sum(job.in_hand for job in jobs if isinstance(job, HarvestJob))
        return holds is None or len(self.heads) + in_hand < holds

    def still_wanted(self, delivery: Delivery) -> int:
        """O2: heads ordered less usable stock that earlier deliveries do not claim."""
        claimed = 0
        for pending in self.to_leave:
            keeps_since = pending.leaves - self.cold.keep_days - TICK
            too_old = bisect.bisect_left(self.heads, keeps_since, key=lambda h: h.harvested)
            claimed = max(claimed, too_old)
            job = self.requests.get(pending.leaves)
            asked = pending.heads - (job.in_hand if job else 0)
            if pending is delivery:
                return asked - max(0, len(self.heads) - claimed)
            claimed += asked
        return 0

    def put(self, head: Plant) -> None:
        """Put a harvested head into the cold store, where it ages."""
        head.harvested = self.house.now
        self.heads.append(head)
        self.env.process(self._age(head))

    def _age(self, head: Plant) -> Generator[simpy.Event, None, None]:
        """O3: a head exactly at the keep limit is usable; just after it, it is dumped."""
        yield self.env.timeout(self.cold.keep_days + 4 * TICK)
        if head.fate is None:
            head.fate = ("dumped", "past keep")
            self.heads.remove(head)
            self.house.crews.changed()

    def _leave(self, delivery: Delivery) -> Generator[simpy.Event, None, None]:
        """Open the harvest request, then share the stock at leaving; what is short is lost."""
        if delivery.opens is not None and self.house.crop.harvest == "for orders":
            yield self.env.timeout(delivery.opens - self.house.now)
            job = HarvestJob(self.house, delivery)
            self.requests[delivery.leaves] = job
            self.house.crews.add(job)
            self.house.crews.changed()
        yield self.env.timeout(delivery.leaves - self.house.now + 2 * TICK)
        given = self.share(delivery)
        for head in self.heads[: sum(given)]:
            head.fate, head.delivered = ("delivered", ""), delivery.leaves
        del self.heads[: sum(given)]
        self.left.append((delivery, given))
        self.to_leave.remove(delivery)
        if delivery.leaves in self.requests:
            self.house.crews.forget(self.requests.pop(delivery.leaves))
        self.house.crews.changed()

    def share(self, delivery: Delivery) -> list[int]:
        """O4: heads for each order, by priority, pro rata within one (largest remainder)."""
        given, stock = [0] * len(delivery.asked), len(self.heads)
        for priority in sorted({priority for priority, _ in delivery.asked}):
            members = [i for i, (p, _) in enumerate(delivery.asked) if p == priority]
            asked = sum(delivery.asked[i][1] for i in members)
            shared = min(stock, asked)
            for i in members:
                given[i] = shared * delivery.asked[i][1] // asked
            rest = shared - sum(given[i] for i in members)
            by_remainder = sorted(members, key=lambda i: -(shared * delivery.asked[i][1] % asked))
            for i in by_remainder[:rest]:
                given[i] += 1
            stock -= shared
        return given
