"""Answers on a terminal: sentences, tables, progress. Plain text, at least 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table as RichTable

from sim.telling import Screen, Table

if TYPE_CHECKING:
    from sim.runs import Progress


def _console() -> Console:
    console = Console(highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console.width = 80
    return console


def show(screen: Screen) -> None:
    """Print it, as wide as the terminal, or 80 columns wide."""
    console = _console()
    console.print(screen.title, style="bold")
    for sentence in screen.sentences:
        console.print()
        console.print(sentence)
    for table in screen.tables:
        if table.rows:
            _print_table(console, table)
    for end in screen.ends:
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
def progress(what: str, *, quiet: bool) -> Iterator[Progress | None]:
    """A progress bar on stderr for work that takes long; silent if asked or not a terminal."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield None
        return
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        TextColumn,
        TimeRemainingColumn,
    )
    from rich.progress import Progress as Bar

    bar = Bar(
        TextColumn(what), BarColumn(20), MofNCompleteColumn(), TimeRemainingColumn(),
        TextColumn("left"), TextColumn("{task.fields[note]}"), console=console, transient=True,
    )  # fmt: skip
    with bar:
        task = bar.add_task(what, total=None, note="")

        def hear(done: int, total: int, note: str) -> None:
            bar.update(task, completed=done, total=total, note=note)

        yield hear
