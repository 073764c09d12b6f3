"""An answer as one HTML page: self-contained, for a phone and for paper.

Nothing on it is loaded from elsewhere and nothing runs: pictures are in the page, and a table
that is wider than a phone scrolls by itself, also from the keyboard.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from itertools import groupby
from operator import itemgetter
from typing import Any, NamedTuple

from sim.inputs import ASSUMED
from sim.telling import ASSUMED_TITLE, Screen, Table

MOST_ROWS = 400  # of one table; the files hold all
SHORT = 20  # rows of a table that paper does not break

STYLE = """
:root { color: #1b1b1b; background: #fff; font: 1rem/1.5 system-ui, sans-serif; }
body { max-width: 52rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: .5rem 0 1rem; }
h2 { font-size: 1.15rem; margin: 2rem 0 .5rem; border-top: 1px solid #767676; padding-top: .75rem; }
.answer { border-left: .3rem solid #1b1b1b; padding-left: .9rem; }
.answer p:first-child { font-size: 1.1rem; font-weight: 600; }
figure { margin: 1rem 0; }
img { width: 100%; min-width: 36rem; height: auto; }
figcaption, .under { font-size: .9rem; color: #444; }
.wide { overflow-x: auto; }
div.wide { background: linear-gradient(90deg, #fff 1rem, #fff0 2rem) 0 0 / 2rem 100% local,
  linear-gradient(270deg, #fff 1rem, #fff0 2rem) 100% 0 / 2rem 100% local,
  linear-gradient(90deg, #0003, #0000) 0 0 / .6rem 100% scroll,
  linear-gradient(270deg, #0003, #0000) 100% 0 / .6rem 100% scroll; background-repeat: no-repeat; }
.wide:focus-visible, a:focus-visible, summary:focus-visible { outline: 3px solid #00429d; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; font-size: .92rem; }
th, td { padding: .25rem .6rem; text-align: right; vertical-align: top; overflow-wrap: normal;
  white-space: nowrap; }
th { border-bottom: 2px solid #1b1b1b; font-weight: 600; }
td { border-bottom: 1px solid #c8c8c8; }
.text { text-align: left; min-width: 7rem; white-space: normal; }
td.text:first-child { min-width: 8.5rem; }
.inputs { table-layout: fixed; width: 100%; }
.inputs .text { min-width: 0; overflow-wrap: anywhere; }
.of { text-align: left; border-bottom: 1px solid #767676; padding-top: .75rem; }
summary { cursor: pointer; }
summary h2 { display: inline-block; }
.cautions { border: 2px solid #1b1b1b; padding: .2rem 1rem; }
.cautions h2 { border: 0; margin-top: .5rem; }
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; }
  h2 { break-after: avoid; }
  h2 { margin-top: 1.2rem; }
  img { min-width: 0; width: auto; max-width: 100%; max-height: 11cm; }
  figure, tr, .whole, .cautions { break-inside: avoid; }
  .of { break-after: avoid; }
  .wide { overflow: visible; background: none; }
  table { font-size: 8.5pt; }
  th, td { white-space: normal; padding: .1rem .5rem; }
  td.text, th.text { min-width: 0; }
  td.text:first-child { min-width: 4rem; }
  thead { display: table-header-group; }
  details::details-content { content-visibility: visible; }
}
"""


class Picture(NamedTuple):
    """A picture for the page, with the words that stand for it where it cannot be seen."""

    png: bytes
    words: str


def page(screen: Screen, answer: Mapping[str, Any], pictures: Sequence[Picture]) -> str:
    """The page of one answer: its sentences, pictures, tables, cautions and inputs.

    What was assumed is told among the inputs, with its reasons, and not in a table of the screen.
    """
    return framed(screen.title, [
        f"<h1>{escape(screen.title)}</h1>",
        '<div class="answer">' + "".join(map(paragraph, screen.sentences)) + "</div>",
        *map(figure, pictures),
        *(titled_table(t) for t in screen.tables if t.rows and t.title != ASSUMED_TITLE),
        _cautions(answer.get("cautions", ())),
        *_inputs(answer.get("inputs", ()), "scenarios" in answer),
        _rebuilt(answer),
    ])  # fmt: skip


def framed(title: str, parts: Iterable[str], style: str = "") -> str:
    """A page around parts of HTML, empty ones left out; `style` adds to that of all pages."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<link rel="icon" href="data:,">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}{style}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(part for part in parts if part)
        + "\n</main>\n</body>\n</html>\n"
    )


def paragraph(text: str) -> str:
    """A text as HTML."""
    return f"<p>{escape(text)}</p>"


def figure(picture: Picture) -> str:
    """A picture as HTML; it scrolls by itself where it is wider than the page."""
    data = b64encode(picture.png).decode()
    words = escape(picture.words, quote=True)
    image = f'<img src="data:image/png;base64,{data}" alt="{words}">'
    return f'<figure class="wide" tabindex="0" role="region" aria-label="{words}">{image}</figure>'


def titled_table(table: Table, heading: str = "h2") -> str:
    """A table as HTML under its title, a heading of this rank; it scrolls by itself."""

    def cell(tag: str, column: int, text: str) -> str:
        scope = ' scope="col"' if tag == "th" else ""
        kind = ' class="text"' if column in table.text_columns else ""
        return f"<{tag}{scope}{kind}>{escape(text)}</{tag}>"

    rows = [
        "<tr>" + "".join(cell("td", k, text) for k, text in enumerate(row)) + "</tr>"
        for row in table.rows[:MOST_ROWS]
    ]
    head = "".join(cell("th", k, text) for k, text in enumerate(table.headers))
    under = f'<p class="under">{escape(table.under)}</p>' if table.under else ""
    whole = ' class="whole"' if len(rows) <= SHORT else ""
    return (
        f"<section{whole}><{heading}>{escape(table.title)}</{heading}>\n"
        f"{_scrolling(table.title, head, rows)}{under}</section>"
    )


def _scrolling(title: str, head: str, rows: Iterable[str], kind: str = "") -> str:
    """A table of these HTML cells and rows, in a part of the page that scrolls by itself."""
    kind = f' class="{kind}"' if kind else ""
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(title, quote=True)}">'
        f"<table{kind}><thead><tr>{head}</tr></thead>\n<tbody>"
        + "\n".join(rows)
        + "</tbody></table>"
        "</div>"
    )


def _cautions(cautions: Sequence[str]) -> str:
    if not cautions:
        return ""
    return (
        '<section class="cautions"><h2>Cautions</h2>'
        + "".join(map(paragraph, cautions))
        + "</section>"
    )


def _inputs(inputs: Sequence[Mapping[str, Any]], several: bool) -> Iterator[str]:
    """What was assumed, and every input with its value, unit and source, folded away on screen.

    Of `several` scenarios they are those of the first, and what differs in the others.
    """
    if assumed := [one for one in inputs if ASSUMED in one["note"]]:
        table = _input_table(ASSUMED_TITLE, assumed)
        yield f"<section><h2>{ASSUMED_TITLE}</h2>\n{table}</section>"
    if inputs:
        title = f"All {len(inputs):,} inputs of the scenario"
        if several:
            title = f"{len(inputs):,} inputs: those of A, and what differs in the others"
        table = _input_table(title, inputs)
        yield f"<details><summary><h2>{title}</h2></summary>\n{table}</details>"


def _input_table(title: str, inputs: Sequence[Mapping[str, Any]]) -> str:
    """Inputs in a table, under the part of the scenario that they belong to."""
    rows = []
    for of, group in groupby(inputs, key=itemgetter("where")):
        rows.append(f'<tr><th class="of" scope="rowgroup" colspan="3">{escape(of)}</th></tr>')
        for one in group:
            texts = one["what"], _amount(one["value"], one["unit"]), one["note"]
            cells = "".join(f'<td class="text">{escape(text)}</td>' for text in texts)
            rows.append(f"<tr>{cells}</tr>")
    names = ("input", "value", "source")
    head = "".join(f'<th scope="col" class="text">{name}</th>' for name in names)
    return _scrolling(title, head, rows, "inputs")


def _amount(value: float | str, unit: str) -> str:
    """A value with its unit: "0.4 minutes per plant", "1 day"."""
    if isinstance(value, str):
        return f"{value} {unit}".strip()
    one_thing = value == 1 and unit.endswith("s") and " " not in unit
    return f"{value:,.10g} {unit.removesuffix('s') if one_thing else unit}".strip()


def _rebuilt(answer: Mapping[str, Any]) -> str:
    seed = f", seed {answer['seed']}" if "seed" in answer else ""
    return (
        f'<h2>To rebuild it</h2>\n<p class="under">seedbeat {escape(str(answer["command"]))}, '
        f"scenario file {escape(str(answer['file']))} (hash {escape(str(answer['scenario_hash']))})"
        f"{seed}. The same command, file and version give the same numbers.</p>"
    )
