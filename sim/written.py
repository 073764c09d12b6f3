"""What scenario files say: every value with the file and key it was written at.

A tree is made of tables (dict), lists and `Said` leaves. A later file goes over its base:

* tables merge key by key;
* `stages` and `shifts` merge by `name`, `orders` by `customer`, `surplus` by `outlet` (these two
  also by `crop`, where both say it) and the cadence's `lines` by `crop`: entries of the same name
  merge, new names are added at the end; if a name is missing or there twice, or the later list
  is empty, the later list replaces the earlier one;
* everything else replaces what the base says.

A value may be written as `{ value = 0.4, source = "timed in 3 classes" }`.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from sim.agreement import KeyPath

NAMED_BY = {
    "stages": ("name",),
    "shifts": ("name",),
    "orders": ("customer", "crop"),
    "surplus": ("outlet", "crop"),
    "lines": ("crop",),
}
_CLOCKS = {"starts", "ends", "leaves"}
_STRETCHES = {"closed", "paused", "only"}
_NO_LIMIT = {"count", "holds_heads", "keep_days"}
_NO_TASK = {"moved_in_by", "harvested_by", "washed_by", "cleared_by", "daily_checks_by"}
_CLOCK = re.compile(r"\s*(\d{1,2})(?::(\d\d))?\s*([ap])\.?m\.?\s*", re.IGNORECASE)
_CLOCK_24 = re.compile(r"\s*(\d\d):(\d\d)\s*")


@dataclass(frozen=True, slots=True)
class Said:
    """A value as written: in which file, at which key, with its source note if it has one.

    With `why` nobody wrote it: it is assumed, and `unit` is what its number counts.
    """

    value: object
    file: Path
    key: str
    source: str = ""
    why: str = ""
    unit: str = ""


Tree = Said | dict[str, "Tree"] | list["Tree"]
Table = dict[str, Tree]


def joined(key: str, part: str) -> str:
    """A key one table deeper, quoted where TOML would need quotes."""
    shown = part if re.fullmatch(r"[A-Za-z0-9_-]+", part) else json.dumps(part[:80])
    return f"{key}.{shown}" if key else shown


def said(data: object, file: Path, key: str = "") -> Tree:
    """The tree of plain TOML data."""
    if isinstance(data, dict):
        if set(data) == {"value", "source"} and _is_noted(data["value"], data["source"]):
            return Said(data["value"], file, key, source=data["source"])
        return {k: said(v, file, joined(key, k)) for k, v in data.items()}
    if isinstance(data, list):
        labels = _labels(data, key.rpartition(".")[2])
        return [said(v, file, f"{key}[{label}]") for v, label in zip(data, labels, strict=True)]
    return Said(data, file, key)


def _is_noted(value: object, source: object) -> bool:
    return isinstance(source, str) and not isinstance(value, (dict, list))


def _labels(entries: list[object], key: str) -> list[str]:
    """What stands for each list entry in a key: its name if it has its own, else its number."""
    naming = NAMED_BY.get(key, ("",))[0]
    names = [e.get(naming) if isinstance(e, dict) else None for e in entries]
    known = [n.value if isinstance(n, Said) else n for n in names]
    texts = [n for n in known if isinstance(n, str)]
    unique = len(set(texts)) == len(texts)
    return [
        json.dumps(name[:80], ensure_ascii=False)
        if unique and isinstance(name, str) and name
        else str(number)
        for number, name in enumerate(known, 1)
    ]


def merged(base: Tree, later: Tree, key: str = "") -> Tree:
    """The later tree over its base; see the module's rules."""
    if isinstance(base, dict) and isinstance(later, dict):
        both: Table = dict(base)
        for name, value in later.items():
            both[name] = merged(both[name], value, name) if name in both else value
        return both
    if isinstance(base, list) and isinstance(later, list) and key in NAMED_BY and later:
        return _merged_lists(base, later, NAMED_BY[key])
    return later


def _merged_lists(base: list[Tree], later: list[Tree], naming: tuple[str, ...]) -> list[Tree]:
    entries = list(base)
    places: dict[object, list[int]] = defaultdict(list)
    for number, old in enumerate(base):
        places[_name(old, naming[0])].append(number)
    names = [tuple(_name(entry, key) for key in naming) for entry in later]
    if len(set(names)) < len(names):
        return later
    taken: set[int] = set()
    for entry in later:
        name = _name(entry, naming[0])
        same = [n for n in places[name] if _agree(base[n], entry, naming[1:])]
        if name is None or len(same) > 1 or taken & set(same):
            return later
        taken.update(same)
        if same:
            entries[same[0]] = merged(base[same[0]], entry)
        else:
            entries.append(entry)
    return entries


