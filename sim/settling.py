"""Settling which cadence to take: what bounds leave is simulated, then the best is varied."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sim.aim import Aim
from sim.cadence_answer import Target
from sim.candidates import GIVEN, Candidate
from sim.flows import week_of
from sim.greenhouse.plan import Plan
from sim.pruning import NOT_TRIED, WASTES_MORE, Judge, Pruning, pruned
from sim.searching import FIRST_ROUND, REFINE_FROM, Search, nearest
from sim.selection import Choice, Verdict
from sim.variants import Variations

INDIFFERENCE = 0.01  # wasted plants that do not matter, as a share of a year's heads ordered
YEARS_EACH = 80  # years there must be, on average, for every candidate that is tried at first
FEW = 4 * GIVEN  # candidates that are tried at first in a thorough search, if the years allow it
REFINING_SHARE = 0.3  # of a thorough search's years, for what varies the best


def indifference(plan: Plan, target: Target) -> float:
    """The difference in wasted plants that does not matter, at least one plant."""
    weeks = set(target.weeks)
    heads = sum(x.heads for x in plan.leavings if week_of(plan.timetable, x.time) in weeks)
    return max(1.0, INDIFFERENCE * heads)


@dataclass(frozen=True)
class Settled:
    """What a search came to; candidates by their numbers in it.

    `subject` is the chosen one, or the nearest. `verdicts` are those of all that have years.
    `pending` have years and are undecided, `untried` have none. Floors from `cleared` up cannot
    be better than the chosen one.
    """

    chosen: int | None
    subject: int
    ties: tuple[int, ...]
    pending: tuple[int, ...]
    untried: tuple[int, ...]
    cleared: float
    verdicts: dict[int, Verdict]
    allowance: str

    @classmethod
    def of(cls, choice: Choice, numbers: Sequence[int], target: Target) -> Settled:
        """What one choice among candidates of these numbers came to."""
        seen = choice.estimates
        subject = choice.chosen
        if subject is None:
            subject = nearest(seen.constraints, seen.objective, target)
        return cls(
            None if choice.chosen is None else numbers[choice.chosen],
            numbers[subject],
            tuple(numbers[c] for c in choice.ties),
            tuple(numbers[c] for c in choice.pending),
            tuple(numbers[c] for c in choice.untried),
            choice.cleared,
            {n: v for n, v in zip(numbers, choice.verdicts, strict=True) if v != "not tried"},
            choice.allowance,
        )


class Settling:
    """Settles a list of candidates within a number of years.

    A thorough search has two stages, each with half of the allowed error. The first one simulates
    the most promising candidates, and then all others that no bound keeps out, as long as its
    years last. If none of them meets the target, those kept out by chance alone are tried too, for
    one of them may come nearest. What varies the best of them is listed only then, and so it is
    compared with it in years that had no part in the first stage: what was picked in other luck
    needs no share of the error for all that might have been picked. A variant is chosen only if
    it was shown to meet the target in those years.
    """

    def __init__(self, plan: Plan, found: Search, aim: Aim, budget: int) -> None:
        self._plan, self._found, self._aim, self._budget = plan, found, aim, budget
        self.judge = Judge(
            plan, found.target.weeks, aim.steadiness, aim.weakest_week, chances=aim.thorough
        )
        self._alpha = aim.alpha / 2.0 if aim.thorough else aim.alpha
        self._indifference = indifference(plan, found.target)
        self._floors: list[float] = []

    def __call__(self, listed: Sequence[Candidate]) -> tuple[Settled, Pruning]:
        """Rule out, simulate, choose; with a thorough aim, vary the best."""
        most, thorough = self._budget // YEARS_EACH, self._aim.thorough
        pruning = pruned(listed, self.judge, None if thorough else most)
        self._found.add(pruning.left)
        if not thorough:
            return self._first(), pruning
        self._floors = list(pruning.floors)
        at_first = max(min(most, FEW), most // 2)
        settled = self._first(at_first)
        if settled.chosen is None and not settled.pending:
            known = len(pruning.left)
            pruning = pruning.letting_in((self._budget - self._found.runs) // YEARS_EACH)
            self._found.add(pruning.left[known:])
            self._floors = list(pruning.floors)
            settled = self._first(at_first)
            if settled.chosen is None:
                near = self._found.nearest(self._budget - self._found.runs)
                settled = replace(settled, subject=near)
        if settled.chosen is not None or not settled.pending:
            later = self.judge.passing(self._varied(settled))
            settled = self._refined(settled, later)
            pruning = pruning.and_then(later)
        ruled_out = len(self._found.candidates) - len(self._found.tried()) - len(settled.untried)
        pruning = pruning.with_more(WASTES_MORE, ruled_out)
        return settled, pruning.with_more(NOT_TRIED, len(settled.untried))

    def _first(self, at_first: int | None = None) -> Settled:
        """The candidates of the grid, against each other; of a thorough search the first stage."""
        found = self._found
        numbers = range(len(found.candidates))
        choice = found.choose(
            numbers,
            indifference=self._indifference,
            alpha=self._alpha,
            budget=self._budget,
            floors=None if at_first is None else self._floors,
            at_first=at_first,
            reserve=0 if at_first is None else int(REFINING_SHARE * self._budget),
        )
        return Settled.of(choice, numbers, found.target)

    def _varied(self, settled: Settled) -> list[Candidate]:
        """What varies the best, or the nearest."""
        due = {leaving.crop for leaving in self._plan.leavings}
        crops = [crop for crop in self._plan.crops if crop in due]
        vary = Variations(self._plan, self.judge.year, crops)
        base = self._found.candidates[settled.subject]
        return list(vary.more(base) if settled.chosen is None else vary.less(base))

    def _refined(self, settled: Settled, later: Pruning) -> Settled:
        """The best, or the nearest, against what varies it."""
        found, budget = self._found, self._budget - self._found.runs
        numbers = [settled.subject, *found.add(later.left)]
        self._floors += later.floors
        most = budget // (2 * FIRST_ROUND)
        if most < 2:
            return replace(settled, untried=(*settled.untried, *numbers[1:]))
        choice = found.choose(
            numbers,
            indifference=self._indifference,
            alpha=self._alpha,
            budget=budget,
            floors=[self._floors[number] for number in numbers],
            at_first=most,
            luck_from=REFINE_FROM,
        )
        return self._joined(settled, Settled.of(choice, numbers, found.target))

    def _joined(self, first: Settled, second: Settled) -> Settled:
        """Both stages in one; the first one's choice stands unless the second found a better one.

        What waits since the first stage is ruled out by its floor if the second stage clears it.
        """
        best = first if second.chosen is None or second.chosen == first.chosen else second
        cleared = min(first.cleared, second.cleared)

        def still(numbers: Iterable[int]) -> tuple[int, ...]:
            known = {best.chosen, first.chosen}
            return tuple(n for n in numbers if n not in known and self._floors[n] < cleared)

        pending = still((*first.pending, *second.pending))
        settled = {*first.pending, *second.pending} - {*pending, best.chosen, first.chosen}
        return replace(
            best,
            ties=tuple(n for n in dict.fromkeys((*best.ties, *second.ties)) if n != best.chosen),
            pending=pending,
            untried=still((*first.untried, *second.untried)),
            verdicts={**second.verdicts, **first.verdicts, **dict.fromkeys(settled, "beaten")},
            allowance=(
                f"{first.allowance} As many for what varies the best of them, "
                f"{len(second.verdicts)} candidates in years of their own."
            ),
        )
