"""Draws made ready or asked for together are those asked for one by one (rule L1)."""

from __future__ import annotations

import numpy as np
import pytest

from sim.draws import Binomial, Luck, Stand, binomial, identity

FIRST, LAST = 2.0**-33, 1.0 - 2.0**-33  # the smallest and the largest number of `Luck`


def test_numbers_asked_for_together_are_those_asked_for_singly() -> None:
    """Eight numbers for each of many identities, to the last bit, causes and seeds too."""
    slots = [(who, 2_900 + week, 1, stage, cause) for who in (3, -8) for week in range(20)
             for stage, cause in ((0, 0), (1, 0), (-1, 0), (1, 2))]  # fmt: skip
    for luck in (Luck(1, 0), Luck(7, 123_456)):
        together = luck.each([identity(*slot) for slot in slots])
        assert together.tolist() == [luck.eight(*slot) for slot in slots]
    assert Luck(1, 0).each([]).shape == (0, 8)


@pytest.mark.parametrize("p", [0.0, 1e-9, 0.01, 0.3, 0.5, 0.92, 0.999, 1.0])
def test_counts_made_ready_are_those_of_the_binomial(p: float) -> None:
    """For every number of trials, at both ends and between, whether asked for before or not."""
    ready = Binomial(p)
    points = [FIRST, *np.random.default_rng(5).random(60), LAST]
    for n in (0, 1, 2, 9, 24, 130, 600, 4_000):
        for u in points * 2:
            assert ready.at(u, n) == binomial(u, n, p), (u, n)


@pytest.mark.parametrize("sd", [0.0, 0.02])
def test_a_stand_counts_plants_at_its_chance(sd: float) -> None:
    """What comes through is a binomial count at the chance of the stand's quantile."""
    stand = Stand(0.92, sd)
    for u in (FIRST, 0.1, 0.5, 0.9, LAST):
        assert stand.count(u, 0.3, 600) == binomial(0.3, 600, stand.at(u))
