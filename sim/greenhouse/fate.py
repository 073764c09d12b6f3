"""The plants of one batch, and what becomes of them: drawn once, split among its parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.draws import binomial, hypergeometric

if TYPE_CHECKING:
    from sim.draws import Luck
    from sim.greenhouse.batch import Part
    from sim.greenhouse.plan import Sowing, StagePlan

_SPLIT = 1  # causes from here on split a batch's fate among its parts
WHOLE = [0.5, 0.5, 0.5]  # for a whole batch, which needs no splitting


class Fate:
    """What becomes of all plants that enter a stage, drawn once for the batch (rule C5).

    The parts of the batch draw from it without replacement.
    """

    __slots__ = ("hit", "kept", "left_to_move", "left_to_set", "length", "lost", "total")

    def __init__(self, stage: StagePlan, cells: int, luck: list[float], to_go: float = 1.0) -> None:
        """Draw for `cells` that enter, or have a share `to_go` of the stage before them."""
        self.length = stage.days.at(luck[0])
        if to_go == 1.0:
            kept = came_up = stage.stand.count(luck[1], luck[2], cells)
        else:
            kept = came_up = binomial(luck[2], cells, stage.stand.at(luck[1]) ** to_go)
        if luck[3] < stage.event_share * to_go:
            kept = binomial(luck[4], came_up, 1.0 - stage.event_loss)
        self.total, self.lost, self.hit = cells, cells - came_up, came_up - kept
        self.kept = kept
        self.left_to_move, self.left_to_set = kept, kept

    def will_set(self, u: float, following: StagePlan) -> int:
        """Draw how many of the survivors outlive the move into the next stage."""
        self.left_to_set = following.moved.at(u, self.kept)
        return self.left_to_set

    def of_part(self, plants: int, luck: list[float]) -> tuple[int, int, int]:
        """Survivors, ordinary losses and rare-event losses among `plants` of the batch."""
        gone = self.lost + self.hit
        if plants == self.total:
            return plants - gone, self.lost, self.hit
        good = hypergeometric(luck[0], plants, self.total - gone, self.total)
        lost = hypergeometric(luck[1], plants - good, self.lost, gone) if gone else 0
        hit = plants - good - lost
        self.total -= plants
        self.lost -= lost
        self.hit -= hit
        return good, lost, hit

    def set_of_part(self, plants: int, luck: list[float]) -> int:
        """How many of a part's survivors outlive the move."""
        if plants == self.left_to_move:
            return self.left_to_set
        good = hypergeometric(luck[2], plants, self.left_to_set, self.left_to_move)
        self.left_to_move -= plants
        self.left_to_set -= good
        return good


class Batch:
    """The plants of one crop seeded together; it keeps its identity to the end."""

    __slots__ = ("_entry", "_luck", "_parts", "_week", "crop", "fates", "name", "targets")

    def __init__(self, sowing: Sowing, numbers: list[list[float]], luck: Luck) -> None:
        seeding = sowing.seeding
        self.name = seeding.batch
        self.crop = sowing.crop
        self._luck = luck
        self._week, self._entry = seeding.week, seeding.entry  # its slot, which its luck hangs on
        self._parts = 0
        self.targets: dict[int, Part] = {}  # the part that plants set today join, by stage
        self.fates: list[Fate] = []
        cells, fate = sowing.cells, None
        for stage, drawn in zip(sowing.crop.stages, numbers, strict=True):
            if fate:
                cells = fate.will_set(drawn[5], stage)
            fate = Fate(stage, cells, drawn)
            self.fates.append(fate)

    def target(self, number: int, now: float) -> Part | None:
        """The part that plants set into stage `number` today join, if there is one."""
        part = self.targets.get(number)
        return part if part and part.day == int(now) else None

    def split_luck(self, stage: int) -> list[float]:
        """Luck for splitting a fate among parts."""
        self._parts += 1
        return self._luck.eight(self.crop.key, self._week, self._entry, stage, _SPLIT + self._parts)
