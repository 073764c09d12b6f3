"""Kept results: never another's, never damaged ones, and work goes on where it was killed."""

from __future__ import annotations

import os
import pickle
import signal
import sqlite3
import subprocess
import sys
import types
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import date, time, timedelta
from hashlib import sha256
from math import inf, nextafter
from pathlib import Path
from random import Random
from time import sleep
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import pytest
from pydantic import BaseModel
from running import (
    ENVIRONMENT,
    PATIENCE,
    ROOT,
    SCENARIOS,
    finished,
    is_sound,
    kept_years,
    start,
    uninterrupted,
    wait_until,
    wait_until_gone,
)
from test_workers import differing

from sim import kept as kept_module
from sim import runs as runs_module
from sim.__main__ import main
from sim.cadence import Aim, CadenceAnswer, search
from sim.errors import KeptError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.kept import Kept
from sim.records import CAUSE, CONTAINERS, COUNT, CROP, CUSTOMER, KIND, PLACE, TO
from sim.runs import MODEL, Runs, replicate, simulate
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.year_numbers import CAUSES, KINDS_OF_WORK, VALUES, WEEKLY, Layout

SHORT = SCENARIOS / "maple-hollow-short.toml"
SMALL = SCENARIOS / "small-bench-summer.toml"
KEY = ("year", "0123456789abcdef", 1, 1)
OTHERS = (
    ("trial", *KEY[1:]), ("year", "f" * 16, 1, 1), (*KEY[:2], 2, 1), (*KEY[:3], 2),
)  # fmt: skip
YEARS = {n: Random(n).randbytes(6_000) for n in range(40)}


def filled(path: Path) -> Path:
    """A file with 40 years under one key, and one of another content under four other keys."""
    with closing(Kept(path)) as kept:
        kept.add(KEY, YEARS)
        for other in OTHERS:
            kept.add(other, {5: repr(other).encode() * 20})
    return path


def content(path: Path) -> dict[object, dict[int, bytes]]:
    """All that `filled` put in and the file still gives."""
    with closing(Kept(path)) as kept:
        return {key: kept.find(key, range(100)) for key in (KEY, *OTHERS)}


RIGHT = {KEY: YEARS, **{other: {5: repr(other).encode() * 20} for other in OTHERS}}


# -- what is kept, and for whom ---------------------------------------------------------------


def test_results_come_back_as_they_were_put_in_and_to_their_own_key_only(tmp_path: Path) -> None:
    """Another form, scenario, model or seed is another year."""
    assert content(filled(tmp_path / "a.kept")) == RIGHT
    with closing(Kept(tmp_path / "a.kept")) as kept:
        assert kept.find(KEY, [3, 99, 7]) == {3: YEARS[3], 7: YEARS[7]}
        assert kept.find(KEY, []) == {}
        assert kept.added == 0


def test_years_reach_the_file_in_batches_without_being_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a second after the last batch; whoever opens the file sees whole batches only."""
    path = tmp_path / "a.kept"
    with closing(Kept(path)) as kept:
        kept.add(KEY, {1: b"one"})
        assert kept_years(path) == 0
        monkeypatch.setattr(kept_module, "_EVERY", 0.0)
        kept.add(KEY, {2: b"two"})
        assert kept_years(path) == 2


@contextmanager
def keeping(path: Path) -> Iterator[Runs]:
    with closing(Kept(path)) as kept, Runs(kept=kept) as runs:
        yield runs


@pytest.mark.parametrize(
    ("seed", "changed", "model"), [(4, False, MODEL), (3, True, MODEL), (3, False, MODEL + 1)],
    ids=["seed", "scenario", "model"],
)  # fmt: skip
def test_years_of_another_seed_scenario_or_model_are_not_taken(
    seed: int, changed: bool, model: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same years again simulate nothing; a change in any of the three simulates them all."""
    scenario = load_scenario(SHORT)
    with keeping(tmp_path / "a.kept") as runs:
        first = runs.years(scenario, 3, 3)
        assert runs.simulated == 3
    with keeping(tmp_path / "a.kept") as runs:
        again = runs.years(load_scenario(SHORT), 3, 3)
        assert (runs.simulated, runs.done) == (0, 3)
        assert differing(first, again) == []
    if changed:
        cadence = scenario.cadence.model_copy(update={"late_days": scenario.cadence.late_days + 1})
        scenario = scenario.model_copy(update={"cadence": cadence})
    monkeypatch.setattr(runs_module, "MODEL", model)
    with keeping(tmp_path / "a.kept") as runs:
        runs.years(scenario, 3, seed)
        assert runs.simulated == 3


