"""What the parts of a scenario must agree on: names, shifts, dates and the cadence.

Each check yields problems; a problem knows the key path and says what it must be, what it was
and what to do. Nothing here knows how a file spells its keys.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from difflib import get_close_matches

from sim.benches import Benches
from sim.parts import (
    Cadence,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Shift,
    Task,
    Weekday,
)
from sim.school_year import monday, weekday

KeyPath = tuple[str | int, ...]
Use = tuple[KeyPath, str]
Dated = tuple[KeyPath, date]


def nearest(name: str, known: Collection[str]) -> str:
    """The right name nearest to a misspelt one, or "" when none is near."""
    lowered = {k.lower(): k for k in known}
    found = get_close_matches(name.lower()[:80], lowered, n=1)
    return lowered[found[0]] if found else ""


def advice(name: str, known: Collection[str]) -> str:
    """What to write instead of a name that is not known."""
    if near := nearest(name, known):
        return f'did you mean "{near}"?'
    some = ", ".join(f'"{k}"' for k in list(known)[:12])
    return f"choose from {some}" if known else "there is none yet; add one"


COLD_STORE = "cold store"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: the key path, what was found there, and what to do about it.

    With `name`, the advice is the nearest of the `known` names, looked for when it is told.
    """

    path: KeyPath
    text: str
    name: str = ""
    known: Collection[str] = ()

    def told(self) -> str:
        """The problem in words, without its place."""
        return f"{self.text}; {advice(self.name, self.known)}" if self.name else self.text


