"""What `seedbeat review` says, told to people."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sim.telling import Answer, Table, iso, percent, whole


def sentences(answer: Answer) -> Iterator[str]:
    """Whether the ranges held, which way they erred, and what in the scenario looks off."""
    score = answer["score"]
    yield _beside(answer)
    if score is None:
        yield "No delivery of these outlooks was written down yet, so nothing can be said."
    else:
        yield _inside(score)
        if score["enough"]:
            yield _ranges(answer, score)
            yield _bias(score)
        else:
            yield (
                f"Too little to tell: {_many(score['weeks'], 'week')} with deliveries; at least "
                f"{answer['least_weeks']} are needed before ranges or errors can be judged."
            )
    yield from _stages(answer)


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _beside(answer: Answer) -> str:
    text = (
        f"{_many(answer['outlooks'], 'outlook')} beside deliveries written down from "
        f"{iso(answer['first_day'])} to {iso(answer['last_day'], year=True)}: "
        f"{_many(answer['compared'], 'comparison')} of a delivery with an outlook."
    )
    aside = (
        (answer["not_yet"], "lie after the records"),
        (answer["unwritten"], "were not written down"),
        (answer["changed"], "were ordered otherwise than the outlook said"),
    )
    told = [f"{count:,} {words}" for count, words in aside if count]
    text += f" Left out: {'; '.join(told)}." if told else ""
    if refused := answer["refused_rows"]:
        text += f" {_many(refused, 'row')} of {answer['records']} could not be used."
    return text


def _inside(score: Answer) -> str:
    return (
        f"{score['inside_count']:,} of {_many(score['pairs'], 'comparison')} "
        f"({percent(score['inside'])}) were inside the range of 8 of 10 futures, its ends "
        "included. Many ranges end at the order, so more than 8 in 10 is usual."
    )


def _ranges(answer: Answer, score: Answer) -> str:
    verdicts = {
        "as they should be": "that is as it should be, or could be noise",
        "too narrow": "the outlooks were too sure: their ranges are too narrow",
        "too wide": "the outlooks were less sure than they could be: ranges are too wide",
    }
    weight = score["weight"]
    return (
        f"Counting what stands on a range's end in part, {percent(weight['mean'])} were inside "
        f"({_span(weight, percent)}, from {_many(score['weeks'], 'week')}), where "
        f"{percent(answer['share'])} belong: {verdicts[score['verdict']]}."
    )


def _span(estimate: Answer, show: Callable[[float], str]) -> str:
    low, high = show(estimate["low"]), show(estimate["high"])
    return f"95 % interval {low} to {high}".replace(" % to", " to")


def _signed(heads: float) -> str:
    return f"{heads:+,.1f}"


def _bias(score: Answer) -> str:
    bias = score["bias"]
    text = (
        f"Heads delivered less heads expected: {_signed(bias['mean'])} a delivery "
        f"({_span(bias, _signed)}); {whole(score['heads_delivered'])} of "
        f"{whole(score['heads_expected'])} expected, all together."
    )
    words = {
        "too many": " The outlooks expect too many.",
        "too few": " The outlooks expect too few.",
        "none": " That could be noise.",
    }
    return text + words[score["leans"]]


def _stages(answer: Answer) -> Iterator[str]:
    looks = answer["stages"]
    off = [look for look in looks if look["off"]]
    for look in off:
        yield _off(look)
    judged = [look for look in looks if look["enough"]]
    if not judged:
        yield (
            "Losses and days of the stages: too little to tell; at least "
            f"{answer['least_batches']} batches of a stage have to be written down from coming "
            "to leaving, with what was lost."
        )
    elif not off:
        yield (
            f"Losses and days: none of the {len(judged)} that can be judged looks off beyond what "
            "could be noise."
        )


def _off(look: Answer) -> str:
    batches = f"{look['batches']} batches of {look['crop']}"
    if look["what"] == "losses":
        return (
            f"Looks off: losses in the {look['stage']} stage, {percent(look['found']['mean'])} of "
            f"the plants in {batches} ({_span(look['found'], percent)}), where the scenario "
            f"expects {percent(look['expected'])}. Look at {look['key']}."
        )
    late = look["found"]["mean"]
    return (
        f"Looks off: plants leave the {look['stage']} stage {abs(late):.1f} days "
        f"{'later' if late > 0 else 'earlier'} than expected, in {batches} "
        f"({_span(look['found'], _signed)} days). Look at {look['key']}"
        + (", and whether moves waited for people or free channels." if late > 0 else ".")
    )


def tables(answer: Answer) -> list[Table]:
    """How outlooks did by their lead, the stages, and every comparison that was outside."""
    found = [_leads(answer), _looks(answer), _outside(answer)]
    return [table for table in found if table.rows]


def _leads(answer: Answer) -> Table:
    rows = []
    for lead in answer["by_lead"]:
        s = lead["score"]
        enough = s["enough"]
        rows.append((
            f"{lead['from']} to {lead['to']}" if lead["to"] < 51 else f"{lead['from']} and more",
            str(s["pairs"]), str(s["weeks"]), percent(s["inside"]), percent(s["weight"]["mean"]),
            _signed(s["bias"]["mean"]), s["verdict"] if enough else "too little to tell",
        ))  # fmt: skip
    headers = ("weeks ahead", "compared", "weeks", "inside", "in part", "heads", "ranges")
    under = (
        f"inside: of the range of 8 of 10 futures; in part: its ends counted in part, "
        f"{percent(answer['share'])} belong; heads: delivered less expected, a delivery."
    )
    return Table("By how far ahead", headers, tuple(rows), under, text_columns=(0, 6))


def _looks(answer: Answer) -> Table:
    rows = []
    for look in answer["stages"]:
        show = percent if look["what"] == "losses" else _days
        verdict = "looks off" if look["off"] else "" if look["enough"] else "too few"
        rows.append((
            f"{look['crop']}, {look['stage']}", look["what"], str(look["batches"]),
            show(look["found"]["mean"]), show(look["expected"]), verdict,
        ))  # fmt: skip
    headers = ("stage", "what", "batches", "written down", "expected", "")
    under = (
        "days: of the first move out of the stage beyond its mean length and the next staffed day."
    )
    return Table("Losses and days", headers, tuple(rows), under, text_columns=(0, 1, 5))


def _days(days: float | None) -> str:
    return "-" if days is None else f"{days:+.1f} d"


def _outside(answer: Answer) -> Table:
    rows = tuple(
        (
            iso(p["day"]), p["customer"], iso(p["outlook"])[4:], whole(p["ordered"]),
            f"{whole(p['low'])} to {whole(p['high'])}", whole(p["delivered"]),
        )
        for p in answer["pairs"]
        if not p["inside"]
    )  # fmt: skip
    headers = ("leaves", "customer", "outlook", "ordered", "8 of 10", "delivered")
    return Table("Outside their range", headers, rows, text_columns=(0, 1, 2))
