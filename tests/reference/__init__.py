"""A second, slow simulation of the same rules: one object per plant, one unit of work a time.

It is written from the rules in DEVELOPERS.md alone, in plain SimPy, for scenarios of one
crop, and shares no code with the fast simulation, so that a fault in either shows as a
difference. Its luck is its own: `numpy.random.default_rng(seed)`, drawn plant by plant.
"""

from __future__ import annotations

from sim.scenario import Scenario

from .house import Reference
from .result import ReferenceResult, measured

__all__ = ["ReferenceResult", "run_reference"]


def run_reference(scenario: Scenario, seed: int) -> ReferenceResult:
    """Run one crop's scenario plant by plant and measure its window."""
    house = Reference(scenario, seed)
    house.env.run(until=house.plan.end)
    return measured(house)
