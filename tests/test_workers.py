"""Rule L2: results do not depend on how the years are shared out."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.replications import Years
from sim.runs import replicate
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.year import run

SCENARIOS = Path(__file__).parent.parent / "scenarios"


@pytest.fixture(scope="module")
def workload() -> Scenario:
    """The reference workload: 12 ms a year, with luck in everything."""
    return load_scenario(SCENARIOS / "r8k.toml")


def bits(years: Years) -> dict[str, object]:
    """Everything a summary says, floats as bytes."""
    said: dict[str, object] = {}
    for name in ("met", "plants", "containers"):
        said[name] = getattr(years, name).tobytes()
    for name in ("values", "weekly", "work"):
        said[name] = {key: array.tobytes() for key, array in getattr(years, name).items()}
    for name in ("lost", "dumped", "missed", "short", "crew_minutes"):
        said[name] = dict(getattr(years, name))
    return said


def differing(one: Years, other: Years) -> list[str]:
    """Names of what two summaries do not say in the same bits."""
    mine, theirs = bits(one), bits(other)
    return [name for name in mine if mine[name] != theirs[name]]


def test_one_worker_and_two_give_the_same_bits(workload: Scenario) -> None:
    """L2: 30 years by this process or by two others.

    Progress is told after each task, and ends with all years.
    """
    heard: list[tuple[int, int, str]] = []
    alone = replicate(workload, 30, seed=4)
    shared = replicate(workload, 30, seed=4, workers=2, progress=lambda *what: heard.append(what))
    assert differing(alone, shared) == []
    assert heard == [(done, 30, "") for done, _, _ in heard]
    assert sorted(heard) == heard
    assert heard[-1][0] == 30
    assert len(set(alone.values["unit_fill_rate"])) > 20  # the years differ


def test_a_year_does_not_depend_on_its_company(workload: Scenario) -> None:
    """L2: year 6 is the same in a run of 8, at the end of a run of 7, and all by itself."""
    longer = replicate(workload, 8, seed=4)
    shorter = replicate(workload, 7, seed=4)
    alone = run(workload, seed=4, replication=6).measures()
    for name, found in longer.values.items():
        assert list(found[:7]) == list(shorter.values[name])
        assert found[6] == alone[name]
