"""The words that sentences and tables of `seedbeat sure` share."""

from __future__ import annotations

from sim.telling import Answer
from sim.telling_numbers import figures, kind_told, told

NOTHING = 0.005  # a share that is not told
LEAST_SHOWN = 0.0005  # what would read as 0.0 %


def where(answer: Answer, number: Answer) -> str:
    """Where it is counted; a crop is named only where there are several."""
    crops = {n["where"].partition(", ")[0] for n in answer["numbers"] if ", " in n["where"]}
    place = str(number["where"])
    return place.partition(", ")[2] if len(crops) == 1 and ", " in place else place


def name(answer: Answer, number: Answer, *, short: bool = False) -> str:
    """Where and what; `short` for tables."""
    return f"{where(answer, number)}: {kind_told(number['kind'], short=short)}"


def span(number: Answer) -> str:
    """What it plausibly is, from the lower end to the higher."""
    low, high = sorted((number["low"], number["high"]), key=lambda v: told(number, v))
    if number["unit"] == "minutes":
        return f"{figures(number, low)} to {figures(number, high)}"
    return f"{told(number, low):.1f} to {told(number, high):.1f}"


def percent_of(share: float) -> str:
    """A share in percent, "-" where that would read as none."""
    return "-" if share < LEAST_SHOWN else f"{100 * share:.1f} %"
