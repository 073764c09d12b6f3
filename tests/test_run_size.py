"""Runs that would take hours or fill the memory are refused with an estimate."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.errors import TooLargeError
from sim.run_size import estimate_seconds, run_size
from sim.scenario_file import load_scenario, read_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"


def test_the_demo_is_a_small_run() -> None:
    """The estimate for the demo is far below a second and counts what the file says."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    size = run_size(scenario)
    assert size.deliveries == pytest.approx(6 * size.days / 7)
    assert size.seedings == pytest.approx(2 * size.days / 7)
    assert size.shifts == pytest.approx((5 + 5 + 5 + 2) * size.days / 7)
    assert 0 < estimate_seconds(scenario) < 0.5


def test_a_run_of_hours_is_refused(tmp_path: Path) -> None:
    """Ten thousand crews at work every day would fill the memory: refused with the estimate."""
    crews = "".join(
        f'[crews.c{n}]\npeople = 1\nshifts = [{{starts = "8 am", ends = "9 am"}}]\n'
        for n in range(12_000)
    )
    text = (SCENARIOS / "maple-hollow-short.toml").read_text(encoding="utf-8")
    file = tmp_path / "school.toml"
    file.write_text(text.replace("calendar =", "#") + crews, encoding="utf-8")
    with pytest.raises(TooLargeError, match=r"school\.toml: the run is too large: about \d+ sec"):
        read_scenario(file)
