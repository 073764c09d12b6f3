"""What `seedbeat capacity` says, told to people in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, iso, percent, whole


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `capacity`."""
    claim, present = answer["claim"], answer["present"]
    if claim:
        yield _claimed(claim, answer)
        yield f"It takes this cadence: {claim['name']}."
    else:
        yield _nothing(answer)
    yield _meaning(answer)
    if present["verdict"] != "meets":
        yield f"The present orders, {size(present, answer)}, {_not_shown(present)}."
    if claim:
        yield _in_fresh_years(claim)
        yield from _fresh_below(claim, answer["target"])
        yield from _larger(answer)
        yield from _smaller(answer)
    yield from _arithmetic(answer)
    if answer["limits"]:
        yield _limits(answer["limits"], answer)
    if claim:
        yield _benches(claim, answer["finishing_sites"])
    yield _estimate(answer)
    yield _how_sure(answer)


def size(row: Answer, answer: Answer) -> str:
    """A size of the orders: "1,248 heads a week (52 cases)"."""
    what = f" of {answer['crop']}" if answer["crop"] else ""
    return f"{whole(row['heads_per_week'])} heads a week{what} ({told_cases(row['cases'])})"


def told_cases(number: float) -> str:
    """A number of cases, with one decimal if it is not whole."""
    text = f"{number:,.1f}".removesuffix(".0")
    return f"{text} case" if text == "1" else f"{text} cases"


def _not_shown(row: Answer) -> str:
    """Why a size cannot be claimed."""
    if row["verdict"] == "beyond arithmetic":
        return f"cannot be met week after week, by arithmetic: {_bound(row['bound'])}"
    count, weakest = f"{row['cadences']:,} cadences simulated", row["best"]["weakest_week"]
    if row["verdict"] == "not confirmed":
        return (
            "met the target in the search but not in fresh years "
            f"({percent(row['best']['steadiness']['mean'])} of the weeks, the weakest in "
            f"{percent(weakest['mean'])} of {row['best']['years']} years)"
        )
    if row["verdict"] == "not met":
        return f"would not be met by any of the {count}"
    return f"would be too close to call: of the {count} {row['undecided']:,} stayed undecided"


def _bound(bound: Answer) -> str:
    if bound["kind"] == "weeks":
        weeks = "; ".join(f"week of {iso(w['monday'])}, {w['cause']}" for w in bound["weeks"][:3])
        more = "; and more" if len(bound["weeks"]) > 3 else ""
        return f"weeks that can be met now would be impossible ({weeks}{more})"
    name = f"the people ({bound['name']})" if bound["kind"] == "crews" else f"the {bound['name']}"
    return f"{name} would have to give {percent(1 / bound['times'])} of what there is"


def _claimed(claim: Answer, answer: Answer) -> str:
    """The claim, beside the present orders, and between which sizes the largest lies."""
    present, below = answer["present"], answer["not_met"]
    change = claim["heads_per_week"] / present["heads_per_week"] - 1.0
    against = f"{percent(abs(change))} {'above' if change > 0 else 'below'} the present orders"
    if claim["cases"] == present["cases"]:
        against = "the present orders"
    span = f"The largest that any cadence tried meets lies, with {_confidence(answer)}, "
    span += f"at {told_cases(claim['cases'])} or more"
    if below:
        span += f" and below {told_cases(below['cases'])}"
    return f"Can honestly claim: {size(claim, answer)}, {against}. {span}."


def _confidence(answer: Answer) -> str:
    return f"{answer['confidence_percent']:g} % confidence"


def _meaning(answer: Answer) -> str:
    """What it means that orders are met."""
    target, tolerance = answer["target"], answer["tolerance"]
    return (
        f"Orders are met if {percent(target['steadiness'])} of the weeks are, and each of the "
        f"{target['weeks']} weeks with deliveries in {percent(target['weakest_week'])} of the "
        f"years, shown with {_confidence(answer)} for all sizes and cadences together, within "
        f"{100 * tolerance['steadiness']:g} and {100 * tolerance['weakest_week']:g} points. A week "
        "is met when every delivery in it leaves complete."
    )


def _in_fresh_years(claim: Answer) -> str:
    weakest, wasted = claim["weakest_week"], claim["wasted_plants"]
    return (
        f"In {claim['years']:,} fresh simulated years {percent(claim['steadiness']['mean'])} of "
        f"the weeks were met ({_span(claim['steadiness'])}), the weakest, that of "
        f"{iso(weakest['week_of'])}, in {percent(weakest['mean'])} of the years "
        f"({_span(weakest)}), and {whole(wasted['mean'])} good plants a year were wasted "
        f"({whole(wasted['low'])} to {whole(wasted['high'])})."
    )


def _span(estimate: Answer) -> str:
    return f"{percent(estimate['low'])} to {percent(estimate['high'])}".replace(" % to", " to")


def _fresh_below(claim: Answer, target: Answer) -> Iterator[str]:
    """Say it where the fresh years stay below a target that the search found to be met."""
    measures = {"steadiness": "weeks met", "weakest_week": "the weakest week"}
    below = [word for key, word in measures.items() if claim[key]["mean"] < target[key]]
    if below:
        yield (
            f"In the fresh years {' and '.join(below)} came out below the target; a search allows "
            "a tolerance (below)."
        )


