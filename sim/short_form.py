"""The short form of a scenario file, expanded to the full form.

A coordinator gives about ten numbers: calendar, first_day, last_day, closed and seed_trays at the
top of the file, and the tables [nursery], [channels] and [class]. They become the places
"nursery" and "channels", the crop "lettuce", the tasks seeding, transplant, harvest, washing and
clearing, the crew "class" and one line of the cadence. What they leave open is assumed; every
assumed number says why. Full-form tables in the same file are merged over this expansion.

The assumed numbers are invented for a school that has not counted yet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import time
from pathlib import Path
from typing import Any

from sim.agreement import KeyPath, advice
from sim.written import (
    Said,
    Table,
    Tree,
    Trouble,
    clock_time,
    find,
    joined,
    leaves,
    merged,
    number,
    plain,
    shown,
)

CROP = "lettuce"
TOP = {
    "calendar": ("school", "calendar"),
    "first_day": ("school", "first_day"),
    "last_day": ("school", "last_day"),
    "closed": ("school", "closed"),
}
TABLES = ("nursery", "channels", "class")
SHORT_KEYS = (*TOP, "seed_trays", *TABLES)
_NURSERY: KeyPath = ("crops", CROP, "stages", 0)
_CHANNELS: KeyPath = ("crops", CROP, "stages", 1)
_CLASS: KeyPath = ("crews", "class")
_OWN = ("periods", "working_minutes")  # keys of [class] that become shifts
_EXAMPLE = '["9:40 am-10:28 am"]'
_EXAMPLES = {
    "tray_spaces": "22", "cells_per_tray": "200", "days_to_transplant": "14", "count": "448",
    "sites_each": "18", "days_to_ready": "28", "ready_heads_keep_days": "10",
    "students_per_period": "12", "periods": _EXAMPLE, "working_minutes": "30",
}  # fmt: skip

GIVEN: dict[str, dict[str, KeyPath]] = {
    "nursery": {
        "tray_spaces": ("places", "nursery", "count"),
        "cells_per_tray": ("places", "nursery", "sites_each"),
        "days_to_transplant": (*_NURSERY, "days"),
    },
    "channels": {
        "count": ("places", "channels", "count"),
        "sites_each": ("places", "channels", "sites_each"),
        "days_to_ready": (*_CHANNELS, "days"),
        "ready_heads_keep_days": (*_CHANNELS, "keep_days"),
    },
    "class": {"students_per_period": (*_CLASS, "people")},
}
OPTIONAL: dict[str, dict[str, KeyPath]] = {
    "nursery": {
        "germination_percent": (*_NURSERY, "loss_percent"),
        "seedlings_keep_days": (*_NURSERY, "keep_days"),
        "minutes_per_tray": ("tasks", "seeding", "minutes_each"),
    },
    "channels": {
        "transplant_loss_percent": (*_CHANNELS, "move_loss_percent"),
        "loss_percent": (*_CHANNELS, "loss_percent"),
        "minutes_per_plant": ("tasks", "transplant", "minutes_each"),
        "minutes_per_head": ("tasks", "harvest", "minutes_each"),
        "minutes_per_channel_washed": ("tasks", "washing", "minutes_each"),
    },
    "class": {"absent_percent": (*_CLASS, "absent_percent")},
}
_SPREAD = "batches differ; write down dates and counts of ten batches"
_TIME_IT = "time it in three classes"
_BEFORE = "a lower number is done first"
ASSUMED: dict[str, list[tuple[KeyPath, float, str, str]]] = {
    "nursery": [
        ((*_NURSERY, "days_sd"), 1.0, "days", _SPREAD),
        ((*_NURSERY, "loss_percent"), 10.0, "percent", "nursery.germination_percent is 90"),
        ((*_NURSERY, "loss_sd_points"), 3.0, "percentage points", _SPREAD),
        ((*_NURSERY, "bad_event", "percent_of_batches"), 2.0, "percent", "damping-off: 1 in 50"),
        ((*_NURSERY, "bad_event", "loss_percent"), 30.0, "percent", "damping-off takes a third"),
        ((*_NURSERY, "keep_days"), 6, "days", "later the seedlings are overgrown; watch a batch"),
        ((*_NURSERY, "turnaround_days"), 2.0, "days", "a tray space waits for moving and reuse"),
        (("tasks", "seeding", "minutes_each"), 15.0, "minutes a tray", _TIME_IT),
        (("tasks", "seeding", "priority"), 3, "", _BEFORE),
    ],
    "channels": [
        ((*_CHANNELS, "days_sd"), 1.5, "days", _SPREAD),
        ((*_CHANNELS, "move_loss_percent"), 3.0, "percent", "lost at transplant; count one day's"),
        ((*_CHANNELS, "loss_percent"), 4.0, "percent", "lost while growing; count a few channels"),
        ((*_CHANNELS, "loss_sd_points"), 2.0, "percentage points", _SPREAD),
        ((*_CHANNELS, "turnaround_days"), 3.5, "days", "a channel waits for harvest and washing"),
        (("tasks", "transplant", "minutes_each"), 0.4, "minutes a plant", _TIME_IT),
        (("tasks", "transplant", "priority"), 2, "", _BEFORE),
        (("tasks", "harvest", "minutes_each"), 1.0, "minutes a head, packed", _TIME_IT),
        (("tasks", "harvest", "priority"), 1, "", _BEFORE),
        (("tasks", "washing", "minutes_each"), 6.0, "minutes a channel", _TIME_IT),
        (("tasks", "washing", "priority"), 4, "", _BEFORE),
        (("tasks", "clearing", "minutes_each"), 4.0, "minutes a channel", _TIME_IT),
        (("tasks", "clearing", "priority"), 5, "", _BEFORE),
    ],
    "class": [((*_CLASS, "absent_percent"), 8.0, "percent", "look at last year's attendance")],
}
_FIXED: dict[str, list[tuple[KeyPath, object]]] = {
    "nursery": [
        (("places", "nursery", "container"), "tray"),
        (("places", "nursery", "cleared_by"), "clearing"),
        ((*_NURSERY, "name"), "nursery"),
        ((*_NURSERY, "place"), "nursery"),
        ((*_NURSERY, "moved_in_by"), "seeding"),
        ((*_NURSERY, "loss_cause"), "did not come up"),
    ],
    "channels": [
        (("places", "channels", "container"), "channel"),
        (("places", "channels", "washed_by"), "washing"),
        (("places", "channels", "cleared_by"), "clearing"),
        ((*_CHANNELS, "name"), "channels"),
        ((*_CHANNELS, "place"), "channels"),
        ((*_CHANNELS, "moved_in_by"), "transplant"),
        ((*_CHANNELS, "move_loss_cause"), "lost at transplant"),
    ],
    "class": [((*_CLASS, "students"), True)],
}


def expand(tree: Table, file: Path) -> tuple[Table, list[Trouble]]:
    """The full form of a tree that may use the short form, and what is wrong with its tables."""
    parts: dict[Any, Any] = {}
    troubles: list[Trouble] = []
    for key, path in TOP.items():
        if key in tree:
            _put(parts, path, tree[key])
    used = {name for name in TABLES if name in tree}
    if used & {"nursery", "channels"}:
        used |= {"nursery", "channels"}
    for name in [n for n in TABLES if n in used]:
        troubles += _expand_table(parts, name, tree.get(name, {}), file)
    if "seed_trays" in tree:
        crops = parts.get("crops") or tree.get("crops")
        line: Table = {"trays": tree["seed_trays"]}
        if isinstance(crops, dict) and len(crops) == 1:
            line["crop"] = Said(next(iter(crops)), file, "seed_trays")
        parts["cadence"] = {"lines": [line]}
    rest: Table = {key: value for key, value in tree.items() if key not in SHORT_KEYS}
    full = merged(_with_lists(parts), rest)
    assert isinstance(full, dict)  # two tables merge to a table
    troubles += [t for name in TABLES if name in used for t in _missing(tree, full, name, file)]
    _settle_spreads(full)
    return full, troubles


def _put(parts: dict[Any, Any], path: KeyPath, value: Tree) -> None:
    for key in path[:-1]:
        parts = parts.setdefault(key, {})
    parts[path[-1]] = value


def _with_lists(parts: Any) -> Any:
    """Tables whose keys are numbers become lists."""
    if not isinstance(parts, dict):
        return parts
    deep = {key: _with_lists(value) for key, value in parts.items()}
    return (
        [deep[n] for n in sorted(deep)] if deep and all(isinstance(k, int) for k in deep) else deep
    )


def _expand_table(parts: dict[Any, Any], name: str, table: Tree, file: Path) -> list[Trouble]:
    """Put one short table's fixed, assumed and given values into the full form."""
    if not isinstance(table, dict):
        return [Trouble(file, name, f"must be a table; write [{name}] with its keys below it")]
    for path, value in _FIXED[name]:
        _put(parts, path, Said(value, file, dotted_name(path)))
    spelled = {path: k for k, path in OPTIONAL[name].items() if k != "germination_percent"}
    for path, value, unit, why in ASSUMED[name]:
        key = joined(name, spelled[path]) if path in spelled else dotted_name(path)
        _put(parts, path, Said(value, file, key, why=why, unit=unit))
    known = {**GIVEN[name], **OPTIONAL[name]}
    own = _OWN if name == "class" else ()
    troubles = []
    for key, value in table.items():
        if key in known:
            _put(parts, known[key], value)
        elif key not in own:
            holder = next(leaves(value), None)
            text = f"is not a key of [{name}]; {advice(key, [*known, *own])}"
            troubles.append(Trouble(holder.file if holder else file, joined(name, key), text))
    if name == "nursery":
        troubles += _germination(parts, table)
    if name == "class":
        troubles += _periods(parts, table)
    return troubles


