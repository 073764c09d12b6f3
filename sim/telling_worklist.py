"""What `seedbeat worklist` says, told to people; the page and the files use the same words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time

from sim.telling import Answer, Table, iso, whole, years_of

MOST = 5  # lists that do not fit, or deliveries that may be short, told in a sentence
MOSTLY = 0.9  # share of the years from which a task counts as always there
_WORDS = {"exam": "exam day", "early release": "early release", "closed": "no school"}


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `worklist`: what first, how to read the list, what is in the way."""
    yield start_with(answer)
    yield HOW_TO
    yield how_sure(answer)
    yield fits(answer)
    yield from shortages(answer)


HOW_TO = (
    "In each period take the list from the top, the most urgent first. Tick what is done and "
    'write down what you counted; note "ready" where a batch is first seen ready. What is left '
    "over goes on to the next period."
)


def start_with(answer: Answer) -> str:
    """The first thing to do in the week."""
    for day in answer["days"]:
        for shift in day["shifts"]:
            for task in shift["tasks"]:
                start = f"{iso(day['day'])}, {period(shift)}"
                return f"Start with: {start}. {what(task, day)}."
        for d in day["deliveries"]:
            return f"Start with: {iso(day['day'])}. {delivery(d)} at {clock(d['leaves'])}."
    text = f"Nothing is to be done in the week of {iso(answer['week_of'], year=True)}."
    if answer["next_week"]:
        text += f" The next week with work is that of {iso(answer['next_week'], year=True)}."
    return text


def how_sure(answer: Answer) -> str:
    """Where the numbers come from, and what "26 of 40" means."""
    years = answer["years"]
    some = f'"{max(1, round(0.65 * years))} of {years}, then 500"'
    return (
        f"Numbers are averages {years_of(answer)}. Plants are ready a few days earlier or later, "
        f"so work moves between periods: {some} says that it came up in this period in so many "
        "of the years, and how much it then was. Minutes are person-minutes (people times "
        "minutes): estimates, not quotas."
    )


def fits(answer: Answer) -> str:
    """Whether every list fits its minutes, and which do not."""
    shifts = [(day, shift) for day in answer["days"] for shift in day["shifts"] if shift["crew"]]
    over = [
        f"{iso(day['day'])}, {period(shift)} ({_of(shift)})"
        for day, shift in shifts
        if shift["over"]
    ]
    if over:
        return f"More work than person-minutes: {_listed(over)}."
    if not shifts:
        return "Nobody is named for this week's work, so there are no person-minutes to compare."
    return "Every list fits the person-minutes of its period."


def _listed(items: list[str]) -> str:
    more = f"; and {len(items) - MOST} more, marked below" if len(items) > MOST else ""
    return "; ".join(items[:MOST]) + more


def _of(shift: Answer) -> str:
    return f"{whole(shift['wanted'])} of {whole(shift['staffed'])}"


def too_much(shift: Answer) -> str:
    """The flag of a list that does not fit."""
    return f"more work than minutes: {_of(shift)} person-minutes"


def shortages(answer: Answer) -> Iterator[str]:
    """Deliveries that were short in some of the years."""
    years = answer["years"]
    short = [
        f"{d['customer']}, {iso(day['day'])}: {whole(d['ordered'] - d['heads'])} of "
        f"{whole(d['ordered'])} heads of {d['crop']}, complete in {d['complete']} of {years} years"
        for day in answer["days"]
        for d in day["deliveries"]
        if d["ordered"] is not None and d["ordered"] - d["heads"] >= 0.5
    ]
    if short:
        yield f"May be short (heads missing on average): {_listed(short)}."


def tables(answer: Answer) -> list[Table]:
    """A table for each day with something to do."""
    return [_day_table(day, answer["years"]) for day in answer["days"] if day["busy"]]


def _day_table(day: Answer, years: int) -> Table:
    rows: list[tuple[str, ...]] = []
    for shift in day["shifts"]:
        name = period(shift)
        for task in shift["tasks"]:
            rows.append((name, what(task, day), minutes(task), comes_up(task, years)))
            name = ""
        if shift["over"]:
            rows.append((name, too_much(shift).capitalize(), "", ""))
    for d in day["deliveries"]:
        rows.append((f"{clock(d['leaves'])} leaves", delivery(d), "", ""))
    headers = ("when, who", "what", "minutes", "comes up in")
    return Table(day_title(day), headers, tuple(rows), come_over(day), (0, 1, 3))


def day_title(day: Answer) -> str:
    """A day with what is special about it: "Wed Nov 11: no school (Veterans Day)"."""
    title, special = iso(day["day"]), _WORDS.get(day["kind"], "")
    closure = day["closure"]
    if not closure:
        return f"{title}: {special}" if special and special != _WORDS["closed"] else title
    if special in closure.lower():
        return f"{title}: {closure}"
    return f"{title}: {special} ({closure})"


def clock(text: str) -> str:
    """A clock time as people say it, "9:40 am", from an ISO time or date and time."""
    at = datetime.fromisoformat(text).time() if "-" in text else time.fromisoformat(text)
    return f"{at.hour % 12 or 12}:{at:%M} {'am' if at.hour < 12 else 'pm'}"


