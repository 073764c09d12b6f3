"""What `seedbeat size` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, iso, percent, whole

_MOST_IN_A_SENTENCE = 4  # sizes that are too close to call, weeks that no size can meet


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `size`."""
    yield _enough(answer)
    yield from _fewer(answer)
    yield from _service(answer)
    yield from _bend(answer)
    yield _gained(answer)
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
    if answer["students"]:
        yield (
            "A class is there to learn: this says how much of the work its minutes hold, not how "
            "many must come or how fast they must be."
        )
    yield _how_sure(answer)


def amount(answer: Answer, size: int) -> str:
    """A size in words: "22 trays", "1 person a shift", "720 heads"."""
    if answer["kind"] == "crew":
        return f"{size:,} {'person' if size == 1 else 'people'} a shift"
    return counted(size, answer["unit"])


def counted(number: int, unit: str) -> str:
    """A number of containers, people, periods, hours or heads."""
    if unit == "person":
        return f"{number:,} {'person' if number == 1 else 'people'}"
    return f"{number:,} {unit}" if number == 1 else f"{number:,} {unit}s"


def _present(answer: Answer) -> str:
    """What there is now."""
    size, told = answer["present"], amount(answer, answer["present"])
    if answer["kind"] == "cold store":
        told = f"room for {told}"
    be = "is" if size == 1 or answer["kind"] == "cold store" else "are"
    return f"{answer['what'][0].upper()}{answer['what'][1:]}: there {be} {told} now"


def _enough(answer: Answer) -> str:
    """Whether what there is will do, and the smallest size that does."""
    present, enough, target = answer["present"], answer["enough"], answer["target"]
    orders = (
        f"the present orders, {whole(answer['heads_ordered_per_week'])} heads a week on average"
    )
    wanted = (
        f"{percent(target['steadiness'])} of the weeks met, and each of {target['weeks']} weeks in "
        f"{percent(target['weakest_week'])} of the years"
    )
    if enough is None:
        return (
            f"{_present(answer)}; no size up to {amount(answer, answer['sizes'][-1]['size'])} was "
            f"shown to be enough for {orders}, at the target: {wanted}. {_nothing_helps(answer)}"
        )
    row = _row(answer, enough)
    be = "is" if enough == 1 else "are"
    told, after = f"{enough:,} {be} enough", ""
    if enough == present:
        smaller = ". No smaller size was shown to be enough" if enough > answer["step"] else ""
        told, after = "that is enough", smaller
    elif enough > present:
        told = f"that is {_row(answer, present)['verdict']}; {told}"
    return (
        f"{_present(answer)}; {told} for {orders}, at the target: {wanted} (shown with "
        f"{answer['confidence_percent']:g} % confidence, {_tolerance(answer)}), when seeded by "
        f"cadence {row['best']['cadence']}: {_cadence(answer, row['best']['cadence'])}{after}."
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
    limits = answer["next_limits"]
    others = [c for c in limits["ceilings"] if not c["of_this"]]
    own = [c for c in limits["ceilings"] if c["of_this"]]
    if others:
        also = f" ({answer['what']} itself: {whole(own[0]['heads_per_week'])})" if own else ""
        yield (
            f"What limits next at {limits['size']:,}, by arithmetic: {others[0]['name']}, at most "
            f"about {whole(others[0]['heads_per_week'])} heads a week{also}."
        )


def _gained(answer: Answer) -> str:
    present = _row(answer, answer["present"])["best"]
    missing = answer["heads_ordered_per_week"] - present["heads_per_week"]["mean"]
    gains = [
        g for g in answer["more_of_each"]
        if g["heads_per_week"]["verdict"] == "real" and g["heads_per_week"]["mean"] > 0
    ]  # fmt: skip
    told = (
        f"A bit more of each thing at the present size: {missing:,.1f} heads a week are short now, "
        "so no more can be gained. "
    )
    if gains:
        most = max(gains, key=lambda g: float(g["heads_per_week"]["mean"]))
        told += (
            f"Most comes from {most['name']}, {counted(most['amount'], most['unit'])} more: "
            f"{signed(most['heads_per_week'])} heads a week and "
            f"{signed(most['weeks_met'])} weeks met a year."
        )
    else:
        told += "Nothing by itself is shown to gain heads with this cadence."
    if not any(g["cost"] is not None for g in answer["more_of_each"]):
        told += " No costs were given (--cost NAME=AMOUNT), so none are told."
    return told


def signed(change: Answer) -> str:
    """A difference with its 95 % interval: "+2.2 (1.5 to 2.9)"."""
    mean, low, high = (change[key] for key in ("mean", "low", "high"))
    if mean is None:
        return "-"
    decimals = 0 if abs(mean) >= 10 else 1
    mean, low, high = (round(number, decimals) + 0.0 for number in (mean, low, high))
    if change["sure_low"] == change["sure_high"]:
        return f"{mean:+,.{decimals}f} every year" if mean else "0"
    return f"{mean:+,.{decimals}f} ({low:,.{decimals}f} to {high:,.{decimals}f})"


def _how_sure(answer: Answer) -> str:
    return (
        f"How sure: {len(answer['tested'])} sizes and {len(answer['cadences'])} cadences in "
        f"{answer['runs']:,} simulated years in all. {answer['allowance']}"
    )
