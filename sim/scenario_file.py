"""Scenario files: TOML from the disk to a scenario, with what was assumed and noted.

The full form has the keys of `sim.scenario` and `sim.parts` as tables. Beside them a file may say:

* `base = "other.toml"`: start from another file, found next to this one; `sim.written` says how
  the two merge. The name is not inherited: a file without a `name` is called after itself.
* `calendar = "school.ics"`, at the top or in [school]: closures and special days are added to
  those in the file.
* the short form's keys (`sim.short_form`). Bases are merged before the short form is expanded,
  so a key of the full form outranks the short form wherever it stands.
* clock times as TOML times or as text ("3:00 pm", "15:00"); one closed day as a bare date;
  "unlimited" for a count, a store or a keep limit; "nobody" for a task that needs nobody.
* orders, surplus outlets, cadence lines and added seedings without a `crop` where only one crop
  is grown.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pydantic import ValidationError

from sim.errors import ScenarioError
from sim.ical import read_ical
from sim.parts import Cadence, ColdStore, Crew, Model, Order, Place, Stage
from sim.run_size import refuse_too_large
from sim.scenario import Scenario
from sim.school_year import spoken
from sim.short_form import GIVEN, expand
from sim.toml_file import content, with_bases
from sim.wording import troubles
from sim.written import Said, Table, Tree, Trouble, find, leaves, plain, shown, where

ICS_LIMIT = 5_000_000  # bytes
MOST_LINES = 10  # problems told at once


@dataclass(frozen=True, slots=True)
class Assumption:
    """A number that the file left open: its key, what was taken (with unit), and why."""

    key: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class LoadedScenario:
    """A scenario, and what a reader of its results should know about its numbers.

    `sources` maps a key to the note written beside its value; `notes` are the calendar's.
    """

    scenario: Scenario
    assumed: tuple[Assumption, ...]
    sources: dict[str, str]
    notes: tuple[str, ...]
    path: Path


# defaults of the model that a user would want to know when the file leaves them open
_WORTH_SAYING: dict[tuple[type[Model], str], tuple[str, str]] = {
    (Crew, "absent_percent"): ("0 percent", "nobody is ever absent"),
    (Stage, "loss_percent"): ("0 percent", "no plant is lost in this stage"),
    (Stage, "days_sd"): ("0 days", "every batch takes the same time"),
    (Stage, "keep_days"): ("unlimited", "finished plants wait as long as they must"),
    (Place, "washed_by"): ("nobody", "nothing is washed before it is used again"),
    (Order, "leaves"): ("3:00 pm", "the usual leaving time"),
    (Order, "school_closed"): ("deliver", "the order goes on when school is closed"),
    (ColdStore, "holds_heads"): ("unlimited", "the cold store takes whatever is harvested"),
    (ColdStore, "keep_days"): ("2 days", "freshness; ask your customers"),
    (Cadence, "break_rule"): ("if staffed", "a seeding on a day without anybody is skipped"),
    (Cadence, "late_days"): ("2 days", "a seeding that waits longer is missed"),
}


def load_scenario(path: str | Path) -> Scenario:
    """The scenario in a TOML file.

    Raises ScenarioError or CalendarError, whose message says where and what to do.
    """
    return read_scenario(path).scenario


def read_scenario(path: str | Path) -> LoadedScenario:
    """The scenario in a TOML file, with what was assumed, the source notes and the calendar's.

    Raises ScenarioError or CalendarError, whose message says where and what to do.
    """
    file = Path(path)
    try:
        return _read(file)
    except RecursionError:
        raise ScenarioError(
            f"{file.name}: tables or lists are nested too deeply to be a scenario; "
            "take the extra brackets or dots out."
        ) from None


def _read(file: Path) -> LoadedScenario:
    tree, problems = expand(with_bases(file), file)
    notes, more = _add_calendar(tree)
    problems += more
    _fill_crops(tree)
    try:
        scenario = Scenario.model_validate(plain(tree))
    except ValidationError as error:
        told = [path for table in GIVEN.values() for path in table.values()] if problems else []
        problems += troubles(error, tree, file, told)
    if problems:
        raise _refusal(problems)
    refuse_too_large(scenario, file.name)
    written = list(leaves(tree))
    assumed = [Assumption(s.key, f"{s.value:g} {s.unit}".strip(), s.why) for s in written if s.why]
    assumed += _defaults(scenario, tree, file)
    sources = {s.key: s.source for s in written if s.source}
    return LoadedScenario(scenario, tuple(assumed), sources, notes, file)


def _refusal(problems: list[Trouble]) -> ScenarioError:
    problems = sorted(problems, key=lambda p: "is not a key" not in p.text)  # causes first
    lines = [problem.line() for problem in problems[:MOST_LINES]]
    if len(problems) > MOST_LINES:
        lines.append(f"and {len(problems) - MOST_LINES} more")
    return ScenarioError("\n".join(lines))


def _defaults(
    part: object, tree: Tree, file: Path, path: tuple[str | int, ...] = ()
) -> list[Assumption]:
    """Defaults of the model that the file left open and a user would want to know."""
    found: list[Assumption] = []
    if isinstance(part, Model):
        for key in type(part).model_fields:
            said_so = _WORTH_SAYING.get((type(part), key))
            if said_so and key not in part.model_fields_set:
                found.append(Assumption(where(tree, (*path, key), file)[1], *said_so))
            found += _defaults(getattr(part, key), tree, file, (*path, key))
    elif isinstance(part, dict):
        for key, value in part.items():
            found += _defaults(value, tree, file, (*path, key))
    elif isinstance(part, tuple):
        for number, value in enumerate(part):
            found += _defaults(value, tree, file, (*path, number))
    return found


def _add_calendar(tree: Table) -> tuple[tuple[str, ...], list[Trouble]]:
    """Put an iCalendar file's closures and special days into the tree; its notes."""
    school = tree.get("school")
    if not isinstance(school, dict) or "calendar" not in school:
        return (), []
    named, first, last = school.pop("calendar"), _day(school, "first_day"), _day(school, "last_day")
    if not isinstance(named, Said) or not isinstance(named.value, str):
        holder = next(leaves(named), Said("", Path("scenario"), "school.calendar"))
        text = f'must be a file name such as "school.ics", but it is {shown(plain(named))}'
        return (), [Trouble(holder.file, holder.key, f"{text}; put the name in quotes")]
    file = named.file.parent / named.value
    data = content(
        file, ICS_LIMIT, "calendar", f'{named.file.name}: {named.key} = "{named.value}": '
    )
    if first is None or last is None or last < first:
        return (), []  # the model says what is wrong
    reading = read_ical(data, first, last, file.name)
    for key, days in (("closed", reading.closed), ("special", reading.special)):
        entries: list[Tree] = [
            {k: Said(v, file, key) for k, v in day.model_dump().items()} for day in days
        ]
        given = school.setdefault(key, [])
        if isinstance(given, list):
            school[key] = [*given, *entries]
    unclear = (
        f'{file.name}: "{u.name}" on {spoken(u.first_day, year=True)}: {u.assumed}'
        for u in reading.unclear
    )
    return (*unclear, *(f"{file.name}: {text}" for text in reading.repaired)), []


def _day(table: Table, key: str) -> date | None:
    found = table.get(key)
    value = found.value if isinstance(found, Said) else None
    return value if isinstance(value, date) and not isinstance(value, datetime) else None


def _fill_crops(tree: Table) -> None:
    """Name the crop of orders, outlets, lines and seedings where only one crop is grown."""
    crops = tree.get("crops")
    if not isinstance(crops, dict) or len(crops) != 1:
        return
    crop = next(iter(crops))
    for path in (("orders",), ("surplus",), ("cadence", "lines"), ("cadence", "added")):
        entries = find(tree, path)
        for entry in entries if isinstance(entries, list) else []:
            first = next(leaves(entry), None)
            if isinstance(entry, dict) and first is not None:
                entry.setdefault("crop", Said(crop, first.file, first.key))