def test_only_missing_years_are_simulated(tmp_path: Path) -> None:
    """Years 2 and 5 are kept; of 0 to 7 the six others are simulated, with the same bits."""
    with keeping(tmp_path / "a.kept") as runs:
        for n in (2, 5):
            runs.years(load_scenario(SHORT), 1, 3, first=n)
    with keeping(tmp_path / "a.kept") as runs:
        found = runs.years(load_scenario(SHORT), 8, 3)
        assert runs.simulated == 6
    assert differing(found, replicate(load_scenario(SHORT), 8, seed=3)) == []


def searched(path: Path) -> tuple[CadenceAnswer, int]:
    """The answer of a short search with years kept in a file, and how many were simulated."""
    with keeping(path) as runs:
        return search(load_scenario(SHORT), Aim(budget=500), runs), runs.simulated


@pytest.mark.proof
def test_a_second_identical_search_simulates_nothing(tmp_path: Path) -> None:
    """What one search found stands in the file for the next."""
    answer, simulated = searched(tmp_path / "a.kept")
    assert simulated == kept_years(tmp_path / "a.kept") > 100
    assert searched(tmp_path / "a.kept") == (answer, 0)


# -- the fingerprint of a scenario ------------------------------------------------------------

SAMPLES = {int: 3, float: 3.0, str: "else", date: date(2027, 1, 5), time: time(7)}


def plain(kind: Any, value: Any = None) -> Any:
    """A type without its limits, and without None if there is a value or one is wanted."""
    while get_origin(kind) in (Annotated, Union, types.UnionType):
        kind = next(part for part in get_args(kind) if part is not type(None))
    return kind if value is None or get_origin(kind) else type(value)


def another(value: Any, kind: Any) -> Any:
    """The smallest change of a value of this type: one unit, or the last bit of a float."""
    kind = plain(kind, value)
    if get_origin(kind) is Literal:
        return next(word for word in get_args(kind) if word != value)
    if value is None:
        return kind.model_construct() if issubclass(kind, BaseModel) else SAMPLES[kind]
    changes: dict[type, Callable[[Any], Any]] = {
        bool: lambda old: not old,
        int: lambda old: old + 1,
        float: lambda old: nextafter(old, inf),
        str: lambda old: old + ".",
        time: lambda old: old.replace(minute=(old.minute + 1) % 60),
        date: lambda old: old + timedelta(days=1),
    }
    return changes[type(value)](value)


def changed_once(value: Any, kind: Any, where: str) -> Iterator[tuple[str, Any]]:
    """A copy of a value for each of its leaves, with that leaf changed and its name."""
    if isinstance(value, BaseModel):
        for name, field in type(value).model_fields.items():
            for at, new in changed_once(getattr(value, name), field.annotation, f"{where}.{name}"):
                yield at, value.model_copy(update={name: new})
    elif isinstance(value, dict):
        yield from changed_mapping(value, get_args(plain(kind)), where)
    elif isinstance(value, tuple):
        for n, part in enumerate(value):
            yield f"{where}[{n}] left out", (*value[:n], *value[n + 1 :])
            for at, new in changed_once(part, get_args(plain(kind))[0], f"{where}[{n}]"):
                yield at, (*value[:n], new, *value[n + 1 :])
    else:
        yield where, another(value, kind)


def changed_mapping(value: dict[Any, Any], kinds: Any, where: str) -> Iterator[tuple[str, Any]]:
    """The same for a table: each key renamed, each value changed, the order turned round."""
    for key, part in value.items():
        fresh = another(key, kinds[0])
        if fresh not in value:
            yield f"{where}: {key} renamed", {fresh if k == key else k: v for k, v in value.items()}
        for at, new in changed_once(part, kinds[1], f"{where}.{key}"):
            yield at, {**value, key: new}
    if len(value) > 1:
        yield f"{where}: order", dict(reversed(value.items()))


