"""An answer as one HTML page: self-contained, for a phone and for paper.

Nothing on it is loaded from elsewhere and nothing runs: pictures are in the page, and a table
that is wider than a phone scrolls by itself, also from the keyboard.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any, NamedTuple

from sim.telling import Screen, Table

MOST_ROWS = 400  # of one table; the files hold all

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
.wide:focus-visible, a:focus-visible, summary:focus-visible { outline: 3px solid #00429d; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; font-size: .92rem; }
th, td { padding: .25rem .6rem; text-align: right; vertical-align: top; overflow-wrap: normal;
  white-space: nowrap; }
th { border-bottom: 2px solid #1b1b1b; font-weight: 600; }
td { border-bottom: 1px solid #c8c8c8; }
.text { text-align: left; min-width: 6rem; white-space: normal; }
.cautions { border: 2px solid #1b1b1b; padding: .2rem 1rem; }
.cautions h2 { border: 0; margin-top: .5rem; }
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; }
  h2 { break-after: avoid; }
  img { min-width: 0; }
  figure, tr, .cautions { break-inside: avoid; }
  .wide { overflow: visible; }
  table { font-size: 8.5pt; }
  thead { display: table-header-group; }
}
"""


class Picture(NamedTuple):
    """A picture for the page, with the words that stand for it where it cannot be seen."""

    png: bytes
    words: str


def page(screen: Screen, answer: Mapping[str, Any], pictures: Sequence[Picture]) -> str:
    """The page of one answer: its sentences, pictures, tables, cautions and assumptions."""
    return framed(screen.title, [
        f"<h1>{escape(screen.title)}</h1>",
        '<div class="answer">' + "".join(map(paragraph, screen.sentences)) + "</div>",
        *map(figure, pictures),
        *(titled_table(table) for table in screen.tables if table.rows),
        _cautions(answer.get("cautions", ())),
        _assumed(answer.get("assumed", ())),
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
    title, under = escape(table.title), f'<p class="under">{escape(table.under)}</p>'
    return (
        f"<{heading}>{title}</{heading}>\n"
        f'<div class="wide" tabindex="0" role="region" aria-label="{title}">'
        f"<table><thead><tr>{head}</tr></thead>\n<tbody>" + "\n".join(rows) + "</tbody></table>"
        f"</div>{under if table.under else ''}"
    )


def _cautions(cautions: Sequence[str]) -> str:
    if not cautions:
        return ""
    return (
        '<section class="cautions"><h2>Cautions</h2>'
        + "".join(map(paragraph, cautions))
        + "</section>"
    )


def _assumed(assumed: Sequence[Mapping[str, Any]]) -> str:
    if not assumed:
        return ""
    listed = "".join(
        f"<li>{escape(' '.join(str(value) for value in one.values()))}</li>" for one in assumed
    )
    return f"<h2>Assumed until you count it</h2>\n<ul>{listed}</ul>"


def _rebuilt(answer: Mapping[str, Any]) -> str:
    seed = f", seed {answer['seed']}" if "seed" in answer else ""
    return (
        f'<h2>To rebuild it</h2>\n<p class="under">seedbeat {escape(str(answer["command"]))}, '
        f"scenario file {escape(str(answer['file']))} (hash {escape(str(answer['scenario_hash']))})"
        f"{seed}. The same command, file and version give the same numbers.</p>"
    )
