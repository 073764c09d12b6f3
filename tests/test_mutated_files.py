"""Whatever a scenario file says: it is a scenario, or one clear error raised on purpose."""

from __future__ import annotations

import json
import random
import tomllib
from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from sim.errors import SeedbeatError
from sim.scenario_file import read_scenario
from sim.year import run

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHIPPED = sorted(SCENARIOS.glob("*.toml"))
NOT_OURS = ("pydantic", "Input should", "Value error", "https://", "Traceback", "Extra inputs")


def only_said_errors(file: Path, use: Callable[[Path], object] = read_scenario) -> bool:
    """Use a file; whether it was accepted. Anything but an error raised on purpose fails."""
    try:
        use(file)
    except SeedbeatError as error:
        message = str(error)
        assert message
        assert not [word for word in NOT_OURS if word in message]
        return False
    return True


def toml(value: Any) -> str:
    """A value as inline TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, (date, time)):
        return value.isoformat()
    return json.dumps(value) if isinstance(value, str) else str(value)


NASTY: list[Any] = [
    0, -1, 1, 2, 7, 10**9, 10**18, 10**40, 0.5, -0.0, 1e-300, 1e308, float("inf"), float("nan"),
    True, False, "", " ", "x", "Mon", "lettuce", "nursery", "harvest", "unlimited", "nobody",
    "3:00 pm", "\t", "9" * 100, "2026-08-24", [], {}, [[]], [{}], {"value": 1}, {"Mon": 1},
    {"value": 5, "source": "counted"}, {"value": [], "source": 1}, [1, "a"],
    date(1, 1, 1), date(1900, 1, 1), date(2026, 10, 12), date(2027, 6, 1), date(9999, 12, 31),
    time(0), time(23, 59), time(12, 30, 30),
]  # fmt: skip


CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
BEGIN:VEVENT
DTSTART;VALUE=DATE:20261221
DTEND;VALUE=DATE:20270102
SUMMARY:Winter Break
END:VEVENT
END:VCALENDAR
"""


def places_of(value: Any) -> list[tuple[Any, Any]]:
    """Every (table or list, key) of parsed data."""
    keys = list(value) if isinstance(value, dict) else list(range(len(value)))
    found = [(value, key) for key in keys]
    for key in keys:
        if isinstance(value[key], (dict, list)):
            found += places_of(value[key])
    return found


def mutate_data(data: dict[str, Any], luck: random.Random) -> None:
    """Replace, scale, remove, copy or rename something, once to three times."""
    for _ in range(luck.choice((1, 1, 2, 3))):
        holder, key = luck.choice(places_of(data))
        value = holder[key]
        action = luck.randrange(6)
        if action <= 1:
            holder[key] = luck.choice(NASTY)
        elif action == 2 and isinstance(value, (int, float)) and not isinstance(value, bool):
            holder[key] = value * luck.choice((-1, 0, 2, 10, 1000, 0.1))
        elif action == 3:
            holder.pop(key)
        elif action == 4:
            other, where = luck.choice(places_of(data) or [(data, "name")])
            if not isinstance(other[where], (dict, list)):
                other[where] = value if not isinstance(value, (dict, list)) else 3
        elif isinstance(holder, dict):
            holder[luck.choice(("x", "name", "days", "", "value", key + "s"))] = holder.pop(key)
        if not data:
            data["name"] = "x"


def mutate_text(text: str, luck: random.Random) -> str:
    """Cut, double, swap or overwrite a piece of the text."""
    for _ in range(luck.choice((1, 1, 2, 5))):
        start = luck.randrange(len(text) + 1)
        end = min(len(text), start + luck.choice((1, 1, 3, 20, 200)))
        piece = luck.choice(
            (
                "",
                text[start:end] * 2,
                luck.choice('"[]{}=.,#-_0123456789aé\n\t\0'),
                text[start:end][::-1],
            )
        )
        text = text[:start] + piece + text[end:]
    return text


def mutated_files(folder: Path, seed: int, count: int) -> list[Path]:
    """Mutated files beside copies of the shipped ones: text and data by turns."""
    luck = random.Random(seed)
    for shipped in SHIPPED:
        (folder / shipped.name).write_bytes(shipped.read_bytes())
    (folder / "maple-hollow.ics").write_text(CALENDAR, encoding="utf-8")  # small, so quick to read
    files = []
    for number in range(count):
        source = luck.choice(SHIPPED)
        text = source.read_text(encoding="utf-8")
        if number % 2:
            data = tomllib.loads(text)
            mutate_data(data, luck)
            text = "".join(f"{json.dumps(k)} = {toml(v)}\n" for k, v in data.items())
        else:
            text = mutate_text(text, luck)
        files.append(folder / f"mutant-{number}.toml")
        files[-1].write_text(text, encoding="utf-8")
    return files


def test_mutated_files_are_scenarios_or_said_errors(tmp_path: Path) -> None:
    """3,000 mutations of the shipped files' text and data (fixed seed): never a traceback.

    Some are still accepted, most are refused; both must happen for the test to mean anything.
    """
    accepted = sum(only_said_errors(file) for file in mutated_files(tmp_path, 20260824, 3000))
    assert 300 < accepted < 2700


def read_and_run(file: Path) -> None:
    """Read a file, simulate one year of it and measure it."""
    run(read_scenario(file).scenario, seed=3).measures()


@pytest.mark.proof
def test_what_is_accepted_can_be_run(tmp_path: Path) -> None:
    """Of 1,500 other mutations those that are read are simulated: results or said errors."""
    files = mutated_files(tmp_path, seed=20261125, count=1500)
    ran = [only_said_errors(file, use=read_and_run) for file in files]
    assert 100 < sum(ran) < len(ran)
