"""Records in order of time, to the rows of a run: nothing leaves a place that did not come in.

Within a day plants come before they go: seeded, moved, lost, harvested, dumped, delivered. Of one
batch in one place those that came first leave first, and so do the heads in the cold store. What
one batch brings into one place on one day is one part (rules P2, R2).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from math import ceil

from sim.agreement import COLD_STORE
from sim.counts_entries import ALL, SEEN_READY, Entry, Said
from sim.counts_values import WrongError
from sim.measures import WORK
from sim.records import Row
from sim.scenario import Scenario

NOON = 0.5  # when something was done that no clock time is written for [share of a day]
MORNING = 0.25  # when something was seen ready, before the work of the day [share of a day]
_FOUND = frozenset({"lost", "dumped", "missed"})  # what is found in the morning, before the work
OLDEST = "Heads harvested without a batch were taken from the oldest batch that stood there"
ONLY_BATCH = "A row without a batch was taken for the only batch that stood there"
AGAIN = "Plants that were ready before are written ready again; the first time counts"
ALL_READY = 'A row "ready" without a number was taken for all of the batch that stood there'
_ORDER = ("seeded", "ready", "moved", "lost", "harvested", "dumped", "delivered", "surplus")
_TOLD = 3  # batches that are told


def when(entry: Entry) -> float:
    """When it happened, as written or as assumed [d]."""
    if entry.clock is None:
        unsaid = MORNING if entry.kind == "ready" else NOON
        return entry.day + (0.0 if entry.kind in _FOUND else unsaid)
    return entry.day + entry.clock


def in_order(entry: Entry) -> tuple[int, int, float, int]:
    """What is done with the rows of a day first."""
    rank = _ORDER.index(entry.kind) if entry.kind in _ORDER else len(_ORDER)
    return entry.day, rank, when(entry), entry.row


@dataclass(slots=True)
class _Lot:
    """Plants or heads that came in together: of which batch, when (their mean) [d], how many.

    `ready` is set once somebody saw them ready.
    """

    batch: str
    time: float
    left: int
    came: int
    ready: bool = False


class Balance:
    """What stands in each place and in the cold store while the records go by.

    `unharvested` are crops without any row of a harvest: what leaves the cold store of them is
    not compared with what was in it.
    """

    def __init__(self, scenario: Scenario, unharvested: frozenset[str], said: Said) -> None:
        self._scenario, self._unharvested, self._said = scenario, unharvested, said
        self._lots: defaultdict[tuple[str, str], list[_Lot]] = defaultdict(list)  # crop, place
        self._set: defaultdict[tuple[str, str, int], int] = defaultdict(int)  # plants moved in
        self.rows: list[Row] = []

    def take(self, entry: Entry) -> Entry:
        """Note one record, and give it back with its count.

        Raises WrongError if more would leave, or be ready, than is there.
        """
        time = when(entry)
        if entry.kind == "ready":
            return self._see(entry, time)
        if entry.kind == "seeded":
            self._come(entry, entry.batch, entry.place, time, entry.count)
        plain = entry.kind in ("seeded", "missed", "washed", "cleared", "checked")
        numbers = entry.count, entry.containers, entry.minutes
        if plain or not entry.count:
            if plain or entry.minutes:
                self._note(entry, entry.batch, (time, 0.0 if plain else time), numbers)
        elif entry.place == COLD_STORE and entry.crop in self._unharvested:
            self._note(entry, entry.batch, (time, time), numbers)
        else:
            self._leave(entry, time)
        return entry

    def left(self, crop: str, place: str) -> int:
        """Plants or heads of a crop that are still in a place."""
        return sum(lot.left for lot in self._lots[crop, place])

    def _come(self, entry: Entry, batch: str, place: str, time: float, number: int) -> None:
        """Plants of a batch come into a place; with others of that day they are one part."""
        lots = self._lots[entry.crop, place]
        for lot in reversed(lots):
            if lot.batch == batch and int(lot.time) == entry.day:
                lot.came += number
                lot.left += number
                lot.time += (time - lot.time) * number / lot.came
                return
        lots.append(_Lot(batch, time, number, number))

    def _see(self, entry: Entry, time: float) -> Entry:
        """Plants are seen ready, those that came first before the others.

        The row of a part tells of all its plants: a part is ready at once (rule C3), and who walks
        round does not count it through. With a count of 0 somebody looked, and none were.
        """
        look = replace(entry, kind="checked", cause="")
        if not entry.count:
            if not entry.place:
                raise WrongError("a place", "write where you looked", "place")
            self._note(look, "", (time, 0.0), (0, 0, entry.minutes))
            return entry
        place, lots, there = self._there(entry)
        if entry.minutes:
            self._note(look, "", (time, 0.0), (0, 0, entry.minutes), place)
        wanted = there if entry.count == ALL else entry.count
        if entry.count == ALL:
            self._said.assume(ALL_READY, entry.row)
            entry = replace(entry, count=there)
        new = sorted((lot for lot in lots if not lot.ready), key=lambda lot: lot.time)
        if not new:
            self._said.assume(AGAIN, entry.row)
        for lot in new:
            if wanted > 0:
                lot.ready = True
                found = replace(entry, kind="finished", cause=SEEN_READY)
                at = max(time, lot.time), lot.time
                self._note(found, lot.batch, at, (lot.left, 0, 0.0), place)
            wanted -= lot.left
        return entry

    def _there(self, entry: Entry) -> tuple[str, list[_Lot], int]:
        """The place of a row, the lots that it may mean, and what is left of them."""
        place = entry.place or self._where(entry)
        lots, assumed = self._known(entry, place)
        there = sum(lot.left for lot in lots)
        if entry.count > there or not there:
            of = entry.batch or entry.crop
            raise WrongError(
                f"at most {there:,}, which is what is left of {of} in {place}",
                "count again, or mend or add the earlier row that it lacks", "count",
            )  # fmt: skip
        if assumed:
            self._said.assume(assumed, entry.row)
        return place, lots, there

    def _leave(self, entry: Entry, time: float) -> None:
        """Plants or heads leave a place, those that came first before the others."""
        place, lots, _ = self._there(entry)
        wanted = entry.count
        lots.sort(key=lambda lot: (lot.batch != entry.batch and place == COLD_STORE, lot.time))
        for lot in lots:
            if number := min(wanted, lot.left):
                self._go(entry, place, lot, (number, max(time, lot.time)))
                wanted -= number

    def _go(self, entry: Entry, place: str, lot: _Lot, what: tuple[int, float]) -> None:
        """So many plants of one lot leave at a time: a row, and where they come to."""
        number, time = what
        lot.left -= number
        containers = self._taken(entry, lot.batch, number) if entry.kind == "moved" else 0
        minutes = entry.minutes * number / entry.count
        self._note(entry, lot.batch, (time, lot.time), (number, containers, minutes), place)
        if entry.kind == "moved":
            self._come(entry, lot.batch, entry.to, time, number)
        elif entry.kind == "harvested":
            store = self._lots[entry.crop, COLD_STORE]
            store.append(_Lot(lot.batch, time, number, number))

    def _taken(self, entry: Entry, batch: str, number: int) -> int:
        """Containers that plants moved in take, as written or as they need (rule P2)."""
        sites = self._scenario.places[entry.to].sites_each
        part = batch, entry.to, entry.day
        before = self._set[part]
        self._set[part] += number
        if entry.containers:
            return -(-entry.containers * number // entry.count)
        return ceil(self._set[part] / sites) - ceil(before / sites)

    def _known(self, entry: Entry, place: str) -> tuple[list[_Lot], str]:
        """The lots that a row may take from, and what is assumed if it names no batch."""
        lots = [lot for lot in self._lots[entry.crop, place] if lot.left]
        if place == COLD_STORE:
            return lots, ""
        if entry.batch:
            return [lot for lot in lots if lot.batch == entry.batch], ""
        batches = list(dict.fromkeys(lot.batch for lot in lots))
        if len(batches) > 1 and entry.kind != "harvested":
            told = ", ".join(batches[:_TOLD])
            raise WrongError("a batch", f"write which one; {told} stand in {place}", "batch")
        return lots, OLDEST if len(batches) > 1 else ONLY_BATCH

    def _where(self, entry: Entry) -> str:
        """The place of plants lost or dumped: by the cause, or the only one where the batch is."""
        stages = self._scenario.crops[entry.crop].stages
        by_cause = set()
        for number, stage in enumerate(stages):
            causes = [stage.loss_cause, stage.bad_event.cause if stage.bad_event else ""]
            if entry.cause and entry.cause in causes:
                by_cause.add(stage.place)
            if number and entry.cause and entry.cause == stage.move_loss_cause:
                by_cause.add(stages[number - 1].place)
        places = dict.fromkeys(stage.place for stage in stages)
        stands = {p for p in places if any(lot.left for lot in self._known_batch(entry, p))}
        for found in (by_cause, stands):
            if len(found) == 1:
                return found.pop()
        raise WrongError(f"a place: {', '.join(places)}", "write where they stood", "place")

    def _known_batch(self, entry: Entry, place: str) -> list[_Lot]:
        lots = self._lots[entry.crop, place]
        return [lot for lot in lots if entry.batch in ("", lot.batch)]

    def _note(
        self,
        entry: Entry,
        batch: str,
        when: tuple[float, float],
        numbers: tuple[int, int, float],
        place: str = "",
    ) -> None:
        """A row: `when` it happened and since when the plants were there [d]."""
        time, since = when
        crew = entry.crew if entry.minutes or entry.kind in WORK else ""
        self.rows.append(
            (time, entry.kind, batch, entry.crop, place or entry.place, entry.to, crew,
             entry.customer, *numbers, since, entry.cause)
        )  # fmt: skip