class DisagreementError(ValueError):
    """The parts of a scenario do not agree; `problems` says where."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        super().__init__("\n".join(f"{dotted(p.path)} {p.told()}" for p in problems[:10]))


def dotted(path: KeyPath) -> str:
    """A key path in one word, list entries counted from 1: `orders[2].crop`."""
    text = ""
    for key in path:
        text += f"[{key + 1}]" if isinstance(key, int) else f".{key}" if text else key
    return text


def unknown_names(uses: Iterable[Use], known: Collection[str], what: str) -> Iterator[Problem]:
    """Names that are used and not given anywhere; `what` is place, crop, task or crew."""
    for path, name in uses:
        if name not in known:
            text = f'must name a {what} of this scenario, but it is "{name[:80]}"'
            yield Problem(path, text, name or "?", known)


def reserved_names(places: Collection[str]) -> Iterator[Problem]:
    """Rows name the walk-in store "cold store"; a place of that name would be taken for it."""
    if COLD_STORE in places:
        yield Problem(
            ("places", COLD_STORE),
            f"must not be named {COLD_STORE!r}, which is the name of the walk-in store; choose "
            "another name for the place where plants stand",
        )


def task_uses(crops: dict[str, Crop]) -> Iterator[tuple[KeyPath, str, str]]:
    """Key path, task and kind of work, for every task that a crop names."""
    for crop_name, crop in crops.items():
        at: KeyPath = ("crops", crop_name)
        for number, stage in enumerate(crop.stages):
            if stage.moved_in_by is not None:
                kind = "moving plants" if number else "seeding trays"
                yield (*at, "stages", number, "moved_in_by"), stage.moved_in_by, kind
        if crop.harvested_by is not None:
            yield (*at, "harvested_by"), crop.harvested_by, "harvesting heads"


def double_tasks(uses: Iterable[tuple[KeyPath, str, str]]) -> Iterator[Problem]:
    """Tasks used for two kinds of work, whose minutes would have two units."""
    kinds: dict[str, str] = {}
    for path, task, kind in uses:
        if kinds.setdefault(task, kind) != kind:
            yield Problem(
                path,
                f'must be a task of its own, but "{task}" is {kinds[task]} elsewhere and '
                f"{kind} here; minutes_each cannot mean both, so add a second task",
            )


def same_stages(crops: dict[str, Crop]) -> Iterator[Problem]:
    """Stages of one crop that share a name."""
    for crop_name, crop in crops.items():
        seen: set[str] = set()
        for number, stage in enumerate(crop.stages):
            if stage.name in seen:
                path = ("crops", crop_name, "stages", number, "name")
                text = f'must differ from stage to stage, but "{stage.name}" is there twice'
                yield Problem(path, f"{text}; rename one")
            seen.add(stage.name)


def overlapping_shifts(crew_name: str, crew: Crew) -> Iterator[Problem]:
    """Shifts in which the same people would be at work twice at once."""
    order = sorted(range(len(crew.shifts)), key=lambda n: crew.shifts[n].starts)
    at_work: list[int] = []
    for number in order:
        shift = crew.shifts[number]
        at_work = [n for n in at_work if crew.shifts[n].ends > shift.starts]
        for other in at_work:
            if day := _common_day(shift, crew.shifts[other]):
                first, second = sorted((number, other))
                yield Problem(
                    ("crews", crew_name, "shifts", second),
                    f"({_hours(crew.shifts[second])}) overlaps shift {first + 1} of the same crew "
                    f"({_hours(crew.shifts[first])}) on {day}; move one, or make a second crew",
                )
                break
        at_work.append(number)


def _hours(shift: Shift) -> str:
    return f"{shift.starts:%H:%M} to {shift.ends:%H:%M}"


def _common_day(one: Shift, two: Shift) -> Weekday | date | None:
    """A weekday or date on which both shifts are held, or None."""
    days = [w for w in one.weekdays if w in two.weekdays]
    if not days or not set(one.on) & set(two.on):
        return None
    if not one.only and not two.only:
        return days[0]
    always = (Dates(first_day=date.min, last_day=date.max),)
    for a in one.only or always:
        for b in two.only or always:
            first, last = max(a.first_day, b.first_day), min(a.last_day, b.last_day)
            for offset in range(min(7, (last - first).days + 1)):
                if weekday(first + timedelta(days=offset)) in days:
                    return first + timedelta(days=offset)
    return None


def date_problems(
    school: School, window: Dates | None, start: date, given_start: bool
) -> Iterator[Problem]:
    """A run that starts after school has ended, or a window that the run does not cover."""
    if given_start and start > school.last_day:
        yield Problem(
            ("run_first_day",),
            f"must not be after the last day of school ({school.last_day}), but it is {start}; "
            "start the run earlier, or mend the school year",
        )
    if window is None:
        return
    if window.first_day < start or window.first_day > school.last_day:
        yield Problem(
            ("window", "first_day"),
            f"must lie inside the run, from {start} to the last day of school "
            f"({school.last_day}), but it is {window.first_day}; move the window or the run",
        )
    first = monday(window.first_day + timedelta(days=6))
    if first + timedelta(days=6) > window.last_day:
        yield Problem(
            ("window",),
            "must hold at least one whole week from Monday to Sunday, but it goes from "
            f"{window.first_day} to {window.last_day}; make it longer",
        )


def reversed_dates(path: KeyPath, first: date | None, last: date | None) -> Iterator[Problem]:
    """A last day before the first one."""
    if first is not None and last is not None and last < first:
        yield Problem(
            (*path, "last_day"),
            f"must not be before first_day ({first}), but it is {last}; "
            "swap the two dates, or mend the year",
        )


def order_problems(orders: Iterable[Order]) -> Iterator[Problem]:
    """Orders that end before they start."""
    for number, order in enumerate(orders):
        yield from reversed_dates(("orders", number), order.first_day, order.last_day)


def cadence_problems(cadence: Cadence, first: date, last: date) -> Iterator[Problem]:
    """Lines that say nothing or too much, and dated seedings outside the run."""
    for number, line in enumerate(cadence.lines):
        path: KeyPath = ("cadence", "lines", number)
        yield from reversed_dates(path, line.first_day, line.last_day)
        if line.trays and line.heads_wanted:
            text = "must give trays or heads_wanted, but it gives both; take one out"
            yield Problem(path, text)
        if not {"trays", "heads_wanted"} & line.model_fields_set:
            text = "must give trays or heads_wanted, but it gives neither; add trays = {Mon = 4}"
            yield Problem(path, text)
    dated: list[Dated] = [(("added", n, "day"), s.day) for n, s in enumerate(cadence.added)]
    dated += [(("skipped", n), day) for n, day in enumerate(cadence.skipped)]
    for where, day in dated:
        if not first <= day <= last:
            text = f"must lie inside the run, from {first} to {last}, but it is {day}"
            yield Problem(("cadence", *where), f"{text}; mend the date or take it out")


def benches_problems(
    benches: Benches, places: dict[str, Place], crops: dict[str, Crop], last: date
) -> Iterator[Problem]:
    """Plants where their crop never stands, more containers than there are, a day after the end.

    Names that are not known are left to `unknown_names`.
    """
    if benches.day > last:
        text = f"must not be after {last}, the last day that is planned, but it is {benches.day}"
        yield Problem(("benches", "day"), f"{text}; take later benches, or a later scenario")
    taken: Counter[str] = Counter()
    for number, row in enumerate(benches.standing):
        if row.crop not in crops or row.place not in places:
            continue
        path: KeyPath = ("benches", "standing", number)
        stages = [stage.place for stage in crops[row.crop].stages]
        if row.place not in stages:
            where = ", ".join(stages)
            text = f"{row.crop} stands in {where}, but here in {row.place}; mend the place"
            yield Problem((*path, "place"), text)
        taken[row.place] += row.containers or -(-row.plants // places[row.place].sites_each)
    for clean in benches.to_clean:
        taken[clean.place] += clean.to_clear + clean.to_wash
    for name, containers in taken.items():
        count = places[name].count if name in places else None
        if count is not None and containers > count:
            text = f"{containers} containers of {name} are taken or dirty, more than the {count}"
            yield Problem(("benches",), f"{text} that there are; count again, or mend the count")


def task_problems(tasks: dict[str, Task], crews: Collection[str]) -> Iterator[Problem]:
    """Tasks that only a crew which does not exist may do."""
    uses = [
        (("tasks", name, "who", number), crew)
        for name, task in tasks.items()
        for number, crew in enumerate(task.who)
    ]
    return unknown_names(uses, crews, "crew")
