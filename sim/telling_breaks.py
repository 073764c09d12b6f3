"""What `seedbeat breaks` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, Table, iso, percent, whole, years_of

MOST = 5  # surprise weeks in the table, and seedings in a sentence
SOON = 12  # caught seedings in the table; the files hold all


def sentences(answer: Answer) -> Iterator[str]:
    """The worst closure, what helps, the other closures, a surprise week, what was compared."""
    closures = answer["closures"]
    if not closures:
        yield "The calendar of this run has no closure and no exam days."
    else:
        yield from _first(answer, closures[0])
        yield from (_next(answer, c) for c in closures[1:] if c["remedies_tried"])
        yield from _harmless(closures[1:])
    if any(c["remedies_tried"] for c in closures):
        yield (
            "A remedy holds if every week that the closure touches is complete in "
            f"{percent(answer['target']['weakest_week'])} of the years, or nearly as often as "
            "without it."
        )
    if answer["surprises"]:
        yield _surprise(answer)
    yield answer["compared"]


def _first(answer: Answer, c: Answer) -> Iterator[str]:
    lead = f"{_called(c)}." if answer["asked"] else f"Worst closure: {_called(c)}."
    if c["harm"]["share_of_years_hit"] == 0:
        yield f"{lead} Nothing is short because of it, {years_of(answer)}."
        return
    noise = "" if c["harm"]["verdict"] == "real" else ", which could be noise"
    yield (
        f"{lead} If nothing is done, {_heads(c['harm']['heads_short'])}{noise}"
        f"{_weeks(c['harm'])}. {_dumped(c['harm'])}"
    )
    yield from _why(c)
    yield _stands(c)
    if c["remedies_tried"]:
        yield _helps(answer, c)


def _next(answer: Answer, c: Answer) -> str:
    heads, stands = c["harm"]["heads_short"], c["as_it_stands"]["heads_short"]
    return (
        f"Next: {_called(c)}: {_heads(heads)}; as the scenario stands {_n(stands['mean'])}. "
        f"{_helps(answer, c)}"
    )


def _called(c: Answer) -> str:
    first = f"{iso(c['first_day'])} to " if c["first_day"] != c["last_day"] else ""
    return f"{c['name']}, {first}{iso(c['last_day'], year=True)}"


def _heads(heads: Answer) -> str:
    """Heads short in words, with the range of nine years in ten."""
    text = f"{_n(abs(heads['mean']))} heads {'fewer' if heads['mean'] < 0 else 'more'} are short"
    return f"{text} than without it ({_between(heads)} in 9 of 10 years)"


def _weeks(harm: Answer) -> str:
    weeks = harm["weeks_hit"]
    first, last = iso(harm["first_week_hit_p05"]), iso(harm["first_week_hit_p95"])
    text = f", in {weeks['mean']:.1f} weeks ({_between(weeks)}), the first of them that of "
    text += iso(harm["first_week_hit"], year=True)
    return text if first == last else f"{text} in a middling year ({first} to {last})"


def _dumped(harm: Answer) -> str:
    told = [
        f"{_n(abs(harm['dumped_by_cause'][cause]))} {cause} {plants} "
        f"{'more' if harm['dumped_by_cause'][cause] >= 0 else 'fewer'}"
        for cause, plants in (("over-mature", "heads"), ("overgrown", "seedlings"))
    ]
    return f"A mean year dumps {' and '.join(told)}."


def _why(c: Answer) -> Iterator[str]:
    """The seedings that the closure catches, first those that are lost."""
    names = {"lost": "are lost", "waits": "wait", "skipped": "are skipped"}
    count = {what: sum(s["what"] == what for s in c["seedings"]) for what in names}
    told = [f"{n} {names[what]}" for what, n in count.items() if n]
    if told:
        lost = [s for s in c["seedings"] if s["what"] == "lost"] or c["seedings"]
        yield (
            f"It catches {len(c['seedings'])} seedings: {', '.join(told)}. "
            f"{' '.join(_caught(s) for s in lost[:2])}"
        )


def _caught(s: Answer) -> str:
    few = s["trays"] == 1
    trays = f"The {'tray' if few else str(s['trays']) + ' trays'} of {iso(s['seeded'])}"
    if s["what"] == "skipped":
        return f"{trays} would be ready on {iso(s['ready'])}."
    due = f"{'is' if few else 'are'} due for {s['step']} on {iso(s['due'])}"
    then = f"until {iso(s['next_staffed'])}" if s["next_staffed"] else "any more in this run"
    late = ", longer than they keep" if s["what"] == "lost" else ""
    return f"{trays} {due}; nobody is there {then}{late}."


def _stands(c: Answer) -> str:
    text = f"As the scenario stands, {_heads(c['as_it_stands']['heads_short'])}."
    acts, week = c["last_dates_to_act"], iso(c["seed_for_week_of"])
    if acts:
        told = ", ".join(f"{iso(a['day'], year=True)} ({a['crop']})" for a in acts)
        text += f" Last date to seed for the week of {week} if nothing is done: {told}."
    return text


def _helps(answer: Answer, c: Answer) -> str:
    if c["nothing_holds"]:
        return "Nothing has to be done to keep the weeks that it touches complete often enough."
    best = next((r for r in c["remedies"] if r["name"] == c["best"]), None)
    if best is None:
        return f"Nothing that was tried helps for sure ({answer['remedy_years']} years each)."
    less, changes = best["heads_short_less"], len(c["seeding_changes"])
    lead = "What helps at least cost" if best["holds"] else "Nothing tried holds; what helps most"
    noise = "" if less["verdict"] == "real" else ", could be noise"
    text = f"{lead}: {_told(best)}. {_n(less['mean'])} heads less are short than with nothing done "
    text += f"(95 % interval {_between(less, 'low', 'high')}{noise}). "
    return text + (f"{changes} dated changes" if changes else "No change") + " to the seeding list."


def _told(r: Answer) -> str:
    """A remedy in words, with its days and person-hours."""
    name = f'the rule "{r["name"]}"' if r["kind"] == "break rule" else r["name"]
    if r["days"]:
        name += f" ({', '.join(iso(day) for day in r['days'])}, from {r['starts']})"
    return f"{name}, {r['person_hours']:g} person-hours" if r["person_hours"] else name


def _harmless(closures: list[Answer]) -> Iterator[str]:
    told = [
        f"{c['name']} ({iso(c['first_day'])})" for c in closures if c["harm"]["verdict"] != "real"
    ]
    if told:
        yield f"No harm beyond what could be noise: {'; '.join(told)}."


def _by_harm(answer: Answer) -> list[Answer]:
    found = answer["surprises"] or ()
    return sorted(found, key=lambda s: (-s["harm"]["heads_short"]["mean"], s["first_day"]))


def _surprise(answer: Answer) -> str:
    ranked = _by_harm(answer)
    worst, best = ranked[0], ranked[-1]
    if _n(worst["harm"]["heads_short"]["mean"]) == "0":
        return "A surprise week without anybody costs no heads, whenever it comes."
    return (
        "A surprise week without anybody (snow, storm) hurts most from "
        f"{iso(worst['first_day'], year=True)}: {_heads(worst['harm']['heads_short'])}; least from "
        f"{iso(best['first_day'], year=True)}: {_n(best['harm']['heads_short']['mean'])}. Weeks "
        "whose intervals overlap may be equally bad."
    )


def tables(answer: Answer) -> list[Table]:
    """The closures by harm, what they catch, what helps, changes of the list, surprise weeks."""
    closures = answer["closures"]
    tried = [c for c in closures if c["remedies_tried"]]
    found = [_ranked(answer), _benches(closures), *(_remedies(answer, c) for c in tried)]
    found += [*map(_seedings, closures[:1]), *map(_changes, tried[:1]), _surprises(answer)]
    return [table for table in found if table.rows]


def _ranked(answer: Answer) -> Table:
    rows = []
    for c in answer["closures"]:
        harm, heads = c["harm"], c["harm"]["heads_short"]
        rows.append((
            c["name"], _day(c["first_day"]), _n(heads["mean"]), _between(heads),
            f"{harm['weeks_hit']['mean']:.1f}", _day(harm["first_week_hit"]),
            _n(c["as_it_stands"]["heads_short"]["mean"]),
        ))  # fmt: skip
    under = (
        f"More than without the closure, {years_of(answer)}. weeks: in which more are short; "
        "first: the Monday of the first, in a middling year; stands: as the scenario stands."
    )
    headers = ("closure", "from", "heads", "5-95 %", "weeks", "first", "stands")
    title = "Heads short if nothing is done, the worst closure first"
    return Table(title, headers, tuple(rows), under)


def _n(number: float) -> str:
    """A count without decimals, and without a negative zero."""
    return whole(round(number) or 0)


def _between(estimate: Answer, low: str = "p05", high: str = "p95") -> str:
    return f"{_n(estimate[low])} to {_n(estimate[high])}"


def _day(text: str | None) -> str:
    """A date without its weekday, where there is little room: "Dec 21"."""
    return iso(text)[4:] if text else "-"


def _benches(closures: list[Answer]) -> Table:
    rows = []
    for c in closures:
        dumped, causes = c["harm"]["plants_dumped"], c["harm"]["dumped_by_cause"]
        rows.append((
            c["name"], _day(c["first_day"]), _n(causes["over-mature"]), _n(causes["overgrown"]),
            _n(dumped["mean"]), _between(dumped),
        ))  # fmt: skip
    headers = ("closure", "from", "over-mature", "overgrown", "plants", "5-95 %")
    under = (
        "over-mature heads and overgrown seedlings are means, plants are all that is dumped. "
        "Negative: fewer than without the closure, because fewer were seeded or moved."
    )
    return Table("Plants dumped more if nothing is done", headers, tuple(rows), under)


def _remedies(answer: Answer, c: Answer) -> Table:
    rows = []
    for r in c["remedies"]:
        less, dumped = r["heads_short_less"], r["plants_dumped_more"]
        rows.append((
            ("* " if r["name"] == c["best"] else "") + _short_name(r),
            f"{r['person_hours']:g}", str(r["trays_more"]), _n(r["heads_short"]["mean"]),
            f"{r['weeks_hit']['mean']:.1f}",
            _n(less["mean"]) + (" ?" if less["verdict"] == "could be noise" else ""),
            _n(dumped["mean"]), "yes" if r["holds"] else "no",
        ))  # fmt: skip
    headers = ("what is done", "h", "trays", "heads", "weeks", "less", "dumped", "holds")
    title = f"What helps against {c['name']}, from {iso(c['first_day'])}"
    return Table(title, headers, tuple(rows), _under_remedies(answer, c))


def _short_name(r: Answer) -> str:
    name = str(r["name"])
    if r["kind"] == "break rule":
        return f"rule: {name}"
    return name.replace(" seeding day", " day").removesuffix(" before")


def _under_remedies(answer: Answer, c: Answer) -> str:
    tried, hours = answer["tried"], ", ".join(str(h) for h in answer["tried"]["cover_hours"])
    paused = next((r["heads_paused"] for r in c["remedies"] if r["kind"] == "pause"), 0)
    text = (
        f"{answer['remedy_years']} years each. h: person-hours; heads short, weeks: more than "
        "without the closure; less: heads short less than with nothing done (?: could be noise, "
        "else real); trays, plants dumped: more than with nothing done; holds: every week touched "
        "keeps to the target; *: least cost that holds, or what helps most. A rule is applied to "
        f"this closure alone. Cover, on 1 to {tried['cover_days_a_week']} days a week: the fewest "
        f"of {hours} hours that held in as many other years."
    )
    text += f" If all orders pause, {whole(paused)} heads fewer are ordered." if paused else ""
    same = ", ".join(c["no_change"])
    return f"{text} Nothing is done under the rules: {same}." if same else text


def _seedings(c: Answer) -> Table:
    rows = tuple(
        (
            iso(s["seeded"]), f"{s['trays']} {s['crop']}", s["step"], iso(s["due"]),
            _day(s["next_staffed"]), s["what"], _day(s["ready"]),
        )
        for s in c["seedings"][:SOON]
    )  # fmt: skip
    more = len(c["seedings"]) - len(rows)
    under = "there: the next day with somebody there; ready: its heads, if no step had to wait."
    under += f" {more} more are in the files (--out)." if more else ""
    headers = ("seeded", "trays", "due for", "on", "there", "plants", "ready")
    title = f"Seedings that {c['name']} catches if nothing is done"
    return Table(title, headers, rows, under, text_columns=tuple(range(7)))


def _changes(c: Answer) -> Table:
    rows = tuple(
        (iso(s["day"]), s["what"], f"{s['trays']} {s['crop']}", _day(s["to"]))
        for s in c["seeding_changes"]
    )
    title = f"Changes to the seeding list for: {c['best']}"
    return Table(title, ("day", "do", "trays", "to"), rows, text_columns=(0, 1, 2, 3))


def _surprises(answer: Answer) -> Table:
    ranked = _by_harm(answer)
    shown = ranked if len(ranked) <= MOST + 1 else [*ranked[:MOST], ranked[-1]]
    rows = []
    for s in shown:
        heads, weeks = s["harm"]["heads_short"], s["harm"]["weeks_hit"]
        rows.append((
            iso(s["first_day"]), _n(heads["mean"]), _between(heads, "low", "high"),
            _between(heads), f"{weeks['mean']:.1f}", _day(s["harm"]["first_week_hit"]),
        ))  # fmt: skip
    title = f"A surprise week without anybody: the {MOST} worst times, and the best one below"
    headers = ("from", "heads short", "95 % interval", "5-95 % of years", "weeks", "first")
    under = f"{answer['surprise_years']} years each of {len(ranked)} weeks."
    return Table(title, headers, tuple(rows), under)
