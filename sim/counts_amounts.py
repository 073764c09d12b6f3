"""How much a row says: trays or cells seeded, plants moved, heads cut, channels washed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from sim.counts_entries import ALL
from sim.counts_values import Cell, WrongError, text, whole
from sim.counts_words import CONTAINERS, PEOPLE, PLANTS, TIMES, bare
from sim.parts import Place

UNIT_OF = {"washed": CONTAINERS, "cleared": CONTAINERS, "checked": TIMES, "present": PEOPLE}
_TRAYS = 50  # a seeding of so many or fewer is taken for trays where tray spaces are unlimited
TRAYS_ASSUMED = "A seeding of so few was taken for trays, not cells"


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with what it counts: plants, containers, people or times; "" if nothing says so."""

    number: int
    family: str


def amounts(
    cells: list[tuple[Cell, str]], unit: str, units: Mapping[str, str], decimal: str
) -> list[Amount]:
    """The numbers of a row: `cells` that are filled in, each with its heading's unit.

    `unit` is what the row's own cell for the unit says; a unit behind a number goes before it,
    and that before the heading's. Raises WrongError.
    """
    found = []
    for cell, heading in cells:
        number, behind = whole(cell, decimal)
        word = bare(behind or heading or unit)
        if word and word not in units:
            must = "counted in trays, cells, plants, heads or channels"
            raise WrongError(must, "count these, or mend the unit")
        found.append(Amount(number, units.get(word, "")))
    return found


def amount(kind: str, given: list[Amount], place: Place | None, said: list[str]) -> tuple[int, int]:
    """Count (cells, plants, heads, people, times) and containers that a row of a kind tells.

    The count is `ALL` for what is ready without a number. `place` is where it was seeded or
    washed. What is assumed is added to `said`. Raises WrongError if the numbers are missing,
    contradict each other, or count something else.
    """
    wanted = UNIT_OF.get(kind, PLANTS)
    if not given:
        if kind == "checked":
            return 1, 0
        if kind == "ready":
            return ALL, 0
        raise WrongError("a number", "write how many, or 0 if there were none")
    if kind in ("seeded", "missed"):
        assert place
        return _seeded(given, place, said)
    own = {a.number for a in given if a.family in (wanted, "")}
    boxes = {a.number for a in given if a.family == CONTAINERS}
    if len(own) > 1 or len(boxes) > 1:
        raise WrongError("one number", "leave the right one and empty the other cells")
    if wanted == CONTAINERS:
        return 0, _containers(own, place)
    if own:
        return own.pop(), boxes.pop() if boxes else 0
    if boxes and kind == "ready":
        must = "counted in plants, not in trays or channels"
        raise WrongError(must, "count the plants, or leave the count empty: all of the batch")
    if boxes and kind in ("moved", "lost", "harvested", "dumped", "counted"):
        raise WrongError("counted in plants, not in trays or channels", "count the plants or heads")
    raise WrongError(f"a number of {_words(kind)}", f"count the {_words(kind)}, and mend the unit")


def _words(kind: str) -> str:
    return {"present": "people", "delivered": "heads", "surplus": "heads"}.get(kind, "plants")


def _containers(own: set[int], place: Place | None) -> int:
    if not own:
        raise WrongError("counted in trays or channels, not in plants", "count what was cleaned")
    number = own.pop()
    if place and place.count is not None and number > place.count:
        raise WrongError(f"at most {place.count:,}, which is all there are", "count again")
    return number


def _seeded(given: list[Amount], place: Place, said: list[str]) -> tuple[int, int]:
    """Cells and trays of a seeding, from either or both."""
    sites, most = place.sites_each, place.count
    trays = {a.number for a in given if a.family == CONTAINERS}
    cells = {a.number for a in given if a.family in (PLANTS, "")}
    if len(trays) > 1 or len(cells) > 1 or not trays | cells:
        raise WrongError("a number of trays or of cells", "leave one of each at most")
    if not trays and (few := min(cells)) <= (most or _TRAYS) and few < sites:
        said.append(TRAYS_ASSUMED)
        trays, cells = cells, set()
    tray = trays.pop() if trays else ceil(min(cells) / sites)
    cell = cells.pop() if cells else tray * sites
    if ceil(cell / sites) != tray:
        must = f"as many cells as {tray} trays of {sites} have"
        raise WrongError(must, "mend one of the two, or empty it")
    if not cell:
        raise WrongError("at least 1", 'take the row out, or write "missed" with the trays')
    if most is not None and tray > most:
        must = f"at most {most:,} trays, which is all the space there is"
        raise WrongError(must, "count again; if these are cells, write cells as the unit")
    return cell, tray


def shown(cells: list[tuple[Cell, str]]) -> str:
    """The numbers of a row as they are written."""
    return ", ".join(text(cell) for cell, _ in cells)
