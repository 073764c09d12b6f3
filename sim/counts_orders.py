"""What was ordered, beside what a school delivered: rows of orders due and of heads missing."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sim.agreement import COLD_STORE
from sim.counts_entries import Entry, Said
from sim.order_book import leavings
from sim.records import Row
from sim.school_year import clock
from sim.timetable import Timetable

NO_ROW = "no delivery written down"
NO_CAUSE = "no cause written down"
_NO_ORDER = "Heads left on a day without an order of that customer: they fill none"
_MORE = "More heads left than were ordered: the order counts as complete"
_LEAVES = 15 / 24  # when a delivery left that no order and no clock time says [share of a day]

Key = tuple[int, str, str]  # day, crop, customer


@dataclass(frozen=True, slots=True)
class Ordered:
    """Orders between the first and the last delivery that is written down [heads].

    `without_row` are the deliveries due in it that no row tells of.
    """

    first: date
    last: date
    due: int
    heads: int
    short: int
    without_row: tuple[tuple[date, str], ...]


class Orders:
    """The deliveries that a scenario's orders ask for."""

    def __init__(self, timetable: Timetable) -> None:
        self._table = timetable
        self._due: defaultdict[Key, list[tuple[float, int]]] = defaultdict(list)
        for leaving in leavings(timetable.scenario, timetable):
            for delivery in leaving.deliveries:
                key = int(leaving.time), leaving.crop, delivery.customer
                self._due[key].append((leaving.time, delivery.heads))
        customers = {order.customer for order in timetable.scenario.orders}
        outlets = (o for o in timetable.scenario.surplus if o.outlet not in customers)
        self._outlets = {outlet.outlet: clock(outlet.leaves) for outlet in outlets}

    def is_surplus(self, entry: Entry) -> bool:
        """Whether a delivery went to an outlet that takes what nobody ordered."""
        return entry.customer in self._outlets

    def leaves(self, entry: Entry) -> float:
        """When a delivery left, if its row does not say so [share of a day]."""
        due = self._due.get((entry.day, entry.crop, entry.customer))
        return due[0][0] % 1 if due else self._outlets.get(entry.customer, _LEAVES)

    def rows(self, delivered: Sequence[Entry], said: Said) -> tuple[list[Row], Ordered | None]:
        """Rows of what was due and what was short, from the first to the last delivery's day."""
        if not delivered:
            return [], None
        got: Counter[Key] = Counter()
        causes: dict[Key, str] = {}
        for entry in delivered:
            key = entry.day, entry.crop, entry.customer
            got[key] += entry.count
            causes[key] = entry.cause or causes.get(key, "")
            if key not in self._due and entry.count:
                said.assume(_NO_ORDER, entry.row)
            elif got[key] > sum(heads for _, heads in self._due.get(key, ())):
                said.assume(_MORE, entry.row)
        days = [entry.day for entry in delivered]
        rows = []
        first, last = min(days), max(days)
        stretch = {key: due for key, due in self._due.items() if first <= key[0] <= last}
        for key, due in stretch.items():
            rows += _compared(key, due, got[key], causes.get(key, NO_ROW) or NO_CAUSE)
        missing = sorted((self._table.date_of(k[0]), k[2]) for k in stretch if k not in got)
        heads = [sum(row[8] for row in rows if row[1] == kind) for kind in ("due", "short")]
        number = sum(row[1] == "due" for row in rows)
        ends = [self._table.date_of(day) for day in (first, last)]
        return rows, Ordered(ends[0], ends[1], number, heads[0], heads[1], tuple(missing))


def _compared(key: Key, due: list[tuple[float, int]], got: int, cause: str) -> list[Row]:
    """What one customer was due on a day, and what was missing of it."""
    rows: list[Row] = []
    _, crop, customer = key
    for time, heads in due:
        short = heads - min(got, heads)
        got -= heads - short
        for kind, number, why in (("due", heads, ""), ("short", short, cause)):
            if number:
                rows.append(
                    (time, kind, "", crop, COLD_STORE, "", "", customer, number, 0, 0.0, 0.0, why)
                )
    return rows
