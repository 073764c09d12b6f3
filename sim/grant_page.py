"""A capacity justification as one HTML page: self-contained, for a phone and for paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from html import escape

from sim.grant_parts import Boxed, Bullets, Grid, Heading, Item, Part, Section, typeset
from sim.page import Picture, figure, framed, paragraph, titled_table

_STYLE = """
h3 { font-size: 1rem; margin: 1.25rem 0 .4rem; }
.boxed { border: 2px solid #1b1b1b; padding: .5rem .9rem; font-weight: 600; }
nav ol { columns: 2; column-gap: 2rem; padding-left: 1.4rem; }
nav a { color: #00429d; }
li { margin: .25rem 0; }
.text { min-width: 8rem; }
@media (max-width: 30rem) { nav ol { columns: 1; } }
@media print {
  @page { margin: 15mm; }
  nav { display: none; }
  h3, .boxed { break-after: avoid; }
  th, td, .text { white-space: normal; min-width: 0; }
  .under { font-size: 8.5pt; }
}
"""


def page(title: str, sections: Sequence[Section], pictures: Mapping[str, bytes]) -> str:
    """The page; pictures are PNG by the stem of their name, those that are missing left out."""
    contents = "".join(
        f'<li><a href="#s{s.number}">{escape(s.title)}</a></li>' for s in sections[1:]
    )
    parts = [f"<h1>{escape(title)}</h1>"]
    for section in sections:
        parts.append(f'<h2 id="s{section.number}">{escape(section.heading)}</h2>')
        for part in section.parts:
            parts += _part(part, pictures)
        if section is sections[0]:
            parts.append(f'<nav aria-label="Sections"><ol start="2">{contents}</ol></nav>')
    return framed(title, parts, _STYLE)


def _part(part: Part, pictures: Mapping[str, bytes]) -> Iterator[str]:
    if isinstance(part, str):
        yield paragraph(typeset(part))
    elif isinstance(part, Boxed):
        yield f'<p class="boxed" role="note">{escape(part.text)}</p>'
    elif isinstance(part, Heading):
        yield f"<h3>{escape(part.text)}</h3>"
    elif isinstance(part, Item):
        yield f"<p><b>{escape(part.name)}.</b> {escape(typeset(part.text))}</p>"
    elif isinstance(part, Bullets):
        yield "<ul>" + "".join(f"<li>{escape(typeset(item))}</li>" for item in part.items) + "</ul>"
    elif isinstance(part, Grid):
        if part.rows:
            table = part.table()
            rows = tuple(tuple(map(typeset, row)) for row in table.rows)
            yield titled_table(replace(table, rows=rows), "h3")
    elif part.name in pictures:
        yield figure(Picture(pictures[part.name], part.words))
        yield f'<p class="under">{escape(part.caption)}</p>'