def hours(shift: Answer) -> str:
    """From when to when: "9:40 to 10:28 am"; what needs nobody has no hours."""
    if not shift["starts"]:
        return "any time"
    start, end = clock(shift["starts"]), clock(shift["ends"])
    return f"{start.removesuffix(end[-3:])} to {end}"


def who(shift: Answer) -> str:
    """Which crew, in which period: "class, period 1"."""
    if not shift["crew"]:
        return "no crew named"
    return f"{shift['crew']}, {shift['name']}" if shift["name"] else str(shift["crew"])


def period(shift: Answer) -> str:
    """When and who."""
    return f"{hours(shift)}, {who(shift)}"


def many(number: float, word: str) -> str:
    """A count with its word: "1 tray", "23 channels"; a mean of almost nothing is "under 1"."""
    near = int(number + 0.5)
    if near > 1:
        return f"{whole(near)} {plural(word)}"
    return f"1 {word}" if near else f"under 1 {word}"


def plural(word: str) -> str:
    """More than one of a kind of container or plant."""
    return f"{word}es" if word.endswith(("s", "x", "ch", "sh")) else f"{word}s"


def minutes(task: Answer) -> str:
    """Person-minutes of a task; nothing if it needs nobody."""
    return whole(task["minutes"]) if task["task"] else ""


def comes_up(task: Answer, years: int) -> str:
    """In how many years it came up, and how much it then was if that is not always."""
    text = f"{task['years']} of {years}"
    if task["years"] >= MOSTLY * years:
        return text
    return f"{text}, then {whole(task['amount'] * years / task['years'])}"


def batch(task: Answer) -> str:
    """A batch as people know it: crop and seeding date, a number if there are two that day."""
    number = task["batch"].removeprefix(f"{task['crop']} {task['seeded']}")
    return f"{task['crop']} seeded {iso(task['seeded'])}{number}"


def what(task: Answer, day: Answer) -> str:
    """What is to be done, and how much of it."""
    kind, count = task["kind"], many(task["amount"], task["unit"])
    if kind == "seeded":
        today = task["seeded"] == day["day"]
        planned = f"{task['trays']} planned {'' if today else 'for '}"
        return f"Seed {count} of {task['crop']} ({planned}{_on(task['seeded'], day)})"
    if kind == "moved":
        to = _things(task["to"], task["container"], task["containers"])
        return f"Move {count} of {batch(task)} from {task['place']} to {to}"
    if kind == "harvested":
        return f"Harvest {count} of {task['crop']}{_from(task)}{_for(task, day)}"
    if kind == "checked":
        return "Do the daily checks"
    things = _things(task["place"], task["container"], task["amount"])
    return (
        f"Wash and sanitize {things}" if kind == "washed" else f"Clear dumped plants from {things}"
    )


def _things(place: str, container: str, number: float) -> str:
    """Containers of a place: "5 channels", or "6 rafts in the pond"."""
    things = many(number, container)
    return things if plural(container) == place else f"{things} in {place}"


def _on(day: str, today: Answer) -> str:
    return "today" if day == today["day"] else iso(day)


def main_batches(task: Answer) -> list[Answer]:
    """The batches that give a tenth of a harvest or more, the oldest first."""
    return [b for b in task["batches"] if b["heads"] >= task["amount"] / 10]


def _from(task: Answer) -> str:
    dates = dict.fromkeys(iso(b["seeded"]) for b in main_batches(task))
    return f" seeded {', '.join(dates)}{', oldest first' if len(dates) > 1 else ''}"


def _for(task: Answer, day: Answer) -> str:
    """The orders that a harvest is for, by leaving time; of several, how much for each."""
    orders = [o for o in task["orders"] if o["heads"] >= 0.5]
    by_time: dict[str, list[str]] = {}
    for o in orders:
        of = f" ({whole(o['heads'])})" if len(orders) > 1 else ""
        by_time.setdefault(o["leaves"], []).append(f"{o['customer']}{of}")
    text = [
        f"{', '.join(told)}, leaving {_on(at[:10], day)} {clock(at)}"
        for at, told in by_time.items()
    ]
    return f"; for {'; '.join(text)}" if text else ""


def delivery(d: Answer) -> str:
    """A delivery in words: heads as ordered, and as expected where that differs."""
    if d["ordered"] is None:
        return f"Surplus to {d['customer']}: {many(d['heads'], 'head')} of {d['crop']}"
    text = f"Delivery to {d['customer']}: {whole(d['ordered'])} heads of {d['crop']}"
    return text if d["ordered"] - d["heads"] < 0.5 else f"{text} ordered, {whole(d['heads'])} there"


def come_over(day: Answer) -> str:
    """Work that is no period's own that day, in all."""
    sums: dict[str, list[float | str]] = {}
    for shift in day["shifts"]:
        for task in shift["lesser"]:
            known = sums.setdefault(_brief(task), [0.0, task["unit"]])
            known[0] = float(known[0]) + task["amount"]
    told = [f"{name} ({many(float(n), str(unit))})" for name, (n, unit) in sums.items()]
    return f"May come over from another period: {'; '.join(told)}." if told else ""


def _brief(task: Answer) -> str:
    words = {"seeded": "seed", "moved": "move", "harvested": "harvest", "washed": "wash",
             "cleared": "clear", "checked": "daily checks"}  # fmt: skip
    of = batch(task) if task["seeded"] else task["crop"]
    return f"{words[task['kind']]} {of}".strip()
