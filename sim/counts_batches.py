"""Which batch a row of the records means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

from sim.agreement import nearest
from sim.counts_entries import Entry
from sim.counts_values import WrongError
from sim.school_year import spoken

_NUMBER = re.compile(r"\([0-9]+\)$")  # of the second batch that was seeded on a day
_SUGGESTED = 3  # batches of one day that are told


class Batches:
    """The batches that were seeded, each named by its crop and seeding date.

    Rows of one crop and date are one batch, unless their batches are called differently: a second
    one is "lettuce 2026-09-10 (2)". `refused` holds the rows of seedings that could not be used,
    by date.
    """

    def __init__(self, start: date, refused: Mapping[date, int]) -> None:
        self._start, self._refused = start, refused
        self._labels: dict[tuple[str, str], str] = {}  # crop, what people call it: its name
        self._codes: dict[tuple[str, date], dict[str, str]] = {}  # what tells them apart: name
        self._first: dict[str, int] = {}  # name: the day on which it was first seeded

    def seeded(self, entries: Iterable[Entry]) -> list[Entry]:
        """Seedings with the names of their batches."""
        named = []
        for entry in entries:
            when = entry.seeded or self._start + timedelta(days=entry.day)
            codes = self._codes.setdefault((entry.crop, when), {})
            code = _code(entry)
            if code not in codes:
                codes[code] = _name(f"{entry.crop} {when}", code, set(codes.values()))
            name = codes[code]
            if entry.label:
                self._labels.setdefault((entry.crop, entry.label), name)
            self._first[name] = min(entry.day, self._first.get(name, entry.day))
            named.append(replace(entry, batch=name))
        return named

    def missed(self, entry: Entry) -> Entry:
        """A seeding that was missed, with the name that its batch would have had."""
        when = entry.seeded or self._start + timedelta(days=entry.day)
        return replace(entry, batch=f"{entry.crop} {when}")

    def of(self, entry: Entry) -> Entry:
        """The row with the name of its batch, if it says which one.

        Raises WrongError if it was never seeded, was seeded later, or may be one of several.
        """
        if not entry.label and not entry.seeded:
            return entry
        name = self._labels.get((entry.crop, entry.label)) or self._dated(entry)
        if entry.day < self._first[name]:
            when = spoken(self._start + timedelta(days=self._first[name]), year=True)
            must = f"not before {when}, when this batch was seeded"
            raise WrongError(must, "mend the date, or the batch", "date")
        return replace(entry, batch=name)

    def _dated(self, entry: Entry) -> str:
        codes = self._codes.get((entry.crop, entry.seeded)) if entry.seeded else None
        if not codes:
            raise self._unknown(entry)
        if name := codes.get(_code(entry)):
            return name
        if len(codes) > 1:
            told = ", ".join(list(codes.values())[:_SUGGESTED])
            raise WrongError("one batch", f"write which one: {told}", _field(entry))
        return next(iter(codes.values()))

    def _unknown(self, entry: Entry) -> WrongError:
        """The batch was never seeded: which one may be meant."""
        field, must = _field(entry), f"a batch of {entry.crop} with a row of its seeding"
        if entry.seeded and entry.seeded in self._refused:
            row = self._refused[entry.seeded]
            return WrongError(must, f"mend row {row} first, which says that it was seeded", field)
        own = {label: label for crop, label in self._labels if crop == entry.crop}
        remedy = "add the row of its seeding, with the trays"
        dates = [d for crop, d in self._codes if crop == entry.crop]
        if entry.seeded and dates:
            seeded = entry.seeded
            near = min(dates, key=lambda d: (abs((d - seeded).days), d))
            remedy = f"did you mean the one of {spoken(near, year=True)}? If not, {remedy}"
        elif found := nearest(entry.label, own):
            remedy = f'did you mean "{found}"? If not, {remedy}'
        return WrongError(must, remedy, field)


def _field(entry: Entry) -> str:
    return "batch" if entry.label else "seeded"


def _code(entry: Entry) -> str:
    """What tells a batch from others of its day: its number, or its own code if it is no date."""
    if found := _NUMBER.search(entry.label):
        return found[0]
    return "" if entry.seeded else entry.label


def _name(plain: str, code: str, taken: set[str]) -> str:
    """The name of one more batch of a day."""
    wanted = f"{plain} {code}" if _NUMBER.fullmatch(code) else plain
    number = 1
    while wanted in taken:
        number += 1
        wanted = f"{plain} ({number})"
    return wanted