def _nothing(answer: Answer) -> str:
    tried = answer["sizes"]
    if not tried:
        return "No size can be claimed: arithmetic rules out every size."
    smallest = f"{size(tried[0], answer)}, {_not_shown(tried[0])}"
    count = f"{len(tried)} sizes" if len(tried) > 1 else "1 size"
    return (
        f"No size can be claimed: of {count} tried none was shown to meet the target. The "
        f"smallest, {smallest}."
    )


def _larger(answer: Answer) -> Iterator[str]:
    following, not_met, gap = answer["next_larger"], answer["not_met"], answer["gap_cases"]
    if following is None:
        yield "Arithmetic sets no end to the orders; no size was shown not to be met."
        return
    if following["cases"] != answer["present"]["cases"]:
        yield f"Above it: {size(following, answer)} {_not_shown(following)}."
    if not_met and not_met["cases"] != following["cases"]:
        yield (
            f"The smallest size shown not to be met is {size(not_met, answer)}; of those between "
            "nothing is shown."
        )
    if gap > 1.0:
        yield f"Sizes were told apart to {told_cases(gap)}; more --runs may come closer."


def _smaller(answer: Answer) -> Iterator[str]:
    """Sizes below the claimed one that were not shown to be met: trays fit some sizes better."""
    for row in answer["sizes"]:
        below = answer["present"]["cases"] != row["cases"] < answer["claim"]["cases"]
        if below and row["verdict"] != "meets":
            yield f"Although it is smaller, {size(row, answer)} {_not_shown(row)}."


def _arithmetic(answer: Answer) -> Iterator[str]:
    most, bound = answer["most_by_arithmetic"], answer["bound_by_arithmetic"]
    if most and bound and answer["next_larger"]["verdict"] != "beyond arithmetic":
        yield (
            f"By arithmetic alone, without chance or waiting, {size(most, answer)} would be "
            f"possible; one case more, and {_bound(bound)}."
        )


def _limits(limits: Answer, answer: Answer) -> str:
    first, together = limits["first"], limits["together"]
    now, at = limits["without"], f"At {whole(answer['next_larger']['heads_per_week'])} heads a week"
    base = f"{percent(now['steadiness']['mean'])} of the weeks were met, the weakest in "
    base += f"{percent(now['weakest_week']['mean'])} of the years"
    if first:
        more = f"; with {_relieved(first)} and the same chances {_gain(first)}"
        text = f"What limits first: {thing(first)}. {at} {base}{more}"
    elif together and together["gain"]["low"] > 0.0:
        names = ", ".join(map(thing, limits["reliefs"]))
        text = f"What limits first: no single one of {names}. {at} {base}; with more of all of "
        text += f"them {_gain(together)}"
    else:
        text = f"What limits first: not places, people or the cold store. {at} {base}, and no "
        text += "more would be without these limits: what is short comes from losses, from timing, "
        text += "or from days with nobody there"
    short = [f"{c} {whole(n)}" for c, n in limits["heads_short_per_year"].items() if n >= 0.5]
    return f"{text}. Heads short in a year: {', '.join(short) or 'none'}."


def _gain(relief: Answer) -> str:
    """What a relief would make of the weeks met."""
    gain = relief["gain"]
    trays = f"{round(100 * relief['trays'] - 100)} % more trays, "
    return (
        f"it would be {percent(relief['steadiness'])} and {percent(relief['weakest_week'])} "
        f"({trays if relief['trays'] > 1.0 else ''}{100 * gain['low']:+.1f} to "
        f"{100 * gain['high']:+.1f} points of weeks met)"
    )


def thing(one: Answer) -> str:
    """What may be full or free: a place, the people's minutes, the cold store."""
    words = {"people": "the people's minutes", "cold store": "the cold store"}
    return words.get(one["kind"], f"the {one['name']}")


def _relieved(one: Answer) -> str:
    return "twice the people" if one["kind"] == "people" else f"no limit on {thing(one)}"


def _benches(claim: Answer, sites: float | None) -> str:
    filled, useful = claim["bench_fill"]["mean"], claim["useful_bench_share"]["mean"]
    if filled is None:
        return "Benches filled: the finishing places are unlimited, so no share can be given."
    return (
        f"Benches filled: {percent(filled)} of {whole(sites)} finishing sites "
        f"({_span(claim['bench_fill'])}), and filled with heads that were delivered "
        f"{percent(useful)} ({_span(claim['useful_bench_share'])}), means of the measured weeks."
    )


def _estimate(answer: Answer) -> str:
    count = len(answer["assumed"])
    assumed = f"{count} number{'s' if count > 1 else ''} assumed, not counted"
    assumed = assumed if count else "the numbers in the file"
    return (
        f"An estimate, never an assurance: it rests on {assumed}, and on cases of "
        f"{answer['case_heads']:,} heads (--case gives another number). Count your own before you "
        "sign for more, and leave room for what no simulation knows."
    )


def _how_sure(answer: Answer) -> str:
    count = len(answer["sizes"])
    tried = "1 size was" if count == 1 else f"{count} sizes were"
    return (
        f"How sure: {tried} tried in {answer['runs']:,} simulated years in all. "
        f"{answer['allowance']}"
    )
