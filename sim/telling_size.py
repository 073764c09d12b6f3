"""What `seedbeat size` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, iso, percent, whole
from sim.telling_size_more import amount, gained, largest_orders, limits_next

_MOST_IN_A_SENTENCE = 4  # sizes that are too close to call, weeks that no size can meet


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `size`."""
    yield _enough(answer)
    yield from _cadence_for_it(answer)
    yield _meaning(answer)
    yield from _fewer(answer)
    yield from _service(answer)
    yield from _bend(answer)
    yield from largest_orders(answer)
    yield from limits_next(answer)
    yield from map(gained, answer["more_of_each"])
    if not any(g["cost"] is not None for some in answer["more_of_each"] for g in some["things"]):
        yield "No costs were given (--cost NAME=AMOUNT), so no cost of a head gained is told."
    yield from _not_counted(answer)
    if answer["students"]:
        yield (
            "A class is there to learn: this says how much of the work its minutes hold, not how "
            "many must come or how fast they must be."
        )
    yield _how_sure(answer)


def _be(answer: Answer, size: int) -> str:
    return "is" if size == 1 or answer["kind"] == "cold store" else "are"


def _enough(answer: Answer) -> str:
    """The smallest size that does, and whether what there is will do."""
    present, enough = answer["present"], answer["enough"]
    what = f"{answer['what'][0].upper()}{answer['what'][1:]}"
    now = f"there {_be(answer, present)} {amount(answer, present)} now"
    if enough is None:
        largest = amount(answer, answer["sizes"][-1]["size"])
        return (
            f"{what}: no size up to {largest} was shown to be enough for the present orders; "
            f"{now}. {_nothing_helps(answer)}"
        )
    told = f"{what}: {amount(answer, enough)} {_be(answer, enough)} enough for the present orders"
    if enough == present:
        smaller = "; no smaller size was shown to be enough" if enough > answer["step"] else ""
        return f"{told}, and that is what there is now{smaller}."
    if enough < present:
        return f"{told}; {now}."
    verdict = _row(answer, present)["verdict"]
    return f"{told}; {now}, which {_be(answer, present)} {verdict}."


def _cadence_for_it(answer: Answer) -> Iterator[str]:
    if answer["enough"] is not None:
        letter = _row(answer, answer["enough"])["best"]["cadence"]
        yield f"It takes cadence {letter}: {_cadence(answer, letter)}."


def _meaning(answer: Answer) -> str:
    """What is asked for, and what enough means."""
    target = answer["target"]
    return (
        f"Enough means that {percent(target['steadiness'])} of the weeks are met, and each of the "
        f"{target['weeks']} weeks with deliveries in {percent(target['weakest_week'])} of the "
        f"years, shown with {answer['confidence_percent']:g} % confidence {_tolerance(answer)}. A "
        "week is met when every delivery in it leaves complete. The present orders are "
        f"{whole(answer['heads_ordered_full_week'])} heads in a full week, "
        f"{whole(answer['heads_ordered_per_week'])} a week on average, pauses counted."
    )


def _tolerance(answer: Answer) -> str:
    steady, week = (100 * answer["tolerance"][k] for k in ("steadiness", "weakest_week"))
    return f"within {steady:g} and {week:g} points"


def _nothing_helps(answer: Answer) -> str:
    last = answer["sizes"][-1]
    if last["verdict"] == "not enough":
        return "More of it alone does not do: look at the other things below, or at the orders."
    return "The years are too few to decide; more --runs may."


def _row(answer: Answer, size: int) -> Answer:
    found: Answer = next(row for row in answer["sizes"] if row["size"] == size)
    return found


def _cadence(answer: Answer, letter: str) -> str:
    one = next(c for c in answer["cadences"] if c["letter"] == letter)
    return f"{one['name']}{' (the own one of the scenario)' if one['own'] else ''}"


def _fewer(answer: Answer) -> Iterator[str]:
    """What was found of the sizes below the one that is enough."""
    enough, tested = answer["enough"], answer["tested"]
    below = [t for t in tested if enough is None or t["size"] < enough]
    told = "; ".join([*_too_close(below), *_not_enough(answer, below)])
    yield f"{told[0].upper()}{told[1:]}."
    if enough is not None and below and enough - below[-1]["size"] > answer["step"]:
        yield (
            f"Sizes between {below[-1]['size']:,} and {enough:,} were not tried; the smallest that "
            "is enough may be one of them."
        )


