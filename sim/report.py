"""Results to files: tables as CSV, pictures as PNG and SVG, and a run.json to rebuild them."""

from __future__ import annotations

import csv
import io
import json
import os
import platform
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from sim.errors import OutputError

_SIDES = ("left", "center", "right")
LIBRARIES = ("seedbeat", "simpy", "numpy", "scipy", "pandas", "matplotlib", "pydantic")


def json_text(answer: Mapping[str, Any]) -> str:
    """An answer as one JSON object; the same answer gives the same text."""
    return json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False)


def versions() -> dict[str, str]:
    """Versions of Python and of the libraries that a result depends on."""
    return {"python": platform.python_version(), **{name: _version(name) for name in LIBRARIES}}


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"  # seedbeat run from a checkout


def csv_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """Rows of plain values as CSV with a header line."""
    if not rows:
        return ""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def ready_folder(folder: Path | None) -> Path | None:
    """Make sure that results can be written to a folder, if any, before anything is simulated.

    Raises OutputError if it is no folder, cannot be made, or cannot be written to.
    """
    if folder is None:
        return None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise OutputError(
            f"--out {folder}: must be a folder that can be written to, but {_why(error)}; "
            "choose another folder."
        ) from None
    return folder


def _why(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


def write_files(folder: Path, files: Mapping[str, str | bytes]) -> list[Path]:
    """Write all files or none: they are finished beside the folder, then moved in.

    Raises OutputError if the disk refuses.
    """
    try:
        waiting = Path(tempfile.mkdtemp(prefix=".seedbeat-", dir=folder))
    except OSError as error:
        raise OutputError(f"--out {folder}: cannot be written to: {_why(error)}.") from None
    try:
        for name, content in files.items():
            data = content.encode() if isinstance(content, str) else content
            (waiting / name).write_bytes(data)
        for name in files:
            os.replace(waiting / name, folder / name)  # noqa: PTH105 - says that it replaces
    except OSError as error:
        raise OutputError(
            f"--out {folder}: writing stopped: {_why(error)}; free some space or choose another "
            "folder, then run the same command again."
        ) from None
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
    return [folder / name for name in files]


def pictures(figures: Mapping[str, Any]) -> dict[str, bytes]:
    """Figures as PNG and SVG files, by file name."""
    from sim.plots import png_bytes, svg_bytes  # noqa: PLC0415 - matplotlib is slow to import

    files: dict[str, bytes] = {}
    for name, figure in figures.items():
        files[f"{name}.png"] = png_bytes(figure)
        files[f"{name}.svg"] = svg_bytes(figure)
    return files


def words_of(figure: Any) -> str:
    """What a figure shows, in the words of its titles."""
    titles = [figure.get_suptitle(), *(ax.get_title(loc) for ax in figure.axes for loc in _SIDES)]
    return "; ".join(dict.fromkeys(" ".join(title.split()) for title in titles if title))


def tables(answer: Mapping[str, Any], names: Sequence[str]) -> dict[str, str]:
    """The named lists of an answer as CSV files, by file name; empty ones are left out."""
    return {f"{name}.csv": csv_text(answer[name]) for name in names if answer.get(name)}


def measures_csv(answer: Mapping[str, Any]) -> str:
    """The measures as CSV, a row each."""
    return csv_text([{"measure": name, **e} for name, e in answer["measures"].items()])


def run_json(answer: Mapping[str, Any]) -> str:
    """What rebuilds the figures: scenario hash, seed, versions, and the whole answer."""
    return json_text({"versions": versions(), **answer})
