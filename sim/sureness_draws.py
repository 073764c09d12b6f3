"""Plausible sets of a scenario's numbers: each number drawn from what the records leave open.

A number that was counted is drawn from a distribution whose 5 and 95 % quantiles are the printed
90 % interval: a beta distribution for shares; for days and minutes Student's t about the new value,
with a degree of freedom less than records, each half as wide as its half of the interval; for
spreads the same on a log scale with a normal distribution. A number that was not counted goes
evenly over the range that `seedbeat swings` takes for a guess, half of the sets below the
scenario's value. Numbers are drawn independently of each other.

The quantile taken is a hash of the seed, the set and the number's key, as all luck is (rule L1): a
set is the same however many are drawn, and one number's draws do not hang on which others vary.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import exp, log
from typing import Any, Literal

import numpy as np
from scipy import optimize, special

from sim.agreement import KeyPath
from sim.calibration_numbers import Kind, Number
from sim.calibration_shares import LEVEL
from sim.calibration_toml import Change
from sim.draws import Luck, name_key
from sim.scenario import Scenario
from sim.swings_inputs import INPUTS, Input
from sim.swings_inputs import Number as Guess

How = Literal["counted", "usual range", "held"]

_HIGH = (1.0 + LEVEL) / 2.0
_SHARES = ("stand", "growing loss", "moving loss", "rare share", "rare loss", "absence")
_SPREADS = ("loss spread", "days spread")
_WIDEST = 0.9  # a spread that a drawn loss does not allow becomes this share of the most
_LIMITS: dict[str, tuple[float, float]] = {"days": (1.0, 3650.0), "minutes": (0.001, 1440.0)}
_GUESSES: dict[Kind, str] = {  # the input of `swings_inputs` whose range a guess has
    "stand": "stand", "growing loss": "grow-out-loss", "moving loss": "moving-loss",
    "loss spread": "spread", "days spread": "spread", "days": "grow-out-days",
    "rare share": "rare-event", "minutes": "task-minutes", "absence": "absence",
}  # fmt: skip

Quantile = Callable[[float], float]


@dataclass(frozen=True)
class Plausible:
    """A number of the scenario and how it varies from set to set.

    `low` and `high` are what 90 % of the sets lie between if it was `counted`, the ends of the
    `usual range` otherwise, and both the value itself if it is `held`; `why` says why it was not
    counted, or is held. Units are those of `Number`.
    """

    number: Number
    how: How
    low: float
    high: float
    why: str
    quantile: Quantile

    @property
    def varies(self) -> bool:
        """Whether it differs from set to set."""
        return self.how != "held"

    @property
    def key(self) -> str:
        """What its luck is keyed by."""
        return ".".join(map(str, self.number.path))

    def uniform(self, seed: int, which: int) -> float:
        """The number in (0, 1) that it is drawn by in one set."""
        return Luck(seed, which).eight(name_key(f"plausible {self.key}"), 0, 0, 0)[0]

    def at(self, u: float) -> float:
        """Its value at the quantile `u`, within what a scenario may say."""
        return round(_within(self.number.kind, self.quantile(u)), 6)


def plausible(numbers: Iterable[Number]) -> tuple[Plausible, ...]:
    """How each of the numbers that a calibration found varies."""
    return tuple(map(_plausible, numbers))


def draws(varying: Sequence[Plausible], seed: int, sets: int) -> np.ndarray[Any, Any]:
    """The uniform numbers of sets 0 ... `sets` - 1, shape [sets, numbers]."""
    rows = [[one.uniform(seed, which) for one in varying] for which in range(sets)]
    return np.array(rows, dtype=float).reshape(sets, len(varying))


def with_numbers(scenario: Scenario, values: Mapping[KeyPath, float | str]) -> Scenario:
    """The scenario with other numbers, checked anew; its cadence is as before."""
    parts = scenario.model_dump()
    for path, value in values.items():
        _put(parts, path, value)
    for crop in parts["crops"].values():
        for stage in crop["stages"]:
            loss = stage["loss_percent"]
            most = _WIDEST * (loss * (100.0 - loss)) ** 0.5
            stage["loss_sd_points"] = min(stage["loss_sd_points"], round(most, 6))
    parts["cadence"] = {}  # a searched cadence may hold dates that a file may not
    return Scenario.model_validate(parts).model_copy(update={"cadence": scenario.cadence})


def calibrated(scenario: Scenario, changes: Iterable[Change]) -> Scenario:
    """The scenario with the changes of a calibration, as `seedbeat calibrate` writes it."""
    return with_numbers(scenario, {change.path: change.value for change in changes})


def _put(parts: Any, path: KeyPath, value: float | str) -> None:
    for key in path[:-1]:
        parts = parts[key]
    parts[path[-1]] = value


def _within(kind: Kind, value: float) -> float:
    least, most = _LIMITS.get(kind, (0.0, 3650.0 if kind == "days spread" else 100.0))
    return min(max(value, least), most)


# -- one number ------------------------------------------------------------------------------------


def _plausible(number: Number) -> Plausible:
    if number.kept or not number.measured:
        return _guessed(number)
    low, high, new = number.low, number.high, number.new
    if high - low <= 1e-9:
        return Plausible(number, "held", new, new, "all records agree", _constant(new))
    return Plausible(number, "counted", low, high, "", _counted(number))


def _counted(number: Number) -> Quantile:
    low, high, middle = number.low, number.high, number.new
    if number.kind in _SHARES:
        return _beta(low / 100.0, high / 100.0, middle / 100.0)
    if number.kind in _SPREADS:
        if low > 0.0 and middle > 0.0:
            return lambda u: exp(_halves(log(low), log(middle), log(high), _z(u)))
        return lambda u: _halves(low, middle, high, _z(u))
    freedom = max(number.count - 1, 1)
    return lambda u: _halves(low, middle, high, _t(u, freedom))


def _z(u: float) -> float:
    """Normal quantile, in units of that at the interval's end."""
    return float(special.ndtri(u) / special.ndtri(_HIGH))


