"""`seedbeat new`: ask for a first scenario in a terminal, or write its template.

What was answered is kept beside the new file after each answer, so that the questions may be
stopped at any moment and gone on with later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from textwrap import wrap
from typing import Any

from sim.asking_answers import BadAnswerError, Known, closure_example
from sim.asking_files import (
    Answers,
    answers_file,
    forget_answers,
    keep_answers,
    kept_answers,
    ready,
    write_scenario,
)
from sim.asking_page import page
from sim.asking_questions import CUSTOMER, QUESTIONS, Question
from sim.errors import SeedbeatError

WIDTH = 78
ROOM = 44  # a prompt leaves the rest of the line to the answer
AGAIN = "again"
_ANEW = f'To begin the list anew, type "{AGAIN}".'
_INTRODUCTION = (
    "Ten numbers of the greenhouse and a few facts of the school make a first scenario. Enter "
    "takes the answer in [ ]: an invented example, or worked out from what you said before. A "
    "rough answer will do, for all of it can be changed in the file later. Ctrl-C stops; your "
    "answers are kept."
)


def ask(file: Path, today: date, read: Callable[[str], str], say: Callable[[str], None]) -> Path:
    """Ask for the short form of a scenario and write it; `read` and `say` as `input` and `print`.

    Answers kept from before are offered as defaults. Raises OutputError if the file is there
    already or cannot be written, ScenarioError if kept answers cannot be read, SeedbeatError at
    the end of input, and KeyboardInterrupt for Ctrl-C; the last two say how to go on.
    """
    ready(file)
    talk = _Conversation(file, today, read, say, kept_answers(file))
    try:
        values = talk.values()
    except KeyboardInterrupt:
        say("")
        raise KeyboardInterrupt(talk.how_to_go_on()) from None
    except EOFError:
        say("")
        raise SeedbeatError(f"the input ended; {talk.how_to_go_on()}.") from None
    write_scenario(file, page(values, today, given=True))
    forget_answers(file)
    say("")
    say(f"Written to {file.name}. Every answer can be changed there.")
    return file


def template(file: Path, today: date) -> Path:
    """Write a scenario that says the defaults of all questions, without asking.

    Raises OutputError if the file is there already or cannot be written.
    """
    ready(file)
    known = Known(file.parent, today, {})
    for question in QUESTIONS:
        if question.key == "closed":
            known.values["closed"] = []
        elif question.key == "orders":
            known.values["orders"] = [_defaults(CUSTOMER, known)]
        else:
            known.values.update(_defaults((question,), known))
    write_scenario(file, page(known.values, today, given=False))
    return file


def _defaults(questions: Iterable[Question], known: Known) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for question in questions:
        now = _with(known, found)
        found[question.key] = question.parse(question.offered(now), now)
    return found


def _with(known: Known, more: dict[str, Any]) -> Known:
    """What is known, and the values of the customer at hand."""
    return replace(known, values={**known.values, **more})


def _usable(question: Question, text: str, known: Known) -> bool:
    """Whether a kept answer is still a good one, after what was said since."""
    try:
        question.parse(text, known)
    except BadAnswerError:
        return False
    return True


class _Conversation:
    """Questions and answers about one new file; each answer is kept as soon as it is given."""

    def __init__(
        self,
        file: Path,
        today: date,
        read: Callable[[str], str],
        say: Callable[[str], None],
        answers: Answers,
    ) -> None:
        self._file = file
        self._read = read
        self._print = say
        self._answers = answers
        self._known = Known(file.parent, today, {})

    def values(self) -> dict[str, Any]:
        """The values of all answers, by key."""
        self._say(_INTRODUCTION)
        if self._answers:
            self._say(f"Going on with the answers kept in {answers_file(self._file).name}.")
        values = self._known.values
        for question in QUESTIONS:
            if question.key == "closed":
                if not values["calendar"]:
                    values["closed"] = self._closures(question)
            elif question.key == "orders":
                values["orders"] = self._customers(question)
            else:
                self._introduce(question)
                values[question.key] = self._answer(question, self._answers, self._known)
        return values

    def how_to_go_on(self) -> str:
        """What was kept, and what to do."""
        if not self._answers:
            return "nothing was answered yet, so no file was written"
        kept = answers_file(self._file)
        return f"your answers are kept in {kept}; to go on give the same command again"

    def _say(self, text: str, indent: str = "") -> None:
        for line in wrap(
            text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
        ):
            self._print(line)

    def _introduce(self, question: Question, more: str = "") -> None:
        """The question in words, with the reason for it."""
        self._print("")
        if question.heading:
            self._say(f"-- {question.heading} --")
            self._print("")
        number = f"{question.number} of 10. " if question.number else ""
        self._say(f"{number}{question.asks}{more}")
        if question.reason:
            self._say(f"Why: {question.reason}.", "  ")

    def _answer(self, question: Question, kept: dict[str, Any], known: Known) -> Any:
        """Ask until the answer is good; keep it and give its value."""
        given = str(kept.get(question.key, ""))
        default = given if _usable(question, given, known) else question.offered(known)
        while True:
            text = self._typed(question.unit, default) or default
            if self._good(question, text, known):
                kept[question.key] = text
                keep_answers(self._file, self._answers)
                return question.parse(text, known)

    def _typed(self, unit: str, default: str) -> str:
        prompt = f"  {unit} [{default}]: "
        if len(prompt) > ROOM:
            self._say(f"{unit} [{default}]", "  ")
            prompt = "  : "
        return self._line(prompt)

    def _line(self, prompt: str) -> str:
        """What is typed on a line, without the spaces around it."""
        while True:
            try:
                text = self._read(prompt)
                text.encode()
            except UnicodeError:
                self._say("Must be text, but it had bytes that are not UTF-8; type it again.", "  ")
            else:
                return text.strip()

    def _good(self, question: Question, text: str, known: Known) -> bool:
        """Whether an answer can be used; if not, what is wrong with it is said."""
        try:
            question.parse(text, known)
        except BadAnswerError as error:
            self._say(str(error), "  ")
            return False
        return True

    def _closures(self, question: Question) -> list[Any]:
        """Closures until an empty line."""
        self._introduce(question, f' "{closure_example(self._known)}". {_ANEW}')
        texts = self._answers.setdefault(question.key, [])
        texts[:] = [text for text in texts if self._good(question, text, self._known)]
        self._say_so_far(texts)
        while text := self._one_more(question.unit):
            if text == AGAIN:
                texts.clear()
            elif self._good(question, text, self._known):
                texts.append(text)
            keep_answers(self._file, self._answers)
        return [question.parse(text, self._known) for text in texts]

    def _customers(self, question: Question) -> list[dict[str, Any]]:
        """Customers until an empty line, at least one; one that was begun is finished first."""
        self._introduce(question)
        orders = self._answers.setdefault(question.key, [])
        name = CUSTOMER[0]
        orders[:] = [o for o in orders if _usable(name, o.get(name.key, ""), self._known)]
        self._say_so_far([order[name.key] for order in orders])
        values = [self._customer(order, number) for number, order in enumerate(orders, 1)]
        if not orders:
            values = [self._first_customer(orders)]
        while text := self._one_more(f"customer {len(orders) + 1}", f"Another customer? {_ANEW}"):
            if text == AGAIN:
                orders.clear()
                values = [self._first_customer(orders)]
            elif self._good(name, text, self._known):
                orders.append({name.key: text})
                keep_answers(self._file, self._answers)
                values.append(self._customer(orders[-1], len(orders)))
        return values

    def _first_customer(self, orders: list[dict[str, str]]) -> dict[str, Any]:
        orders.append({})
        return self._customer(orders[-1], 1)

    def _customer(self, order: dict[str, str], number: int) -> dict[str, Any]:
        """Ask what is not known of a customer; reasons are told with the first one."""
        values: dict[str, Any] = {}
        for question in CUSTOMER:
            known = _with(self._known, values)
            text = order.get(question.key, "")
            if _usable(question, text, known):
                values[question.key] = question.parse(text, known)
                continue
            whose = f" (customer {number}: {values[CUSTOMER[0].key]})" if values else ""
            self._introduce(question if number == 1 else replace(question, reason=""), whose)
            values[question.key] = self._answer(question, order, known)
        return values

    def _say_so_far(self, entries: list[str]) -> None:
        if entries:
            self._say(f"So far: {'; '.join(entries)}.", "  ")

    def _one_more(self, what: str, asks: str = "") -> str:
        """The next entry of a list, "" if there is none."""
        if asks:
            self._print("")
            self._say(asks)
        return self._line(f"  {what} (Enter: no more): ")
