"""TOML files from the disk to a tree: size, encoding, syntax, and a file's chain of bases."""

from __future__ import annotations

import re
import tomllib
from difflib import get_close_matches
from pathlib import Path

from sim.errors import ScenarioError
from sim.written import Said, Table, Tree, merged, plain, said, shown

TOML_LIMIT = 1_000_000  # bytes


def with_bases(file: Path) -> Table:
    """The tree of a file merged over its base, and that over its own.

    Raises ScenarioError if a file cannot be read, or leads back to itself.
    """
    layers = [_parsed(file)]
    seen = [_resolved(file)]
    here = file
    while (base := layers[-1].pop("base", None)) is not None:
        if not isinstance(base, Said) or not isinstance(base.value, str):
            raise ScenarioError(
                f'{here.name}: base must be a file name such as "maple-hollow.toml", but it is '
                f"{shown(plain(base))}; put the name in quotes."
            )
        asked = f'{here.name}: base = "{base.value}"'
        here = here.parent / base.value
        if _resolved(here) in seen:
            raise ScenarioError(f"{asked} leads back to a file before it; take one base out.")
        seen.append(_resolved(here))
        layers.append(_parsed(here, f"{asked}: "))
    name = layers[0].get("name", Said(file.stem[:80] or "greenhouse", file, "name"))
    tree: Tree = layers.pop()
    while layers:
        tree = merged(tree, layers.pop())
    assert isinstance(tree, dict)  # tables merge to a table
    return {**tree, "name": name}


def _resolved(file: Path) -> Path:
    try:
        return file.resolve()
    except (OSError, RuntimeError, ValueError):
        return file


def _parsed(file: Path, asked: str = "") -> Table:
    """The tree of one TOML file."""
    text = _text(file, content(file, TOML_LIMIT, "scenario", asked))
    try:
        data = tomllib.loads(text)
    except ValueError as error:
        raise ScenarioError(_bad_toml(file, text, str(error))) from None
    if not data:
        raise ScenarioError(
            f"{file.name}: says nothing; give it the numbers of your greenhouse, "
            "for example from scenarios/maple-hollow-short.toml."
        )
    tree = said(data, file)
    return tree if isinstance(tree, dict) else {}


def _bad_toml(file: Path, text: str, complaint: str) -> str:
    """File, line, column, the line itself and a remedy."""
    lines = text.splitlines() or [""]
    found = re.search(r"\s*\(at line (\d+), column (\d+)\)", complaint)
    line, column = (int(found[1]), int(found[2])) if found else (len(lines), len(lines[-1]) + 1)
    what = re.sub(r"\s*\(at .*?\)$", "", complaint)
    quoted = shown(lines[min(line, len(lines)) - 1].strip())
    return (
        f"{file.name}: line {line}, column {column}: cannot be read ({what}): the line is "
        f"{quoted}; mend it: text goes in quotes, a list in [ ], a date is 2026-08-24 without "
        "quotes, a key is there once, and every bracket and quote is closed."
    )


def _text(file: Path, data: bytes) -> str:
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ScenarioError(
            f"{file.name}: line {line}: is not UTF-8 text (byte {data[error.start]:#04x}); "
            "save it as plain text with the encoding UTF-8, or give the right file."
        ) from None


def content(file: Path, limit: int, kind: str, asked: str) -> bytes:
    """The content of a file of at most `limit` bytes; `asked` says who named it.

    Raises ScenarioError if there is no such file, or it is too large, empty or not readable.
    """
    try:
        if file.is_dir():
            raise ScenarioError(f"{asked}{file.name}: is a folder; give the {kind} file in it.")
        if not file.exists():
            raise ScenarioError(f"{asked}{file.name}: there is no such file{_near(file)}")
        if not file.is_file():
            raise ScenarioError(f"{asked}{file.name}: is not a file on the disk; give one that is.")
        with file.open("rb") as stream:
            data = stream.read(limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScenarioError(
            f"{asked}{shown(file.name)}: cannot be read ({reason}); check its name and who may "
            "read it."
        ) from None
    if len(data) > limit:
        raise ScenarioError(
            f"{asked}{file.name}: is larger than {limit // 1_000_000} MB, too large for a {kind}; "
            "give the right file."
        )
    if not data.strip():
        raise ScenarioError(f"{asked}{file.name}: is empty; give the right {kind} file.")
    return data


def _near(file: Path) -> str:
    """The nearest file name in the same folder, as advice."""
    if not file.parent.is_dir():
        return f" and no folder {file.parent}; check the path."
    names = [entry.name for entry in file.parent.iterdir()][:2000]
    near = get_close_matches(file.name, [n for n in names if n.endswith(file.suffix)], n=1)
    return f'; did you mean "{near[0]}"?' if near else "; check the name and the folder."
