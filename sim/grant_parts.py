"""What the documents of a justification are made of: sections with texts, tables and pictures.

A table holds values; words are made of them here, the same for every document, and the workbook
keeps the values themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from sim.school_year import spoken
from sim.telling import Table

Kind = Literal[
    "text", "count", "number", "share", "points", "signed", "dollars", "per head", "date", "month"
]
_HELD = "\u00a0"  # a space at which no line ends
Span = tuple[float | None, float | None]
Value = str | float | bool | Span | None


class Column(NamedTuple):
    """A column: its header, its unit, what its values are, and whether each is a span of two.

    A share is a part of 1, told in percent; points are a difference of shares; `signed` a
    difference of counts. Dates are ISO texts.
    """

    head: str
    kind: Kind = "text"
    unit: str = ""
    span: bool = False

    @property
    def header(self) -> str:
        """The header with its unit in square brackets."""
        return f"{self.head} [{self.unit}]" if self.unit else self.head


@dataclass(frozen=True)
class Grid:
    """A table of values; `sheet` names it in the workbook, `under` stands below it.

    `kinds`, if given, say row by row what the values are in columns of kind "number"; differences
    of shares are told in points. The workbook has `every` row instead, if these are given.
    """

    sheet: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    under: str = ""
    kinds: tuple[Kind, ...] = ()
    every: tuple[tuple[Value, ...], ...] = ()

    def kind(self, row: int, column: int) -> Kind:
        """What the value in a row and column is."""
        kind = self.columns[column].kind
        if kind == "signed" and self.kinds and self.kinds[row] == "share":
            return "points"
        return self.kinds[row] if self.kinds and kind == "number" else kind

    def table(self) -> Table:
        """The table in words."""
        rows = tuple(
            tuple(shown(value, self.kind(r, c)) for c, value in enumerate(row))
            for r, row in enumerate(self.rows)
        )
        texts = tuple(n for n, c in enumerate(self.columns) if c.kind in ("text", "date", "month"))
        return Table(self.title, tuple(c.header for c in self.columns), rows, self.under, texts)


class Bullets(NamedTuple):
    """A list of texts."""

    items: tuple[str, ...]


class Item(NamedTuple):
    """A text under its own name."""

    name: str
    text: str


class Heading(NamedTuple):
    """A heading inside a section."""

    text: str


class Boxed(NamedTuple):
    """A text that must not be overlooked."""

    text: str


class Shown(NamedTuple):
    """A picture by the stem of its file's name, what is written under it, and instead of it."""

    name: str
    caption: str
    words: str


Part = str | Grid | Bullets | Item | Heading | Boxed | Shown


class Section(NamedTuple):
    """A section that can be pasted by itself."""

    number: int
    title: str
    parts: tuple[Part, ...]

    @property
    def heading(self) -> str:
        """Number and title."""
        return f"{self.number} {self.title}"


def grids(sections: Sequence[Section]) -> Iterator[Grid]:
    """All tables of these sections that have a row."""
    for section in sections:
        for part in section.parts:
            if isinstance(part, Grid) and part.rows:
                yield part


def shown(value: Value, kind: Kind) -> str:
    """A value as people read it; "-" where there is none."""
    if value is None:
        return "-"
    if isinstance(value, tuple):
        size = max((abs(end) for end in value if end is not None), default=0.0)
        ends = ["-" if end is None else _number(end, kind, size) for end in value]
        told = " to ".join(ends).replace(f"{_HELD}% to ", " to ").replace(" ", _HELD)
        return "-" if "-" in ends else told
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return _dated(value, kind)
    return _number(value, kind, abs(value))


def typeset(text: str) -> str:
    """A text for paper: a true minus sign before a number, after which no line ends."""
    return re.sub(r"(^|[\s(])-(?=\d)", "\\1\u2212", text)


def _dated(text: str, kind: Kind) -> str:
    if kind == "date":
        text = spoken(date.fromisoformat(text), year=True).replace(" ", _HELD)
    return f"{date.fromisoformat(text):%B{_HELD}%Y}" if kind == "month" else text


def _number(value: float, kind: Kind, size: float) -> str:
    """A number; small differences, by the larger end of a span, have a decimal."""
    if kind == "share":
        return f"{100 * value:.1f}{_HELD}%"
    if kind in ("points", "signed"):
        value = 100 * value if kind == "points" else value
        text = f"{value:+,.{1 if kind == 'points' or size < 10 else 0}f}"
        return text if text.strip("+-0.") else text[1:]
    if kind in ("dollars", "per head"):
        return f"${value:,.{2 if kind == 'dollars' else 3}f}"
    if kind == "number":
        return f"{value:,.1f}"
    return f"{value:,.0f}" if kind == "count" else f"{value:,.10g}"
