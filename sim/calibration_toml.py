"""A scenario's text with measured numbers put in: comments stay, each number says its source.

A number is changed where the text says it, in the short form or the full form. One that the text
leaves open gets a key in a table that is there, or in a new table at the end.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, Comment, InlineTable, Item, Whitespace

from sim.agreement import KeyPath
from sim.errors import OutputError
from sim.scenario import Scenario
from sim.short_form import GIVEN, OPTIONAL

_SHORT = {
    path: (table, key)
    for form in (GIVEN, OPTIONAL)
    for table, keys in form.items()
    for key, path in keys.items()
}
_STAND = "germination_percent"  # of which the full form says what is missing to 100
_Keys = tuple[str, ...]


@dataclass(frozen=True)
class Change:
    """A number, or the shape of a length, that a scenario is to say, with its note."""

    path: KeyPath
    value: float | str
    source: str

    @property
    def text(self) -> str:
        """Value and note as TOML."""
        return _noted(self.value, self.source)


def copied(
    text: str, scenario: Scenario, changes: Sequence[Change], heading: str, move: PurePath | None
) -> str:
    """The text of a scenario file with the changes in it, and a comment `heading` before it.

    `move` is the way from the new file's folder to the old one's, None if they are one folder.
    Raises OutputError if the text builds on another file, or cannot be changed here.
    """
    try:
        document = tomlkit.parse(text)
        if "base" in document:
            raise OutputError("The scenario builds on another file.")
        left = [change for change in changes if not _put(document, scenario, change)]
        if move is not None:
            _move_calendar(document, move)
        return f"# {heading}\n{tomlkit.dumps(document).rstrip()}\n{_tables(scenario, left)}"
    except (TOMLKitError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise OutputError(f"The scenario's text cannot be changed: {error}.") from None


def what_if(base: str, scenario: Scenario, changes: Sequence[Change], heading: str) -> str:
    """The text of a scenario that builds on the file `base` and says only the changes."""
    name = f"{scenario.name[:66]}, as measured"
    top = f"# {heading}\n\nbase = {_quoted(base)}\nname = {_quoted(name)}\n"
    return top + _tables(scenario, changes)


def way(from_folder: Path, to_file: Path) -> str:
    """How a file in one folder names another file."""
    return PurePath(os.path.relpath(to_file.absolute(), from_folder.absolute())).as_posix()


# -- in the text that is there ---------------------------------------------------------------------


def _put(document: MutableMapping[str, Any], scenario: Scenario, change: Change) -> bool:
    """Change a number where the text says it, or could; whether there is such a place."""
    parents, keys = _address(scenario, change.path)
    full, short = _found(document, parents), _found(document, _SHORT.get(change.path, ())[:1])
    if full is not None and isinstance(inner := full.get(keys[0]), MutableMapping) and keys[1:]:
        full, keys = inner, keys[1:]
    key = _SHORT[change.path][1] if short is not None else ""
    if short is not None and (full is None or keys[0] not in full) and (key in short or not full):
        value = change.value
        if key == _STAND:
            value = round(100.0 - float(value), 9)
        _set(short, key, Change(change.path, value, change.source))
    elif full is None:
        return False
    elif keys[1:]:  # a table in the table, which is not there yet
        _add(full, keys[0], _item(f"{{ {_key(keys[1])} = {change.text} }}"))
    else:
        _set(full, keys[0], change)
    return True


def _found(document: MutableMapping[str, Any], keys: _Keys) -> MutableMapping[str, Any] | None:
    """The table at these keys, in a list the entry of that name; None if there is none."""
    at: Any = document if keys else None
    for part in keys:
        if isinstance(at, list):
            named = (e for e in at if isinstance(e, Mapping) and e.get("name") == part)
            at = next(named, None)
        else:
            at = at.get(part) if isinstance(at, Mapping) else None
    return at if isinstance(at, MutableMapping) else None


def _address(scenario: Scenario, path: KeyPath) -> tuple[_Keys, _Keys]:
    """A key path cut in two: the table, in which a stage goes by its name, and the key in it."""
    if path[0] != "crops":
        return tuple(map(str, path[:2])), tuple(map(str, path[2:]))
    number = path[3]
    assert isinstance(number, int)
    name = scenario.crops[str(path[1])].stages[number].name
    return ("crops", str(path[1]), "stages", name), tuple(map(str, path[4:]))


def _set(table: MutableMapping[str, Any], key: str, change: Change) -> None:
    """Say a value with its note."""
    old = table.get(key)
    if isinstance(old, MutableMapping):
        old["value"], old["source"] = change.value, change.source
    elif old is not None:
        table[key] = _item(change.text)
    else:
        _add(table, key, _item(change.text))


def _add(table: MutableMapping[str, Any], key: str, item: Item) -> None:
    """Put a new key below the last one of a table, above blank lines and comments after it."""
    lines = isinstance(table, AbstractTable) and not isinstance(table, InlineTable)
    body = table.value.body if lines and isinstance(table, AbstractTable) else []
    after: list[tuple[Any, Item]] = []
    while body and body[-1][0] is None and isinstance(body[-1][1], Whitespace | Comment):
        after.insert(0, body.pop())
    table[key] = item
    body.extend(after)


def _item(text: str) -> Item:
    """A value as the text spells it, on a line of its own."""
    item = tomlkit.parse(f"x = {text}\n").item("x")
    assert isinstance(item, Item)  # nothing of it is out of order
    return item


def _move_calendar(document: Container, move: PurePath) -> None:
    """Name the calendar from another folder."""
    for table in (document, document.get("school")):
        named = table.get("calendar") if isinstance(table, MutableMapping) else None
        if isinstance(named, MutableMapping):
            named["value"] = (move / str(named["value"])).as_posix()
        elif isinstance(named, str) and isinstance(table, MutableMapping):
            table["calendar"] = (move / str(named)).as_posix()


# -- in new tables ---------------------------------------------------------------------------------


def _tables(scenario: Scenario, changes: Sequence[Change]) -> str:
    """Tables of the full form that say the changes."""
    lines: dict[_Keys, list[str]] = {}
    for change in changes:
        parents, keys = _address(scenario, change.path)
        line = f"{'.'.join(map(_key, keys))} = {change.text}"
        lines.setdefault(parents, []).append(line)
    return "".join(_table(parents, of_table) for parents, of_table in lines.items())


def _table(parents: _Keys, lines: Sequence[str]) -> str:
    if parents[0] != "crops":
        header = f"[{'.'.join(map(_key, parents))}]"
    else:
        header = f"[[{'.'.join(map(_key, parents[:3]))}]]\nname = {_quoted(parents[3])}"
    return "\n".join(["", header, *lines, ""])


def _key(part: str) -> str:
    plain = part.isascii() and part.replace("-", "").replace("_", "").isalnum()
    return part if plain else _quoted(part)


def _noted(value: float | str, source: str) -> str:
    shown = _quoted(value) if isinstance(value, str) else f"{value:.10g}"
    return f"{{ value = {shown}, source = {_quoted(source)} }}"


def _quoted(text: str) -> str:
    """Text as TOML: JSON spells it the same way (a name holds no DEL)."""
    return json.dumps(text, ensure_ascii=False)
