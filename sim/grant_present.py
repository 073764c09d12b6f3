"""Sections 2 to 4 of a justification: unmet orders, present capacity, what binds."""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_capacity import largest_order
from sim.grant_parts import Column, Grid, Part, Shown
from sim.grant_words import (
    cause_told,
    ceiling_name,
    ceiling_told,
    finding,
    kind_of,
    name_of,
    plural,
    ranged,
    reached_told,
    resource_name,
    whole,
    years_of,
)
from sim.telling import Answer, iso, percent

MOST_WEEKS = 10  # in the table of weak weeks; the workbook has all


def need_told(case: Answer) -> str:
    """What is not met today, in numbers."""
    counts, week = case["counts"], case["weakest_week"]
    if not case["weeks_due"]:
        return "No delivery is due in these weeks, so no unmet order can be shown."
    ordered, short = whole(counts["heads_ordered"]["mean"]), counts["heads_short"]
    if case["complete"]:
        return f"Need: none shown. All {ordered} heads ordered were delivered in every year."
    text = (
        f"Need: of {ordered} heads ordered a year, {whole(counts['heads_delivered']['mean'])} are "
        f"delivered and {ranged(short)} are short, in "
        f"{counts['deliveries_short']['mean']:,.1f} of {case['deliveries_due']:,} deliveries."
    )
    if week:
        text += (
            f" The weakest week, that of {iso(week['week_of'], year=True)}, is met in "
            f"{percent(week['share_of_years_met'])} of the years."
        )
    return text


def need(answer: Answer) -> Iterator[Part]:
    """Heads, deliveries and weeks not met, and which weeks."""
    case = answer["present"]
    yield need_told(case)
    yield (
        "Orders are the standing orders of the file, pauses left out; a delivery is short if a "
        f"single head is missing. Ranges hold 5-95 % of {years_of(answer)}."
    )
    yield need_grid(answer, case)
    if case["weeks_due"]:
        yield _weeks_grid(case)
        low = percent(min(w["share_of_years_met"] or 0.0 for w in _due(case)))
        yield Shown(
            "weeks_met",
            "How often each week's orders are met, in all simulated years.",
            f"Bar chart of the share of years in which each week is met; the lowest is {low}.",
        )


def need_grid(answer: Answer, case: Answer) -> Grid:
    """The table of orders not met."""
    names = ("heads_ordered", "heads_delivered", "heads_short", "deliveries_short", "weeks_not_met")
    rows = tuple(
        (name_of(n), e["mean"], (e["low"], e["high"]), (e["p05"], e["p95"]))
        for n, e in ((n, case["counts"][n]) for n in names)
    )
    columns = (
        Column("count"), Column("mean", "number"), Column("95 % interval", "number", span=True),
        Column("5-95 % of years", "number", span=True),
    )  # fmt: skip
    under = (
        f"{case['deliveries_due']:,} deliveries in {case['weeks_due']} weeks are due. Interval: of "
        "the mean; range: of single years."
    )
    if answer["rough"]:
        under += " Few years: read the intervals as rough."
    return Grid("Need", "Orders not met", columns, rows, under, tuple(kind_of(n) for n in names))


def _due(case: Answer) -> list[Answer]:
    return [w for w in case["weeks"] if w["share_of_years_met"] is not None]


def _weeks_grid(case: Answer) -> Grid:
    def row(w: Answer) -> tuple[str | float | tuple[float, float], ...]:
        return (w["week_of"], w["share_of_years_met"], w["ordered"], w["delivered"],
                (w["delivered_p05"], w["delivered_p95"]))  # fmt: skip

    weak = sorted(_due(case), key=lambda w: (w["share_of_years_met"], w["week_of"]))[:MOST_WEEKS]
    weak = sorted((w for w in weak if w["share_of_years_met"] < 1), key=lambda w: str(w["week_of"]))
    columns = (
        Column("week of", "date"), Column("years met", "share"),
        Column("ordered", "count", "heads"), Column("delivered", "count", "heads"),
        Column("5-95 % of years", "count", "heads", True),
    )  # fmt: skip
    under = "The weeks met least often; the workbook lists all weeks with deliveries."
    return Grid(
        "Weeks", "Weeks not always met", columns, tuple(map(row, weak)), under,
        every=tuple(map(row, _due(case))),
    )  # fmt: skip


