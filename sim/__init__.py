"""seedbeat: plan the seeding of a school greenhouse by simulating its school year."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.cadence import find_cadence
    from sim.errors import SeedbeatError
    from sim.runs import replicate
    from sim.scenario_file import load_scenario
    from sim.year import run

__all__ = ["SeedbeatError", "find_cadence", "load_scenario", "replicate", "run"]

_HOMES = {
    "SeedbeatError": "sim.errors",
    "find_cadence": "sim.cadence",
    "load_scenario": "sim.scenario_file",
    "replicate": "sim.runs",
    "run": "sim.year",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used: the heavy packages are slow to load."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'sim' has no attribute {name!r}")