def test_any_change_of_a_scenario_changes_its_fingerprint() -> None:
    """Every leaf of the demo by its smallest change, defaults included: no two hashes agree.

    A float changes by its last bit, so that floats are hashed at full precision.
    """
    demo = load_scenario(SCENARIOS / "maple-hollow.toml")
    hashes = {"": demo.fingerprint()}
    for where, other in changed_once(demo, Scenario, "scenario"):
        assert where not in hashes
        hashes[where] = other.fingerprint()
    twice = [at for at, count in Counter(hashes.values()).items() if count > 1]
    assert twice == []
    assert len(hashes) > 300
    assert demo.fingerprint() == load_scenario(SCENARIOS / "maple-hollow.toml").fingerprint()


# -- what is not ours, or not sound ------------------------------------------------------------

PNG = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(200)


def database(path: Path, application: int, *, version: int = 1, table: bool = True) -> None:
    with closing(sqlite3.connect(path)) as file:
        file.execute(f"PRAGMA application_id = {application}")
        file.execute(f"PRAGMA user_version = {version}")
        if table:
            file.execute("CREATE TABLE years (form TEXT)")
        file.commit()


def flipped(path: Path, *places: int) -> None:
    data = bytearray(path.read_bytes())
    for place in places:
        data[place] ^= 2
    path.write_bytes(data)