def capacity(answer: Answer) -> Iterator[Part]:
    """What there is, how much of it is in use, and which limits are reached."""
    case, limit = answer["present"], answer["limit"]
    yield (
        "What there is, how much of it is in use, and whether its limit is reached. "
        f"{reached_told(case)}"
    )
    yield (
        f"Rule: a week is at the limit if {100 * limit['share']:.0f} % or more is in use; the "
        f"limit is reached if that is so in at least {plural(limit['weeks'], 'week')} of a mean "
        "year."
    )
    yield capacity_grid(answer, case, "Capacity", "Capacity and its use")
    yield Shown(
        "sites_filled",
        "Sites that hold a plant, week by week, mean of all simulated years.",
        "Line chart of the share of sites that hold a plant in each place by week.",
    )
    yield from largest_order(answer)


def capacity_grid(answer: Answer, case: Answer, sheet: str, title: str) -> Grid:
    """The table of capacity of one greenhouse."""
    rows = tuple(
        (
            resource_name(r), _now(r), r["mean"], r["busiest"], r["week_of"], r["at_limit"],
            "no limit" if r["amount"] is None else "yes" if r["reached"] else "no",
        )
        for r in case["resources"]
    )  # fmt: skip
    columns = (
        Column("resource"), Column("now"), Column("in use, mean", "share"),
        Column("busiest week", "share"), Column("that is the week of", "date"),
        Column("at the limit", "number", "weeks a year"), Column("limit reached"),
    )  # fmt: skip
    under = (
        "In use, of what there is: trays, channels and the like that hold plants or wait to be "
        "cleared or washed; person-minutes worked of those staffed; the most heads in the cold "
        f"store at one time in a week (from {answer['looked_at']} of the years)."
    )
    return Grid(sheet, title, columns, rows, under)


def _now(resource: Answer) -> str:
    if resource["kind"] == "people" and resource["amount"]:
        return f"{resource['now']}; {whole(resource['amount'])} person-minutes a week"
    return str(resource["now"])


def bottleneck(answer: Answer) -> Iterator[Part]:
    """The finding in one paragraph, with the ceilings."""
    case = answer["present"]
    told = [ceiling_told(case)]
    told += [
        f"Next is the {ceiling_name(c)}, at about {whole(c['heads_per_week'])}."
        for c in case["ceilings"][1:2]
    ]
    told += [reached_told(case), cause_told(case), finding(case)]
    if (week := case["weakest_week"]) and not case["complete"]:
        told.append(
            "A limit that is reached need not be what makes a week short: seedbeat why "
            f"{answer['file']} --week {week['week_of']} follows the weakest week back to its cause."
        )
    yield " ".join(filter(None, told))
    if case["ceilings"]:
        yield ceilings_grid(answer)


def ceilings_grid(answer: Answer) -> Grid:
    """The ceilings of the present greenhouse and of the proposal."""
    first, other = answer["present"], answer["proposed"]
    columns = [
        Column("what is full"), Column("present", "count", "heads a week"),
        Column("of the orders", "number", "times"),
    ]  # fmt: skip
    names = {ceiling_name(c): None for case in (first, other) if case for c in case["ceilings"]}
    by_name = [{ceiling_name(c): c for c in case["ceilings"]} for case in (first, other) if case]
    if other:
        columns += [Column("proposal", "count", "heads a week"),
                    Column("of its orders", "number", "times")]  # fmt: skip
    rows = []
    for name in names:
        cells: list[str | float | None] = [name]
        for found in by_name:
            ceiling = found.get(name, {})
            cells += [ceiling.get("heads_per_week"), ceiling.get("times")]
        rows.append(tuple(cells))
    under = (
        "Arithmetic: heads a week at which each would be full with the present mix of crops, every "
        "week alike, without chance, breaks or set-up. With them a greenhouse stays below."
    )
    return Grid("Ceilings", "Ceilings by arithmetic", tuple(columns), tuple(rows), under)
