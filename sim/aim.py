"""What a search for a cadence is to reach, and what it may spend."""

from __future__ import annotations

from dataclasses import dataclass

from sim.errors import SeedbeatError

LEAST_BUDGET = 500  # simulated years


@dataclass(frozen=True)
class Aim:
    """What a search is to reach: shares in (0, 1], and simulated years all in all.

    `alpha` is the allowed chance of a wrong choice, `seed` that of all luck. Raises SeedbeatError
    if one of these numbers cannot be used.
    """

    steadiness: float = 0.95
    weakest_week: float = 0.85
    budget: int = 6000
    seed: int = 1
    alpha: float = 0.05

    def __post_init__(self) -> None:
        for name in ("steadiness", "weakest_week"):
            share = getattr(self, name)
            if not 0.0 < share <= 1.0:
                raise SeedbeatError(
                    f"finding a cadence: {name} must be a share above 0 and at most 1, such as "
                    f"0.9; it was {share:g}"
                )
        if self.budget < LEAST_BUDGET:
            raise SeedbeatError(
                f"finding a cadence: budget must be at least {LEAST_BUDGET}; it was {self.budget}"
            )
