"""The cadence under test: its seeding list held still, how it stands, and others beside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sim.cadence import STEADINESS_TOLERANCE, WEEK_TOLERANCE
from sim.cadence_answer import CadenceAnswer, Difference, Measured, Target, met_of
from sim.candidates import Candidate, told
from sim.greenhouse.plan import Plan
from sim.parts import Cadence, CadenceLine, Dates, Seeding
from sim.replications import exact_interval, mean_estimate
from sim.scenario import Scenario
from sim.seeding import planned_seedings
from sim.timetable import Timetable
from sim.trials import Trial

_LOOK_AT_DAYS = ("fit transplant and harvest", "skip paused weeks")  # break rules
_ERROR = 0.05  # allowed chance of calling a cadence that meets the target a miss

Standing = Literal["meets", "misses", "too close"]
Change = Literal[
    "kept", "fewer wasted", "needed", "perhaps", "surer", "too close", "nothing tried would do",
    "not tried",
]  # fmt: skip


@dataclass(frozen=True)
class Tried:
    """Another cadence in the same years; `wasted` is the one under test less this one."""

    name: str
    standing: Standing
    measured: Measured
    wasted: Difference


@dataclass(frozen=True)
class Judged:
    """The cadence under test in one state of the scenario, and what was tried beside it.

    `change`: "kept", it meets the target and nothing tried that meets it wastes fewer plants;
    "fewer wasted", `instead` does; "needed", it misses and `instead` meets; "perhaps", `instead`
    is too close; "surer", it is too close and `instead` meets.
    """

    measured: Measured
    standing: Standing
    rivals: tuple[Tried, ...] = ()
    change: Change = "not tried"
    instead: str | None = None


def ordered_crops(scenario: Scenario) -> list[str]:
    """The crops that somebody orders, in the scenario's order."""
    wanted = {order.crop for order in scenario.orders}
    return [crop for crop in scenario.crops if crop in wanted]


def held(scenario: Scenario) -> Scenario:
    """The scenario with its window and the ends of its seeding lines written out.

    So the dated seeding list stays when days are changed that it was planned from. Two break rules
    look at such days; under them the list is given seeding by seeding, as dated additions.
    """
    plan = Plan(scenario)
    table, cadence = plan.timetable, scenario.cadence
    if cadence.break_rule in _LOOK_AT_DAYS:
        listed = [
            Seeding(day=table.date_of(s.day), crop=s.crop, trays=s.trays) for s in plan.seedings
        ]
        fixed = Cadence(late_days=cadence.late_days, added=tuple(listed))
    else:
        lines = (_ended(line, plan) for line in cadence.lines)
        fixed = cadence.model_copy(update={"lines": tuple(line for line in lines if line)})
    first, last = table.date_of(table.window_start), table.date_of(table.window_end - 1)
    window = Dates(first_day=first, last_day=last)
    return scenario.model_copy(update={"cadence": fixed, "window": window})


def _ended(line: CadenceLine, plan: Plan) -> CadenceLine | None:
    """A line that says when it ends; None if it seeds nothing."""
    if line.last_day:
        return line
    cadence = plan.scenario.cadence.model_copy(update={"lines": (line,)})
    table = Timetable(plan.scenario.model_copy(update={"cadence": cadence}))
    planned = planned_seedings(table, plan.leavings)
    if not planned:
        return None
    return line.model_copy(update={"last_day": table.date_of(planned[-1].day)})


