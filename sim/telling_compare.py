"""What `seedbeat compare` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, Table, iso, percent, whole
from sim.telling import endings as other_endings

NAMES = {
    "unit_fill_rate": "heads delivered",
    "order_fill_rate": "orders complete",
    "steadiness": "weeks met",
    "weakest_week": "weakest week met",
    "bench_fill": "sites filled",
    "useful_bench_share": "... and delivered",
    "heads_per_week": "heads a week",
    "wasted_plants": "plants dumped",
    "labor_use": "minutes worked",
}
COUNTS = ("heads_per_week", "wasted_plants")
SPOKEN = {  # more, fewer, what it is called, and its unit
    "steadiness": (
        "delivers more complete weeks", "delivers fewer complete weeks", "Complete weeks", ""
    ),
    "heads_per_week": ("delivers more heads", "delivers fewer heads", "Heads delivered", " a week"),
    "wasted_plants": ("wastes more good plants", "wastes fewer good plants", "Wasted", " a year"),
}  # fmt: skip
MOST_WEEKS = 8  # on the screen; the files hold all


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `compare`."""
    yield _who(answer)
    by_letter = {s["letter"]: s for s in answer["scenarios"]}
    for pair in answer["comparisons"]:
        a, b = by_letter[pair["less"]], by_letter[pair["scenario"]]
        if pair["not_like_for_like"]:
            yield "Not like for like. " + " ".join(pair["not_like_for_like"])
        yield " ".join(_pair(a, b, pair))
    yield _how_sure(answer)


def _who(answer: Answer) -> str:
    told = [
        f"{s['letter']} is {s['scenario']} "
        f"({s['file'] if s['label'] == s['scenario'] else s['label']})"
        for s in answer["scenarios"]
    ]
    return "; ".join(told) + "."


def _pair(a: Answer, b: Answer, pair: Answer) -> Iterator[str]:
    changes = pair["differences"]
    if all(c["verdict"] in ("the same", "no number") for c in changes.values()):
        yield (
            f"{b['letter']} and {a['letter']} are the same: no measure differs in any of the "
            f"{changes['steadiness']['years']:,} years."
        )
        return
    if changes["steadiness"]["verdict"] == "no number":
        yield "No delivery is due in the measured weeks of one of them, so no week can be met."
    else:
        yield _spoken(a, b, "steadiness", changes["steadiness"])
        yield _weakest(a, b, changes["weakest_week"])
    for measure in COUNTS:
        yield _spoken(a, b, measure, changes[measure])
    real = [w for w in pair["weeks"] if w["verdict"] == "real"]
    if real:
        yield _largest(a, b, real)


def _spoken(a: Answer, b: Answer, measure: str, change: Answer) -> str:
    """One measure in a sentence, by verdict."""
    more, fewer, noun, unit = SPOKEN[measure]
    show = whole if measure in COUNTS else percent
    mine, first = (show(s["measures"][measure]["mean"]) + unit for s in (b, a))
    if change["verdict"] == "the same":
        return f"{noun}: {mine}, in each year as many as in {a['letter']}."
    told = f"{mine} against {first}, {_sure(measure, change)}."
    if change["verdict"] == "real":
        verb = more if change["mean"] > 0 else fewer
        return f"{b['letter']} {verb} than {a['letter']}: {told}"
    return f"{noun} of {b['letter']} and {a['letter']}: {told}"


def _weakest(a: Answer, b: Answer, change: Answer) -> str:
    mine, first = (
        f"of {iso(s['weakest_week_of'])}, {{}}in {percent(s['measures']['weakest_week']['mean'])}"
        for s in (b, a)
    )
    return (
        f"{b['letter']}'s weakest week, {mine.format('is met ')} of the years; {a['letter']}'s, "
        f"{first.format('')}: {_sure('weakest_week', change)}."
    )


def _largest(a: Answer, b: Answer, weeks: list[Answer]) -> str:
    week = max(weeks, key=_apart)
    many = f"{len(weeks)} differences are real, the largest in"
    return (
        f"Single weeks: {many if len(weeks) > 1 else 'one difference is real,'} the week of "
        f"{iso(week['week_of'])}, met in {percent(week['share_other'])} of the years by "
        f"{b['letter']} and in {percent(week['share_first'])} by {a['letter']}."
    )


def _apart(week: Answer) -> float:
    return float(abs(week["share_other"] - week["share_first"]))


def _how_sure(answer: Answer) -> str:
    error = answer["error"]
    told = (
        f"How sure: all scenarios meet the same {answer['years']:,} years, with the same growing "
        "times, losses and absences, so that differences are taken year by year. In brackets are "
        '95 % intervals. "Real" asks for more: zero lies outside a wider interval, for which the '
        f"{error['shared_by']} differences share an error of "
        f'{100 * error["of_all_verdicts"]:.0f} % ({error["method"]}). Anything else "could be '
        'noise".'
    )
    if answer["rough"]:
        told += " With so few years all of these are rough: give more --years."
    if _rarely(answer):
        told += (
            ' "The same" means in each of these years; what happens in fewer than about 1 of '
            f"{answer['years'] / 3:,.0f} years may not have shown."
        )
    return told


def _rarely(answer: Answer) -> bool:
    """Whether scenarios that are not the same have measures that were the same in every year."""
    hashes = {s["letter"]: s["scenario_hash"] for s in answer["scenarios"]}
    return any(
        change["verdict"] == "the same"
        for pair in answer["comparisons"]
        if hashes[pair["scenario"]] != hashes[pair["less"]]
        for change in pair["differences"].values()
    )


