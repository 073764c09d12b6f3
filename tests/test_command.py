"""The commands as a user runs them: answers, files, bad input."""

from __future__ import annotations

import json
import os
import random
import re
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sim.__main__ import main
from sim.commands import check

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "scenarios" / "maple-hollow.toml"
SHORT = ROOT / "scenarios" / "maple-hollow-short.toml"
MEASURES = {
    "unit_fill_rate", "order_fill_rate", "steadiness", "weakest_week", "bench_fill",
    "useful_bench_share", "heads_per_week", "wasted_plants", "labor_use",
}  # fmt: skip


def seedbeat(*args: object, **options: object) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "COLUMNS": "80"}
    return subprocess.run(
        [sys.executable, "-m", "sim", *map(str, args)],
        capture_output=True, text=True, env=environment, timeout=300, check=False, **options,
    )  # fmt: skip


def refused(*args: object) -> str:
    """The message of a refused command: exit code 2, nothing printed, no traceback."""
    ended = seedbeat(*args)
    assert ended.returncode == 2, ended.stderr
    assert ended.stdout == ""
    assert "Traceback" not in ended.stderr
    return ended.stderr


@pytest.fixture(scope="module")
def answer() -> dict[str, object]:
    ended = seedbeat("run", DEMO, "--years", 50, "--json", "--workers", 1)
    assert ended.returncode == 0, ended.stderr
    assert ended.stderr == ""
    return json.loads(ended.stdout)


def test_json_is_one_object_with_every_measure(answer):
    measures = answer["measures"]
    assert set(measures) == MEASURES
    for estimate in measures.values():
        assert set(estimate) == {"mean", "low", "high", "p05", "p95", "n"}
        assert estimate["n"] == 50
        assert estimate["low"] <= estimate["mean"] <= estimate["high"]


@pytest.mark.parametrize("command", ["check", "run"])
def test_json_prints_nothing_but_the_object(command):
    ended = seedbeat(command, SHORT, "--json", *(("--years", 2) if command == "run" else ()))
    assert ended.stderr == ""
    assert json.loads(ended.stdout)["command"] == command


def test_same_seed_same_bytes_in_two_processes_and_with_two_workers(answer):
    one = seedbeat("run", DEMO, "--years", 50, "--json", "--workers", 1)
    two = seedbeat("run", DEMO, "--years", 50, "--json", "--workers", 2)
    assert one.stdout == two.stdout
    assert json.loads(one.stdout) == answer
    assert seedbeat("run", DEMO, "--years", 50, "--json", "--seed", 2).stdout != one.stdout


def test_first_screen_answers_in_order():
    """Complete or short; weakest week and last date; seed next; heads a week; sites filled."""
    text = seedbeat("run", DEMO, "--years", 50).stdout
    heads = ["SHORT in", "Weakest week:", "Last date to act", "Seed next:", "Heads a week:",
             "Finishing sites filled:", "Measures, 33 weeks"]  # fmt: skip
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    assert places[5] < text.index("Cautions")


@pytest.mark.parametrize(
    "args", [("run", DEMO, "--years", "30"), ("check", DEMO), ("--help",), ("run", "--help")]
)
def test_nothing_is_wider_than_80_columns(args):
    text = seedbeat(*args).stdout
    assert text
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80


def test_pages_speak_plainly():
    """No word of the code, no assurance, on any screen."""
    for args in (("run", DEMO, "--years", "5"), ("check", DEMO)):
        text = seedbeat(*args).stdout
        for word in (
            "luck",
            "container",
            "useful_bench",
            "survival",
            "guarantee",
            "promise",
            " nan",
        ):
            assert not re.search(rf"{word}", text.replace("without a promise", "")), word


def test_out_writes_tables_pictures_and_what_rebuilds_them(tmp_path):
    out = tmp_path / "new" / "folder"
    ended = seedbeat("run", SHORT, "--years", 3, "--out", out)
    assert ended.returncode == 0, ended.stderr
    names = {path.name for path in out.iterdir()}
    assert {"run.json", "measures.csv", "weeks.csv", "seedings.csv", "rows.csv"} <= names
    pictures = {name for name in names if name.endswith(".png")}
    assert len(pictures) == 5
    assert {name[:-4] + ".svg" for name in pictures} <= names
    kept = json.loads((out / "run.json").read_text())
    assert kept["seed"] == 1
    assert re.fullmatch(r"[0-9a-f]{16}", kept["scenario_hash"])
    assert {"python", "seedbeat", "simpy"} <= set(kept["versions"])
    assert all((out / name).stat().st_size > 0 for name in names)


def test_out_that_is_a_file_is_refused_before_anything_is_simulated(tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("mine")
    message = refused("run", SHORT, "--out", taken)
    assert str(taken) in message
    assert "choose another folder" in message
    assert taken.read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_out_without_write_permission_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    assert "choose another folder" in refused("run", SHORT, "--out", tmp_path / "out")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("run", "no-such.toml"), "no-such.toml"),
        (("run", SHORT, "--years", "0"), "from 1 to"),
        (("run", SHORT, "--years", "many"), "'many'"),
        (("run", SHORT, "--seed", "-1"), "whole number"),
        (("run", SHORT, "--workers", "0"), "'0'"),
        (("cadence", SHORT, "--steadiness", "95"), "0.95"),
        (("runn", SHORT), "runn"),
        ((), "COMMAND"),
    ],
)
def test_bad_arguments_are_refused_with_a_remedy(args, says):
    assert says in refused(*args)


@pytest.mark.proof
def test_mutated_scenarios_give_results_or_messages(tmp_path):
    """50 broken copies of the demo through the command: exit code 0 or 2, never a traceback."""
    chance = random.Random(20261)
    (tmp_path / "maple-hollow.ics").write_bytes((DEMO.parent / "maple-hollow.ics").read_bytes())
    text, ends = DEMO.read_text(), set()
    for number in range(50):
        lines = text.splitlines()
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(lines))
            lines[at] = chance.choice([
                "", lines[at][: len(lines[at]) // 2], lines[at].replace("1", "-7"),
                lines[at].replace("=", "= 0.5 #"), lines[at].replace("e", "a", 1), lines[at] * 2,
            ])  # fmt: skip
        broken = tmp_path / f"broken-{number}.toml"
        broken.write_text("\n".join(lines))
        ended = seedbeat("run", broken, "--years", 1, "--json")
        ends.add(ended.returncode)
        assert ended.returncode in (0, 2), (lines, ended.stderr)
        assert "Traceback" not in ended.stderr
        assert ended.returncode == 2 or json.loads(ended.stdout)["command"] == "run"
    assert ends == {0, 2}


def test_a_second_ctrl_c_is_not_heard(monkeypatch, capsys):
    """Whoever presses Ctrl-C twice sees one line and code 130; cleaning up is not disturbed."""
    cleaned = []

    def impatient(_: object) -> dict[str, object]:
        try:
            signal.raise_signal(signal.SIGINT)
        finally:
            signal.raise_signal(signal.SIGINT)
            cleaned.append("up")
        return {}

    twice = replace(check.COMMAND, answer=impatient)
    monkeypatch.setattr("sim.__main__.COMMANDS", (twice,))
    before = signal.getsignal(signal.SIGINT)
    try:
        assert main(["check", str(DEMO)]) == 130
    finally:
        signal.signal(signal.SIGINT, before)
    assert cleaned == ["up"]
    assert capsys.readouterr().err == "seedbeat: stopped by Ctrl-C; no file was written.\n"