def dotted_name(path: KeyPath) -> str:
    """A path of the expansion as the full form spells it."""
    stages = {0: '["nursery"]', 1: '["channels"]'}
    return "".join(stages[k] if isinstance(k, int) else f".{k}" for k in path).lstrip(".")


def _germination(parts: dict[Any, Any], table: Table) -> list[Trouble]:
    """Germination is given, loss is what the full form knows."""
    given, percent = table.get("germination_percent"), number(table.get("germination_percent"))
    if not isinstance(given, Said):
        return []
    if percent is None or not 0 <= percent <= 100:
        _put(parts, OPTIONAL["nursery"]["germination_percent"], replace(given, value=10.0))
        text = f"must be a number from 0 to 100, but it is {shown(given.value)}; correct the number"
        return [Trouble(given.file, given.key, text)]
    loss = replace(given, value=round(100.0 - percent, 9))
    _put(parts, OPTIONAL["nursery"]["germination_percent"], loss)
    return []


def _periods(parts: dict[Any, Any], table: Table) -> list[Trouble]:
    """Class periods become shifts; in exam weeks half the minutes are worked."""
    periods = table.get("periods", [])
    if not isinstance(periods, list):
        holder = next(leaves(periods), None)
        text = (
            f"must be a list such as {_EXAMPLE}, but it is {shown(plain(periods))}; put it in [ ]"
        )
        return [Trouble(holder.file, "class.periods", text)] if holder else []
    troubles: list[Trouble] = []
    shifts: list[Tree] = []
    for count, period in enumerate(periods, 1):
        times = _clock_times(period)
        if isinstance(period, Said) and times:
            shifts.append(_shift(period, count, times, table.get("working_minutes")))
        elif holder := next(leaves(period), None):
            text = f"must be two clock times such as {_EXAMPLE}, but it is {shown(plain(period))}"
            text += "; give each am or pm, or write 09:40"
            troubles.append(Trouble(holder.file, holder.key, text))
    if periods:
        _put(parts, (*_CLASS, "shifts"), shifts)
    return troubles


