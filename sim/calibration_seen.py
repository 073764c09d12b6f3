"""What the rows of a season show of each batch: who came, who was lost, who left, when."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import inf

import numpy as np

from sim.calibration_lengths import Lengths
from sim.calibration_stays import GRACE, Part, Stay, Stays, Watch, stays_of
from sim.calibration_visits import Pace, Visits
from sim.parts import Crop, Stage
from sim.records import Row
from sim.timetable import Timetable


@dataclass(frozen=True)
class StandCount:
    """Plants of a batch counted alive in a place on a day [days since the first day]."""

    day: int
    batch: str
    place: str
    plants: int


@dataclass(frozen=True)
class StageSeen:
    """What the records show of one stage of one crop, a number for each batch that tells it.

    `came` is the day on which a batch first came to the place, `move_came` to the one before [days
    since the run's first]. Of `entered` plants `lost` went while growing, `hit` of them in the rare
    event; `named` says whether the records name that event. Of `to_move` plants `culled` were lost
    at moving into the stage. Of `guessed` batches plants were taken as lost that no row tells of;
    `unknown` batches were left out for it. `lengths` come from `told_by`: "ready" (somebody wrote
    when; but `by_moves` batches were moved without), "moved" (all were moved as soon as it could
    be), or "" (neither). `weekdays` are those on which people looked, 0 for Monday. `forgotten`
    batches came so long ago that they are gone, and no row says so.
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
    by_moves: int
    weekdays: tuple[int, ...]
    forgotten: int

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
        watch = Watch.of(here.values(), crop, number)
        lengths, by_moves = self._lengths(here, crop, number, watch)
        forgotten = sum(
            any(part.forgotten(crop.stages[number], self.visits.last) for part in s.parts.values())
            for s in here.values()
        )
        came, entered, lost, hit = zip(*known, strict=True) if known else ((), (), (), ())
        move_came, to_move, culled = zip(*moves, strict=True) if moves else ((), (), ())
        return StageSeen(
            came, entered, lost, hit,
            event is not None and any(stay.lost[event.cause] for stay in here.values()),
            move_came, to_move, culled,
            guessed, sum(not s.strange for s in here.values()) - len(known), lengths, watch.told_by,
            by_moves, tuple(self.visits.weekdays(crop.stages[number].place)), forgotten,
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
        self, here: dict[tuple[str, str], Stay], crop: Crop, number: int, watch: Watch
    ) -> tuple[Lengths, int]:
        """Limits of the stage's length, a pair for each batch that tells one.

        With it the number of batches of which only moves tell it.
        """
        stage, last = crop.stages[number], number == len(crop.stages) - 1
        into = "" if last else crop.stages[number + 1].place
        task = crop.harvested_by if last else crop.stages[number + 1].moved_in_by
        pace = Pace(stage, self.timetable, max(self.visits.last, 0) + 1)
        chance = partial(self.visits.last_chance, task=task, place=into)
        limits, by_moves = [], 0
        for stay in here.values() if watch.told_by else ():
            parts = [] if stay.strange else sorted(stay.parts.values(), key=lambda p: -p.came)
            told = [
                (part, pair) for part in parts if (pair := self._seen(part, stage, watch, chance))
            ]
            limits += _common([pace.limits(part.day, *pair) for part, pair in told])
            by_moves += any(p.finished == inf and pair[1] < inf for p, pair in told)
        low, high = zip(*limits, strict=True) if limits else ((), ())
        return Lengths(np.array(low, dtype=float), np.array(high, dtype=float)), by_moves

    def _seen(
        self, part: Part, stage: Stage, watch: Watch, chance: Callable[[int], int | None]
    ) -> tuple[int, float] | None:
        """The day on which a part was last seen not ready, and the first on which it was ready [d].

        The second is inf if it still grows. None if nothing tells: all lost, or left without
        anybody writing that it was ready. `chance` is the last chance to move before a day.
        """
        visits, place = self.visits, stage.place
        if part.finished < inf:
            day = int(part.finished)
            exact = part.finished == day  # at 00:00, so that the day itself is known
            looked = day - 1 if exact else visits.before(day, place)
            return _since(part, looked), day
        if part.left < inf:
            return (_since(part, chance(int(part.left))), int(part.left)) if watch.moves else None
        if part.gone >= part.came or part.forgotten(stage, visits.last):
            return None
        if watch.written:
            return _since(part, visits.before(visits.last + 1, place)), inf
        if watch.moves:
            return _since(part, chance(visits.last + 1)), inf
        return _since(part, visits.before(watch.last_written + 1, place)), inf


def _since(part: Part, day: int | None) -> int:
    """A day, but not before a part came."""
    return part.day if day is None else max(day, part.day)


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
