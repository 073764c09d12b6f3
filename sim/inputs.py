"""Every input of a scenario as a table: where it stands, what it is, its value, and its source."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Any, NamedTuple

from sim import parts
from sim.agreement import KeyPath, task_uses
from sim.parts import Dates, Model, Order, Place, Shift, Stage, Surplus
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario
from sim.school_year import days_of, spoken
from sim.short_form import GIVEN, OPTIONAL, TOP
from sim.written import NAMED_BY, joined

DEFAULT = "left at its default"
IN_FILE = "in the file"
ASSUMED = "assumed: "


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its key as the full form of a file spells it, and all of it in words.

    `value` is a number, or text for everything else; `unit` is "" where the value has none.
    `note` is "assumed: ..." with the reason, the source note of the file, "in the file", or "left
    at its default".
    """

    key: str
    where: str
    what: str
    value: float | str
    unit: str
    note: str


# what a key means, and its unit; {container} and {thing} depend on the place and the task
WORDS: dict[type[Model], dict[str, tuple[str, str]]] = {
    Scenario: {
        "daily_checks_by": ("task of the daily checks", ""), "window": ("measured weeks", ""),
        "run_first_day": ("first simulated day", ""), "benches": ("what stands there first", ""),
    },
    parts.School: {
        "first_day": ("first day of school", ""), "last_day": ("last day of school", ""),
        "weekdays": ("days with school", ""), "closed": ("closures", ""),
        "special": ("early release and exam days", ""),
    },
    Place: {
        "container": ("plants stand in", ""), "count": ("number of them", "{container}s"),
        "sites_each": ("sites or cells in each", "per {container}"),
        "washed_by": ("task that washes", ""), "cleared_by": ("task that clears", ""),
        "rest_hours": ("rest after washing", "hours"),
    },
    parts.Crop: {"harvest": ("harvested", ""), "harvested_by": ("task that harvests", "")},
    Stage: {
        "place": ("stands in", ""), "days": ("mean length", "days"),
        "days_sd": ("standard deviation of the length", "days"),
        "days_shape": ("distribution of the length", ""),
        "loss_percent": ("plants lost", "percent"),
        "loss_sd_points": ("batch-to-batch deviation of the loss", "percentage points"),
        "loss_cause": ("cause of the loss", ""), "bad_event": ("rare event", ""),
        "moved_in_by": ("task that moves plants in", ""),
        "move_loss_percent": ("plants lost in moving in", "percent"),
        "move_loss_cause": ("cause of that loss", ""),
        "keep_days": ("finished plants keep", "days"),
        "turnaround_days": ("days until a {container} is used again", "days"),
        "pace_percent": ("pace of growth by month", "percent"),
    },
    parts.BadEvent: {
        "percent_of_batches": ("rare event: batches hit", "percent"),
        "loss_percent": ("rare event: plants lost", "percent"), "cause": ("rare event: cause", ""),
    },
    parts.Task: {
        "minutes_each": ("time for each {thing}", "minutes per {thing}"),
        "setup_minutes": ("set-up, once a shift", "minutes"),
        "priority": ("order of work (1 is done first)", ""), "who": ("who may do it", ""),
    },
    parts.Crew: {
        "people": ("people", "people"), "students": ("students", ""),
        "absent_percent": ("absent", "percent"), "shifts": ("at work", ""),
        "pace_percent": ("pace of work", "percent"),
    },
    Order: {
        "crop": ("crop", ""), "heads": ("heads by weekday", "heads"), "leaves": ("leaves at", ""),
        "first_day": ("from", ""), "last_day": ("to", ""),
        "school_closed": ("when school is closed", ""), "paused": ("paused", ""),
        "priority": ("rank when heads are short (1 is first)", ""),
    },
    Surplus: {
        "crop": ("crop", ""), "heads": ("heads by weekday, at most", "heads"),
        "leaves": ("leaves at", ""), "ripe_within_days": ("takes heads over-mature within", "days"),
    },
    parts.ColdStore: {"holds_heads": ("holds", "heads"), "keep_days": ("heads keep", "days")},
    parts.Cadence: {
        "break_rule": ("in breaks", ""), "late_days": ("a late seeding is missed after", "days"),
        "added": ("seedings added by hand", ""), "skipped": ("seedings skipped on", ""),
    },
    parts.CadenceLine: {
        "crop": ("crop", ""), "trays": ("trays by weekday", "trays"),
        "heads_wanted": ("heads wanted by weekday", "heads"),
        "cells_per_head": ("cells seeded for a head wanted", "cells"),
        "every_weeks": ("every so many weeks", "weeks"), "first_day": ("from", ""),
        "last_day": ("to", ""),
    },
    Dates: {"first_day": ("first day", ""), "last_day": ("last day", "")},
}  # fmt: skip
_NONE = {
    "count": "unlimited", "holds_heads": "unlimited", "keep_days": "unlimited",
    "bad_event": "none", "window": "the weeks with deliveries", "benches": "nothing",
    "run_first_day": "first day of school", "first_day": "the beginning", "last_day": "the end",
}  # fmt: skip
_EMPTY = {"who": "every crew", "pace_percent": "100 in every month", "shifts": "never"}
_TABLES = {"places": "place", "crops": "crop", "tasks": "task", "crews": "crew"}
_PARTS = {"school": "school", "cold_store": "cold store", "cadence": "cadence",
          "window": "measured weeks"}  # fmt: skip
