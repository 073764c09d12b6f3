"""Section 5 of a justification: the proposal against the present greenhouse."""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_parts import Boxed, Column, Grid, Part, Shown
from sim.grant_present import capacity_grid
from sim.grant_words import UNITS, apart, kind_of, listed, name_of, plural, unlike_told, years_of
from sim.telling import Answer

MOST_INPUTS = 30  # changed ones in the documents; the workbook has all
UNIT = "difference in"  # the column of units
COMPARED = (
    "heads_delivered", "heads_short", "deliveries_short", "weeks_not_met", "weakest_week",
    "bench_fill", "useful_bench_share", "wasted_plants", "plants_lost", "trays_missed", "labor_use",
)  # fmt: skip


def proposal_told(answer: Answer) -> str:
    """The proposal and its main differences in two sentences, or what to run for one."""
    if not answer["proposed"]:
        return (
            "No proposal was given, so no expected output is shown; seedbeat grant "
            f"{answer['file']} --compare PROPOSED compares one."
        )
    changes, count = answer["differences"], len(answer["changed_inputs"])
    return (
        f'Proposal: "{answer["proposed"]["scenario"]}", {plural(count, "input")} changed. Heads '
        f"delivered a year: {apart(changes['heads_delivered'], 'signed')}. Weeks not met a year: "
        f"{apart(changes['weeks_not_met'], 'signed')}."
    )


def change(answer: Answer) -> Iterator[Part]:
    """What changes between the two, what differs, and how surely."""
    if not answer["proposed"]:
        yield (
            "No proposal was given. Write the change as a scenario of its own (base = "
            f'"{answer["file"]}" and the numbers that change), then run: seedbeat grant '
            f"{answer['file']} --compare PROPOSED.toml. It simulates both in the same years, and "
            "fills this section with the differences."
        )
        return
    if warning := unlike_told(answer):
        yield Boxed(warning)
    yield proposal_told(answer)
    yield _inputs_grid(answer)
    yield differences(answer)
    if answer["not_like_for_like"]:
        yield "Not like for like: these differences are not effects of the change alone."
    else:
        yield _verdict(answer)
    yield capacity_grid(
        answer, answer["proposed"], "Capacity proposal", "Capacity and its use with the proposal"
    )
    yield Shown(
        "weeks_compared",
        "How often each week's orders are met, present (A) and proposal (B).",
        "Line chart of the share of years in which each week is met, present and proposal.",
    )


def _inputs_grid(answer: Answer) -> Grid:
    columns = (Column("where"), Column("what"), Column("present"), Column("proposal"),
               Column("unit"))  # fmt: skip
    rows = tuple(
        (one["where"], one["what"], one["present"], one["proposed"], one["unit"])
        for one in answer["changed_inputs"]
    )
    under = f"{answer['file']} against {answer['proposed']['file']}; every other input is the same."
    if len(rows) > MOST_INPUTS:
        under += f" The first {MOST_INPUTS} of {len(rows)}; the workbook has all."
    return Grid(
        "Changed inputs", "What the proposal changes", columns, rows[:MOST_INPUTS], under,
        every=rows,
    )  # fmt: skip


def differences(answer: Answer) -> Grid:
    """The table of measures and counts of both, and what differs."""
    rows, kinds = [], []
    for name in COMPARED:
        change = answer["differences"][name]
        kind, means = kind_of(name), [_mean(answer[one], name) for one in ("present", "proposed")]
        span, unit = (change["low"], change["high"]), UNITS.get(name, "points")
        verdict = ", ".join(filter(None, [change["verdict"], change["direction"]]))
        rows.append((name_of(name), *means, change["mean"], span, unit, verdict))
        kinds.append(kind)
    columns = (
        Column("measure"), Column("present", "number"), Column("proposal", "number"),
        Column("difference", "signed"), Column("95 % interval", "signed", span=True),
        Column(UNIT), Column("verdict"),
    )  # fmt: skip
    error = answer["error"]
    under = (
        f"Proposal less present, year by year, in {years_of(answer)} of each with the same growing "
        'times, losses and absences; mean of the years. "Real": zero lies outside a wider '
        f"interval, for which {error['shared_by']} differences share an error of "
        f"{100 * error['of_all_verdicts']:.0f} % (Bonferroni). Shares differ by percentage points."
    )
    return Grid("Differences", "Present and proposal", columns, tuple(rows), under, tuple(kinds))


def _mean(case: Answer, name: str) -> float | None:
    found = case["counts"].get(name) or case["measures"][name]
    return found["mean"]  # type: ignore[no-any-return]


def _larger_orders(answer: Answer) -> str:
    file = answer["proposed"]["file"]
    return "section 3" if answer["proposed"]["largest"] else f"seedbeat capacity {file}"


def _verdict(answer: Answer) -> str:
    real = [n for n in COMPARED if answer["differences"][n]["direction"] == "better"]
    worse = [n for n in COMPARED if answer["differences"][n]["direction"] == "worse"]
    told = "Expected: "
    if real:
        told += f"better by more than chance explains in {listed(list(map(name_of, real)))}. "
    else:
        told += "no measure is better beyond what chance can explain. "
    if worse:
        told += f"Worse: {listed(list(map(name_of, worse)))}. "
    if not {"heads_delivered", "weeks_not_met"} & set(real):
        told += (
            "With these orders and this cadence the change does not show in what is delivered. "
            f"Look for a cadence that uses it (seedbeat cadence {answer['proposed']['file']}), or "
            f"for larger orders ({_larger_orders(answer)}), before you ask "
            "for it on the ground of output."
        )
    return told.strip()