def _name(entry: Tree, key: str) -> str | None:
    value = entry.get(key) if isinstance(entry, dict) else None
    return value.value if isinstance(value, Said) and isinstance(value.value, str) else None


def _agree(one: Tree, two: Tree, keys: tuple[str, ...]) -> bool:
    pairs = ((_name(one, key), _name(two, key)) for key in keys)
    return all(a == b or a is None or b is None for a, b in pairs)


def plain(tree: Tree, key: str = "") -> object:
    """The tree as plain data: clock times, single days and "unlimited" in the model's terms."""
    if isinstance(tree, dict):
        return {name: plain(value, name) for name, value in tree.items()}
    if isinstance(tree, list):
        entries = [plain(value) for value in tree]
        return [_stretch(e) for e in entries] if key in _STRETCHES else entries
    value = tree.value
    if isinstance(value, time) and (value.second or value.microsecond):
        return str(value)  # a shift starts on the minute
    if isinstance(value, str):
        if key in _CLOCKS:
            return clock_time(value) or value
        if (key in _NO_LIMIT and value == "unlimited") or (key in _NO_TASK and value == "nobody"):
            return None
    return value


def _stretch(entry: object) -> object:
    """One closed day written as a bare date."""
    if isinstance(entry, date) and not isinstance(entry, datetime):
        return {"first_day": entry, "last_day": entry}
    return entry


def clock_time(text: str) -> time | None:
    """A clock time such as "3:00 pm", "9 am" or "15:00"; None if it is none of these.

    Without am or pm the hour needs two digits, so that "3:00" is not taken for the night.
    """
    if found := _CLOCK.fullmatch(text):
        hour, minute = int(found[1]), int(found[2] or 0)
        if not 1 <= hour <= 12 or minute > 59:
            return None
        return time(hour % 12 + 12 * (found[3].lower() == "p"), minute)
    found = _CLOCK_24.fullmatch(text)
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        return None
    return time(int(found[1]), int(found[2]))


def leaves(tree: Tree) -> Iterator[Said]:
    """All values of a tree, in its order."""
    if isinstance(tree, Said):
        yield tree
    else:
        for value in tree.values() if isinstance(tree, dict) else tree:
            yield from leaves(value)


def number(tree: Tree | None) -> float | None:
    """The number that a leaf gives, or None."""
    value = tree.value if isinstance(tree, Said) else None
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def find(tree: Tree, path: KeyPath) -> Tree | None:
    """What stands at a key path, or None."""
    at: Tree | None = tree
    for key in path:
        if isinstance(at, dict) and isinstance(key, str):
            at = at.get(key)
        elif isinstance(at, list) and isinstance(key, int) and key < len(at):
            at = at[key]
        else:
            return None
    return at


def where(tree: Tree, path: KeyPath, file: Path) -> tuple[Path, str]:
    """File and key at which a path was written.

    A path that nobody wrote is spelled as the full form spells it, with the file of whatever
    stands nearest.
    """
    for length in range(len(path), -1, -1):
        found = find(tree, path[:length])
        if isinstance(found, Said):
            return found.file, found.key
        first = next(leaves(found), None) if found is not None else None
        if first is not None:
            spelled = _spelled(tree, path)
            holder = _spelled(tree, path[:length])
            short = length == len(path) and length > 0 and not first.key.startswith(holder)
            return first.file, first.key if short else spelled
    return file, _spelled(tree, path)


def _spelled(tree: Tree, path: KeyPath) -> str:
    """A key path as the full form spells it."""
    key, at = "", tree
    for part in path:
        if isinstance(part, int):
            entries: list[object] = list(at) if isinstance(at, list) else []
            labels = _labels(entries, key.rpartition(".")[2])
            key += f"[{labels[part] if part < len(labels) else part + 1}]"
        else:
            key = joined(key, part)
        at = find(at, (part,)) or {}
    return key


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing wrong in a file, as it is told to the user."""

    file: Path
    key: str
    text: str

    def line(self) -> str:
        """File, key, what it must be, what it was, what to do."""
        end = "" if self.text.endswith(("?", ".")) else "."
        gap = " " if self.text.startswith(("must ", "is ", "(")) else ": "
        return f"{self.file.name}: {self.key}{gap}{self.text}{end}"


def shown(value: object) -> str:
    """A value as a file writes it, cut short if it is long."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (dict, list, tuple)):
        kind = "table" if isinstance(value, dict) else "list"
        return f"a {kind}" if value else f"an empty {kind}"
    if isinstance(value, str):
        return json.dumps(value[:60], ensure_ascii=False) + ("..." if len(value) > 60 else "")
    if isinstance(value, time):
        return f"{value:%H:%M:%S}" if value.second else f"{value:%H:%M}"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a number of more than 15 digits"
    return str(value)