_SHORT = {path: joined(t, key) for short in (GIVEN, OPTIONAL) for t, keys in short.items()
          for key, path in keys.items()} | {path: key for key, path in TOP.items()}  # fmt: skip
_LISTS = ("stages", "orders", "surplus", "lines")
_KNOWN = {(part, field) for part, fields in WORDS.items() for field in fields}
_THINGS = {"seeding trays": "tray", "moving plants": "plant", "harvesting heads": "head"}
_ALSO: dict[KeyPath, tuple[str, ...]] = {
    ("crews", "class", "shifts"): ("class.periods", "class.working_minutes"),
    ("cadence", "lines", 0, "trays"): ("seed_trays",),
}


def inputs(loaded: LoadedScenario) -> list[Input]:
    """Every input of a scenario, in the order of its parts; long lists in one row each.

    Nothing that was assumed, and no source note, is left out: what belongs to no row has one of
    its own.
    """
    rows = _Rows(loaded)
    return [*rows.of(loaded.scenario, _At((), "", "scenario")), *rows.left()]


class _At(NamedTuple):
    """Where a part stands: its path, its key, and that in words."""

    path: KeyPath
    key: str
    where: str


class _Rows:
    """Makes the rows of a scenario's parts, and knows what its file says of their values."""

    def __init__(self, loaded: LoadedScenario) -> None:
        self._scenario = loaded.scenario
        self._notes = {a.key: (ASSUMED + a.why, a.value) for a in loaded.assumed}
        self._notes |= {key: (text, "") for key, text in loaded.sources.items()}
        self._used: set[str] = set()

    def of(self, part: Model, at: _At) -> Iterator[Input]:
        """The rows of one part and of the parts inside it."""
        for field in type(part).model_fields:
            value, key = getattr(part, field), joined(at.key, field)
            inner = list(self._inside(field, value, _At((*at.path, field), key, at.where)))
            for one, there in inner:
                yield from self.of(one, there)
            if not inner and (type(part), field) in _KNOWN:
                yield self._row(part, field, _At((*at.path, field), key, at.where))

    def _inside(self, field: str, value: object, at: _At) -> Iterator[tuple[Model, _At]]:
        """The parts that a field holds, unless they are summed up in one row."""
        if isinstance(value, Model) and type(value) in WORDS:
            yield value, at._replace(where=_PARTS.get(field, at.where))
        elif isinstance(value, dict) and len(at.path) == 1:
            for name, one in value.items():
                there = f"{_TABLES[field]} {name}"
                yield one, _At((*at.path, name), joined(at.key, name), there)
        elif isinstance(value, tuple) and field in _LISTS:
            for number, one in enumerate(value):
                key = f"{at.key}[{_label(field, value, number)}]"
                yield one, _At((*at.path, number), key, _named(at.where, one, number))

    def _row(self, part: Model, field: str, at: _At) -> Input:
        keys = {at.key, _SHORT.get(at.path, at.key), *_ALSO.get(at.path, ())}
        given = IN_FILE if field in part.model_fields_set else DEFAULT
        value, (what, unit) = _told(field, getattr(part, field)), WORDS[type(part)][field]
        container, thing = self._container(part), self._thing(at)
        what, unit = (text.format(container=container, thing=thing) for text in (what, unit))
        unit = "" if value in (_NONE.get(field), _EMPTY.get(field), "none") else unit
        return Input(at.key, at.where, what, value, unit, self._note(keys) or given)

    def _note(self, keys: Collection[str]) -> str:
        """The notes of an input that may be spelled in these ways, and of what is inside it."""
        texts = []
        for key, (text, _) in self._notes.items():
            if any(key == k or key.startswith((f"{k}.", f"{k}[")) for k in keys):
                self._used.add(key)
                texts.append(text if key in keys else f"in part: {text}")
        return "; ".join(dict.fromkeys(texts))

    def left(self) -> Iterator[Input]:
        """A row for each note that no input asked for."""
        for key, (text, value) in self._notes.items():
            if key not in self._used:
                yield Input(key, "scenario", key, value, "", text)

    def _container(self, part: Model) -> str:
        if isinstance(part, Stage):
            part = self._scenario.places[part.place]
        return part.container if isinstance(part, Place) else ""

    def _thing(self, at: _At) -> str:
        """What a task is done to, one at a time."""
        task, places = at.path[-2:-1], self._scenario.places.values()
        for _, name, kind in task_uses(self._scenario.crops):
            if (name,) == task:
                return _THINGS[kind]
        found = dict.fromkeys(
            p.container for p in places if task in ((p.washed_by,), (p.cleared_by,))
        )
        checks = task == (self._scenario.daily_checks_by,)
        return " or ".join(found) or ("day" if checks else "unit")


