"""A capacity justification as a Word document (.docx), US Letter, to be edited and pasted from."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

import docx
from docx.document import Document
from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Inches, Pt, RGBColor
from docx.text.paragraph import Paragraph

from sim.grant_packed import SAVED, undated
from sim.grant_parts import Boxed, Bullets, Grid, Heading, Item, Part, Section, Shown, typeset
from sim.telling import Table

_FONT = "Arial"
_WIDTH = 7.0  # inches between the margins
_LETTER = 0.078  # inches that a letter of a table takes, on average
_PADDING = 0.16  # inches of a cell that hold no text
_LONG = 3.0  # inches from which a longer text makes a column no wider than another
_SHORT = 12  # rows up to which a table is not split over pages
_BLACK = "000000"
_CELL = "Table Text"  # the style of paragraphs in tables
_SIZES = {"Title": 20, "Heading 1": 14, "Heading 2": 11, "Normal": 10, "Caption": 9}  # points


def document(title: str, sections: Sequence[Section], pictures: Mapping[str, bytes]) -> bytes:
    """The document; the same sections and pictures give the same bytes.

    Pictures are PNG by the stem of their name; those that are missing are left out.
    """
    made = docx.Document()
    _set_up(made, title)
    made.add_paragraph(title, style="Title")
    for section in sections:
        made.add_heading(section.heading, level=1)
        for part in section.parts:
            _add(made, part, pictures)
    saved = io.BytesIO()
    made.save(saved)
    return undated(saved.getvalue())


# -- page, styles, properties -------------------------------------------------------------------


def _set_up(made: Document, title: str) -> None:
    page = made.sections[0]
    page.page_width, page.page_height = Inches(8.5), Inches(11)
    page.left_margin = page.right_margin = Inches((8.5 - _WIDTH) / 2)
    page.top_margin = page.bottom_margin = Inches(0.8)
    about = made.core_properties
    about.title, about.author, about.language, about.comments = title, "seedbeat", "en-US", ""
    about.created = about.modified = SAVED
    _set_styles(made)
    _number_pages(page.footer.paragraphs[0], title)


def _set_styles(made: Document) -> None:
    for name, size in _SIZES.items():
        style: Any = made.styles[name]
        style.font.name, style.font.size = _FONT, Pt(size)
        style.font.color.rgb = RGBColor.from_string(_BLACK)
        fonts = style.element.rPr.rFonts
        for key in list(fonts.attrib):
            if key.endswith("Theme"):  # a theme's font would win over the one given
                del fonts.attrib[key]
        for script in ("w:ascii", "w:hAnsi", "w:eastAsia", "w:cs"):
            fonts.set(qn(script), _FONT)
    normal: Any = made.styles["Normal"]
    normal.paragraph_format.space_after = Pt(6)
    normal.element.get_or_add_rPr().append(_element("w:lang", val="en-US"))
    heading: Any = made.styles["Heading 1"]
    heading.paragraph_format.space_before, heading.paragraph_format.space_after = Pt(18), Pt(6)
    caption: Any = made.styles["Caption"]
    caption.font.bold = False
    cell: Any = made.styles.add_style(_CELL, WD_STYLE_TYPE.PARAGRAPH)
    cell.base_style, cell.font.size = normal, Pt(8.5)
    cell.paragraph_format.space_before = cell.paragraph_format.space_after = Pt(1.5)


def _number_pages(footer: Paragraph, title: str) -> None:
    """The title and "page 1 of 9" in the footer; the program that opens it counts."""
    footer.alignment = WD_ALIGN_PARAGRAPH.CENTER
    footer.add_run(f"{title}, page ")
    for field, after in (("PAGE", " of "), ("NUMPAGES", "")):
        for kind, text in (("begin", ""), ("", field), ("end", "")):
            run: Any = footer.add_run()
            if kind:
                run._r.append(_element("w:fldChar", fldCharType=kind))
            else:
                code = _element("w:instrText")
                code.text = text
                run._r.append(code)
        footer.add_run(after)


def _element(tag: str, **attributes: str) -> Any:
    """An element of the document's XML."""
    made: Any = OxmlElement(tag)
    for key, value in attributes.items():
        made.set(qn(f"w:{key}"), value)
    return made


# -- parts --------------------------------------------------------------------------------------


