"""What a justification says of the largest steady order, where it was looked for."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from sim.grant_parts import Column, Grid, Part, Value
from sim.grant_words import kind_of, name_of, whole
from sim.telling import Answer, percent
from sim.telling_capacity import thing

_OF_ORDER = ("steadiness", "weakest_week", "wasted_plants", "bench_fill", "useful_bench_share")


def largest_told(answer: Answer) -> str:
    """The largest orders shown to be met, in one sentence; "" if they were not looked for."""
    found = [(name, case["largest"]) for name, case in _cases(answer) if case["largest"]]
    if not found:
        return ""
    told = [f"{_claimed(largest)} {name}" for name, largest in found]
    return (
        f"Largest steady order that a seeding cadence was shown to meet ({_target(found[0][1])}): "
        f"{', '.join(told)}."
    )


def _cases(answer: Answer) -> Iterator[tuple[str, Answer]]:
    yield "at present", answer["present"]
    if answer["proposed"]:
        yield "with the proposal", answer["proposed"]


def _claimed(largest: Answer) -> str:
    if not largest["claim"]:
        return "none of the sizes tried"
    heads = largest["claim"]["heads_per_week"]
    return f"{whole(heads)} heads a week ({heads / _orders(largest):.2f} times the orders)"


def _orders(largest: Answer) -> float:
    return float(largest["present"]["heads_per_week"])


def _target(largest: Answer) -> str:
    target = largest["target"]
    return (
        f"{percent(target['steadiness'])} of the weeks, and every week in "
        f"{percent(target['weakest_week'])} of the years"
    )


def largest_order(answer: Answer) -> Iterator[Part]:
    """The table of the largest orders, with what cadence, and what stops the next size."""
    if not answer["present"]["largest"]:
        words = ["seedbeat", "grant", answer["file"], "--capacity"]
        yield (
            "The orders above are those of today. How large steady orders could be was not looked "
            f"for: {shlex.join(words)} does, in some minutes."
        )
        return
    yield largest_told(answer)
    yield largest_grid(answer)
    for name, case in _cases(answer):
        if told := " ".join(_how(case["largest"])):
            yield f"{name[0].upper()}{name[1:]}: {told}"
    yield answer["present"]["largest"]["allowance"]


def _how(largest: Answer) -> Iterator[str]:
    """The cadence of the largest order, and what stops the next one."""
    claim, following, limits = largest["claim"], largest["next_larger"], largest["limits"]
    if claim:
        yield f"with {claim['name']}."
    if following:
        heads = whole(following["heads_per_week"])
        told = "cannot be met, by arithmetic" if following["bound"] else "was not shown to be met"
        yield f"The next size tried, {heads} heads a week, {told}."
    if limits and limits["first"]:
        yield f"What limits it first: {thing(limits['first'])}."


def largest_grid(answer: Answer) -> Grid:
    """The largest orders of both greenhouses, and what was measured of them in fresh years."""
    cases = list(_cases(answer))
    columns = [Column("measure")]
    rows: list[list[Value]] = [[name] for name in (
        "ordered today, heads a week", "largest order shown to be met, heads a week",
        *(name_of(measure) for measure in _OF_ORDER), "next size tried, heads a week",
    )]  # fmt: skip
    for name, case in cases:
        found, claim = case["largest"], case["largest"]["claim"]
        columns += [Column(name, "number"), Column(_interval(name, cases), "number", span=True)]
        following = found["next_larger"]
        cells: list[tuple[Value, Value]] = [
            (found["present"]["heads_per_week"], None),
            (claim["heads_per_week"] if claim else None, None),
            *(_estimate(claim, measure) for measure in _OF_ORDER),
            (following["heads_per_week"] if following else None, None),
        ]
        for row, two in zip(rows, cells, strict=True):
            row.extend(two)
    years = sorted({c["largest"]["claim"]["years"] for _, c in cases if c["largest"]["claim"]})
    fresh = " and ".join(f"{n:,}" for n in years)
    under = (
        f"Measured in {fresh} fresh simulated years of the largest order; the other rows are sizes."
        if years
        else "No size was shown to be met."
    )
    kinds = ("count", "count", *map(kind_of, _OF_ORDER), "count")
    return Grid(
        "Largest order", "Largest steady order shown to be met", tuple(columns),
        tuple(map(tuple, rows)), under, kinds,
    )  # fmt: skip


def _interval(name: str, cases: list[tuple[str, Answer]]) -> str:
    return "95 % interval" if len(cases) == 1 else f"95 % interval {name}"


def _estimate(claim: Answer | None, measure: str) -> tuple[Value, Value]:
    if not claim or claim[measure]["mean"] is None:
        return None, None
    return claim[measure]["mean"], (claim[measure]["low"], claim[measure]["high"])
