"""The tables of `seedbeat breaks`."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, Table, iso, whole, years_of
from sim.telling_breaks import between, by_harm, number, remedy

MOST = 5  # surprise weeks in the table
SOON = 12  # caught seedings and changes in a table; the files hold all


def tables(answer: Answer) -> list[Table]:
    """The closures by harm, what helps, changes of the list, what is caught, surprise weeks."""
    closures = answer["closures"]
    tried = [c for c in closures if c["remedies_tried"]]
    found = [_ranked(answer), _benches(closures)]
    for c in tried:
        found += [_remedies(c, _keys(answer) if c is tried[0] else ""), *_changes(c)]
    found += [*map(_seedings, closures[:1]), _surprises(answer)]
    return [table for table in found if table.rows]


def _ranked(answer: Answer) -> Table:
    rows = []
    for c in answer["closures"]:
        harm, heads = c["harm"], c["harm"]["heads_short"]
        rows.append((
            c["name"], _day(c["first_day"]), _marked(number(heads["mean"]), harm["verdict"]),
            between(heads), f"{harm['weeks_hit']['mean']:.1f}", _day(harm["first_week_hit"]),
            number(c["as_it_stands"]["heads_short"]["mean"]),
        ))  # fmt: skip
    under = (
        f"More than without the closure, {years_of(answer)} (?: could be noise, else real). weeks: "
        "in which more are short; first: the Monday of the first, in a middling year; stands: as "
        "the scenario stands."
    )
    headers = ("closure", "from", "heads", "5-95 %", "weeks", "first", "stands")
    title = "Heads short if nothing is done, the worst closure first"
    return Table(title, headers, tuple(rows), under)


def _marked(told: str, verdict: str) -> str:
    return f"{told} ?" if verdict == "could be noise" else told


def _day(text: str | None) -> str:
    """A date without its weekday, where there is little room: "Dec 21"."""
    return iso(text)[4:] if text else "-"


def _benches(closures: list[Answer]) -> Table:
    names = [c["name"] for c in closures]
    rows = []
    for c in closures:
        day = f" {_day(c['first_day'])}" if names.count(c["name"]) > 1 else ""
        causes = c["harm"]["dumped_by_cause"]
        heads, seedlings = (causes[cause] for cause in ("over-mature", "overgrown"))
        rows.append((f"{c['name']}{day}", *_three(heads), *_three(seedlings)))
    under = (
        "A mean year, and 5 % and 95 % of years. Negative: fewer than without the closure, because "
        "fewer were seeded or moved."
    )
    headers = ("closure", "over-mature\nheads", "5 %", "95 %", "overgrown\nseedlings", "5 %",
               "95 %")  # fmt: skip
    return Table("Plants dumped more if nothing is done", headers, tuple(rows), under)


def _three(estimate: Answer) -> tuple[str, ...]:
    return tuple(number(estimate[part]) for part in ("mean", "p05", "p95"))


def _remedies(c: Answer, keys: str) -> Table:
    rows = []
    for r in c["remedies"]:
        less, dumped = r["heads_short_less"], r["plants_dumped_more"]
        rows.append((
            ("* " if r["name"] == c["best"] else "") + _short_name(r),
            f"{r['person_hours']:g}", str(r["trays_more"]), number(r["heads_short"]["mean"]),
            f"{r['weeks_hit']['mean']:.1f}", _marked(number(less["mean"]), less["verdict"]),
            number(dumped["mean"]), "yes" if r["holds"] else "no",
        ))  # fmt: skip
    headers = ("what is done", "h", "trays", "heads", "weeks", "less", "dumped", "holds")
    title = f"What helps against {_of(c)}"
    return Table(title, headers, tuple(rows), " ".join([keys, *_of_this(c)]).strip())


def _of(c: Answer) -> str:
    name = "a surprise closure" if c["kind"] == "surprise" else c["name"]
    return f"{name}, from {iso(c['first_day'])}"


def _short_name(r: Answer) -> str:
    name = str(r["name"])
    if r["kind"] == "break rule":
        return f"rule: {name}"
    name = name.removesuffix(" before").removesuffix(" after")
    name = name.replace(" seeding day", " day").removeprefix("seeding the ")
    return name.replace(" on the first day back", " late")


def _keys(answer: Answer) -> str:
    """What the columns of a table of remedies mean."""
    tried, hours = answer["tried"], ", ".join(str(h) for h in answer["tried"]["cover_hours"])
    return (
        f"{answer['remedy_years']} years each. h: person-hours; heads short, weeks: more than "
        "without the closure; less: heads short less than with nothing done (?: could be noise, "
        "else real); trays, plants dumped: more than with nothing done; holds: every week touched "
        "keeps to the target; *: least cost that holds, or what helps most. A rule is applied to "
        f"this closure alone. Cover, on 1 to {tried['cover_days_a_week']} days a week: the fewest "
        f"of {hours} hours that held in as many other years."
    )


def _of_this(c: Answer) -> Iterator[str]:
    """What is to be said of the remedies of one closure."""
    paused = next((r["heads_paused"] for r in c["remedies"] if r["kind"] == "pause"), 0)
    if paused:
        yield f"If all orders pause, {whole(paused)} heads fewer are ordered."
    if c["no_change"]:
        yield f"Nothing is done under the rules: {', '.join(c['no_change'])}."


def _changes(c: Answer) -> Iterator[Table]:
    """The dated changes of what helps best, and of what helps most by the seeding list alone."""
    for name in dict.fromkeys((c["best"], c["best_by_seeding"])):
        found = remedy(c, name)
        if found is None:
            continue
        changes = found["seeding_changes"]
        rows = tuple(
            (iso(s["day"]), s["what"], f"{s['trays']} {s['crop']}", _day(s["to"]))
            for s in changes[:SOON]
        )
        title = f"{c['name']}: changes to the seeding list for: {name}"
        headers, under = ("day", "do", "trays", "to"), _more(changes)
        yield Table(title, headers, rows, under, text_columns=(0, 1, 2, 3))


def _more(listed: list[Answer]) -> str:
    more = len(listed) - SOON
    return f"{more} more are in the files (--out)." if more > 0 else ""


def _seedings(c: Answer) -> Table:
    rows = tuple(
        (
            iso(s["seeded"]), f"{s['trays']} {s['crop']}", s["step"], iso(s["due"]),
            _day(s["next_staffed"]), s["what"], _day(s["ready"]),
        )
        for s in c["seedings"][:SOON]
    )  # fmt: skip
    under = "there: the next day with somebody there; ready: its heads, if no step had to wait."
    headers = ("seeded", "trays", "due for", "on", "there", "plants", "ready")
    title = f"Seedings that {_of(c)}, catches if nothing is done"
    under = f"{under} {_more(c['seedings'])}".rstrip()
    return Table(title, headers, rows, under, text_columns=tuple(range(7)))


def _surprises(answer: Answer) -> Table:
    ranked = by_harm(answer)
    if not any(s["harm"]["share_of_years_hit"] for s in ranked):
        ranked = []
    shown = ranked if len(ranked) <= MOST + 1 else [*ranked[:MOST], ranked[-1]]
    rows = []
    for s in shown:
        heads, causes = s["harm"]["heads_short"], s["harm"]["dumped_by_cause"]
        rows.append((
            iso(s["first_day"]), number(heads["mean"]), between(heads, "low", "high"),
            between(heads), f"{s['harm']['weeks_hit']['mean']:.1f}",
            *(number(causes[cause]["mean"]) for cause in ("over-mature", "overgrown")),
        ))  # fmt: skip
    title = f"A surprise week without anybody: the {MOST} worst times, and the best one below"
    headers = (
        "from", "heads", "95 % interval", "5-95 %", "weeks", "over-\nmature", "over-\ngrown"
    )  # fmt: skip
    under = (
        f"{answer['surprise_years']} years each of {len(ranked)} weeks; all are in the files. "
        "heads: short more than without it; weeks: in which more are short; over-mature heads and "
        "overgrown seedlings: dumped more, means."
    )
    return Table(title, headers, tuple(rows), under)