def _shift(period: Said, count: int, times: tuple[time, time], minutes: Tree | None) -> Table:
    shift: Table = {"name": replace(period, value=f"period {count}")}
    shift |= {"starts": replace(period, value=times[0]), "ends": replace(period, value=times[1])}
    if minutes is not None:
        shift["working_minutes"] = minutes
    half, usual = number(minutes), minutes
    if half is not None and isinstance(usual, Said):
        key = f'crews.class.shifts["period {count}"].minutes_on.exam'
        why = "half of working_minutes; ask the teacher"
        shift["minutes_on"] = {"exam": Said(half / 2, usual.file, key, why=why, unit="minutes")}
    return shift


def _clock_times(period: Tree) -> tuple[time, time] | None:
    if not isinstance(period, Said) or not isinstance(period.value, str):
        return None
    both = [clock_time(text) for text in re.split(r"\s*(?:-|\u2013|\bto\b)\s*", period.value)]
    return (both[0], both[1]) if len(both) == 2 and both[0] and both[1] else None


def _missing(tree: Table, full: Table, name: str, file: Path) -> Iterator[Trouble]:
    """What a coordinator has to give, and gave neither in the short nor in the full form."""
    table = tree.get(name, {})
    needed = [key for key, path in GIVEN[name].items() if find(full, path) is None]
    if name == "class" and find(full, (*_CLASS, "shifts")) is None:
        needed.append("periods")
    if isinstance(table, dict) and "periods" in table and "working_minutes" not in table:
        needed.append("working_minutes")
    if needed and name not in tree:
        yield Trouble(file, name, f"is missing; add a table [{name}] with {', '.join(needed)}")
        return
    holder = next(leaves(table), None)
    for key in needed:
        text = f"is missing; add {key} = {_EXAMPLES[key]} to [{name}]"
        yield Trouble(holder.file if holder else file, joined(name, key), text)


def _settle_spreads(full: Table) -> None:
    """Lower an assumed batch-to-batch spread to at most half of what a given loss can vary."""
    stages = find(full, ("crops", CROP, "stages"))
    for stage in stages if isinstance(stages, list) else []:
        loss, spread = number(find(stage, ("loss_percent",))), find(stage, ("loss_sd_points",))
        at_most = number(spread)
        if isinstance(stage, dict) and isinstance(spread, Said) and spread.why and at_most:
            share = min(max((loss or 0.0) / 100, 0.0), 1.0)
            at_most = min(at_most, 50 * (share * (1 - share)) ** 0.5)
            stage["loss_sd_points"] = replace(spread, value=round(at_most, 2))
