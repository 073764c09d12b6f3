"""The text of a new scenario in the short form: a comment with the unit beside every line."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date, time
from textwrap import wrap
from typing import Any

from sim.asking_answers import clock_text as clock
from sim.asking_questions import CLASS, CLOSED, CUSTOMER, GREENHOUSE, SCHOOL, SEEDING, Question

WIDTH = 98
COLUMN = 38  # where comments start
_QUESTION = (
    "How many heads can this greenhouse deliver, week after week of the school year, and when is "
    "what to be seeded?"
)
_GIVEN = (
    "The numbers are the answers given to the questions of `seedbeat new`; in ( ) is the number of "
    "the question."
)
_EXAMPLES = (
    "The numbers are examples of `seedbeat new`, and nobody has counted them: put in yours, above "
    "all the ten with a number in ( )."
)
_REST = (
    "Everything that is not said here is assumed until you count it: `seedbeat check` lists what "
    "was assumed, with the key under which it may be written in here."
)
_CALENDAR = (
    "Instead of these days, or with them, the file may name a school calendar in the same folder: "
    "calendar = "
)


def page(values: Mapping[str, Any], today: date, *, given: bool) -> str:
    """The scenario file that says these values; `given` if they are somebody's answers."""
    lines = [*_comment(_QUESTION), "#"]
    lines += _comment(f"Written on {today}. {_GIVEN if given else _EXAMPLES} {_REST}")
    lines += ["", *(line for q in SCHOOL for line in _said(q, values) if values[q.key] != "")]
    if "closed" in values:
        lines += [*_closed(values), *_comment(f'{_CALENDAR}"school.ics"')]
    lines += _said(SEEDING, values)
    for question in (*GREENHOUSE, *CLASS):
        if f"[{question.table}]" not in lines:
            lines += ["", f"[{question.table}]"]
        lines += _said(question, values)
    for order in values["orders"]:
        lines += ["", "[[orders]]"]
        lines += [line for question in CUSTOMER for line in _said(question, order)]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in wrap(text, WIDTH - 2)]


def _said(question: Question, values: Mapping[str, Any]) -> Iterator[str]:
    """A key with its value, and the comment beside it, or above it if the value is long."""
    number = f" ({question.number})" if question.number else ""
    return _beside(f"{question.key} = {_toml(values[question.key])}", f"# {question.note}{number}")


def _beside(said: str, comment: str) -> Iterator[str]:
    if len(said) > COLUMN + 8:
        yield comment
        yield said
    else:
        yield f"{said:<{COLUMN - 2}}  {comment}"


def _closed(values: Mapping[str, Any]) -> Iterator[str]:
    """The closures, one a line; without any a comment shows how they are written."""
    yield from _beside("closed = [", f"# {CLOSED.note}, one closure a line")
    for closure in values["closed"]:
        yield _closure(*closure)
    if not values["closed"]:
        year = values["first_day"].year
        example = _closure(date(year, 11, 25), date(year, 11, 27), "Thanksgiving")
        yield f"    # such as {example.strip()}"
    yield "]"


def _closure(first: date, last: date, name: str) -> str:
    return f"    {{ first_day = {first}, last_day = {last}, name = {_toml(name)} }},"


def _toml(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(_period(*period)) for period in value) + "]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else str(value)


def _period(start: time, end: time) -> str:
    return f"{clock(start)}-{clock(end)}"
