"""What sharing years out to workers costs, and what a search costs beside its years.

Wall time: what the machine does besides falls on the numbers. `pytest -m speed -s` shows them.
"""

from __future__ import annotations

import os
import pickle
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from pathlib import Path

import pytest

from sim import runs as runs_module
from sim import settling as settling_module
from sim.cadence import Aim, search
from sim.pruning import Judge, Pruning
from sim.runs import Runs, simulate
from sim.scenario_file import load_scenario

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
ROUNDS = 5
BLOCK = 100  # years in one round

# Goals are printed beside what is measured. On a shared machine two processes do not get two cores
# all the time; so workers fail by what two bare processes, each with half of the years, do in the
# same minute, and everything by more than this factor only.
NOISE = 1.3
EFFICIENCY = 0.9  # of two workers, at least
OVERHEAD = 0.10  # of a search beside its years and its arithmetic, at most


def seconds_of(step: Callable[[], object]) -> float:
    """Time that a step takes [s]."""
    start = time.perf_counter()
    step()
    return time.perf_counter() - start


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="needs two cores")
@pytest.mark.speed
def test_two_workers_do_nearly_twice_as_much() -> None:
    """100 years in one process take at least 0.9 x 2 times as long as with two warm workers.

    One process, two workers and two bare processes are timed in turn, and compared by their best
    rounds.
    """
    scenario = load_scenario(DEMO)
    pickled = pickle.dumps(scenario)

    def bare(pool: Executor) -> None:
        half = BLOCK // 2
        halves = [pool.submit(simulate, "year", pickled, 1, n * half, half) for n in range(2)]
        assert sum(len(years.result()) for years in halves) == BLOCK

    with Runs() as one, Runs(workers=2) as two, ProcessPoolExecutor(2) as pool:
        steps: list[Callable[[], object]] = [
            lambda: one.years(scenario, BLOCK),
            lambda: two.years(scenario, BLOCK),
            lambda: bare(pool),
        ]
        rounds = [[seconds_of(step) for step in steps] for _ in range(ROUNDS + 1)]
    alone, shared, halves = (min(times) for times in zip(*rounds[1:], strict=True))
    efficiency, possible = alone / (2 * shared), alone / (2 * halves)
    print(f"\n{BLOCK} years: {alone:.2f} s in one process, {shared:.2f} s in two workers")
    print(f"each of two workers does {efficiency:.0%} of one alone (goal {EFFICIENCY:.0%});")
    print(f"two bare processes, each with half of the years: {possible:.0%}")
    assert efficiency >= EFFICIENCY / NOISE * min(1.0, possible)


@pytest.mark.speed
def test_a_search_costs_little_beside_its_years(monkeypatch: pytest.MonkeyPatch) -> None:
    """In this process, beside simulating: at most 10 % without the arithmetic that prunes.

    Time in `simulate` is that of the years, with everything that is worked out once for a
    scenario; what is left is choosing, sharing out, and telling.
    """
    spent = {"years": 0.0, "arithmetic": 0.0}

    def timed(name: str, step: Callable[..., object]) -> Callable[..., object]:
        def timing(*args: object, **options: object) -> object:
            start = time.perf_counter()
            try:
                return step(*args, **options)
            finally:
                spent[name] += time.perf_counter() - start

        return timing

    monkeypatch.setattr(runs_module, "simulate", timed("years", runs_module.simulate))
    pruned: Callable[..., Pruning] = settling_module.pruned
    monkeypatch.setattr(settling_module, "pruned", timed("arithmetic", pruned))
    monkeypatch.setattr(Judge, "passing", timed("arithmetic", Judge.passing))
    with Runs() as runs:
        total = seconds_of(lambda: search(load_scenario(DEMO), Aim(thorough=True), runs))
    beside = total - spent["years"] - spent["arithmetic"]
    overhead, with_all = beside / spent["years"], total / spent["years"] - 1
    print(
        f"\n{runs.simulated:,} years in {total:.1f} s: {spent['years']:.1f} s simulating, ", end=""
    )
    print(f"{spent['arithmetic']:.1f} s of arithmetic, {beside:.1f} s beside")
    print(f"{overhead:.1%} of the years' time (goal {OVERHEAD:.0%}), arithmetic too {with_all:.1%}")
    assert overhead <= OVERHEAD * NOISE
