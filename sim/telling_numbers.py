"""The words in which a number of the scenario is told that records may move."""

from __future__ import annotations

from sim.telling import Answer

_LONG = {
    "stand": "stand", "growing loss": "lost while growing", "moving loss": "lost at moving in",
    "loss spread": "loss, batch to batch", "rare share": "batches hit by the rare event",
    "rare loss": "lost in the rare event", "days": "days to be ready",
    "days spread": "days, batch to batch", "minutes": "minutes a unit", "absence": "people absent",
}  # fmt: skip
_SHORT = {
    "loss spread": "loss, spread", "rare share": "rare event", "days spread": "days, spread",
    "absence": "absent",
}  # fmt: skip
_SIGNS = {"percent": " %", "percentage points": " pts", "days": " d", "minutes": " min"}


def kind_told(kind: str, *, short: bool = False) -> str:
    """A kind of number; `short` for tables."""
    return _SHORT.get(kind, kind) if short else _LONG.get(kind, kind)


def told(number: Answer, value: float) -> float:
    """A value as people say it: of a loss in the first stage, the stand."""
    return 100.0 - value if number["kind"] == "stand" else value


def figures(number: Answer, value: float) -> str:
    """A value without its unit."""
    value = told(number, value)
    return f"{value:.3g}" if number["unit"] == "minutes" else f"{value:.2f}".rstrip("0").rstrip(".")


def unit(number: Answer) -> str:
    """The sign of its unit, after a blank."""
    return _SIGNS[number["unit"]]


def amount(number: Answer, value: float) -> str:
    """A value with its unit."""
    return figures(number, value) + unit(number)
