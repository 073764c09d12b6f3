"""What `seedbeat sure` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, iso, percent, whole, years_of
from sim.telling_numbers import amount, unit
from sim.telling_sure_words import (
    LEAST_SHOWN,
    NOTHING,
    name,
    percent_of,
    span,
    where,
)

_THINGS = {  # what is counted, after "Count"
    "stand": "the good seedlings of each batch",
    "growing loss": "the plants lost while growing",
    "moving loss": "the plants lost at moving in",
    "loss spread": "the plants lost of each batch",
    "rare share": "the batches that a rare bad event hits",
    "rare loss": "the plants lost in a rare bad event",
    "days": "the days until each batch is ready",
    "days spread": "the days until each batch is ready",
    "minutes": "the minutes",
    "absence": "the people present",
}
_TO_DO = {
    "stand": "count the seedlings of each batch on the day they are ready",
    "growing loss": "write down the plants lost, with the cause, by batch",
    "moving loss": "write down the plants lost at moving, with that cause, by batch",
    "loss spread": "write down the plants lost of each batch, batch by batch",
    "rare share": "write down every batch, hit or not, and the cause where one is",
    "rare loss": "write down the plants lost and that cause",
    "days": "write down the day on which each batch is first seen ready",
    "days spread": "write down the day on which each batch is first seen ready",
    "minutes": "write down the person-minutes of each shift's work, by a watch",
    "absence": "write down the people present at each shift",
}
_FRACTIONS = (
    (0.1, "a tenth"), (0.2, "a fifth"), (0.25, "a quarter"), (1 / 3, "a third"),
    (0.4, "two fifths"), (0.5, "half"), (0.6, "three fifths"), (2 / 3, "two thirds"),
    (0.75, "three quarters"), (0.8, "four fifths"), (0.9, "nine tenths"),
)  # fmt: skip
_LITTLE = 1 / 3  # a share of what is uncertain that is not worth more work


def sentences(answer: Answer) -> Iterator[str]:
    """Sure or not and what to count, how many sets, how it stands, what is uncertain of what."""
    yield _first(answer)
    if answer["searched"]:
        yield f"With the numbers as measured, the search says: {answer['searched']}"
    yield _how_many(answer)
    yield _as_measured(answer)
    yield from _what_is_uncertain(answer)
    yield from _count_next(answer)
    yield from _not_counted(answer)
    if answer["refused"]:
        rows = "row" if answer["refused"] == 1 else "rows"
        yield (
            f"{answer['refused']} {rows} of the records could not be read and told nothing here: "
            f"seedbeat counts {answer['file']} {answer['records']} lists them."
        )


def _first(answer: Answer) -> str:
    sets = answer["sets"]
    if answer["verdict"] == "misses":
        text = (
            "The records say that this cadence does not meet the target: "
            f"{_of_sets(sets['misses'], sets)} miss it beyond noise"
        )
    elif answer["verdict"] == "meets":
        text = (
            "The records say that this cadence meets the target: "
            f"{_of_sets(sets['meets'], sets)} are shown to"
        )
    elif 2 * sets["too_close"] > sets["sets"]:
        text = (
            f"In {answer['years']} years each it is too close to call whether this cadence meets "
            f"the target: for {_of_sets(sets['too_close'], sets)} ({sets['reached']} reach it as "
            f"they stand; --years {4 * answer['years']} tells more of them apart)"
        )
    else:
        text = (
            f"{_OPEN[(sets['low'] > 0.5) - (sets['high'] < 0.5)]}: "
            f"{_of_sets(sets['misses'], sets)} miss it beyond noise, {sets['meets']} are shown to "
            f"meet it ({sets['reached']} reach it as they stand)"
        )
    first = answer["count_next"]
    return f"{text}. {_count(answer, first)}" if first else f"{text}."


_OPEN = {
    -1: "The records say that this cadence probably does not meet the target",
    0: "The records leave open whether this cadence meets the target",
    1: "The records say that this cadence probably meets the target",
}


def _of_sets(number: int, sets: Answer) -> str:
    return f"{number} of {sets['sets']} plausible sets of numbers"


def _count(answer: Answer, first: Answer) -> str:
    """What to count next, and what it takes off."""
    return (
        f"Count {_thing(answer, first)} next: {_more(first)} would take off "
        f"{_fraction(first['takes_off_together'])} of what is uncertain about the weeks met."
    )


def _thing(answer: Answer, number: Answer) -> str:
    thing, (crop, _, stage) = _THINGS[number["kind"]], where(answer, number).rpartition(", ")
    if number["kind"] in ("minutes", "absence"):
        return f"{thing} of {stage}"
    return f"{thing} of {crop} in the {stage}" if crop else f"{thing} in the {stage}"


def _more(number: Answer) -> str:
    ten = "ten" if number["more"] == 10 else f"{number['more']}"
    return f"{ten} {'more ' if number['n'] else ''}{number['of']}"


def _fraction(share: float) -> str:
    """A share in plain words where one is near, otherwise in percent."""
    near, words = min(_FRACTIONS, key=lambda pair: abs(pair[0] - share))
    if abs(near - share) <= 0.08 * near:
        return f"about {words}"
    return "less than 1 %" if share < 0.01 else f"about {100 * share:.0f} %"


def _how_many(answer: Answer) -> str:
    sets, target, years = answer["sets"], answer["target"], years_of(answer)
    rough = " Few years: read all numbers as rough." if answer["rough"] else ""
    if left_out := target["weeks_left_out"]:
        weeks = "week" if left_out == 1 else "weeks"
        rough += f" {left_out} {weeks} that no cadence can meet do not count."
    return (
        f"{sets['sets']} plausible sets of numbers were drawn from what the records leave open, "
        f"each {years} with the same luck: {sets['meets']} meet the target "
        f"({percent(target['steadiness'])} of the weeks, each of {target['weeks']} calendar weeks "
        f"in {percent(target['weakest_week'])} of the years), {sets['misses']} miss it, "
        f"{sets['too_close']} are too close to call in so many years. "
        f"{_range(sets['low'], sets['high'])}{rough}"
    )


def _range(low: float, high: float) -> str:
    if low < NOTHING and high > 1 - NOTHING:
        return "These years leave open which share of all plausible sets meets it."
    text = f"between {percent(low)} and {percent(high)}".replace(" % and", " and")
    if low < NOTHING:
        text = f"at most {percent(high)}"
    elif high > 1 - NOTHING:
        text = f"at least {percent(low)}"
    return f"By these years, {text} of all plausible sets meet it."


def _as_measured(answer: Answer) -> str:
    own, search = answer["as_measured"], ""
    if own["standing"] == "misses" and not answer["searched"]:
        search = " With --search one is found for these numbers first, and asked about."
    return (
        f"With the numbers as measured, {answer['cadence']}: "
        f"{percent(own['steadiness']['mean'])} of the weeks were met, the weakest week, that of "
        f"{iso(own['weakest_week']['week_of'])}, in {percent(own['weakest_week']['mean'])} of the "
        f"years. {_STANDS[own['standing']]}{search}"
    )


_STANDS = {
    "meets": "So it meets the target.",
    "misses": "So it misses the target.",
    "too close": "Whether that meets the target is too close to call in so many years.",
}


def _what_is_uncertain(answer: Answer) -> Iterator[str]:
    steady, heads = (answer["split"][k] for k in ("steadiness", "heads_per_week"))
    if steady["counts"]["share"] is None:
        yield "The weeks met are the same in all sets and years: nothing about them is uncertain."
        return
    yield (
        f"Weeks met, over all sets and years: {percent(steady['mean'])} (95 % interval "
        f"{100 * steady['low']:.1f} to {percent(steady['high'])}). Of what is uncertain "
        f"about them, {_split_of(steady, answer)}. {_what_helps(answer, steady)}"
    )
    if heads["counts"]["share"] is not None:
        yield (
            f"Heads delivered a week: {whole(heads['mean'])} of "
            f"{whole(answer['ordered_per_week'])} ordered (95 % interval {whole(heads['low'])} "
            f"to {whole(heads['high'])}); of what is uncertain about them, "
            f"{_split_of(heads, answer)}."
        )


def _split_of(split: Answer, answer: Answer) -> str:
    counts, years, sets = (split[k]["share"] for k in ("counts", "years", "sets"))
    text = (
        f"{100 * counts:.0f} % comes from too few counts and {100 * years:.0f} % from too few "
        "years simulated"
    )
    if sets >= NOTHING:
        text += f" ({100 * sets:.0f} % from drawing only {answer['sets']['sets']} sets)"
    return text


def _what_helps(answer: Answer, split: Answer) -> str:
    counts, years = split["counts"]["share"], split["years"]["share"]
    more = f"--years {4 * answer['years']}"
    if years < _LITTLE:
        return "Simulating more years helps little; counting more helps."
    if counts < _LITTLE:
        return f"Counting more helps little; simulating more years does: {more}."
    return f"Counting more helps, and so does simulating more years: {more}."


def _count_next(answer: Answer) -> Iterator[str]:
    first = answer["count_next"]
    if first is None:
        if answer["split"]["steadiness"]["counts"]["share"] is not None:
            yield "No count stands out: no number moves the weeks met by more than luck does."
        return
    stands = f"It stands at {amount(first, first['value'])}, "
    if first["how"] == "counted":
        stands += f"from {whole(first['n'])} {first['of']}"
    else:
        stands += f"a guess that may be {span(first)}{unit(first)}"
    text = f"{name(answer, first)} leaves most open. {stands}. To learn more, "
    text += f"{_TO_DO[first['kind']]}."
    if first["beside"]:
        also = ", ".join(name(answer, one) for one in first["beside"])
        text += f" The same {first['of']} tell {also} too."
    if first["then"]:
        then = "; ".join(
            f"{name(answer, one)} ({_more(one)}: {percent_of(one['takes_off_together'])})"
            for one in first["then"]
            if one["takes_off_together"] >= LEAST_SHOWN
        )
        text += f" {'After that' if first['clear'] else 'Perhaps as much'}: {then}."
    if (again := answer["takes_off_again"]) >= LEAST_SHOWN:
        text += f" As many records again of everything would take off {_fraction(again)}."
    yield text[0].upper() + text[1:]


def _not_counted(answer: Answer) -> Iterator[str]:
    guessed = [n for n in answer["numbers"] if n["how"] == "usual range"]
    if guessed:
        told = "; ".join(f"{name(answer, n)} ({span(n)}{unit(n)})" for n in guessed)
        yield f"Not counted, so taken over the usual range of such a guess: {told}."
    if answer["never_counted"]:
        told = ", ".join(one["label"] for one in answer["never_counted"])
        yield (
            f"As given in all sets, since no record tells them: {told}. What they may do: "
            f"seedbeat swings {answer['file']}."
        )
