"""What a run of a candidate gives, and the limits that its means are held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.selection_bounds import Floats

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Limits:
    """What each of s constraints must reach, as arrays of shape (s,).

    `at_least`: limit of the mean, above 0 and at most 1. `tolerance`: how far below the limit is
    still acceptable, above 0. `binary`: whether every run gives 0 or 1 (and nothing between).
    """

    at_least: Floats
    tolerance: Floats
    binary: Bools

    @property
    def below(self) -> Floats:
        """Shares from here down must not pass; above 0 whatever the tolerance."""
        return np.maximum(self.at_least - self.tolerance, self.at_least / 2.0)

    @property
    def clearly(self) -> Floats:
        """Shares a little above the limits, by a quarter of the way to `above`."""
        return self.at_least + (self.above - self.at_least) / 4.0

    @property
    def above(self) -> Floats:
        """Shares from here up must not fail; below 1 (for a limit below 1)."""
        return np.minimum(self.at_least + self.tolerance, (1.0 + self.at_least) / 2.0)


class Outcome(NamedTuple):
    """One run of one candidate: shares in [0, 1] of shape (s,), objective, tie-break."""

    constraints: NDArray[np.float64]
    objective: float
    tie_break: float = 0.0


def shares_of(
    pairs: Sequence[tuple[int, int]], outcomes: Sequence[Outcome], limits: Limits
) -> Floats:
    """The shares of some runs, shape (runs, s); ValueError for outcomes that are none."""
    if len(outcomes) != len(pairs):
        raise ValueError(f"evaluate: must return {len(pairs)} outcomes, returned {len(outcomes)}")
    values = np.array([o.constraints for o in outcomes], dtype=float)
    if values.shape != (len(pairs), limits.at_least.size):
        raise ValueError(
            f"constraints: must have shape ({limits.at_least.size},) in every outcome, "
            f"together they had {values.shape}"
        )
    fine = (values >= 0.0) & (values <= 1.0) & (~limits.binary | (values % 1.0 == 0.0))
    refuse(pairs, np.asarray(fine.all(axis=1)))
    return values


def refuse(pairs: Sequence[tuple[int, int]], fine: Bools) -> None:
    """ValueError for the first outcome that is not fine."""
    if not fine.all():
        candidate, replication = pairs[int(np.argmin(fine))]
        raise ValueError(
            f"outcome of candidate {candidate}, replication {replication}: shares must lie in "
            "[0, 1] (0 or 1 where binary), objective and tie-break must be finite numbers"
        )
