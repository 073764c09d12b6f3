"""Every input of a scenario stands in one row, with what its file says of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sim import parts
from sim.inputs import ASSUMED, DEFAULT, IN_FILE, WORDS, Input, inputs
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, read_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = SCENARIOS / "maple-hollow.toml"
FILES = sorted(SCENARIOS.glob("*.toml"))
NAMES = {(Scenario, "name"), (parts.Stage, "name"), (parts.Order, "customer"),
         (parts.Surplus, "outlet"), (parts.Dates, "name")}  # fmt: skip
HOLDING = {  # fields that only hold other parts
    (Scenario, key)
    for key in ("school", "places", "crops", "tasks", "crews", "orders", "surplus", "cold_store",
                "cadence")
} | {(parts.Crop, "stages"), (parts.Cadence, "lines")}  # fmt: skip


def rows(loaded: LoadedScenario) -> dict[str, Input]:
    found = inputs(loaded)
    assert len({one.key for one in found}) == len(found)
    return {one.key: one for one in found}


@pytest.mark.parametrize("part", sorted(WORDS, key=str))
def test_every_key_of_a_scenario_has_its_words(part):
    """No key is left out of the table in silence: each has words, or is a name, or holds parts."""
    known = set(WORDS[part]) | {key for of, key in NAMES | HOLDING if of is part}
    assert set(part.model_fields) <= known


def numbers(part, path=()):
    """The path of every number in a scenario but those of shifts, dates and clock times."""
    if isinstance(part, parts.Shift):
        return
    if isinstance(part, parts.Model):
        for key in type(part).model_fields:
            yield from numbers(getattr(part, key), (*path, key))
    elif isinstance(part, dict | tuple):
        for key, value in part.items() if isinstance(part, dict) else enumerate(part):
            yield from numbers(value, (*path, key))
    elif isinstance(part, int | float) and not isinstance(part, bool):
        yield path


def changed(part, path):
    """The same with one number raised by 1, without looking at its limits."""
    if not path:
        return part + 1
    key, *rest = path
    if isinstance(part, parts.Model):
        return part.model_copy(update={key: changed(getattr(part, key), rest)})
    if isinstance(part, tuple):
        return (*part[:key], changed(part[key], rest), *part[key + 1 :])
    return {**part, key: changed(part[key], rest)}


@pytest.mark.parametrize("name", ["maple-hollow.toml", "maple-hollow-three-crops.toml"])
def test_every_number_shows_in_one_row(name):
    """Whichever number of a scenario changes, one row and no other changes its value."""
    loaded = read_scenario(SCENARIOS / name)
    before = inputs(loaded)
    paths = list(numbers(loaded.scenario))
    assert len(paths) > 60
    for path in paths:
        after = inputs(replace(loaded, scenario=changed(loaded.scenario, path)))
        differing = [b for a, b in zip(before, after, strict=True) if a.value != b.value]
        assert len(differing) == 1, path


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_assumption_stands_beside_its_number(file):
    """What `check` lists as assumed is in the row of its key; no note needs a row of its own."""
    loaded = read_scenario(file)
    found = rows(loaded)
    assert not [one for one in found.values() if one.what == one.key]
    for assumption in loaded.assumed:
        holders = [one for one in found.values() if ASSUMED + assumption.why in one.note]
        value = assumption.value.split()[0]
        told = [str(one.value).removesuffix(".0") for one in holders]
        in_part = any("in part" in one.note for one in holders)
        assert value in told or in_part or assumption.value in told


def written(folder: Path, text: str) -> LoadedScenario:
    """The demo with more lines put before its first table; its calendar lies beside it."""
    (folder / "demo.toml").write_text(DEMO.read_text())
    (folder / "maple-hollow.ics").write_bytes(DEMO.with_suffix(".ics").read_bytes())
    (folder / "own.toml").write_text(f'base = "demo.toml"\n{text}')
    return read_scenario(folder / "own.toml")


def test_source_notes_are_quoted_wherever_they_are_written(tmp_path):
    """In the short form, in the full form, in a table of weekdays, and where the short form
    says germination and the scenario holds a loss.
    """  # noqa: D205 - one sentence
    loaded = written(
        tmp_path,
        """
