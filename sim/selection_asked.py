"""Whether a choice can be made as it is asked for."""

from __future__ import annotations

from math import isfinite

from sim.errors import SeedbeatError
from sim.selection_runs import Limits


def check(
    candidates: int,
    limits: Limits,
    *,
    alpha: float,
    indifference: float,
    first_round: int,
    round_size: int,
    budget: int,
    at_first: int,
) -> None:
    """Raise SeedbeatError for the first number that cannot be used; what they are: `choose`."""
    least = min(at_first, candidates) * first_round
    needs: tuple[tuple[bool, str, str, object], ...] = (
        (candidates >= 1, "candidates", "must be at least 1", candidates),
        (0.0 < alpha < 0.5, "alpha", "must lie between 0 and 0.5", alpha),
        (isfinite(indifference) and indifference > 0, "indifference", "must be above 0; give the "
         "difference in the objective that does not matter to you", indifference),
        (first_round >= 2, "first_round", "must be at least 2 runs", first_round),
        (round_size >= 1, "round_size", "must be at least 1 run", round_size),
        (at_first >= 1, "at_first", "must be at least 1", at_first),
        (budget >= least, "budget", f"must be at least {least} runs ({min(at_first, candidates)} "
         f"candidates x "
         f"{first_round} in the first round); raise it, or give fewer candidates", budget),
        (bool(((limits.at_least > 0) & (limits.at_least <= 1)).all()), "at_least",
         "must be above 0 and at most 1 for every limit", limits.at_least.tolist()),
        (bool((limits.tolerance > 0).all()), "tolerance", "must be above 0 for every limit",
         limits.tolerance.tolist()),
        (limits.at_least.shape == limits.tolerance.shape == limits.binary.shape, "limits",
         "must have as many tolerances and flags as limits",
         (limits.at_least.size, limits.tolerance.size, limits.binary.size)),
    )  # fmt: skip
    for fine, name, must, was in needs:
        if not fine:
            raise SeedbeatError(f"choosing: {name} {must}; it was {was}")