def _sure(measure: str, change: Answer) -> str:
    """A difference with its interval and verdict: "+3.1 points (+2.6 to +3.7), real"."""
    mean, low, high = _signed(measure, change)
    unit = "" if measure in COUNTS else " points"
    if change["same_in_every_year"]:
        return f"{mean}{unit} in every year, {change['verdict']}"
    return f"{mean}{unit} ({low} to {high}), {change['verdict']}"


def _signed(measure: str, change: Answer) -> list[str]:
    """Mean and interval with their signs, in points or counts, small means with more decimals."""
    times = 1.0 if measure in COUNTS else 100.0
    numbers = [times * change[key] for key in ("mean", "low", "high")]
    size = abs(numbers[0])
    decimals = 0 if size >= 10 and measure in COUNTS else 1 if size >= 0.1 or size == 0 else 2
    return [f"{number:+,.{decimals}f}" if number else "0" for number in numbers]


def tables(answer: Answer) -> list[Table]:
    """The tables of `compare`: measures and weeks for each pair, and all weakest weeks."""
    found = []
    by_letter = {s["letter"]: s for s in answer["scenarios"]}
    for pair in answer["comparisons"]:
        a, b = by_letter[pair["less"]], by_letter[pair["scenario"]]
        found += [_measures_table(answer, a, b, pair), _weeks_table(a, b, pair)]
    return [*found, _weakest_table(answer)]


def _measures_table(answer: Answer, a: Answer, b: Answer, pair: Answer) -> Table:
    rows = []
    for name, told in NAMES.items():
        change = pair["differences"][name]
        show = whole if name in COUNTS else percent
        mine = [show(s["measures"][name]["mean"]) for s in (a, b)]
        rows.append((told, *mine, *_cells(name, change)))
    headers = (
        "measure", a["letter"], b["letter"], f"{b['letter']} - {a['letter']}", "95 % interval",
        "verdict",
    )  # fmt: skip
    under = (
        "Shares are of each scenario's own orders, sites and staffed minutes, and differ by points."
    )
    title = f"Measures: {b['letter']} beside {a['letter']}, {answer['years']:,} years of each"
    return Table(title, headers, tuple(rows), under, (0, 5))


def _cells(name: str, change: Answer) -> tuple[str, str, str]:
    if change["verdict"] == "no number":
        return "-", "-", "no number"
    mean, low, high = _signed(name, change)
    span = "in every year" if change["same_in_every_year"] else f"{low} to {high}"
    judged = f", {change['direction']}" if change["direction"] else ""
    return mean, span, change["verdict"] + judged


def _weeks_table(a: Answer, b: Answer, pair: Answer) -> Table:
    """The weeks whose shares of years differ most."""
    apart = [w for w in pair["weeks"] if _apart(w) > 0]
    most = sorted(apart, key=lambda w: (-_apart(w), w["week_of"]))[:MOST_WEEKS]
    rows = tuple(
        (
            iso(w["week_of"], year=True), percent(w["share_first"]), percent(w["share_other"]),
            f"{100 * (w['share_other'] - w['share_first']):+.1f}",
            f"{w['years_only_first']:,}", f"{w['years_only_other']:,}", w["verdict"],
        )
        for w in sorted(most, key=lambda w: str(w["week_of"]))
    )  # fmt: skip
    one, two = a["letter"], b["letter"]
    headers = ("week of", one, two, f"{two} - {one}", f"{one} only", f"{two} only", "verdict")
    under = (
        f"Shares of years in which the week is met, and years in which {one} only or {two} only "
        f"meets it; {len(rows)} of {len(apart)} weeks that differ. The largest of many differences "
        "look larger than they are; for the verdicts all weeks share an error of 5 % (sign test)."
    )
    return Table(f"Weeks that differ most: {two} beside {one}", headers, rows, under, (0, 6))


def _weakest_table(answer: Answer) -> Table:
    rows = []
    for s in answer["scenarios"]:
        found = s["measures"]["weakest_week"]
        if s["weakest_week_of"]:
            span = f"{percent(found['low'])} to {percent(found['high'])}".replace(" % to", " to")
            rows.append(
                (s["letter"], iso(s["weakest_week_of"], year=True), percent(found["mean"]), span)
            )
    under = (
        "The lowest of many estimated weeks looks lower than it is, and these intervals do not "
        f"count that. The intervals of differences, from {answer['resamples']:,} resamplings of "
        "the years, do; they are still somewhat too narrow in under 100 years, or where one of two "
        "scenarios has many weeks about as weak."
    )
    headers = ("", "weakest week", "years met", "95 % interval")
    return Table("Each scenario's weakest week", headers, tuple(rows), under, (0, 1))


def endings(answer: Answer) -> list[str]:
    """What was assumed, what the calendars left open, and the cautions, each once."""
    assumed = [row["of"].split(", ") for row in answer["assumed"]]
    counts = {s["file"]: sum(s["letter"] in of for of in assumed) for s in answer["scenarios"]}
    told = [
        f"{count} number{'s' if count > 1 else ''} assumed until you count: seedbeat check {file} "
        f"lists {'them' if count > 1 else 'it'}."
        for file, count in counts.items()
        if count
    ]
    return [*told, *other_endings({**answer, "assumed": []})]