def _named(where: str, one: Model, number: int) -> str:
    if isinstance(one, Stage):
        return f"{where}, stage {one.name}"
    if isinstance(one, Order):
        return f"order of {one.customer}"
    if isinstance(one, Surplus):
        return f"surplus outlet {one.outlet}"
    return f"cadence, line {number + 1}"


def _label(field: str, entries: Sequence[Model], number: int) -> str:
    """What stands for a list entry in a key: its name if it has its own, else its number."""
    names = [getattr(entry, NAMED_BY[field][0]) for entry in entries]
    unique = len(set(names)) == len(names) and names[number]
    return json.dumps(names[number][:80], ensure_ascii=False) if unique else str(number + 1)


def _told(field: str, value: object) -> float | str:
    """A value for a table: a number, or words."""
    if value is None:
        return _NONE.get(field, "nobody")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | str):
        return value
    if isinstance(value, date):
        return spoken(value, year=True)
    if isinstance(value, time):
        return _clock(value)
    if isinstance(value, Model):
        told = ", ".join(
            f"{name.replace('_', ' ')} {len(v) if isinstance(v, tuple) else _told(name, v)}"
            for name, v in value
        )
    elif isinstance(value, dict):
        told = ", ".join(f"{name} {number:g}" for name, number in value.items())
    else:
        told = _listed(value)
    return told or _EMPTY.get(field, "none")


def _listed(entries: Any) -> str:
    """A list in one text: closures and shifts each with their days, seedings summed up."""
    first = entries[0] if entries else None
    if isinstance(first, Dates):
        days = len({day for stretch in entries for day in days_of(stretch)})
        return f"{days} {'day' if days == 1 else 'days'}: " + "; ".join(map(_stretch, entries))
    if isinstance(first, Shift):
        return "; ".join(map(_shift, entries))
    if isinstance(first, parts.Seeding):
        trays = sum(s.trays for s in entries)
        ends = [spoken(pick(s.day for s in entries), year=True) for pick in (min, max)]
        return f"{len(entries)} seedings, {trays:,} trays in all, {ends[0]} to {ends[1]}"
    return ", ".join(spoken(e, year=True) if isinstance(e, date) else str(e) for e in entries)


def _stretch(stretch: Dates) -> str:
    first, last = spoken(stretch.first_day), spoken(stretch.last_day)
    days = first if first == last else f"{first} to {last}"
    kind = getattr(stretch, "kind", "")
    return " ".join(filter(None, [stretch.name or kind or "closed", f"({days})"]))


def _shift(shift: Shift) -> str:
    minutes = [f"{shift.minutes('regular'):g} minutes"]
    minutes += [f"{m:g} on {kind} days" for kind, m in shift.minutes_on.items()]
    hours = f"{_clock(shift.starts)} to {_clock(shift.ends)}"
    told = f"{shift.name} {' '.join(shift.weekdays)} {hours} ({', '.join(minutes)})".strip()
    if shift.only:
        told += f", only {'; '.join(map(_stretch, shift.only))}"
    return told if "regular" in shift.on else f"{told}, on {' and '.join(shift.on)} days"


def _clock(at: time) -> str:
    """A clock time as people say it: "3:00 pm"."""
    return f"{(at.hour + 11) % 12 + 1}:{at.minute:02d} {'am' if at.hour < 12 else 'pm'}"