def _too_close(tested: list[Answer]) -> Iterator[str]:
    close = [t for t in tested if t["verdict"] == "too close to call"]
    if not close:
        return
    sizes = [f"{t['size']:,}" for t in close]
    if len(sizes) > _MOST_IN_A_SENTENCE:
        sizes = [f"{len(sizes)} sizes from {sizes[0]} to {sizes[-1]}"]
    years = sum(t["years"] for t in close)
    words = sizes[0] if len(sizes) == 1 else f"{', '.join(sizes[:-1])} and {sizes[-1]}"
    be = "is" if words == "1" else "are"
    yield f"{words} {be} too close to call after {years:,} years"


def _not_enough(answer: Answer, tested: list[Answer]) -> Iterator[str]:
    short = [t["size"] for t in tested if t["verdict"] == "not enough"]
    if short:
        fewer = " and less" if short[-1] > tested[0]["size"] else ""
        yield f"{short[-1]:,}{fewer} {'is' if short[-1] == 1 else 'are'} not enough"
    least, enough = answer["needed_by_arithmetic"], answer["enough"]
    if least is None:
        yield "by arithmetic no size is enough, because something else holds too little"
    elif least == enough:
        yield "arithmetic alone asks for as many"
    elif enough is None or least < enough:
        yield (
            f"arithmetic alone asks for {least:,}, and chance, breaks and uneven batches for the "
            "rest"
        )
    else:
        yield f"arithmetic, which takes every week as a full one, asks for {least:,}"


def _service(answer: Answer) -> Iterator[str]:
    """The service at the size that is enough and at the present one."""
    enough, present = answer["enough"], _row(answer, answer["present"])
    told = []
    if enough is not None and enough != answer["present"]:
        told.append(f"with {amount(answer, enough)}, {_met(_row(answer, enough)['best'])}")
    told.append(f"with the present {amount(answer, present['size'])}, {_met(present['best'])}")
    if present["own"]["cadence"] != present["best"]["cadence"]:
        told.append(f"and then by the scenario's own cadence, {_met(present['own'])}")
    yield f"In {answer['years']:,} fresh simulated years, {'; '.join(told)}."
    if enough is not None:
        best, target = _row(answer, enough)["best"], answer["target"]
        names = {"steadiness": "weeks met", "weakest_week": "the weakest week"}
        below = [word for key, word in names.items() if best[key]["mean"] < target[key]]
        if below:
            yield (
                f"At {enough:,} {' and '.join(below)} came out below the target there; enough "
                f"means {_tolerance(answer)}."
            )


def _met(service: Answer) -> str:
    week = service["weakest_week"]
    return (
        f"{percent(service['steadiness']['mean'])} of the weeks were met "
        f"({_span(service['steadiness'])}), the weakest, that of {iso(week['week_of'])}, in "
        f"{percent(week['mean'])} of the years ({_span(week)})"
    )


def _span(estimate: Answer) -> str:
    return f"{percent(estimate['low'])} to {percent(estimate['high'])}".replace(" % to", " to")


def _bend(answer: Answer) -> Iterator[str]:
    bend, last = answer["bend"], answer["sizes"][-1]["size"]
    if bend["size"] == last:
        yield f"The service still rises at the largest size that was looked at, {last:,}."
    else:
        yield (
            f"The curve bends at {bend['size']:,}: from there up to {last:,} no more is gained "
            f"than {100 * bend['steadiness_within']:g} point of the weeks met and "
            f"{100 * bend['weakest_week_within']:g} points of years in the weakest week."
        )
    if answer["falls_at"] is not None:
        yield (
            f"Larger is not always better: at {answer['falls_at']:,} fewer weeks were met than at "
            "a smaller size. Where plants wait less, heads are ready sooner, and a cadence that "
            "suited the waiting no longer fits; leave the rest unused, or seed otherwise."
        )


def _not_counted(answer: Answer) -> Iterator[str]:
    """Weeks that do not count, and benches that are left out."""
    if answer["impossible_weeks"]:
        weeks = [
            f"that of {iso(w['monday'])}, {w['cause']}"
            for w in answer["impossible_weeks"][:_MOST_IN_A_SENTENCE]
        ]
        count = len(answer["impossible_weeks"])
        more = "; and more" if count > len(weeks) else ""
        yield (
            f"{count} {'week' if count == 1 else 'weeks'} can be met at no size looked at and "
            f"{'does' if count == 1 else 'do'} not count: {'; '.join(weeks)}{more}."
        )
    if answer["benches_left_out"]:
        yield "What stands on the benches today is left out: a size is for the years to come."


def _how_sure(answer: Answer) -> str:
    return (
        f"How sure: {len(answer['tested'])} sizes and {len(answer['cadences'])} cadences in "
        f"{answer['runs']:,} simulated years in all. {answer['allowance']}"
    )
