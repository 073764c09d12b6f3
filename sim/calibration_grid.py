"""Chances summed over a grid: where they lie, their mean and the ends of their interval.

Nothing here knows of greenhouses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def around(points: Floats, chance: Floats) -> tuple[float, float]:
    """Ends of the part of a grid that holds all but a millionth, a step wider at both."""
    below = np.cumsum(chance) / chance.sum()
    first, last = np.searchsorted(below, [1e-6, 1.0 - 1e-6])
    last = min(int(last) + 1, len(points) - 1)
    return float(points[max(int(first) - 1, 0)]), float(points[last])


def quantiles(points: Floats, chance: Floats, level: float) -> tuple[float, float]:
    """Ends of the interval of a level, of chances that stand for equal cells around the points."""
    step = points[1] - points[0]
    edges = np.append(points - step / 2.0, points[-1] + step / 2.0)
    below = np.concatenate([[0.0], np.cumsum(chance) / chance.sum()])
    low, high = np.interp([(1.0 - level) / 2.0, (1.0 + level) / 2.0], below, edges)
    return float(low), float(high)


def mean_of(values: Floats, chance: Floats) -> float:
    """The mean of values, each with its chance."""
    return float((values * chance).sum() / chance.sum())
