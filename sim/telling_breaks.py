"""What `seedbeat breaks` says, told to people in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from sim.telling import Answer, iso, percent, whole, years_of

FEW = 6  # days of cover that a sentence names one by one


def sentences(answer: Answer) -> Iterator[str]:
    """The worst closure, what helps, the other closures, a surprise week, what was compared."""
    closures = answer["closures"]
    if not closures:
        yield "The calendar of this run has no closure and no exam days."
    else:
        yield from _first(answer, closures[0])
        yield from (_next(answer, c) for c in closures[1:] if c["remedies_tried"])
        yield from _small(closures[1:])
    if any(c["remedies_tried"] for c in closures):
        yield (
            "A remedy holds if every week that the closure touches is complete in "
            f"{percent(answer['target']['weakest_week'])} of the years, or nearly as often as "
            "without it."
        )
    if answer["surprises"]:
        yield _surprise(answer)
    yield f"{answer['compared']} {answer['how_sure']}"


def _first(answer: Answer, c: Answer) -> Iterator[str]:
    lead = f"{called(c)}." if answer["asked"] else f"Worst closure: {called(c)}."
    if c["harm"]["share_of_years_hit"] == 0:
        yield f"{lead} Nothing is short because of it, {years_of(answer)}."
        return
    yield f"{lead} If nothing is done, {_heads(c['harm'])}. {_weeks(c['harm'])}"
    yield _dumped(c["harm"])
    if c["remedies_tried"]:
        yield _helps(answer, c)
        yield from _by_seeding(c)
    yield from _why(c)
    yield _stands(c)


def _next(answer: Answer, c: Answer) -> str:
    first = iso(c["harm"]["first_week_hit"], year=True)
    told = [
        f"Next: {called(c)}: {_heads(c['harm'])}; first short week: that of {first}.",
        _helps(answer, c),
        *_by_seeding(c),
    ]
    return " ".join(told)


def called(c: Answer) -> str:
    """A closure by name and dates."""
    first, last = c["first_day"], c["last_day"]
    start = f"{iso(first, year=first[:4] != last[:4])} to " if first != last else ""
    name = "Surprise closure" if c["kind"] == "surprise" else c["name"]
    return f"{name}, {start}{iso(last, year=True)}"


def _heads(harm: Answer) -> str:
    """Heads short in words, with the range of nine years in ten."""
    heads = harm["heads_short"]
    fewer = "fewer" if heads["mean"] < 0 else "more"
    return (
        f"{number(abs(heads['mean']))} heads {fewer} are short than without it "
        f"({between(heads)} in 9 of 10 years; {harm['verdict']})"
    )


def _weeks(harm: Answer) -> str:
    weeks = harm["weeks_hit"]
    first, last = iso(harm["first_week_hit_p05"]), iso(harm["first_week_hit_p95"])
    text = f"First short week: that of {iso(harm['first_week_hit'], year=True)}"
    text += "" if first == last else f" in a middling year ({first} to {last})"
    return f"{text}. In all, {weeks['mean']:.1f} weeks are short ({between(weeks)})."


def _dumped(harm: Answer) -> str:
    told = []
    for cause, plants in (("over-mature", "heads"), ("overgrown", "seedlings")):
        found = harm["dumped_by_cause"][cause]
        more = "more" if found["mean"] >= 0 else "fewer"
        told.append(f"{number(abs(found['mean']))} {cause} {plants} {more} ({between(found)})")
    return f"On the benches: {' and '.join(told)} are dumped than without it."


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
    text = "The scenario does nothing about it."
    if c["as_it_stands"] != c["harm"]:
        text = f"As the scenario stands, {_heads(c['as_it_stands'])}."
    acts, week = c["last_dates_to_act"], iso(c["seed_for_week_of"])
    if acts:
        told = ", ".join(f"{iso(a['day'], year=True)} ({a['crop']})" for a in acts)
        text += f" Last date to seed more for the week of {week}: {told}."
    return text


def _helps(answer: Answer, c: Answer) -> str:
    if c["nothing_holds"]:
        return "Nothing has to be done to keep the weeks that it touches complete often enough."
    best = remedy(c, c["best"])
    if best is None:
        return f"Nothing that was tried helps for sure ({answer['remedy_years']} years each)."
    lead = "What helps at least cost" if best["holds"] else "Nothing tried holds; what helps most"
    lead += f": {_told(best)}."
    return f"{lead} {_less(best)} than with nothing done. {_changes(best)}"


def _by_seeding(c: Answer) -> Iterator[str]:
    """What seeding otherwise can do, if that is not what helps best."""
    best = remedy(c, c["best_by_seeding"])
    if best and best["name"] != c["best"]:
        held = "" if best["holds"] else ", but does not hold"
        yield f"By seeding alone, {_told(best)} helps most{held}. {_less(best)}. {_changes(best)}"


def remedy(c: Answer, name: str | None) -> Answer | None:
    """What was tried under this name."""
    return next((r for r in c["remedies"] if r["name"] == name), None)


def _less(r: Answer) -> str:
    less = r["heads_short_less"]
    interval = between(less, "low", "high")
    told = f"{number(less['mean'])} heads fewer are short (95 % interval {interval}"
    return f"{told}; {less['verdict']})"


def _changes(r: Answer) -> str:
    changes = r["seeding_changes"]
    if not changes:
        return "The seeding list stays as it is."
    few = "1 seeding day changes" if len(changes) == 1 else f"{len(changes)} seeding days change"
    first = min(day for change in changes for day in (change["day"], change["to"]) if day)
    return f"{few}, the first on {iso(first, year=True)}."


def _told(r: Answer) -> str:
    """A remedy in words, with its days and person-hours."""
    name = f'the rule "{r["name"]}"' if r["kind"] == "break rule" else str(r["name"])
    if r["kind"] == "as it stands":
        name = "what the scenario does already"
    if r["days"]:
        name += f" ({_days(r['days'])}, from {_clock(r['starts'])})"
    return f"{name}, {r['person_hours']:g} person-hours" if r["person_hours"] else name


def _clock(text: str) -> str:
    """A clock time as people say it: "8:00 am"."""
    hour, minute = int(text[:2]), text[3:]
    return f"{(hour + 11) % 12 + 1}:{minute} {'am' if hour < 12 else 'pm'}"


def _days(days: Sequence[str]) -> str:
    if len(days) <= FEW:
        return ", ".join(iso(day) for day in days)
    weekdays = sorted({date.fromisoformat(day).weekday() for day in days})
    names = [next(f"{d:%a}" for d in map(date.fromisoformat, days) if d.weekday() == w)
             for w in weekdays]  # fmt: skip
    return f"{' '.join(names)}, {iso(days[0])} to {iso(days[-1])}"


def _small(closures: Sequence[Answer]) -> Iterator[str]:
    """The closures for which no remedies were tried."""
    rest = [c for c in closures if not c["remedies_tried"]]
    real = [c for c in rest if c["harm"]["verdict"] == "real"]
    if real:
        told = (f"{_brief(c)} {number(c['harm']['heads_short']['mean'])}" for c in real)
        yield f"Smaller, but real, in heads short: {'; '.join(told)}."
    noise = [c for c in rest if c["harm"]["verdict"] != "real"]
    if noise:
        yield f"No harm beyond what could be noise: {'; '.join(map(_brief, noise))}."


def _brief(c: Answer) -> str:
    return f"{c['name']} ({iso(c['first_day'])})"


def by_harm(answer: Answer) -> list[Answer]:
    """The surprise weeks, those with most heads short first."""
    found = answer["surprises"] or ()
    return sorted(found, key=lambda s: (-s["harm"]["heads_short"]["mean"], s["first_day"]))


def _surprise(answer: Answer) -> str:
    ranked = by_harm(answer)
    worst, best = ranked[0], ranked[-1]
    if number(worst["harm"]["heads_short"]["mean"]) == "0":
        return "A surprise week without anybody costs no heads, whenever it comes."
    return (
        "A surprise week without anybody (snow, storm) hurts most from "
        f"{iso(worst['first_day'], year=True)}: {_heads(worst['harm'])}; least from "
        f"{iso(best['first_day'], year=True)}: {number(best['harm']['heads_short']['mean'])}. "
        "Weeks whose intervals overlap may be equally bad. --surprise "
        f"{worst['first_day']} says what such a week catches, and what helps."
    )


def number(mean: float) -> str:
    """A count without decimals, and without a negative zero."""
    return whole(round(mean) or 0)


def between(estimate: Answer, low: str = "p05", high: str = "p95") -> str:
    """A range of counts."""
    return f"{number(estimate[low])} to {number(estimate[high])}"
