"""The files of `seedbeat new`: the new scenario, and the answers kept until it is written."""

from __future__ import annotations

import json
import os
import tempfile
import unicodedata
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from sim.asking_questions import CUSTOMER, QUESTIONS, Question
from sim.errors import OutputError, ScenarioError
from sim.toml_file import with_bases
from sim.written import Said, Table, shown

Answers = dict[str, Any]  # texts as typed by key; "closed" a list of texts, "orders" of tables


def answers_file(file: Path) -> Path:
    """Where the answers to the questions of a new scenario are kept."""
    return file.with_name(f"{file.name}.answers")


def ready(file: Path) -> None:
    """Make sure that a new scenario can be written, before anything is asked.

    Raises OutputError if the file is there already, or its name or folder cannot be used.
    """
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in file.name) or not file.name:
        raise OutputError(
            f"{shown(str(file))}: must be a plain file name such as my-greenhouse.toml; rename it."
        )
    _refuse_existing(file)
    try:
        if not file.parent.exists():
            raise OutputError(
                f"{file}: there is no folder {file.parent}; make it first, or check the path."
            )
        with suppress(FileNotFoundError):
            answers_file(file).lstat()  # a name may be too long for the disk
        with tempfile.TemporaryFile(dir=file.parent):
            pass
    except OSError as error:
        raise OutputError(
            f"{file}: must be in a folder that can be written to, but {_why(error)}; choose "
            "another folder or name."
        ) from None


def _refuse_existing(file: Path) -> None:
    if os.path.lexists(file):
        raise OutputError(
            f"{file}: is there already and is not overwritten; choose another name, or move it "
            "away."
        )


def _why(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


def write_scenario(file: Path, text: str) -> None:
    """Write a new scenario, whole or not at all.

    Raises OutputError if the file has come to be there meanwhile, or the disk refuses.
    """
    _refuse_existing(file)
    _write(file, text)


def forget_answers(file: Path) -> None:
    """Remove the answers kept for a scenario."""
    with suppress(OSError):  # the scenario is written; what is left over does no harm
        answers_file(file).unlink()


def keep_answers(file: Path, answers: Answers) -> None:
    """Keep the answers given so far beside the file that is to be written.

    Raises OutputError if the disk refuses.
    """
    lines = [
        "# Answers so far to the questions of `seedbeat new`; give the command again to go on."
    ]
    lines += [f"{key} = {_as_toml(value)}" for key, value in answers.items() if key != "orders"]
    for order in answers.get("orders", ()):
        lines += ["", "[[orders]]", *(f"{key} = {_as_toml(text)}" for key, text in order.items())]
    _write(answers_file(file), "\n".join(lines) + "\n")


def _as_toml(value: object) -> str:
    """Text, or a list of texts, as TOML: JSON spells it the same way (DEL never occurs)."""
    return json.dumps(value, ensure_ascii=False)


def kept_answers(file: Path) -> Answers:
    """The answers kept for a scenario; none if there is no such file.

    Raises ScenarioError if they cannot be read.
    """
    kept = answers_file(file)
    if not os.path.lexists(kept):
        return {}
    try:
        tree = with_bases(kept)
    except ScenarioError as error:
        raise ScenarioError(f"{error} To begin anew, remove {kept.name}.") from None
    found: Answers = _texts(tree, QUESTIONS)
    closed, orders = tree.get("closed"), tree.get("orders")
    if isinstance(closed, list):
        found["closed"] = [str(entry.value) for entry in closed if isinstance(entry, Said)]
    if isinstance(orders, list):
        found["orders"] = [_texts(o, CUSTOMER) for o in orders if isinstance(o, dict)]
    return found


def _texts(table: Table, questions: Iterable[Question]) -> dict[str, Any]:
    said = {question.key: table.get(question.key) for question in questions}
    return {
        key: str(one.value)
        for key, one in said.items()
        if isinstance(one, Said) and key not in ("closed", "orders")
    }


def _write(file: Path, text: str) -> None:
    """Finish the text beside the file, then move it there at once."""
    waiting = file.with_name(f".seedbeat-{os.getpid()}")
    try:
        waiting.write_text(text, encoding="utf-8", newline="\n")
        waiting.replace(file)
    except OSError as error:
        raise OutputError(
            f"{file}: cannot be written: {_why(error)}; free some space or choose another folder."
        ) from None
    finally:
        with suppress(OSError):
            waiting.unlink()
