"""Kept results: finished years in an SQLite file, so that long work can be stopped and resumed.

The file is written in batches, each of them whole or not at all, so that a process may be killed
at any moment; several processes may use one file. Nothing in it is executed when it is read.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from zlib import crc32

from sim.errors import KeptError

_OURS = 0x5EEDBEA7  # SQLite's application id
_FORMAT = 1
_WAIT = 30.0  # for another process to finish writing [s]
_EVERY = 0.5  # the longest that finished years are not yet in the file [s]
_MAKE = """CREATE TABLE years (
    form TEXT, scenario TEXT, model INTEGER, seed INTEGER, replication INTEGER,
    result BLOB NOT NULL, sum INTEGER NOT NULL,
    PRIMARY KEY (form, scenario, model, seed, replication)) WITHOUT ROWID"""
_KEY = "form = ? AND scenario = ? AND model = ? AND seed = ?"

Key = tuple[str, str, int, int]  # form of the result, hash of the scenario, model, seed


class Kept:
    """A file of kept results, made if it is not there.

    Raises KeptError if the file is something else, is damaged, or cannot be locked or written; it
    is left as it was.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.added = 0  # years that this process put in
        self._new: list[tuple[object, ...]] = []
        self._written = time.monotonic()
        _look_at(path)
        try:
            self._file = sqlite3.connect(path, timeout=_WAIT, isolation_level=None)
            self._prepare()
        except sqlite3.Error as error:
            raise _told(path, error) from None

    def _prepare(self) -> None:
        run = self._file.execute
        run("BEGIN IMMEDIATE")  # says at once if the file or its folder cannot be locked
        ours, made = run("PRAGMA application_id").fetchone()[0], run("PRAGMA user_version")
        version = made.fetchone()[0]
        empty = not run("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if not empty and ours != _OURS:
            run("ROLLBACK")
            raise _foreign(self.path)
        if not empty and version != _FORMAT:
            run("ROLLBACK")
            raise KeptError(
                f"{self.path}: kept results must be of format {_FORMAT}, but these are of format "
                f"{version}, from another version of seedbeat. Name another file with --keep."
            )
        if empty:
            run(_MAKE)
            run(f"PRAGMA application_id = {_OURS}")
            run(f"PRAGMA user_version = {_FORMAT}")
        run("COMMIT")

    def find(self, key: Key, replications: Iterable[int]) -> dict[int, bytes]:
        """Those of the replications that are kept, by number."""
        wanted = set(replications)
        if not wanted:
            return {}
        between = " AND replication BETWEEN ? AND ?"
        ask = f"SELECT replication, result, sum FROM years WHERE {_KEY}{between}"
        try:
            rows = self._file.execute(ask, (*key, min(wanted), max(wanted))).fetchall()
        except sqlite3.Error as error:
            raise _told(self.path, error) from None
        for _, result, check in rows:
            if crc32(result) != check:
                raise _damaged(self.path)
        return {number: result for number, result, _ in rows if number in wanted}

    def add(self, key: Key, results: Mapping[int, bytes]) -> None:
        """Keep results by replication; they reach the file within half a second of the next."""
        self._new += [(*key, n, result, crc32(result)) for n, result in results.items()]
        if time.monotonic() - self._written > _EVERY:
            self.write()

    def write(self) -> None:
        """Put what is new into the file, all at once."""
        if self._new:
            try:
                self._file.execute("BEGIN IMMEDIATE")
                put = "INSERT OR IGNORE INTO years VALUES (?, ?, ?, ?, ?, ?, ?)"
                before = self._file.total_changes
                self._file.executemany(put, self._new)
                self._file.execute("COMMIT")
            except sqlite3.Error as error:
                raise _told(self.path, error) from None
            self.added += self._file.total_changes - before
            self._new = []
        self._written = time.monotonic()

    def close(self) -> None:
        """Write what is new and close the file."""
        self.write()
        self._file.close()


class Unfiled:
    """Finished years held in memory, to be put in a file if the work is stopped."""

    def __init__(self) -> None:
        self._new: list[tuple[Key, Mapping[int, bytes]]] = []

    def find(self, _key: Key, _replications: Iterable[int]) -> dict[int, bytes]:
        """Nothing is kept from before."""
        return {}

    def add(self, key: Key, results: Mapping[int, bytes]) -> None:
        """Hold results by replication."""
        self._new.append((key, results))

    def write(self) -> None:
        """Do nothing: there is no file."""

    def close(self) -> None:
        """Let go of everything."""
        self._new.clear()

    def save(self, path: Path) -> Kept | None:
        """Put all into a file; None if there is nothing to keep, or no place to keep it."""
        if not self._new:
            return None
        try:
            kept = Kept(path)
            for key, results in self._new:
                kept.add(key, results)
            kept.close()
        except KeptError:
            return None
        return kept


def _look_at(path: Path) -> None:
    """Refuse what is no file of kept results, before anything could change it."""
    if path.is_dir():
        raise KeptError(
            f"{path}: --keep must name a file, but this is a folder. Name a file in it, such as "
            f"{path / 'kept.sqlite'}."
        )
    if not path.parent.is_dir():
        raise KeptError(
            f"{path}: the folder {path.parent} is not there. Make it, or name a file elsewhere."
        )
    if not path.exists() or not path.stat().st_size:
        return
    try:
        with path.open("rb") as opened:
            head = opened.read(16)
    except OSError as error:
        raise KeptError(f"{path}: kept results cannot be read ({error.strerror}).") from None
    if head != b"SQLite format 3\0":
        raise _foreign(path)
    try:
        file = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=_WAIT)
        try:
            sound = file.execute("PRAGMA quick_check(1)").fetchone()[0]
        finally:
            file.close()
    except sqlite3.Error as error:
        raise _told(path, error) from None
    if sound != "ok":
        raise _damaged(path)


def _foreign(path: Path) -> KeptError:
    return KeptError(
        f"{path}: --keep must name a file of kept results, or a new one, but this file is "
        "something else. It was left as it is; name another file."
    )


def _damaged(path: Path) -> KeptError:
    return KeptError(
        f"{path}: this file of kept results is damaged. It was left as it is; delete it, or name "
        "another file with --keep. What it held will be simulated again."
    )


def _told(path: Path, error: sqlite3.Error) -> KeptError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return _damaged(path)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_IOERR):
        return KeptError(
            f"{path}: this file cannot be locked ({error}): another program holds it, or it lies "
            "in a folder that cannot lock files, as some network folders. Close the other "
            "program, or name a file on this computer's own disk."
        )
    return KeptError(
        f"{path}: kept results cannot be written here ({error}). Name a file in a folder where "
        "you may write and that has space left."
    )
