"""What `seedbeat grant` says on a terminal: the summary, and the tables it rests on."""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_change import UNIT, differences
from sim.grant_parts import shown
from sim.grant_present import need_grid
from sim.grant_sections import summary
from sim.grant_words import resource_name, unlike_told
from sim.telling import Answer, Table, percent
from sim.telling import endings as other_endings

_NO_OUT = (
    "--out DIR writes all of it: grant.docx, grant.html and grant.xlsx with fifteen sections, and "
    "the pictures."
)


def sentences(answer: Answer) -> Iterator[str]:
    """The summary; before it, in full, why two greenhouses are not like for like."""
    if warning := unlike_told(answer):
        yield warning
    yield from (part for part in summary(answer) if isinstance(part, str))


def tables(answer: Answer) -> list[Table]:
    """What is not met, what is full, and with a proposal what differs."""
    found = [need_grid(answer, answer["present"]).table(), _capacity(answer)]
    return [*found, _differences(answer)] if answer["proposed"] else found


def _differences(answer: Answer) -> Table:
    """The table of the documents without the column of units."""
    grid = differences(answer)
    unit = [column.head for column in grid.columns].index(UNIT)

    def less(texts: tuple[str, ...]) -> tuple[str, ...]:
        return texts[:unit] + texts[unit + 1 :]

    table = grid.table()
    rows = tuple(map(less, table.rows))
    return Table(table.title, less(table.headers), rows, table.under, (0, len(rows[0]) - 1))


def _capacity(answer: Answer) -> Table:
    limit = percent(answer["limit"]["share"])
    rows = tuple(
        (
            resource_name(r), shown(r["mean"], "share"), shown(r["busiest"], "share"),
            shown(r["at_limit"], "number"), "yes" if r["reached"] else "no",
        )
        for r in answer["present"]["resources"]
    )  # fmt: skip
    headers = ("in use", "mean", "busiest week", "weeks at the limit", "reached")
    under = f"At the limit: {limit} or more in use; reached: in a week or more of a mean year."
    return Table("Present capacity", headers, rows, under)


def endings(answer: Answer) -> list[str]:
    """What was assumed, the cautions, and how to have the documents."""
    return [*other_endings(answer), *([] if answer.get("files") else [_NO_OUT])]
