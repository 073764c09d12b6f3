"""The weeks ahead from today's benches: what deliveries to expect, how surely, and what helps.

An action is compared with doing nothing in futures of the same luck. Its gain is heads short
less in the weeks looked at; a delivery that is paused is not short.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from sim.collisions import finished, last_seeding_for
from sim.comparing import ERROR, Change, mean_change
from sim.errors import SeedbeatError
from sim.outlook_actions import Action, Candidates
from sim.outlook_futures import Ahead, Due, Futures, fixed, refuse_nothing_due, skipped
from sim.runs import Progress
from sim.scenario import Scenario
from sim.timetable import Timetable
from sim.weeks import Floats

ENOUGH = 0.85  # share of the futures in which a week is complete, from which it is not weak
ACTION_FUTURES = 60  # of each action
MOST_ACTIONS = 11  # that are tried, for progress
LEAST_FUTURES = 10


@dataclass(frozen=True)
class Week:
    """A week to come, in all futures: heads short, shape [futures].

    `causes` are heads short by cause, mean of the futures. `crop` is the one that is short most,
    or ordered most; `act` is the last day on which a seeding of it still helps, `ready` the first
    day on which something seeded today is ready; None if there is none in the run.
    """

    monday: date
    ordered: int
    short: Floats
    causes: dict[str, float]
    crop: str
    act: date | None
    ready: date | None

    @property
    def complete(self) -> float:
        """Share of the futures in which every delivery of the week is complete."""
        return float((self.short == 0).mean())

    @property
    def weak(self) -> bool:
        """Whether it is complete too seldom."""
        return self.complete < ENOUGH


@dataclass(frozen=True)
class Effect:
    """What an action changes, mean of the futures.

    `heads` short less and `weeks` complete more over all weeks looked at; `by_week` heads short
    less by number of the week, for weeks with deliveries. `heads_paused` are no longer ordered.
    """

    action: Action
    heads: Change
    weeks: Change
    by_week: dict[int, Change]
    heads_paused: int


@dataclass(frozen=True)
class Outlook:
    """The weeks ahead: deliveries with heads short in each future, weeks, and actions.

    `short` has the shape [futures, deliveries]. Weeks without a delivery are left out.
    """

    table: Timetable
    due: tuple[Due, ...]
    short: Floats
    weeks: tuple[Week, ...]
    effects: tuple[Effect, ...]
    action_futures: int
    seed: int


def outlook(
    scenario: Scenario,
    *,
    weeks: int = 8,
    futures: int = 200,
    seed: int = 1,
    progress: Progress | None = None,
) -> Outlook:
    """The outlook of a scenario that holds benches; the week of their day is the first one.

    Raises SeedbeatError if it holds none, for too few futures, or if nothing is ordered.
    """
    _refuse(scenario, futures)
    heard = _Heard(progress, futures)
    start = fixed(scenario, weeks)
    ahead = Ahead(start, weeks)
    refuse_nothing_due(ahead)
    base = ahead.futures(futures, seed, heard)
    told = _weeks(ahead, base)
    weak = sorted((w for w in told if w.weak), key=lambda w: w.complete)
    numbers = [ahead.mondays.index(w.monday) for w in weak]
    under_cover = scenario.cadence.break_rule == "if staffed"
    tried = Candidates(ahead, base, skipped(scenario), under_cover=under_cover)
    actions = tried.all(numbers) if numbers else []
    few = min(ACTION_FUTURES, futures)
    heard.total = futures + few * len(actions)
    compared = _Compared(ahead, base.short[:few], seed, len(actions))
    effects = [compared.effect(action, heard) for action in actions]
    effects.sort(key=lambda e: -e.heads.mean)
    return Outlook(ahead.table, ahead.due, base.short, told, tuple(effects), few, seed)


def _refuse(scenario: Scenario, futures: int) -> None:
    if scenario.benches is None:
        raise SeedbeatError(
            "outlook: must start from what stands there today, but no benches are given; give "
            "them as --benches FILE (seedbeat benches writes a form)."
        )
    if futures < LEAST_FUTURES:
        raise SeedbeatError(
            f"--futures: must be at least {LEAST_FUTURES}, or there is no range to tell, but it "
            f"was {futures}; 200 are usual."
        )


class _Heard:
    """Lets the progress be heard."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress, self.total, self._done = progress, total, 0

    def __call__(self, more: int) -> None:
        self._done += more
        if self._progress:
            self._progress(self._done, self.total, "")


def _weeks(ahead: Ahead, base: Futures) -> tuple[Week, ...]:
    """The weeks with deliveries."""
    short, table = ahead.by_week(base.short), ahead.table
    causes: Counter[tuple[int, str]] = Counter()
    for (number, cause), heads in base.causes.items():
        causes[ahead.due[number].week, cause] += heads
    found = []
    for week, monday in enumerate(ahead.mondays):
        these = [n for n, due in enumerate(ahead.due) if due.week == week]
        if not these:
            continue
        crop = _short_most(ahead, base, these)
        first = next(ahead.due[n] for n in these if ahead.due[n].crop == crop)
        found.append(
            Week(
                monday, sum(ahead.due[n].heads for n in these), short[:, week],
                {c: h / base.count for (w, c), h in causes.most_common() if w == week},
                crop, last_seeding_for(table, crop, first.leaves.date()), first_ready(table, crop),
            )
        )  # fmt: skip
    return tuple(found)


def _short_most(ahead: Ahead, base: Futures, these: Sequence[int]) -> str:
    """The crop of which most heads are short in these deliveries, or most are ordered."""
    short, ordered = Counter[str](), Counter[str]()
    for n in these:
        short[ahead.due[n].crop] += int(base.short[:, n].sum())
        ordered[ahead.due[n].crop] += ahead.due[n].heads
    return max(ordered, key=lambda crop: (short[crop], ordered[crop]))


def first_ready(table: Timetable, crop: str) -> date | None:
    """When something seeded on the run's first day, or as soon as somebody is there, is ready.

    At mean lengths; each move waits for the next day with somebody there.
    """
    day = 0
    for stage in table.scenario.crops[crop].stages:
        days = range(day, table.days)
        placed = next((d for d in days if table.staffed(stage.moved_in_by, d)), None)
        if placed is None:
            return None
        day = finished(table, stage, placed)
    return table.date_of(day)


class _Compared:
    """Actions against doing nothing; verdicts go wrong with a chance of about 5 % in all."""

    def __init__(self, ahead: Ahead, short: Floats, seed: int, actions: int) -> None:
        self._ahead, self._seed, self._short = ahead, seed, ahead.by_week(short)
        self._weeks = sorted({due.week for due in ahead.due})
        self._error = ERROR / max(1, actions)

    def effect(self, action: Action, heard: _Heard) -> Effect:
        """What an action changes."""
        done = Ahead(action.scenario, len(self._ahead.mondays))
        short = done.by_week(done.futures(len(self._short), self._seed, heard).short)
        less = self._short - short
        ordered = [sum(due.heads for due in a.due) for a in (self._ahead, done)]
        more = _complete(short).sum(axis=1) - _complete(self._short).sum(axis=1)
        return Effect(
            action,
            mean_change(less.sum(axis=1), self._error),
            mean_change(more.astype(float), self._error),
            {w: mean_change(less[:, w], self._error / len(self._weeks)) for w in self._weeks},
            ordered[0] - ordered[1],
        )


def _complete(short: Floats) -> NDArray[np.bool_]:
    return np.asarray(short == 0)
