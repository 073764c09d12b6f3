"""The words that sentences and tables of `seedbeat sure` share."""

from __future__ import annotations

from sim.telling import Answer

_NAMES = {
    "growing loss": "growing loss",
    "moving loss": "moving loss",
    "loss spread": "loss, spread",
    "rare share": "rare event",
    "rare loss": "rare loss",
    "days spread": "days, spread",
    "absence": "absent",
}
_LONG_NAMES = {  # in sentences
    "growing loss": "lost while growing", "moving loss": "lost at moving in",
    "loss spread": "loss, batch to batch", "rare share": "batches hit by the rare event",
    "rare loss": "lost in the rare event", "days": "days to be ready",
    "days spread": "days, batch to batch", "minutes": "minutes a unit", "absence": "people absent",
}  # fmt: skip
_SIGNS = {"percent": " %", "percentage points": " pts", "days": " d", "minutes": " min"}
NOTHING = 0.005  # a share that is not told
LEAST_SHOWN = 0.0005  # what would read as 0.0 %


def where(answer: Answer, number: Answer) -> str:
    """Where it is counted; a crop is named only where there are several."""
    crops = {n["where"].partition(", ")[0] for n in answer["numbers"] if ", " in n["where"]}
    place = str(number["where"])
    return place.partition(", ")[2] if len(crops) == 1 and ", " in place else place


def name(answer: Answer, number: Answer, *, short: bool = False) -> str:
    """Where and what; `short` for tables."""
    kind = number["kind"]
    return f"{where(answer, number)}: {(_NAMES if short else _LONG_NAMES).get(kind, kind)}"


def _told(number: Answer, value: float) -> float:
    """A value as people say it: of a loss in the first stage, the stand."""
    return 100.0 - value if number["kind"] == "stand" else value


def figures(number: Answer, value: float) -> str:
    """A value without its unit."""
    value = _told(number, value)
    return f"{value:.3g}" if number["unit"] == "minutes" else f"{value:.2f}".rstrip("0").rstrip(".")


def unit(number: Answer) -> str:
    """The sign of its unit, after a blank."""
    return _SIGNS[number["unit"]]


def amount(number: Answer, value: float) -> str:
    """A value with its unit."""
    return figures(number, value) + unit(number)


def span(number: Answer) -> str:
    """What it plausibly is, from the lower end to the higher."""
    low, high = sorted((number["low"], number["high"]), key=lambda v: _told(number, v))
    if number["unit"] == "minutes":
        return f"{figures(number, low)} to {figures(number, high)}"
    return f"{_told(number, low):.1f} to {_told(number, high):.1f}"


def percent_of(share: float) -> str:
    """A share in percent, "-" where that would read as none."""
    return "-" if share < LEAST_SHOWN else f"{100 * share:.1f} %"
