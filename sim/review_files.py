"""Outlooks that were kept, read back from the folders they were written to."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sim.errors import RecordsError, ScenarioError
from sim.toml_file import content

FILE_LIMIT = 5_000_000  # bytes
NAME = "outlook*.json"
LOW, HIGH = 0.1, 0.9  # levels of the range, which every outlook holds


@dataclass(frozen=True)
class KeptDelivery:
    """A delivery as an outlook expected it: mean, spread and quantiles of the heads."""

    day: date
    customer: str
    crop: str
    ordered: int
    expected: float
    sd: float
    share_complete: float
    levels: tuple[float, ...]
    quantiles: tuple[int, ...]


@dataclass(frozen=True)
class Kept:
    """One outlook that was kept."""

    file: str
    day: date
    deliveries: tuple[KeptDelivery, ...]


def read_outlooks(folders: Sequence[Path]) -> list[Kept]:
    """All outlooks in files and folders, and the folders in these, by day; copies count once.

    Raises RecordsError for a file that is no outlook, or a folder that is not there.
    """
    found: dict[tuple[date, tuple[KeptDelivery, ...]], Kept] = {}
    for folder in folders:
        for file in _files(folder):
            kept = _read(file)
            found.setdefault((kept.day, kept.deliveries), kept)
    return sorted(found.values(), key=lambda kept: (kept.day, kept.file))


def _files(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from sorted({*folder.glob(NAME), *folder.glob(f"*/{NAME}")})
    elif folder.exists():
        yield folder
    else:
        raise RecordsError(
            f"--outlooks {folder}: must be a folder that seedbeat outlook --out wrote to, but "
            "there is none of that name; check the path."
        )


def _read(file: Path) -> Kept:
    try:
        data = json.loads(content(file, FILE_LIMIT, "outlook", ""))
        levels = tuple(float(level) for level in data["levels"])
        if not {LOW, HIGH} <= set(levels):
            raise ValueError
        day = date.fromisoformat(data["day"])
        return Kept(str(file), day, tuple(_delivery(d, levels) for d in data["deliveries"]))
    except ScenarioError as error:
        raise RecordsError(str(error)) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise RecordsError(
            f"{file}: must be an outlook.json as seedbeat outlook --out writes it, but it is not; "
            "take the file away, or write it again."
        ) from None


def _delivery(d: dict[str, Any], levels: tuple[float, ...]) -> KeptDelivery:
    quantiles = tuple(int(q) for q in d["quantiles"])
    if len(quantiles) != len(levels):
        raise ValueError
    return KeptDelivery(
        date.fromisoformat(d["day"]), str(d["customer"]), str(d["crop"]), int(d["ordered"]),
        float(d["expected"]), float(d["sd"]), float(d["share_complete"]), levels, quantiles,
    )  # fmt: skip