seed_trays = { Mon = { value = 5, source = "list of last year" } }
[nursery]
germination_percent = { value = 88, source = "ten trays counted" }
[channels]
minutes_per_head = { value = 0.9, source = "three classes timed" }
[tasks.washing]
minutes_each = { value = 7, source = "one channel timed" }
""",
    )
    found = rows(loaded)
    loss = found['crops.lettuce.stages["nursery"].loss_percent']
    assert (loss.value, loss.note) == (12, "ten trays counted")
    assert found["tasks.harvest.minutes_each"].note == "three classes timed"
    assert found["tasks.washing.minutes_each"].note == "one channel timed"
    assert found["tasks.washing.minutes_each"].value == 7
    trays = found['cadence.lines["lettuce"].trays']
    assert (trays.value, trays.note) == ("Mon 5, Thu 4", "in part: list of last year")


def test_a_note_of_nothing_else_has_a_row_of_its_own():
    loaded = replace(read_scenario(DEMO), sources={"somewhere.else": "a note"})
    found = rows(loaded)["somewhere.else"]
    assert (found.note, found.what) == ("a note", "somewhere.else")


def test_units_and_words_of_the_demo():
    """Places count their own containers, tasks their own units; the file's numbers stand."""
    found = rows(read_scenario(DEMO))

    def told(key: str) -> tuple[object, ...]:
        return found[key].where, found[key].what, found[key].value, found[key].unit, found[key].note

    assert told("places.channels.count") == (
        "place channels", "number of them", 448, "channels", IN_FILE,
    )  # fmt: skip
    assert told("tasks.transplant.minutes_each")[2:4] == (0.4, "minutes per plant")
    assert told("tasks.washing.minutes_each")[2:4] == (6, "minutes per channel")
    assert told("tasks.clearing.minutes_each")[3] == "minutes per tray or channel"
    assert told('orders["Brasswick hotel"].heads')[2:4] == ("Tue 216, Fri 216", "heads")
    assert told('crops.lettuce.stages["channels"].pace_percent')[2] == "Dec 95, Jan 95"
    assert told("tasks.harvest.setup_minutes")[4] == DEFAULT
    assert told("run_first_day") == (
        "scenario", "first simulated day", "first day of school", "", DEFAULT,
    )  # fmt: skip


def test_long_lists_stand_in_one_row():
    """27 closed days in 10 stretches, two periods and the break cover: a row each."""
    found = rows(read_scenario(DEMO))
    closed = found["school.closed"].value
    assert str(closed).startswith("27 days: Labor Day (Mon Sep 7); ")
    assert str(closed).count(";") == 9
    shifts = str(found["crews.class.shifts"].value)
    first = "period 1 Mon Tue Wed Thu Fri 9:40 am to 10:28 am (30 minutes, 15 on exam days); "
    assert shifts.startswith(first)
    assert shifts.count("period") == 2
    cover = str(found['crews."break cover".shifts'].value)
    assert cover.endswith("spring break (Mon Mar 15 to Fri Mar 19), on closed days")


def test_seedings_by_hand_are_summed_up():
    scenario = read_scenario(DEMO).scenario
    days = [scenario.school.first_day, scenario.school.last_day]
    added = tuple(parts.Seeding(day=day, crop="lettuce", trays=3) for day in days)
    cadence = scenario.cadence.model_copy(update={"added": added})
    loaded = replace(read_scenario(DEMO), scenario=scenario.model_copy(update={"cadence": cadence}))
    value = rows(loaded)["cadence.added"].value
    assert value == "2 seedings, 6 trays in all, Mon Aug 24, 2026 to Fri Jun 4, 2027"
