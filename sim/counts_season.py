"""Entries of a season to the rows of a run: batches named, balances kept, orders beside them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date

from sim.counts_balance import Balance, in_order
from sim.counts_batches import Batches
from sim.counts_cleaning import Cleaning
from sim.counts_entries import Entry, Said, Stand
from sim.counts_orders import Ordered, Orders
from sim.counts_people import has_shift, shift_rows
from sim.counts_values import WrongError
from sim.records import BATCH, COUNT, CROP, KIND, PLACE, TIME, TO, Row
from sim.timetable import Timetable

_NOT_DUMPED = (
    "Of what was cleared in {place}, {number} were left out: no row tells of plants dumped in them"
)
_OUT = frozenset({"moved", "lost", "harvested", "dumped"})


@dataclass(frozen=True, slots=True)
class Season:
    """Rows of a run in order of time, plants counted where they stood, and what was used.

    `used` are the entries that were used, each with its batch; `ordered` is None without
    deliveries.
    """

    rows: list[Row]
    stands: tuple[Stand, ...]
    used: tuple[Entry, ...]
    ordered: Ordered | None


class Making:
    """Makes a season of entries; what cannot be is told, and left out.

    `refuse` hears of an entry that cannot be, and why.
    """

    def __init__(
        self, timetable: Timetable, said: Said, refuse: Callable[[Entry, WrongError], None]
    ) -> None:
        self._table, self._said, self._refuse = timetable, said, refuse
        self._orders = Orders(timetable)

    def season(self, entries: list[Entry], refused: Mapping[date, int]) -> Season:
        """The season that the entries tell; `refused` are rows of seedings not read, by date."""
        batches = Batches(self._table.start, refused)
        named = batches.seeded(e for e in entries if e.kind == "seeded")
        for entry in entries:
            with self._told(entry):
                if entry.kind == "missed":
                    named.append(batches.missed(entry))
                elif entry.kind != "seeded":
                    named.append(self._left(batches.of(entry)))
        used, rows = self._balanced(named)
        stands = self._stands(named, rows)
        counted = {stand.row for stand in stands}
        used += [e for e in named if e.kind == "counted" and e.row in counted]
        rows += shift_rows(used, self._table, self._said)
        delivered = [e for e in used if e.kind == "delivered"]
        due, ordered = self._orders.rows(delivered, self._said)
        rows = sorted(rows + due, key=lambda row: row[TIME])
        cleaning = Cleaning(self._table.scenario, rows)
        rows = cleaning.rows()
        for place, number in (+cleaning.not_dumped).items():
            row = next(e.row for e in used if (e.kind, e.place) == ("cleared", place))
            self._said.assume(_NOT_DUMPED.format(number=number, place=place), row)
        return Season(rows, stands, tuple(sorted(used, key=lambda e: e.row)), ordered)

    @contextmanager
    def _told(self, entry: Entry) -> Iterator[None]:
        """Keep what is wrong with an entry."""
        try:
            yield
        except WrongError as wrong:
            self._refuse(entry, wrong)

    def _left(self, entry: Entry) -> Entry:
        """A delivery with its time, and as surplus if an outlet took it."""
        has_shift(entry)
        if entry.kind not in ("delivered", "surplus"):
            return entry
        kind = "surplus" if self._orders.is_surplus(entry) else entry.kind
        clock = self._orders.leaves(entry) if entry.clock is None else entry.clock
        return replace(entry, kind=kind, clock=clock)

    def _balanced(self, named: list[Entry]) -> tuple[list[Entry], list[Row]]:
        crops = {e.crop for e in named if e.crop} - {e.crop for e in named if e.kind == "harvested"}
        balance = Balance(self._table.scenario, frozenset(crops), self._said)
        used = []
        for entry in sorted(named, key=in_order):
            if entry.kind == "counted":
                continue
            with self._told(entry):
                used.append(entry if entry.kind == "present" else balance.take(entry))
        return used, balance.rows

    def _stands(self, named: list[Entry], rows: list[Row]) -> tuple[Stand, ...]:
        """Plants counted alive, none more than can be there: came by that day, not left before."""
        found, of_batch = [], defaultdict(list)
        for row in rows:
            for batch in {"", row[BATCH]}:
                of_batch[row[CROP], batch].append(row)
        for entry in named:
            if entry.kind == "counted":
                with self._told(entry):
                    found.append(self._stand(entry, of_batch[entry.crop, entry.batch]))
        return tuple(found)

    def _stand(self, entry: Entry, rows: list[Row]) -> Stand:
        """Plants counted, checked against the rows of their batch, or of their crop."""
        stages = self._table.scenario.crops[entry.crop].stages
        there = dict.fromkeys((stage.place for stage in stages), 0)
        for row in rows:
            if row[KIND] in ("seeded", "moved") and row[TIME] < entry.day + 1:
                there[row[TO] or row[PLACE]] += row[COUNT]
            if row[KIND] in _OUT and row[TIME] < entry.day and row[PLACE] in there:
                there[row[PLACE]] -= row[COUNT]
        places = [place for place, plants in there.items() if plants]
        place = entry.place or (places[0] if len(places) == 1 else "")
        if not place:
            raise WrongError(f"a place: {', '.join(there)}", "write where you counted", "place")
        if entry.count > there[place]:
            of = entry.batch or entry.crop
            must = f"at most {there[place]:,}, which is what can be left of {of} in {place}"
            raise WrongError(must, "count again, or add the row that is missing", "count")
        day = self._table.date_of(entry.day)
        return Stand(entry.row, day, entry.batch, entry.crop, place, entry.count)
