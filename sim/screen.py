"""Answers on a terminal: sentences, tables, progress. Plain text, at least 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Any

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table as RichTable

from sim import telling, telling_cadence, telling_check
from sim.answers import next_seedings
from sim.telling import Table

Answer = dict[str, Any]


def _console() -> Console:
    console = Console(highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console.width = 80
    return console


def _tell(
    title: str, sentences: Sequence[str], tables: Sequence[Table], ends: Sequence[str]
) -> None:
    console = _console()
    console.print(title, style="bold")
    for sentence in sentences:
        console.print()
        console.print(sentence)
    for table in tables:
        if table.rows:
            _print_table(console, table)
    for end in ends:
        console.print()
        console.print(end)


def _print_table(console: Console, table: Table) -> None:
    console.print()
    console.print(table.title, style="bold")
    shown = RichTable(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="")
    for number, header in enumerate(table.headers):
        text = number in table.text_columns
        shown.add_column(header, justify="left" if text else "right", overflow="fold")
    for row in table.rows:
        shown.add_row(*row)
    console.print(shown)
    if table.under:
        console.print(Padding(table.under, (0, 0, 0, 0)))


@contextmanager
def progress(what: str, *, quiet: bool) -> Iterator[Any]:
    """A progress bar on stderr for work that takes long; silent if asked or not a terminal."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield None
        return
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    bar = Progress(
        TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(),
        console=console, transient=True,
    )  # fmt: skip
    with bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def check(answer: Answer) -> None:
    """The screen of `seedbeat check`."""
    _tell(
        f"{answer['scenario']}: what was understood, and what can be done at most",
        list(telling_check.sentences(answer)),
        telling_check.tables(answer),
        telling.endings(answer)[1 if answer["assumed"] else 0 :],
    )


def run(answer: Answer) -> None:
    """The screen of `seedbeat run`."""
    upcoming = next_seedings(answer, date.today())
    tables = [
        telling.measures_table(answer),
        telling.weak_weeks_table(answer),
        telling.losses_table(answer),
        telling.work_table(answer),
        telling.sites_table(answer),
    ]
    _tell(
        f"{answer['scenario']}: {answer['years']:,} simulated years, seed {answer['seed']}",
        list(telling.run_sentences(answer, upcoming)),
        tables,
        telling.endings(answer),
    )


def cadence(answer: Answer) -> None:
    """The screen of `seedbeat cadence`."""
    _tell(
        f"{answer['scenario']}: the seeding cadence, seed {answer['seed']}",
        list(telling_cadence.sentences(answer)),
        telling_cadence.tables(answer),
        telling.endings(answer),
    )
