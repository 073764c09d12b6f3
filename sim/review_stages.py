"""Which stage's losses or days look off in a season's records, by simple rules.

Losses: of the plants of a batch that came to a place and all left it again, the share that was
lost, against what the scenario expects of the stage and of the move out of it. Days: from coming
to a place to the first plants moved on, against the first day with somebody there after the
stage's mean length. A move may also wait for people or for free channels, so late moves need not
be slow growth. Days to ready in a last stage cannot be seen: heads are cut when they are ordered.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.collisions import finished
from sim.parts import Stage
from sim.records import BATCH, COUNT, CROP, KIND, PLACE, TIME, TO, Row
from sim.replications import Estimate, mean_estimate
from sim.timetable import Timetable

LEAST_BATCHES = 6  # below which there is too little to tell
A_DAY = 1.0  # by which moves must come early or late to look off [d]

What = Literal["losses", "days"]


@dataclass(frozen=True)
class StageLook:
    """A stage in the records: shares of plants lost, or days beyond those expected.

    `found` is a mean over `batches`; `expected` is 0 for days. `key` is the scenario's.
    """

    what: What
    crop: str
    stage: str
    key: str
    batches: int
    found: Estimate
    expected: float

    @property
    def enough(self) -> bool:
        """Whether there are batches enough to tell."""
        return self.batches >= LEAST_BATCHES

    @property
    def off(self) -> bool:
        """Whether the records leave out what the scenario expects."""
        if not self.enough or self.found.low <= self.expected <= self.found.high:
            return False
        return self.what == "losses" or abs(self.found.mean) >= A_DAY


class _Stay:
    """The plants of one batch in one place: how many came and left, and when first."""

    def __init__(self) -> None:
        self.came = self.lost = self.left = 0
        self.since: float | None = None
        self.moved: float | None = None

    def take(self, row: Row) -> None:
        """Count a row of plants that leave."""
        self.left += row[COUNT]
        if row[KIND] == "lost":
            self.lost += row[COUNT]
        elif row[KIND] == "moved" and self.moved is None:
            self.moved = row[TIME]


def stage_looks(table: Timetable, rows: Sequence[Row]) -> Iterator[StageLook]:
    """Every stage of every crop, as far as the records tell of it."""
    stays = _stays(rows)
    for name, crop in table.scenario.crops.items():
        follows: list[Stage | None] = [*crop.stages[1:], None]
        for stage, after in zip(crop.stages, follows, strict=True):
            here = [s for (c, place, _), s in stays.items() if (c, place) == (name, stage.place)]
            key = f"crops.{name}.stages[{stage.name}]"
            gone = [s.lost / s.came for s in here if s.came and s.left >= s.came]
            if gone:
                yield StageLook(
                    "losses", name, stage.name, f"{key}.loss_percent", len(gone),
                    mean_estimate(np.array(gone)), expected_loss(stage, after),
                )  # fmt: skip
            late = [d for s in here if (d := _late(table, stage, after, s)) is not None]
            if late:
                yield StageLook(
                    "days", name, stage.name, f"{key}.days", len(late),
                    mean_estimate(np.array(late)), 0.0,
                )  # fmt: skip


def _stays(rows: Sequence[Row]) -> dict[tuple[str, str, str], _Stay]:
    """Stays by crop, place and batch."""
    stays: defaultdict[tuple[str, str, str], _Stay] = defaultdict(_Stay)
    for row in rows:
        kind = row[KIND]
        if kind in ("seeded", "moved"):
            into = stays[row[CROP], row[PLACE] if kind == "seeded" else row[TO], row[BATCH]]
            into.came += row[COUNT]
            into.since = row[TIME] if into.since is None else into.since
        if kind in ("lost", "moved", "harvested", "dumped"):
            stays[row[CROP], row[PLACE], row[BATCH]].take(row)
    return stays


def expected_loss(stage: Stage, after: Stage | None) -> float:
    """The share of plants lost in a stage and in the move out of it, rare events included."""
    event = stage.bad_event
    kept = 1.0 - stage.loss_percent / 100.0
    if event:
        kept *= 1.0 - event.percent_of_batches / 100.0 * event.loss_percent / 100.0
    return 1.0 - kept * (1.0 - (after.move_loss_percent / 100.0 if after else 0.0))


def _late(table: Timetable, stage: Stage, after: Stage | None, stay: _Stay) -> float | None:
    """Days by which the first plants moved on late, None if that cannot be told [d]."""
    if after is None or stay.since is None or stay.moved is None:
        return None
    due = finished(table, stage, int(stay.since))
    days = range(due, table.days)
    task = after.moved_in_by
    staffed = next((day for day in days if table.staffed(task, day)), None)
    return None if staffed is None else float(int(stay.moved) - staffed)