def _t(u: float, freedom: int) -> float:
    """Student's t quantile, in units of that at the interval's end."""
    return float(special.stdtrit(freedom, u) / special.stdtrit(freedom, _HIGH))


def _halves(low: float, middle: float, high: float, z: float) -> float:
    """A value `z` half-widths from the middle, each half with its own width.

    A middle that was rounded out of its interval is that of the interval.
    """
    if not low <= middle <= high:
        middle = (low + high) / 2.0
    return middle + z * (high - middle if z > 0.0 else middle - low)


def _beta(low: float, high: float, mean: float) -> Quantile:
    """The quantiles of the beta distribution that has `low` and `high` at the interval's ends."""
    shape = _beta_shape(low, high, mean)
    if shape is None:
        return lambda u: 100.0 * _halves(low, mean, high, _z(u))
    return lambda u: 100.0 * float(special.betaincinv(*shape, u))


def _beta_shape(low: float, high: float, mean: float) -> tuple[float, float] | None:
    """Its two parameters; None if there are none. An end at 0 or 1 is that of a Jeffreys count."""
    if low <= 1e-9 and high >= 1.0 - 1e-9:
        return 1.0, 1.0
    if low <= 1e-9:
        return 0.5, _other(high)
    if high >= 1.0 - 1e-9:
        return _other(1.0 - low), 0.5
    middle = min(max(mean, low), high)
    sd = (high - low) / (2.0 * special.ndtri(_HIGH))
    start = np.log([middle, 1.0 - middle]) + log(max(middle * (1.0 - middle) / sd**2 - 1.0, 0.5))

    def off(logs: Any) -> Any:
        a, b = np.exp(np.clip(logs, -30.0, 30.0))
        return (special.betaincinv(a, b, [1.0 - _HIGH, _HIGH]) - [low, high]) / (high - low)

    found = optimize.root(off, start)
    if not found.success or np.abs(off(found.x)).max() > 1e-6:
        return None
    a, b = np.exp(found.x)
    return float(a), float(b)


def _other(end: float) -> float:
    """The second parameter if the first is 1/2 and the interval ends at `end`."""

    def off(logs: float) -> float:
        return float(special.betaincinv(0.5, exp(logs), _HIGH)) - end

    return exp(float(optimize.brentq(off, log(1e-3), log(1e9))))


def _constant(value: float) -> Quantile:
    return lambda _: value


def _guessed(number: Number) -> Plausible:
    """A number that was not counted, over its usual range; held if it has none."""
    given = _range_of(number)
    if given is None:
        why = f"{number.kept}; no usual range is known"
        return Plausible(number, "held", number.new, number.new, why, _constant(number.new))
    least, most = _LIMITS.get(number.kind, (0.0, 100.0))
    guess = Guess(number.path, number.new, least, most)
    low, high = (guess.moved(given.how, by) for by in given.range)
    if low == high:
        why = f"{number.kept}; given as {number.new:g}"
        return Plausible(number, "held", number.new, number.new, why, _constant(number.new))
    evenly = partial(_evenly, low, number.new, high)
    return Plausible(number, "usual range", low, high, number.kept, evenly)


def _range_of(number: Number) -> Input | None:
    key = _GUESSES.get(number.kind)
    if key is None:
        return None
    return next(one for one in INPUTS if one.key == key)


def _evenly(low: float, middle: float, high: float, u: float) -> float:
    z = 2.0 * u - 1.0
    return middle + z * (high - middle if z > 0.0 else middle - low)
