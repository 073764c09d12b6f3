"""The numbers of one simulated year as bytes: what a worker sends back and what is kept.

A year is a row of float64, the same places in every year of a scenario, followed by the counts by
cause as JSON.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import prod
from typing import Any

import numpy as np

from sim.greenhouse.house import run_by_kind
from sim.greenhouse.plan import Plan
from sim.measures import MEASURES, WORK, Frame, weeks_met, year_measures
from sim.weeks import COUNTS, Floats, Ledger, Staffing, by_cause, short_causes, together

VALUES = tuple(name for name in MEASURES if name != "weakest_week")
WEEKLY = (*COUNTS, "heads delivered")
KINDS_OF_WORK = (*WORK.values(), "staffed")
CAUSES = ("lost", "dumped", "missed", "short")

Causes = dict[tuple[str | int, str], int]
Yearly = dict[tuple[str | int, str], Floats]


class Layout:
    """Where the numbers of a year of this plan lie: blocks by name, each with its shape."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.frame = plan, Frame.of(plan.timetable)
        self.places, self.crews = list(plan.scenario.places), list(plan.scenario.crews)
        self._staffing = Staffing(plan.shift_rows(plan.full_roll), self.frame)
        weeks, works = self.frame.weeks, len(KINDS_OF_WORK)
        self.blocks: dict[str, tuple[int, ...]] = {
            "values": (len(VALUES),),
            "met": (weeks,),
            "weekly": (len(WEEKLY), weeks),
            "work": (works, weeks),
            "plants": (len(self.places), weeks),
            "containers": (len(self.places), weeks),
            "crews": (len(self.crews), works),
        }
        self.width = sum(prod(shape) for shape in self.blocks.values())

    def year(self, seed: int, replication: int) -> bytes:
        """Simulate one year and give its numbers."""
        kinds, frame = run_by_kind(self.plan, seed, replication), self.frame
        met, ledger = weeks_met(kinds, frame), Ledger(kinds, frame)
        values, weekly = year_measures(kinds, frame, met), ledger.counts()
        crews = ledger.work() | self._staffing.work(kinds["shift"])
        work, none = together(crews, frame), np.zeros(frame.weeks)
        row = np.concatenate(
            [
                [values[name] for name in VALUES],
                met,
                *[weekly[name] for name in WEEKLY],
                *[work[name] for name in KINDS_OF_WORK],
                *[means.ravel() for means in ledger.levels(self.places)],
                [crews.get((crew, w), none).sum() for crew in self.crews for w in KINDS_OF_WORK],
            ]
        )
        causes: list[Mapping[Any, int]] = [by_cause(kinds[kind], frame) for kind in CAUSES[:3]]
        causes.append(short_causes(kinds, frame))
        told = [[[*key, n] for key, n in counts.items()] for counts in causes]
        return row.tobytes() + json.dumps(told).encode()

    def dumped(self, years: list[bytes]) -> Yearly:
        """Plants dumped by (place, cause), each of shape [years]."""
        found: Yearly = {}
        for n, year in enumerate(years):
            for place, cause, number in json.loads(year[8 * self.width :])[CAUSES.index("dumped")]:
                found.setdefault((place, cause), np.zeros(len(years)))[n] += number
        return found

    def read(self, years: list[bytes]) -> tuple[dict[str, Floats], dict[str, Causes]]:
        """Blocks by name, shape [years, *shape of the block], and sums over years by cause."""
        end = 8 * self.width
        rows = np.frombuffer(b"".join(year[:end] for year in years)).reshape(len(years), -1)
        blocks, at = {}, 0
        for name, shape in self.blocks.items():
            size = prod(shape)
            blocks[name] = rows[:, at : at + size].reshape(len(years), *shape)
            at += size
        causes: dict[str, Causes] = {name: {} for name in CAUSES}
        for year in years:
            for name, counts in zip(CAUSES, json.loads(year[end:]), strict=True):
                total = causes[name]
                for where, cause, number in counts:
                    total[where, cause] = total.get((where, cause), 0) + number
        return blocks, causes
