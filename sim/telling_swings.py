"""What is said of a cadence's swings, told to people from the plain part `swings_part` gives."""

from __future__ import annotations

from collections.abc import Iterator
from string import ascii_uppercase

from sim.telling import Answer, Table, iso, percent, whole, years_of

FIRST = 3  # inputs that are named as those to count first
MOST = 6  # ends named in one sentence

_CHANGES = {
    "needed": "If {ends}, this cadence misses the target; {instead} would be needed.",
    "surer": "If {ends}, {instead} meets the target and this one is too close to call.",
    "perhaps": "If {ends}, this cadence misses the target; {instead} might do (too close to call).",
    "fewer wasted": "If {ends}, {instead} meets the target too and wastes fewer plants.",
    "nothing tried would do": "If {ends}, this cadence misses the target, and nothing tried would "
    "do.",
    "too close": "If {ends}, it is too close to call, and nothing tried is clearly better.",
    "kept": "If {ends}, this cadence meets the target, and nothing tried would be better.",
}  # the words for each change, in the order in which they are told


def sentences(part: Answer) -> Iterator[str]:
    """What matters most, whether the cadence holds, what else was tried, what was left out."""
    yield _as_given(part)
    if not part["inputs"]:
        yield "Nothing in this scenario can be moved."
        return
    yield _count_first(part)
    yield _holds(part)
    yield _what_was_tried(part)
    yield from _changes(part)
    if part["left_out"]:
        told = "; ".join(f"{left['label']} ({left['why']})" for left in part["left_out"])
        yield f"Not moved: {told}."


def _as_given(part: Answer) -> str:
    given, target = part["given"], part["target"]
    rough = " Few years: read all numbers as rough." if part["rough"] else ""
    return (
        f"With all numbers as given, {part['cadence']}: {years_of(part)} "
        f"{percent(given['steadiness']['mean'])} of the weeks were met (target "
        f"{percent(target['steadiness'])}), the weakest week, that of "
        f"{iso(given['weakest_week']['week_of'])}, in {percent(given['weakest_week']['mean'])} of "
        f"the years (target {percent(target['weakest_week'])}, for each of {target['weeks']} "
        f"weeks). {_STANDS[given['standing']]}{rough}"
    )


_STANDS = {
    "meets": "It meets the target.",
    "misses": "It misses the target.",
    "too close": "Whether it meets the target is too close to call in so many years.",
}


def _count_first(part: Answer) -> str:
    given = part["given"]
    told = []
    for swing in part["inputs"]:
        end = max((swing["low"], swing["high"]), key=_move)
        if any(end[f"{m}_change"]["verdict"] == "real" for m in ("steadiness", "weakest_week")):
            told.append(
                f"if {_phrase(swing, end)}, "
                f"{percent(end['steadiness']['mean'])} of the weeks are met and the weakest week "
                f"in {percent(end['weakest_week']['mean'])} of the years"
            )
    if not told:
        return "No input moves the weeks met by more than noise within its range."
    return (
        f"Count these first: {'; '.join(told[:FIRST])}; as given "
        f"{percent(given['steadiness']['mean'])} and {percent(given['weakest_week']['mean'])}."
    )


def _move(end: Answer) -> tuple[float, float]:
    """How far the weakest week and the weeks met move."""
    return abs(end["weakest_week_change"]["mean"]), abs(end["steadiness_change"]["mean"])


def _phrase(swing: Answer, end: Answer) -> str:
    """Such as "ready heads keep 7 days instead of 10", or "about 30 % less than given"."""
    text: str = swing["phrase"].format(end["told"])
    if end["value"] is None:
        return f"{text} than given"
    return f"{text} instead of {_number(swing)}"


def _number(swing: Answer) -> str:
    """The number as given, without a unit that was just said."""
    return f"{swing['value']:g}" + (" %" if swing["unit"] == "%" else "")


def _moving_ends(part: Answer) -> list[tuple[Answer, Answer]]:
    """Each input with each of its ends that differs from what is given."""
    return [
        (swing, swing[side])
        for swing in part["inputs"]
        for side in ("low", "high")
        if swing[side]["moves"]
    ]


def _holds(part: Answer) -> str:
    ends = _moving_ends(part)
    missing = [_phrase(*pair) for pair in ends if pair[1]["standing"] == "misses"]
    count = {
        word: sum(end["standing"] == word for _, end in ends) for word in ("meets", "too close")
    }
    if count["meets"] == len(ends):
        return f"It meets the target at all {len(ends)} ends of the ranges, one input at a time."
    text = (
        f"One input at a time, at {len(ends)} ends of ranges: it meets the target at "
        f"{count['meets']}, misses it at {len(missing)}, and is too close to call at "
        f"{count['too close']}."
    )
    if part["given"]["standing"] == "misses":
        return text
    return f"{text} It misses if {_listed(missing)}." if missing else text


def _listed(ends: list[str]) -> str:
    more = f"; or at {len(ends) - MOST} more (below)" if len(ends) > MOST else ""
    return "; or if ".join(ends[:MOST]) + more


def _changes(part: Answer) -> Iterator[str]:
    """What another cadence would do better, where others were tried."""
    if not part["rivals"]:
        return
    letters = _letters(part)
    where: dict[tuple[str, str | None], list[str]] = {}
    states = [("all is as given", part["given"])]
    states += [(_phrase(swing, end), end) for swing, end in _moving_ends(part)]
    for words, state in states:
        if state["change"] != "not tried":
            where.setdefault((state["change"], state["instead"]), []).append(words)
    order = list(_CHANGES)
    for (change, instead), ends in sorted(where.items(), key=lambda item: order.index(item[0][0])):
        other = ""
        if instead:
            other = f"cadence {letters[instead]} ({instead.partition('; in breaks')[0]})"
        yield _CHANGES[change].format(instead=other, ends="; or if ".join(ends))


