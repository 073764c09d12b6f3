"""Kept results: finished years in an SQLite file, so that long work can be stopped and resumed.

The file is written in batches, each of them whole or not at all, so that a process may be killed
at any moment; several processes may use one file. Nothing in it is executed when it is read.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NoReturn
from zlib import crc32

from sim.errors import KeptError

_OURS = 0x5EEDBEA7  # SQLite's application id
_FORMAT = 1
_MAGIC = b"SQLite format 3\0"
_WAIT = 30.0  # for another process to finish writing [s]
_EVERY = 0.5  # the longest that finished years are not yet in the file [s]
_MAKE = """CREATE TABLE years (
    form TEXT, scenario TEXT, model INTEGER, seed INTEGER, replication INTEGER,
    result BLOB NOT NULL, sum INTEGER NOT NULL,
    PRIMARY KEY (form, scenario, model, seed, replication)) WITHOUT ROWID"""
_NO_LOCK = (
    sqlite3.SQLITE_IOERR_LOCK, sqlite3.SQLITE_IOERR_RDLOCK, sqlite3.SQLITE_IOERR_UNLOCK,
    sqlite3.SQLITE_IOERR_CHECKRESERVEDLOCK,
)  # fmt: skip
_KEY = "form = ? AND scenario = ? AND model = ? AND seed = ?"

Key = tuple[str, str, int, int]  # form of the result, hash of the scenario, model, seed


class Kept:
    """A file of kept results, made if it is not there.

    Raises KeptError if the file is something else, is damaged, or cannot be locked or written; it
    is left as it was.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.added = 0  # years that this process put in, those among them that were there too
        self._new: dict[tuple[object, ...], tuple[bytes, int]] = {}
        self._written = time.monotonic()
        _look_at(path)
        try:
            self._file = sqlite3.connect(path, timeout=_WAIT, isolation_level=None)
        except sqlite3.Error as error:
            _refuse(path, error)
        try:
            self._prepare()
        except BaseException:
            self._file.close()
            raise

    def _prepare(self) -> None:
        self._file.text_factory = _read_text
        try:
            with self._file:  # which says at once if the file or its folder cannot be locked
                self._file.execute("BEGIN IMMEDIATE")
                if self._file.execute("PRAGMA application_id").fetchone() == (0,):  # a new file
                    self._file.execute(_MAKE)
                    self._file.execute(f"PRAGMA application_id = {_OURS}")
                    self._file.execute(f"PRAGMA user_version = {_FORMAT}")
            if not self._sound():
                raise _damaged(self.path)
        except sqlite3.Error as error:
            _refuse(self.path, error)

    def _sound(self) -> bool:
        """Whether the whole file is as it was written."""
        run = self._file.execute
        return (
            run("PRAGMA quick_check(1)").fetchone() == ("ok",)
            and run("SELECT sql FROM sqlite_master").fetchall() == [(_MAKE,)]
            and all(
                _sum(key, result) == check for *key, result, check in run("SELECT * FROM years")
            )
        )

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
            _refuse(self.path, error)
        if any(_sum((*key, number), result) != check for number, result, check in rows):
            raise _damaged(self.path)
        return {number: result for number, result, _ in rows if number in wanted}

    def add(self, key: Key, results: Mapping[int, bytes]) -> None:
        """Keep results by replication; they reach the file within half a second of the next."""
        for number, result in results.items():
            row = (*key, number)
            self._new[row] = result, _sum(row, result)
        if time.monotonic() - self._written > _EVERY:
            self.write()

    def write(self) -> None:
        """Put what is new into the file, all at once; what cannot be written is given up."""
        put = "INSERT OR IGNORE INTO years VALUES (?, ?, ?, ?, ?, ?, ?)"
        if self._new:
            try:
                with self._file:
                    self._file.execute("BEGIN IMMEDIATE")
                    self._file.executemany(put, [(*row, *new) for row, new in self._new.items()])
            except sqlite3.Error as error:
                self._new = {}
                _refuse(self.path, error)
            self.added += len(self._new)
            self._new = {}
        self._written = time.monotonic()

    def close(self) -> None:
        """Write what is new and close the file."""
        try:
            self.write()
        finally:
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
        """Put all into a file; None if there is nothing to keep. Raises KeptError as `Kept`."""
        if not self._new:
            return None
        kept = Kept(path)
        try:
            for key, results in self._new:
                kept.add(key, results)
        finally:
            kept.close()
        return kept


def _sum(key: Iterable[object], result: object) -> int:
    """A checksum of a year and its key, -1 if damage made something else of the year."""
    if not isinstance(result, bytes):
        return -1
    return crc32(result, crc32(repr(tuple(key)).encode()))


def _read_text(text: bytes) -> str:
    """Text as it is kept; damaged text is some other text, but text."""
    return text.decode(errors="replace")


def _look_at(path: Path) -> None:
    """Refuse what is no file of kept results before SQLite opens it, which might change it."""
    try:
        if path.is_dir():
            raise KeptError(
                f"{path}: --keep must name a file, but this is a folder. Name a file in it, such "
                f"as {path / 'kept.sqlite'}."
            )
        if not path.parent.is_dir():
            raise KeptError(
                f"{path}: the folder {path.parent} is not there. Make it, or name a file elsewhere."
            )
        if not path.exists():
            return
        if not path.is_file():
            raise _foreign(path)
        with path.open("rb") as opened:
            head = opened.read(100)
    except OSError as error:
        raise KeptError(
            f"{path}: kept results cannot be read or written here ({error.strerror}). Name another "
            "file with --keep."
        ) from None
    if head:
        _look_at_head(path, head)


def _look_at_head(path: Path, head: bytes) -> None:
    """Refuse the file of another program or format; SQLite's file format says what is where."""
    if not head.startswith(_MAGIC) or head[68:72] != _OURS.to_bytes(4, "big"):
        raise _foreign(path)
    version = int.from_bytes(head[60:64], "big")
    if version != _FORMAT:
        raise KeptError(
            f"{path}: kept results must be of format {_FORMAT}, but these are of format {version}, "
            "from another version of seedbeat. Name another file with --keep."
        )


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


def _refuse(path: Path, error: sqlite3.Error) -> NoReturn:
    """Raise what SQLite's error means for this file (result codes: sqlite.org/rescode.html)."""
    code = getattr(error, "sqlite_errorcode", 0)
    if code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR):
        raise _damaged(path) from None
    if code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) or code in _NO_LOCK:
        raise KeptError(
            f"{path}: this file cannot be locked ({error}): another program holds it, or it lies "
            "in a folder that cannot lock files, as some network folders. Close the other "
            "program, or name a file on this computer's own disk."
        ) from None
    raise KeptError(
        f"{path}: kept results cannot be read or written here ({error}). Name a file in a folder "
        "where you may write and that has space left."
    ) from None
