"""Batches in places, as the rows of a season show them.

A batch in one place has parts: what was set in on one date (rule P2). Plants that came before the
records begin are passed over.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import inf

from sim.agreement import COLD_STORE
from sim.counts_entries import SEEN_READY
from sim.parts import Crop, Stage
from sim.records import BATCH, CAUSE, COUNT, CROP, KIND, PLACE, SINCE, TIME, TO, Row

GRACE = 14  # days after a batch's last move from which plants that no row tells of are gone


@dataclass
class Part:
    """What one batch brought into one place on day `day`: how many came, how many are gone.

    `finished` and `left` are when they were first seen ready, and when the first of them left
    alive or were dumped [d]; inf if that is not known.
    """

    day: int
    came: int = 0
    gone: int = 0
    finished: float = inf
    left: float = inf

    def forgotten(self, stage: Stage, last: int) -> bool:
        """Whether it still stands there, by the rows, on day `last`, and cannot [d].

        So is a part that came before twice the stage's days, its keeping time and `GRACE`.
        """
        slowest = min([100.0, *stage.pace_percent.values()]) / 100.0
        keeps = GRACE if stage.keep_days is None else stage.keep_days
        longest = 2.0 * stage.days / slowest + keeps + GRACE
        there = self.gone < self.came and self.left == self.finished == inf
        return there and last - self.day > longest


@dataclass
class Stay:
    """One batch in one place.

    `lost` is by cause; `outs` are plants that left otherwise, with the time [d]. `strange` is set
    if plants were there that no row brought.
    """

    crop: str
    parts: dict[int, Part] = field(default_factory=dict)
    lost: Counter[str] = field(default_factory=Counter)
    outs: list[tuple[float, int]] = field(default_factory=list)
    moved: int = 0
    ready: int = 0
    strange: bool = False

    @property
    def came(self) -> int:
        """Plants that came in."""
        return sum(part.came for part in self.parts.values())

    @property
    def there(self) -> int:
        """Plants that no row tells of having left."""
        return self.came - self.lost.total() - sum(count for _, count in self.outs)

    def part(self, since: float) -> Part | None:
        """The part that came on that day, or the oldest that is not gone."""
        found = self.parts.get(int(since))
        waiting = (p for _, p in sorted(self.parts.items()) if p.gone < p.came)
        return found or next(waiting, None)


Stays = dict[tuple[str, str], Stay]  # by batch and place


def stays_of(rows: Iterable[Row]) -> Stays:
    """Every batch in every place, from rows in order of time."""
    stays: Stays = {}
    for row in rows:
        kind, place = row[KIND], row[PLACE]
        if not row[BATCH] or place == COLD_STORE:
            continue
        if kind in ("seeded", "moved", "standing"):
            into = row[TO] if kind == "moved" else place
            stay = stays.setdefault((row[BATCH], into), Stay(row[CROP]))
            stay.strange |= kind == "standing"
            day = int(row[TIME])
            stay.parts.setdefault(day, Part(day)).came += row[COUNT]
        if kind in ("moved", "lost", "harvested", "dumped", "finished"):
            _leave(stays.setdefault((row[BATCH], place), Stay(row[CROP])), row)
    return stays


def _leave(stay: Stay, row: Row) -> None:
    part = stay.part(row[SINCE])
    if part is None:
        stay.strange = True
        return
    kind, count = row[KIND], row[COUNT]
    if kind == "finished":
        part.finished = min(part.finished, row[TIME])
        stay.ready += 0 if row[CAUSE] == SEEN_READY else count
        return
    part.gone += count
    if kind == "lost":
        stay.lost[row[CAUSE]] += count
        return
    part.left = min(part.left, row[TIME])
    stay.outs.append((row[TIME], count))
    stay.moved += count if kind == "moved" else 0


@dataclass(frozen=True)
class Watch:
    """How the records tell when plants of a stage were ready.

    `last_written` is the last day on which somebody wrote so, -1 if nobody did; `written` says
    that nothing left later without it. `moves` says that plants leave as soon as they can.
    """

    last_written: int
    written: bool
    moves: bool

    @classmethod
    def of(cls, stays: Iterable[Stay], crop: Crop, number: int) -> Watch:
        """From all batches in the stage's place."""
        parts = [part for stay in stays for part in stay.parts.values()]
        last = max((int(p.finished) for p in parts if p.finished < inf), default=-1)
        unwritten = max((int(p.left) for p in parts if p.finished == inf > p.left), default=-1)
        moves = number < len(crop.stages) - 1 or crop.harvest == "when ready"
        return cls(last, last >= 0 and unwritten <= last, moves)

    @property
    def told_by(self) -> str:
        """What tells it: "ready", "moved", or "" if nothing does."""
        return "ready" if self.last_written >= 0 else "moved" if self.moves else ""
