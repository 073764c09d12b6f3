"""Words that the sections of a justification share: measures, counts, estimates, findings."""

from __future__ import annotations

from typing import Any

from sim.grant_parts import Kind, shown
from sim.inputs import ASSUMED
from sim.telling import Answer, iso

MEASURES: dict[str, tuple[str, Kind, str]] = {  # name, what its number is, its definition
    "unit_fill_rate": (
        "heads delivered of heads ordered", "share",
        "Heads delivered / heads ordered.",
    ),
    "order_fill_rate": (
        "deliveries complete of those due", "share",
        "Deliveries complete / deliveries due; a delivery is one customer, crop and date.",
    ),
    "steadiness": (
        "weeks met of weeks with deliveries", "share",
        "Weeks met / weeks with a delivery due; a week is met when every delivery due in it was "
        "complete.",
    ),
    "weakest_week": (
        "years that met the weakest week", "share",
        "Years in which the calendar week that is met least often was met / simulated years; its "
        "95 % interval is exact and does not count that the week was picked as the lowest.",
    ),
    "bench_fill": (
        "finishing sites filled", "share",
        "Plants standing in the places where crops finish, averaged over time / finishing sites.",
    ),
    "useful_bench_share": (
        "finishing sites filled with heads later delivered", "share",
        "The same, counting only the time spent by heads that were delivered later / finishing "
        "sites.",
    ),
    "heads_per_week": (
        "heads delivered a week", "number",
        "Heads delivered / measured weeks.",
    ),
    "wasted_plants": (
        "good plants dumped a year", "count",
        "Good plants thrown away (seedlings overgrown, heads over-mature or kept too long), of all "
        "batches seeded before the end of the measured weeks; a count, no share.",
    ),
    "labor_use": (
        "person-minutes worked of staffed", "share",
        "Person-minutes worked / person-minutes there were.",
    ),
}  # fmt: skip
UNITS = {  # of a difference; of shares it is points
    "heads_ordered": "heads", "heads_delivered": "heads", "heads_short": "heads",
    "heads_per_week": "heads", "deliveries_short": "deliveries", "weeks_not_met": "weeks",
    "wasted_plants": "plants", "plants_lost": "plants", "trays_missed": "trays",
}  # fmt: skip
COUNTS = {
    "heads_ordered": "heads ordered a year",
    "heads_delivered": "heads delivered a year",
    "heads_short": "heads short a year",
    "deliveries_short": "deliveries short a year",
    "weeks_not_met": "weeks not met a year",
    "plants_lost": "plants lost a year while growing or moving",
    "trays_missed": "trays a year not seeded in time",
}
MOST_NAMES = 3  # of limits that are reached, in the finding; section 3 has all
FEW = 0.25  # share of the weeks below which a limit is reached in a few of them
_SURE = {
    "real": "a real difference",
    "could be noise": "could be noise",
    "the same": "the same in every year",
    "no number": "not to be told",
}


def name_of(measure: str) -> str:
    """A measure or yearly count in words."""
    return COUNTS.get(measure) or MEASURES[measure][0]


def kind_of(measure: str) -> Kind:
    """What its number is."""
    if measure in COUNTS:
        return "number" if measure.startswith(("deliveries", "weeks", "trays")) else "count"
    return MEASURES[measure][1]


def whole(number: float | None) -> str:
    """A number without decimals."""
    return shown(number, "count")


def ranged(estimate: Answer, kind: Kind = "count") -> str:
    """A mean with the range of single years: "313 (0 to 863 in 5-95 % of years)"."""
    mean, span = shown(estimate["mean"], kind), (estimate["p05"], estimate["p95"])
    return f"{mean} ({shown(span, kind)} in 5-95 % of years)"


def apart(change: Answer, kind: Kind) -> str:
    """A difference with its 95 % interval and verdict."""
    if change["verdict"] in ("no number", "the same"):
        return _SURE[change["verdict"]]
    unit = " points" if kind == "points" else ""
    mean, span = shown(change["mean"], kind), shown((change["low"], change["high"]), kind)
    verdict = _SURE[change["verdict"]]
    if change["same_in_every_year"]:
        return f"{mean}{unit} in every year"
    return f"{mean}{unit} (95 % interval {span}), {verdict}"