def _letters(part: Answer) -> dict[str | None, str]:
    """A letter for each other cadence."""
    return dict(zip(part["rivals"], ascii_uppercase, strict=False))


def _what_was_tried(part: Answer) -> str:
    letters = list(_letters(part).values())
    if not letters:
        return "No other cadence was tried beside it."
    other = f"cadence {letters[0]}"
    if len(letters) > 1:
        other = f"cadences {', '.join(letters[:-1])} and {letters[-1]}"
    rest = part["ends"] - part["ends_tried"]
    return (
        f"Tried beside it, with the numbers as given and at {part['ends_tried']} of the "
        f"{part['ends']} ends: {other} (below)."
        + (f" At {rest} {'end' if rest == 1 else 'ends'} nothing else was tried." if rest else "")
    )


def tables(part: Answer) -> list[Table]:
    """The swings, the other cadences, and the ranges with their reasons."""
    return [_swings_table(part), _rivals_table(part), _tried_table(part), _ranges_table(part)]


def _swings_table(part: Answer) -> Table:
    rows: list[tuple[str, ...]] = [("as given", *_cells(part["given"]))]
    for swing in part["inputs"]:
        rows.append((swing["label"], *[""] * 5))
        rows += [
            (f"  {_brief(swing, swing[side])}", *_cells(swing[side]))
            for side in ("low", "high")
            if swing[side]["moves"]
        ]
    headers = ("input, moved to", "met", "change", "weakest", "change", "target")
    under = (
        "Met: share of weeks met. Weakest: the week met in the fewest years, with its share of "
        "years. Changes are in points, from the numbers as given in the same simulated years, with "
        "95 % intervals; a change smaller than its interval could be noise. The seeding list stays "
        "as planned; one input moves at a time, for all crops and crews together. Target: misses "
        "if a share lies below it beyond noise (wrong for at most 5 in 100 cadences that just meet "
        "it), meets if it lies above, less 1 point of weeks met and 5 points of a week's years."
    )
    title = f"Each input moved over its range, each {years_of(part)}"
    return Table(title, headers, tuple(rows), under, (0,))


def _brief(swing: Answer, end: Answer) -> str:
    return end["told"] if end["value"] is None else f"{end['told']}, not {_number(swing)}"


def _cells(state: Answer) -> tuple[str, ...]:
    weak = state["weakest_week"]
    return (
        percent(state["steadiness"]["mean"]),
        _change(state.get("steadiness_change"), 1),
        f"{100 * weak['mean']:.0f} % {iso(weak['week_of'])[4:]}",
        _change(state.get("weakest_week_change"), 0),
        state["standing"],
    )


def _change(difference: Answer | None, digits: int) -> str:
    """A change in points with half its 95 % interval."""
    if difference is None:
        return ""
    mean, high = 100 * difference["mean"], difference["high"]
    if high is None:
        return f"{mean:+.{digits}f}"
    half = 100 * high - mean
    return "none" if mean == half == 0 else f"{mean:+.{digits}f} ±{half:.{digits}f}"


def _rivals_table(part: Answer) -> Table:
    """The cadence under test and the others, with the numbers as given."""
    given = part["given"]
    states = [("this one", part["cadence"], given)]
    states += [(_letters(part)[t["name"]], t["name"], t) for t in given["rivals"]]
    rows = tuple(
        (
            letter, name, percent(state["steadiness"]["mean"]),
            percent(state["weakest_week"]["mean"]), whole(state["wasted_plants"]["mean"]),
        )
        for letter, name, state in states
    )  # fmt: skip
    headers = ("", "cadence", "met", "weakest", "wasted")
    title = "Other cadences in the same simulated years, all numbers as given"
    return Table(title, headers, rows if given["rivals"] else (), "", (0, 1))


def _tried_table(part: Answer) -> Table:
    """How each cadence stands to the target wherever others were tried."""
    letters = _letters(part)
    states = [("as given", part["given"])]
    states += [(f"{s['label']}: {end['told']}", end) for s, end in _moving_ends(part)]
    rows = tuple(
        (
            where, _short(state), *(_short(tried) for tried in state["rivals"]),
            letters[state["instead"]] if state["instead"] else "-",
        )
        for where, state in states
        if state["rivals"]
    )  # fmt: skip
    headers = ("where", "this one", *letters.values(), "instead")
    under = (
        "Instead: of those that meet the target the one that wastes least, or else one that may "
        "do. --out DIR writes the shares and the wasted plants."
    )
    return Table("Would another cadence do?", headers, rows, under, (0,))


def _short(state: Answer) -> str:
    return "close" if state["standing"] == "too close" else str(state["standing"])


def _ranges_table(part: Answer) -> Table:
    rows = tuple((swing["key"], _range(swing), swing["why"]) for swing in part["inputs"])
    under = "Change a range when you have counted: --range heads-keep -10 10 for one of the keys."
    return Table("Assumed ranges", ("key", "moved by", "why"), rows, under, (0, 1, 2))


def _range(swing: Answer) -> str:
    low, high = swing["range"]
    return f"{low:+g} to {high:+g} {swing['range_unit']}"