def rivals_of(scenario: Scenario, found: CadenceAnswer) -> tuple[Scenario, tuple[Candidate, ...]]:
    """The scenario with the cadence that was chosen, or nearest, and others to try beside it.

    Up to four others: a tray more and a tray fewer, the one that was as good or next, and the
    steadiest of the search.
    """
    by_name = {candidate.name: candidate.cadence for candidate in found.tried}
    subject = found.chosen.name if found.chosen else (found.nearest or found.own).name
    chosen = scenario.model_copy(update={"cadence": by_name[subject]})
    meeting = [row for row in found.rows if row.verdict in ("meets", "beaten")]
    meeting.sort(key=lambda row: (row.verdict != "meets", row.wasted_plants.mean))
    steady = sorted(found.rows, key=lambda r: (-r.weakest.met.low, -r.steadiness.low))
    others = list(more_and_fewer(chosen))
    for rows in ([*found.ties, *meeting], steady):
        known = [chosen.cadence, *(other.cadence for other in others)]
        different = [by_name[row.name] for row in rows if by_name[row.name] not in known]
        others += [Candidate(told(c, ordered_crops(scenario)), c) for c in different[:1]]
    return chosen, tuple(others)


def more_and_fewer(scenario: Scenario) -> tuple[Candidate, ...]:
    """The scenario's cadence with a tray more, and one fewer, of each ordered crop at each turn.

    A line's only tray stays.
    """
    crops, own = ordered_crops(scenario), scenario.cadence
    found = []
    for by in (1, -1):
        cadence = own.model_copy(update={"lines": tuple(_with_trays(own.lines, crops, by))})
        if cadence != own:
            found.append(Candidate(told(cadence, crops), cadence))
    return tuple(found)


def _with_trays(
    lines: Sequence[CadenceLine], crops: Sequence[str], by: int
) -> Iterator[CadenceLine]:
    """The lines with a tray more or fewer on one day: in no week more than once for a crop."""
    done: list[CadenceLine] = []
    for line in lines:
        days = [day for day, trays in line.trays.items() if trays]
        enough = sum(line.trays.values()) + by > 0 and bool(days)
        if line.crop in crops and enough and not any(_overlap(line, other) for other in done):
            done.append(line)
            day = (min if by > 0 else max)(days, key=lambda d: line.trays[d])
            trays = line.trays | {day: line.trays[day] + by}
            yield line.model_copy(update={"trays": trays})
        else:
            yield line


def _overlap(one: CadenceLine, two: CadenceLine) -> bool:
    """Whether two lines seed the same crop in some of the same days."""
    starts = [line.first_day or date.min for line in (one, two)]
    ends = [line.last_day or date.max for line in (one, two)]
    return one.crop == two.crop and max(starts) <= min(ends)


def standing(trials: Sequence[Trial], target: Target) -> Standing:
    """Whether these years show that a cadence meets or misses the target, or leave it open.

    It misses if the steadiness or a week's share of years is below its target beyond noise: by a
    Student's t and by exact intervals, these shared out over the weeks so that a cadence that just
    meets is called a miss in at most 5 of 100 cases. It meets if the 95 % intervals leave nothing
    below the targets less the tolerances of the search (`cadence`).
    """
    met, years = met_of(trials, target), len(trials)
    steady, hits = mean_estimate(met.mean(axis=1)), {int(n) for n in met.sum(axis=0)}
    level = 1 - _ERROR / len(target.weeks)
    if steady.high < target.steadiness or any(
        exact_interval(n, years, level)[1] < target.weakest_week for n in hits
    ):
        return "misses"
    if steady.low >= target.steadiness - STEADINESS_TOLERANCE and all(
        exact_interval(n, years)[0] >= target.weakest_week - WEEK_TOLERANCE for n in hits
    ):
        return "meets"
    return "too close"


def change_to(own: Standing, tried: Iterable[Tried], no_matter: float) -> tuple[Change, str | None]:
    """Whether another cadence would be chosen, and which: of several the one that wastes least."""
    by_waste = sorted(tried, key=lambda t: t.measured.wasted_plants.mean)
    meeting = [t for t in by_waste if t.standing == "meets"]
    if own == "meets":
        better = [t for t in meeting if t.wasted.low > 0 and t.wasted.mean > no_matter]
        return ("fewer wasted", better[0].name) if better else ("kept", None)
    if meeting:
        return ("needed" if own == "misses" else "surer"), meeting[0].name
    if own == "too close":
        return "too close", None
    close = [t for t in by_waste if t.standing == "too close"]
    return ("perhaps", close[0].name) if close else ("nothing tried would do", None)