def _add(made: Document, part: Part, pictures: Mapping[str, bytes]) -> None:
    if isinstance(part, str):
        made.add_paragraph(typeset(part))
    elif isinstance(part, Boxed):
        _box(made.add_paragraph(), part.text)
    elif isinstance(part, Heading):
        made.add_heading(part.text, level=2)
    elif isinstance(part, Item):
        paragraph = made.add_paragraph()
        paragraph.add_run(f"{part.name}. ").bold = True
        paragraph.add_run(typeset(part.text))
    elif isinstance(part, Bullets):
        for item in part.items:
            made.add_paragraph(typeset(item), style="List Bullet")
    elif isinstance(part, Grid):
        if part.rows:
            _add_table(made, part.table())
    elif part.name in pictures:
        _add_picture(made, part, pictures[part.name])


def _box(paragraph: Paragraph, text: str) -> None:
    """A text in bold with a line around it."""
    paragraph.add_run(text).bold = True
    paragraph.paragraph_format.keep_together = True
    borders = _element("w:pBdr")
    for side in ("top", "left", "bottom", "right"):
        borders.append(_element(f"w:{side}", val="single", sz="12", space="4", color=_BLACK))
    properties: Any = paragraph._p.get_or_add_pPr()
    properties.insert_element_before(borders, "w:shd", "w:tabs", "w:spacing", "w:ind", "w:jc")


def _add_picture(made: Document, part: Shown, png: bytes) -> None:
    made.add_picture(io.BytesIO(png), width=Inches(_WIDTH - 0.2))
    made.paragraphs[-1].paragraph_format.keep_with_next = True
    drawn: Any = made.inline_shapes[-1]._inline.docPr
    drawn.set("descr", part.words)
    drawn.set("name", part.name)
    made.add_paragraph(part.caption, style="Caption")


def _add_table(made: Document, table: Table) -> None:
    """Title, table and the line under it; the header is repeated on every page."""
    made.add_heading(table.title, level=2)
    grid = made.add_table(rows=1 + len(table.rows), cols=len(table.headers))
    grid.autofit = False
    _rule(grid)
    widths, short, style = column_widths(table), len(table.rows) <= _SHORT, made.styles[_CELL]
    rows = zip(grid.rows, (table.headers, *table.rows), strict=True)
    for number, (row, texts) in enumerate(rows):
        properties: Any = row._tr.get_or_add_trPr()
        properties.append(_element("w:cantSplit"))
        if number == 0:
            properties.append(_element("w:tblHeader"))
        for column, (cell, text) in enumerate(zip(row.cells, texts, strict=True)):
            held = bool(table.under) if number == len(table.rows) else short or number < 2
            cell.width = Inches(widths[column])
            _fill(cell.paragraphs[0], text, style, right=column not in table.text_columns,
                  head=number == 0, held=held)  # fmt: skip
    for column, width in zip(grid.columns, widths, strict=True):
        column.width = Inches(width)
    under = made.add_paragraph(table.under, style="Caption")
    under.paragraph_format.space_before = Pt(3)


def _rule(grid: Any) -> None:
    """Gray lines between the rows."""
    borders = _element("w:tblBorders")
    for side in ("top", "bottom", "insideH"):
        borders.append(_element(f"w:{side}", val="single", sz="4", space="0", color="999999"))
    after = ("w:shd", "w:tblLayout", "w:tblCellMar", "w:tblLook")
    grid._tbl.tblPr.insert_element_before(borders, *after)


def _fill(
    paragraph: Paragraph, text: str, style: Any, *, right: bool, head: bool, held: bool
) -> None:
    """A cell's text; `held` keeps the row on one page with what follows."""
    paragraph.style = style
    run = paragraph.add_run(typeset(text))
    if head:
        run.bold = True
    if held:
        paragraph.paragraph_format.keep_with_next = True
    if right:
        paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT


def column_widths(table: Table) -> list[float]:
    """Widths that add up to at most the page's [inches].

    Each column is as wide as its longest word; what is left goes to columns whose texts are
    longer than that, by how long they are. Columns too many for that shrink alike.
    """
    columns = list(zip(table.headers, *table.rows, strict=True))
    widths = [_LETTER * max(len(w) for text in c for w in text.split(" ")) for c in columns]
    whole = [_LETTER * max(map(len, c)) for c in columns]
    room = _WIDTH - len(columns) * _PADDING
    if sum(widths) > room:
        return [_WIDTH * (width + _PADDING) / (sum(widths) + _WIDTH - room) for width in widths]
    for longest in (_LONG, _WIDTH):  # first to all alike, what is left to the longest
        wanted = [max(0.0, min(w, longest) - t) for w, t in zip(whole, widths, strict=True)]
        share = min(1.0, (room - sum(widths)) / sum(wanted)) if any(wanted) else 0.0
        widths = [t + share * w for t, w in zip(widths, wanted, strict=True)]
    return [width + _PADDING for width in widths]
