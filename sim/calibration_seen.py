"""What the rows of a season show of each batch: who came, who was lost, who left, when.

A batch in one place has parts: what was set in on one date (rule P2). Plants that came before the
records begin are passed over.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np

from sim.agreement import COLD_STORE
from sim.calibration_lengths import Lengths
from sim.calibration_visits import Pace, Visits
from sim.parts import Crop, Stage
from sim.records import BATCH, CAUSE, COUNT, CROP, KIND, PLACE, SINCE, TIME, TO, Row
from sim.timetable import Timetable

GRACE = 14  # days after a batch's last move from which plants that no row tells of are gone


@dataclass(frozen=True)
class StandCount:
    """Plants of a batch counted alive in a place on a day [days since the first day]."""

    day: int
    batch: str
    place: str
    plants: int


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
        stay.ready += count
        return
    part.gone += count
    if kind == "lost":
        stay.lost[row[CAUSE]] += count
        return
    part.left = min(part.left, row[TIME])
    stay.outs.append((row[TIME], count))
    stay.moved += count if kind == "moved" else 0


@dataclass(frozen=True)
class StageSeen:
    """What the records show of one stage of one crop, a number for each batch that tells it.

    `came` is the day on which a batch first came to the place, `move_came` to the one before [days
    since the run's first]. Of `entered` plants `lost` went while growing, `hit` of them in the rare
    event; `named` says whether the records name that event. Of `to_move` plants `culled` were lost
    at moving into the stage. Of `guessed` batches plants were taken as lost that no row tells of;
    `unknown` batches were left out for it. `lengths` come from `told_by`: "ready" (somebody wrote
    when), "moved" (moved as soon as it could be), or "" (neither).
    """

    came: tuple[int, ...]
    entered: tuple[int, ...]
    lost: tuple[int, ...]
    hit: tuple[int, ...]
    named: bool
    move_came: tuple[int, ...]
    to_move: tuple[int, ...]
    culled: tuple[int, ...]
    guessed: int
    unknown: int
    lengths: Lengths
    told_by: str

    @property
    def batches(self) -> int:
        """Batches whose losses are known."""
        return len(self.entered)


@dataclass(frozen=True)
class Season:
    """A season made ready: batches in places, visits, plants counted where they stood."""

    stays: Stays
    visits: Visits
    stands: dict[tuple[str, str], StandCount]
    timetable: Timetable

    @classmethod
    def of(cls, rows: Sequence[Row], stands: Sequence[StandCount], timetable: Timetable) -> Season:
        """From rows in order of time; of several counts of a batch in a place the last is used."""
        counted = {(s.batch, s.place): s for s in sorted(stands, key=lambda s: s.day)}
        return cls(stays_of(rows), Visits(rows, timetable), counted, timetable)

    def stage(self, name: str, number: int) -> StageSeen:
        """What was seen of a stage of a crop; its places must differ from each other."""
        crop = self.timetable.scenario.crops[name]
        here = self._stays(name, crop.stages[number].place)
        known, guessed = [], 0
        for key, stay in here.items():
            growing = self._growing(key, stay, crop, number)
            if growing is not None:
                known.append((min(stay.parts), stay.came, *growing[:2]))
                guessed += growing[2]
        event = crop.stages[number].bad_event
        moves = self._moves(name, number)
        lengths, told_by = self._lengths(here, crop, number)
        came, entered, lost, hit = zip(*known, strict=True) if known else ((), (), (), ())
        move_came, to_move, culled = zip(*moves, strict=True) if moves else ((), (), ())
        return StageSeen(
            came, entered, lost, hit,
            event is not None and any(stay.lost[event.cause] for stay in here.values()),
            move_came, to_move, culled,
            guessed, sum(not s.strange for s in here.values()) - len(known), lengths, told_by,
        )  # fmt: skip

    def _stays(self, crop: str, place: str) -> dict[tuple[str, str], Stay]:
        return {k: s for k, s in self.stays.items() if k[1] == place and s.crop == crop and s.came}

    def _moves(self, name: str, number: int) -> list[tuple[int, int, int]]:
        """By batch that was moved on: its first day before, plants to move, and those culled."""
        stages = self.timetable.scenario.crops[name].stages
        cause = _cull_cause(stages, number - 1)
        if not cause:
            return []
        before = self._stays(name, stages[number - 1].place).values()
        moved = [s for s in before if s.moved and not s.strange]
        return [(min(s.parts), s.moved + s.lost[cause], s.lost[cause]) for s in moved]

    def _growing(
        self, key: tuple[str, str], stay: Stay, crop: Crop, number: int
    ) -> tuple[int, int, int] | None:
        """Plants lost while growing, those of them in the rare event, and 1 if that is guessed.

        None if what became of the batch's plants is not known.
        """
        stage, last = crop.stages[number], number == len(crop.stages) - 1
        cause = _cull_cause(crop.stages, number)
        culled = stay.lost[cause] if cause else 0
        hit = stay.lost[stage.bad_event.cause] if stage.bad_event else 0
        lost = stay.lost.total() - culled
        if stay.strange or stay.there < 0:
            return None
        if stay.there == 0 or (stay.ready and stay.ready + lost == stay.came):
            return lost, hit, 0
        if stand := self.stands.get(key):
            before = culled + sum(count for time, count in stay.outs if time < stand.day)
            return max(lost, stay.came - stand.plants - before, hit), hit, 0
        if not last and stay.moved and stay.outs[-1][0] + GRACE < self.visits.last:
            return lost + stay.there, hit, 1
        return None

    def _lengths(
        self, here: dict[tuple[str, str], Stay], crop: Crop, number: int
    ) -> tuple[Lengths, str]:
        """Limits of the stage's length, a pair for each batch that tells one."""
        told_by = "ready" if any(s.ready for s in here.values()) else ""
        last = number == len(crop.stages) - 1
        if not told_by and (not last or crop.harvest == "when ready"):
            told_by = "moved"
        limits = []
        if told_by:
            follows = crop.harvested_by if last else crop.stages[number + 1].moved_in_by
            into = "" if last else crop.stages[number + 1].place
            pace = Pace(crop.stages[number], self.timetable, max(self.visits.last, 0) + 1)
            for stay in here.values():
                parts = [] if stay.strange else sorted(stay.parts.values(), key=lambda p: -p.came)
                seen = [self._limits(p, told_by, follows, into, pace) for p in parts]
                limits += _common([pair for pair in seen if pair])
        low, high = zip(*limits, strict=True) if limits else ((), ())
        return Lengths(np.array(low, dtype=float), np.array(high, dtype=float)), told_by

    def _limits(
        self, part: Part, told_by: str, task: str | None, into: str, pace: Pace
    ) -> tuple[float, float] | None:
        """Limits of the length of one part's stay until it was ready [days of a pace of 100 %]."""
        seen = part.finished if told_by == "ready" else part.left
        if seen == inf and (part.gone >= part.came or part.left < inf):
            return None  # all lost, or left without anybody writing that it was ready
        day = int(seen) if seen < inf else self.visits.last + 1
        if told_by == "ready" and seen == day:
            return pace.limits(part.day, day - 1, day)  # at 00:00, so that the day itself is known
        if told_by == "ready":
            looked = self.visits.before(day)
        else:
            looked = self.visits.last_chance(day, task, into)
        looked = part.day if looked is None else max(looked, part.day)
        return pace.limits(part.day, looked, inf if seen == inf else day)


def _cull_cause(stages: Sequence[Stage], number: int) -> str:
    """The cause under which plants of a stage are lost at moving on; "" if nothing tells it."""
    if not 0 <= number < len(stages) - 1:
        return ""
    here, cause = stages[number], stages[number + 1].move_loss_cause
    others = (here.loss_cause, here.bad_event.cause if here.bad_event else "")
    return "" if cause in others else cause


def _common(limits: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What all parts of a batch have in common, the largest part first; that one's if nothing."""
    if not limits:
        return []
    low, high = max(pair[0] for pair in limits), min(pair[1] for pair in limits)
    return [(low, high)] if low < high else limits[:1]
