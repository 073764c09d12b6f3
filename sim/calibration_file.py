"""The new scenario file of a calibration: written whole and read back, or not written at all."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path, PurePath
from typing import Any

from sim import asking_files
from sim.calibration_toml import Change, copied, way, what_if
from sim.errors import OutputError, SeedbeatError
from sim.records_file import HEADER
from sim.scenario_file import LoadedScenario, load_scenario
from sim.toml_file import TOML_LIMIT, content


def ready(new: Path) -> None:
    """Make sure that a new scenario can be written, before anything is read.

    Raises OutputError if the file is there already, or its name or folder cannot be used.
    """
    asking_files.ready(new)


def is_own_table(records: Path) -> bool:
    """Whether a file of records has the columns that this program writes."""
    try:
        with records.open(encoding="utf-8-sig") as stream:
            first = stream.readline(10_000)
    except (OSError, UnicodeDecodeError):
        return False  # whoever reads it says what is wrong
    return set(HEADER) <= {cell.strip().strip('"') for cell in first.split(",")}


def write_new(new: Path, loaded: LoadedScenario, changes: Sequence[Change], heading: str) -> str:
    """Write a scenario with the changes in it; "copy" or "what-if", as which it was written.

    A scenario that stands by itself is copied with its comments. One that builds on another, or
    whose text cannot be changed, gets a what-if that builds on it and says only the changes.
    Either is read back and compared before it is written. Raises OutputError.
    """
    folder, file = new.parent, loaded.path
    move = None
    if folder.absolute().resolve() != file.parent.absolute().resolve():
        move = PurePath(way(folder, file.parent))
    with suppress(OutputError):
        source = content(file, TOML_LIMIT, "scenario", "").decode("utf-8-sig")
        text = copied(source.replace("\r\n", "\n"), loaded.scenario, changes, heading, move)
        _check(new, text, loaded, changes)
        asking_files.write_scenario(new, text)
        return "copy"
    text = what_if(way(folder, file), loaded.scenario, changes, heading)
    _check(new, text, loaded, changes)
    asking_files.write_scenario(new, text)
    return "what-if"


def _check(new: Path, text: str, loaded: LoadedScenario, changes: Sequence[Change]) -> None:
    """See that a text in the new file's folder would read as the scenario with the changes."""
    trial = new.with_name(f".seedbeat-{os.getpid()}-trial.toml")
    try:
        asking_files.write_scenario(trial, text)
        found = load_scenario(trial).model_dump()
    except SeedbeatError as error:
        told = str(error).replace(trial.name, new.name)
        raise OutputError(
            f"{new}: was not written, since no program could read it: {told}"
        ) from None
    finally:
        with suppress(OSError):
            trial.unlink()
    wanted = loaded.scenario.model_dump()
    for change in changes:
        _put(wanted, change)
    if {**found, "name": ""} != {**wanted, "name": ""}:
        raise OutputError(
            f"{new}: was not written, since {loaded.path.name} says its numbers in a way that "
            "cannot be changed here; write the full form, with each number in its table."
        )


def _put(parts: Any, change: Change) -> None:
    for key in change.path[:-1]:
        parts = parts[key]
    parts[change.path[-1]] = change.value