def plural(number: float, word: str) -> str:
    """A count of things: "1 week", "3 weeks"."""
    return f"{number:,.0f} {word}{'' if number == 1 else 's'}"


def listed(texts: list[str]) -> str:
    """Several things in one sentence."""
    return " and ".join(filter(None, [", ".join(texts[:-1]), texts[-1]])) if texts else ""


def years_of(answer: Answer) -> str:
    """How many years were simulated."""
    return f"{answer['years']:,} simulated years"


def week_told(resource: Answer) -> str:
    """The busiest week of a resource, with the closures in it."""
    closed = f", closed for {listed(resource['closures'])}" if resource["closures"] else ""
    return f"the week of {iso(resource['week_of'], year=True)}{closed}"


def resource_name(resource: Answer) -> str:
    """A resource and what it is for."""
    role = {"finishing": " (finishing sites)", "nursery": " (seedlings)"}
    return f"{resource['name']}{role.get(resource['kind'], '')}"


def ceiling_told(case: Answer) -> str:
    """What is full first by arithmetic, against the orders."""
    found = case["ceilings"]
    if not found:
        return "By arithmetic nothing fills up: what is ordered or seeded meets no limit."
    lowest = found[0]
    text = (
        f"By arithmetic, without chance or calendar, what fills up first is the "
        f"{ceiling_name(lowest)}, at about {whole(lowest['heads_per_week'])} heads a week"
    )
    if lowest["times"] < 1:
        return f"{text}: less than is ordered in a full week ({lowest['times']:.2f} times)."
    return f"{text}, {lowest['times']:.1f} times what is ordered in a full week."


def ceiling_name(ceiling: Answer) -> str:
    """What a ceiling is of."""
    return ("time of " if ceiling["kind"] == "crews" else "") + str(ceiling["name"])


def reached_told(case: Answer) -> str:
    """Which limits the simulated years reach, and when."""
    found = [r for r in case["resources"] if r["reached"]]
    if not found:
        return "In the simulated years no limit is reached by the rule of section 3."
    told = [
        f"{r['name']} ({r['at_limit']:.1f} weeks a year, busiest in {week_told(r)})" for r in found
    ]
    return f"In the simulated years the limit is reached by {listed(told)}."


def finding(case: Answer) -> str:
    """What binds, concluded from the ceilings, the limits reached and the causes of shortage."""
    found, weeks = [r for r in case["resources"] if r["reached"]], case["window"]["weeks"]
    if case["ceilings"] and case["ceilings"][0]["times"] < 1:
        return (
            f"The bottleneck is the {ceiling_name(case['ceilings'][0])}: too little for the orders."
        )
    if not found:
        short = case["counts"]["heads_short"]["mean"]
        return (
            "No limit is reached, so more capacity alone need not mend what is short."
            if short
            else "No limit is reached."
        )
    names = listed([r["name"] for r in found][:MOST_NAMES])
    share = max(r["at_limit"] for r in found) / weeks
    if share < FEW:
        return (
            f"The limit of {names} is reached in a few weeks of the year, not in an ordinary one."
        )
    return f"The limit of {names} is reached in up to {100 * share:.0f} % of the measured weeks."


def cause_told(case: Answer) -> str:
    """Why heads are short."""
    total = sum(row["a_year"] for row in case["short_causes"])
    if not total:
        return ""
    told = [f'"{r["cause"]}" {100 * r["a_year"] / total:.1f} %' for r in case["short_causes"]]
    return f"The heads short by what was missing when they were due: {listed(told)}."


def assumed(answer: Answer) -> list[Any]:
    """The inputs that nobody has counted."""
    return [one for one in answer["inputs"] if ASSUMED in one["note"]]


def assumed_told(answer: Answer) -> str:
    """How many numbers nobody has counted."""
    count = len(answer["assumed"])
    return f"{plural(count, 'number')} {'is' if count == 1 else 'are'} assumed"


def unlike_told(answer: Answer) -> str:
    """The warning that two greenhouses are not like for like, or ""."""
    if not answer["not_like_for_like"]:
        return ""
    return "Not like for like. " + " ".join(answer["not_like_for_like"])