def _halved(path: Path) -> None:
    path.write_bytes(filled(path).read_bytes()[: path.stat().st_size // 2])


def _blob_flipped(path: Path) -> None:
    flipped(path, filled(path).read_bytes().index(YEARS[11][:100]) + 50)


def _page_flipped(path: Path) -> None:
    size = filled(path).stat().st_size
    flipped(path, *range(size // 4096 // 2 * 4096, size // 4096 // 2 * 4096 + 8))


OURS = 0x5EEDBEA7
REFUSED: dict[str, tuple[Callable[[Path], object], str]] = {
    "text": (lambda path: path.write_text("form, scenario\n"), "something else"),
    "picture": (lambda path: path.write_bytes(PNG), "something else"),
    "scenario": (lambda path: path.write_bytes(SMALL.read_bytes()), "something else"),
    "other database": (lambda path: database(path, 0), "something else"),
    "other application": (lambda path: database(path, 7), "something else"),
    "other empty": (lambda path: database(path, 7, table=False), "something else"),
    "newer": (lambda path: database(path, OURS, version=2), "of format 2"),
    "other table": (lambda path: database(path, OURS), "damaged"),
    "no table": (lambda path: database(path, OURS, table=False), "damaged"),
    "first bytes": (lambda path: flipped(filled(path), 3), "something else"),
    "page size": (lambda path: flipped(filled(path), 16), "damaged"),
    "text encoding": (lambda path: flipped(filled(path), 59), "damaged"),
    "schema": (lambda path: flipped(filled(path), 4000), "damaged"),
    "page": (_page_flipped, "damaged"),
    "year": (_blob_flipped, "damaged"),
    "truncated": (_halved, "damaged"),
    "folder": (lambda path: path.mkdir(), "is a folder. Name a file in it"),
    "pipe": (os.mkfifo, "something else"),
}


@pytest.mark.parametrize("made", REFUSED)
def test_what_is_no_sound_file_of_ours_is_refused_and_left_as_it_is(
    made: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Code 2 and one line that names the file and says what to do; not a byte is changed."""
    path = tmp_path / "my.kept"
    make, says = REFUSED[made]
    make(path)
    before = path.read_bytes() if path.is_file() else None
    assert main(["run", str(SMALL), "--years", "2", "--keep", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"seedbeat: {path}: ")
    assert says in err
    assert err.count("\n") == 1
    assert any(remedy in err.lower() for remedy in ("name another file", "name a file in it"))
    assert (path.read_bytes() if path.is_file() else None) == before
    assert [other.name for other in tmp_path.iterdir()] == ["my.kept"]


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("no/such/my.kept", "is not there. Make it"),
        ("taken/my.kept", "is not there. Make it"),
        ("x" * 300, "name too long"),
    ],
)
def test_a_file_where_none_can_be_is_refused(
    path: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing folder, a file in its place, a name that no disk takes."""
    (tmp_path / "taken").write_text("mine")
    assert main(["run", str(SMALL), "--keep", str(tmp_path / path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err.replace("File name", "name")
    assert err.count("\n") == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_read_only_file_or_folder_is_refused(what: str, tmp_path: Path) -> None:
    """The message says that nothing can be written there."""
    path = filled(tmp_path / "my.kept")
    (path if what == "file" else tmp_path).chmod(0o500)
    with pytest.raises(KeptError, match="Name a file in a folder where you may write"):
        Kept(path if what == "file" else tmp_path / "new.kept")
    tmp_path.chmod(0o700)


def test_flipped_bits_are_noticed_or_do_no_harm(tmp_path: Path) -> None:
    """One bit flipped anywhere: the file is refused and left alone, or gives the right years.

    A bit of each of the first 120 bytes, where SQLite's header is, and 200 others (fixed seed).
    """
    whole = filled(tmp_path / "whole.kept").read_bytes()
    path, chance = tmp_path / "a.kept", Random(11)
    places = [(place, chance.randrange(8)) for place in range(120)]
    places += [(chance.randrange(len(whole)), chance.randrange(8)) for _ in range(200)]
    refused = Counter[bool]()
    for place, bit in places:
        damaged = bytearray(whole)
        damaged[place] ^= 1 << bit
        path.write_bytes(damaged)
        found = None
        with suppress(KeptError):
            found = content(path)
        assert found in (None, RIGHT), (place, bit)
        if found is None:
            assert path.read_bytes() == damaged, (place, bit)
            refused[place < 120] += 1
    assert refused[True] > 40  # the rest lies in bytes that SQLite does not use
    assert refused[False] > 100


# -- other processes ---------------------------------------------------------------------------

HOLD = """
import sqlite3, sys
file = sqlite3.connect(sys.argv[1], isolation_level=None)
file.execute("BEGIN EXCLUSIVE")
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def held_by_another(path: Path) -> Iterator[None]:
    command = [sys.executable, "-c", HOLD, str(path)]
    with subprocess.Popen(command, stdin=-1, stdout=-1, text=True) as process:
        assert process.stdout
        assert process.stdin
        assert process.stdout.readline() == "held\n"
        yield
        process.stdin.close()


def test_a_file_that_another_program_holds_is_refused_after_a_while(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opening, reading and writing wait, then say what to do; then all works again."""
    monkeypatch.setattr(kept_module, "_WAIT", 0.1)
    path = filled(tmp_path / "a.kept")
    before = path.read_bytes()
    with closing(Kept(path)) as kept:
        with held_by_another(path):
            with pytest.raises(KeptError, match="another program holds it"):
                Kept(path)
            with pytest.raises(KeptError, match="another program holds it"):
                kept.find(KEY, range(3))
            kept.add(KEY, {100: b"new"})
            with pytest.raises(KeptError, match="another program holds it"):
                kept.write()
            assert path.read_bytes() == before
        kept.add(KEY, {100: b"newer"})
        kept.write()
        assert kept.find(KEY, [100]) == {100: b"newer"}
    assert is_sound(path)


CUT_OFF = """
import os, signal, sqlite3, sys
file = sqlite3.connect(sys.argv[1], isolation_level=None)
file.execute("PRAGMA cache_size = 5")  # so that pages are written before the end
file.execute("BEGIN IMMEDIATE")
file.execute("UPDATE years SET result = zeroblob(6000), sum = 0")
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_write_that_was_cut_off_is_taken_back(tmp_path: Path) -> None:
    """A journal left by kill -9 in the middle of a write: the file is as it was before it."""
    path = filled(tmp_path / "a.kept")
    before = path.read_bytes()
    ended = subprocess.run([sys.executable, "-c", CUT_OFF, path], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert path.read_bytes() != before
    journal = tmp_path / "a.kept-journal"
    assert journal.stat().st_size > 0
    with (
        closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as file,
        pytest.raises(sqlite3.OperationalError, match="readonly"),
    ):
        file.execute("SELECT count(*) FROM years")  # reading alone cannot take it back
    assert content(path) == RIGHT
    assert path.read_bytes() == before
    assert not journal.exists()


def test_an_interrupted_write_is_done_later(tmp_path: Path) -> None:
    """Ctrl-C between the beginning and the end of a batch: nothing of it is lost or half done."""

    class Interrupted(sqlite3.Connection):
        armed = False

        def executemany(self, *args: Any) -> sqlite3.Cursor:
            done = super().executemany(*args)
            if Interrupted.armed:
                raise KeyboardInterrupt
            return done

    path = tmp_path / "a.kept"
    with closing(Kept(path)) as kept:
        kept._file.close()
        kept._file = sqlite3.connect(path, isolation_level=None, factory=Interrupted)
        kept.add(KEY, YEARS)
        Interrupted.armed = True
        with pytest.raises(KeyboardInterrupt):
            kept.write()
        assert kept_years(path) == 0
        Interrupted.armed = False
        kept.write()
        assert kept_years(path) == kept.added == len(YEARS)


def test_two_at_once_put_in_what_the_other_lacks(tmp_path: Path) -> None:
    """A year that two found is there once; each sees what the other has written."""
    with closing(Kept(tmp_path / "a.kept")) as one, closing(Kept(tmp_path / "a.kept")) as two:
        one.add(KEY, {n: YEARS[n] for n in range(8)})
        two.add(KEY, {n: YEARS[n] for n in range(4, 12)})
        one.write()
        assert set(two.find(KEY, range(40))) == set(range(8))
        two.write()
        assert one.find(KEY, range(40)) == {n: YEARS[n] for n in range(12)}
    assert kept_years(tmp_path / "a.kept") == 12


def test_no_space_left_is_told_once(tmp_path: Path) -> None:
    """What does not fit is given up, so that closing does not fail once more; the rest stays."""
    with closing(Kept(tmp_path / "a.kept")) as kept:
        kept.add(KEY, {0: YEARS[0]})
        kept.write()
        kept._file.execute("PRAGMA max_page_count = 9")
        kept.add(KEY, YEARS)
        with pytest.raises(KeptError, match=r"cannot be .* written here .* has space left"):
            kept.write()
    assert is_sound(tmp_path / "a.kept")
    assert kept_years(tmp_path / "a.kept") == 1


@pytest.mark.proof
def test_a_full_disk_is_told_and_the_file_stays_sound(tmp_path: Path) -> None:
    """Files of at most 400 kB: one message, code 2, and with more space the work goes on."""
    args = ("run", SHORT, "--years", 90, "--workers", 1, "--keep", "my.kept", "--json")
    command = [sys.executable, "-c", LITTLE_SPACE, *map(str, args)]
    ended = subprocess.run(
        command, cwd=tmp_path, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith("seedbeat: my.kept: kept results cannot be read or written here")
    assert "has space left" in ended.stderr
    assert ended.stderr.count("\n") == 1
    assert is_sound(tmp_path / "my.kept")
    before = kept_years(tmp_path / "my.kept")
    assert finished(tmp_path, *args) == finished(ROOT, *args[:-3], "--json")
    assert before < kept_years(tmp_path / "my.kept") == 90


LITTLE_SPACE = """
import resource, signal, sys
from sim import kept
from sim.__main__ import main
kept._EVERY = 0.05
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.proof
def test_two_processes_share_one_file(tmp_path: Path) -> None:
    """Both make it, both write to it, both end with the right answer; it holds every year once."""
    args = ("run", SHORT, "--years", 90, "--workers", 1, "--keep", "my.kept", "--json")
    both = [start(tmp_path, *args) for _ in range(2)]
    said = [process.communicate(timeout=PATIENCE) for process in both]
    assert said[0] == said[1]
    assert said[0] == (finished(ROOT, *args[:-3], "--json"), "")
    assert is_sound(tmp_path / "my.kept")
    assert kept_years(tmp_path / "my.kept") == 90


# -- kill -9 -----------------------------------------------------------------------------------


def killed_at_random(folder: Path, args: tuple[object, ...], times: int) -> list[int]:
    """Kill the command with SIGKILL so many times, each up to half a second after it kept more.

    How many years were kept after each; nothing may be left running, and the file stays sound.
    """
    chance, path, held = Random(times), folder / "my.kept", [0]
    for _ in range(times):
        process = start(folder, *args)
        wait_until(process, lambda before=held[-1]: kept_years(path) > before, "more kept years")
        sleep(chance.uniform(0.0, 0.5))
        process.kill()
        process.communicate(timeout=PATIENCE)
        wait_until_gone(process, 2.0)
        assert process.returncode == -signal.SIGKILL
        assert is_sound(path)
        held.append(kept_years(path))
    return held


KEEP = ("--keep", "my.kept", "--json")


def test_after_kill_9_work_goes_on(tmp_path: Path) -> None:
    """A long run killed once; a shorter one takes of it what it can, and simulates the rest.

    It ends with the bytes of one without a file.
    """
    args = ("run", SHORT, "--workers", 2, *KEEP)
    _, held = killed_at_random(tmp_path, (*args, "--years", 9_000), 1)
    found = finished(tmp_path, *args, "--years", 100)
    assert found == uninterrupted("run", SHORT, "--json", "--years", 100)
    assert 0 < held <= kept_years(tmp_path / "my.kept") < held + 100


@pytest.mark.proof
@pytest.mark.parametrize(
    ("args", "times"),
    [
        (("run", SCENARIOS / "maple-hollow.toml", "--years", 2000, "--workers", 1), 4),
        (("cadence", SCENARIOS / "maple-hollow.toml", "--runs", 3000, "--workers", 2), 3),
    ],
    ids=["run", "search"],
)
def test_after_kill_9_again_and_again_work_goes_on(
    args: tuple[object, ...], times: int, tmp_path: Path
) -> None:
    """Killed at random moments, the same command ends with the bytes of one that was not killed.

    A run simulates each year once, whatever happened.
    """
    held = killed_at_random(tmp_path, (*args, *KEEP), times)
    assert held == sorted(set(held))
    assert finished(tmp_path, *args, *KEEP) == finished(ROOT, *args, "--json")
    assert kept_years(tmp_path / "my.kept") > held[-1]
    assert args[0] != "run" or kept_years(tmp_path / "my.kept") == 2000


@pytest.mark.proof
def test_a_killed_search_simulates_fewer_years_when_it_goes_on(tmp_path: Path) -> None:
    """As many fewer as were kept, and the answer is that of a search without a file."""
    args = ("cadence", SHORT, "--runs", 500, "--workers", 1, "--keep", "my.kept")
    killed_at_random(tmp_path, args, 1)
    kept_before = kept_years(tmp_path / "my.kept")
    answer, simulated = searched(tmp_path / "my.kept")
    with Runs() as runs:
        assert search(load_scenario(SHORT), Aim(budget=500), runs) == answer
        assert simulated == runs.simulated - kept_before < runs.simulated


# -- the version of the model ------------------------------------------------------------------

FACTS = {
    "maple-hollow": "5929dd8d28d8",
    "maple-hollow-three-crops": "58bbc336a7b7",
    "r8k": "337e1a8ae31a",
    "raft-line": "097067299e3a",
}
FORMS = "15a33b75d21e"


def digest(facts: object) -> str:
    return sha256(repr(facts).encode()).hexdigest()[:12]


@pytest.mark.parametrize("name", FACTS)
def test_years_are_those_of_this_version_of_the_model(name: str) -> None:
    """Plants and containers by what happened, where, to which crop, for whom and why, in one year.

    Whole numbers only: times differ in their last digits between machines.
    """
    plan = Plan(load_scenario(SCENARIOS / f"{name}.toml"))
    facts = Counter[tuple[object, ...]]()
    for row in run_year(plan, seed=1, replication=0):
        what = (row[KIND], row[CROP], row[PLACE], row[TO], row[CUSTOMER], row[CAUSE])
        facts[*what, "plants"] += row[COUNT]
        facts[*what, "containers"] += row[CONTAINERS]
    assert digest(sorted(facts.items())) == FACTS[name], (
        "the same scenario and luck give another year than before: raise MODEL in sim/runs.py, so "
        "that nobody takes years kept before the change, and record the new digests here"
    )


def test_kept_bytes_mean_what_they_meant() -> None:
    """The blocks of a kept year, their shapes and the order of their names; and a trial's size."""
    plan = Plan(load_scenario(SCENARIOS / "maple-hollow.toml"))
    trial = simulate("trial", pickle.dumps(plan.scenario), 1, 0, 1)[0]
    forms = (Layout(plan).blocks, VALUES, WEEKLY, KINDS_OF_WORK, CAUSES, len(trial))
    assert digest(forms) == FORMS, (
        "kept years would be read as something else: raise MODEL in sim/runs.py, and record the "
        "new digest here"
    )
