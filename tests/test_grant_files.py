"""The documents of a capacity justification, read back by other readers than their writers."""

from __future__ import annotations

import argparse
import io
import json
import re
import shlex
import shutil
import subprocess
import zipfile
from base64 import b64decode
from datetime import date, datetime
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import docx
import pytest
from docx.oxml.ns import qn
from openpyxl import load_workbook
from test_grant import BENCH, BIGGER, DEMO, RAFT, granted, loaded, with_orders
from test_page import browser, phone

from sim import cautions, telling_grant
from sim.__main__ import COMMANDS
from sim.commands import base, grant
from sim.grant import Grant
from sim.grant_answer import grant_answer
from sim.grant_book import headers, workbook
from sim.grant_capacity import largest_grid, largest_order, largest_told
from sim.grant_document import column_widths, document
from sim.grant_page import page
from sim.grant_parts import (
    Boxed,
    Bullets,
    Grid,
    Heading,
    Item,
    Section,
    Shown,
    grids,
    shown,
    typeset,
)
from sim.grant_plan import command as rebuild_command
from sim.grant_sections import MOST_WORDS, sections, summary, title
from sim.grant_words import MEASURES as TOLD
from sim.measures import MEASURES
from sim.report import versions
from sim.scenario_file import read_scenario
from sim.telling import Table

__all__ = ["browser"]  # a fixture
COMMANDS_HERE = Path(grant.__file__).parent
PICTURES = ("weeks_met", "sites_filled", "ordered_and_delivered", "work_and_staffing",
            "weeks_compared")  # fmt: skip
PNG = b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
TITLES = (
    "Summary", "Need: orders not met today", "Present capacity", "Bottleneck",
    "Proposed change and expected output", "Throughput and service", "Losses by cause",
    "Labor and student contact hours", "Cost per head", "Timeline by month", "Risks and cautions",
    "Evaluation plan", "Methods", "Assumptions and inputs", "How to rebuild the figures",
)  # fmt: skip
COSTS = [("lease", 2400.0), ("seed & nutrients", 1800.0)]


def told(found: Grant, *options: Any) -> dict[str, Any]:
    return grant_answer(found, *options) | {"versions": versions()}


@cache
def answers() -> dict[str, dict[str, Any]]:
    """The demo with a proposal and alone, greenhouses without people, and two not alike."""
    one, bench, raft = (read_scenario(file) for file in (DEMO, BENCH, RAFT))
    other = loaded(with_orders(bench.scenario, heads={"Mon": 40}))
    found = granted(one, read_scenario(BIGGER), 3)
    return {
        "demo": told(found, COSTS, 22.5, date(2027, 1, 11)),
        "alone": told(Grant(found.present, None, {}, (), ())),
        "raft": told(granted(raft)),
        "unlike": told(granted(bench, other)),
    }


KEYS = ("demo", "alone", "raft", "unlike")
RENDERED = ("demo", "unlike")  # made into documents


@cache
def file(key: str, kind: str) -> bytes:
    """One document of an answer, "docx", "html" or "xlsx", with a dot for each picture."""
    answer, drawn = answers()[key], dict.fromkeys(PICTURES, PNG)
    found, name = sections(answer), title(answer)
    if kind == "xlsx":
        return workbook(name, found, answer["cautions"])
    return document(name, found, drawn) if kind == "docx" else page(name, found, drawn).encode()


@cache
def book(key: str = "demo") -> Any:
    return load_workbook(io.BytesIO(file(key, "xlsx")))


def texts(found: list[Section]) -> list[str]:
    """All texts of sections but those in tables."""
    texts: list[str] = []
    for section in found:
        texts.append(section.heading)
        for part in section.parts:
            if isinstance(part, str):
                texts.append(part)
            elif isinstance(part, Boxed | Heading):
                texts.append(part.text)
            elif isinstance(part, Bullets):
                texts += part.items
            elif isinstance(part, Item):
                texts.append(f"{part.name}. {part.text}")
            elif isinstance(part, Grid) and part.rows:
                texts += [part.title, part.under]
    return [text for text in texts if text]


class Reader(HTMLParser):
    """What a page holds: its text, its tags with their attributes, and whether they close."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Tags close in the order in which they opened."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.text += data


@cache
def read_page(key: str = "demo") -> Reader:
    return Reader(file(key, "html").decode())


@cache
def read_document(key: str = "demo") -> Any:
    return docx.Document(io.BytesIO(file(key, "docx")))


def document_text(key: str) -> str:
    """All text of the document, tables included."""
    return "\n".join(node.text or "" for node in read_document(key).element.iter(qn("w:t")))


# -- words --------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", KEYS)
def test_the_summary_has_at_most_250_words(key):
    parts = [p.text if isinstance(p, Boxed) else str(p) for p in summary(answers()[key])]
    assert 60 < len(" ".join(parts).split()) <= MOST_WORDS == 250


def test_the_summary_is_short_with_long_names_too():
    """The longest name that a scenario, a place and a crew may have, in words of five letters."""
    answer = {**answers()["demo"], "scenario": "w" * 5 + " word" * 15}
    answer["present"] = {**answer["present"], "scenario": answer["scenario"]}
    answer["proposed"] = {**answer["proposed"], "scenario": answer["scenario"]}
    answer["not_like_for_like"] = ["The orders differ."]
    ceiling = {**answer["present"]["ceilings"][0], "name": " word" * 16}
    answer["present"]["ceilings"] = [ceiling]
    parts = [p.text if isinstance(p, Boxed) else str(p) for p in summary(answer)]
    assert len(" ".join(parts).split()) <= MOST_WORDS


@pytest.mark.parametrize("key", KEYS)
def test_nothing_is_said_that_nobody_can_know(key):
    """Estimates only; and words of the code are not for pages."""
    never = r"guarantee|\bassur|\bensur|promis|will deliver|complian|\bsafe\b|\bluck|survival"
    found, screen = sections(answers()[key]), grant.COMMAND.screen(answers()[key])
    cells = [" ".join(row) for grid in grids(found) for row in grid.table().rows]
    terminal = [*screen.sentences, *(str(t) for t in screen.tables), *screen.ends]
    for text in (*texts(found), *cells, *terminal):
        assert not re.findall(never, text, re.IGNORECASE)
        assert not re.findall(r"\bNone\b|\bnan\b|\binf\b", text)


@pytest.mark.parametrize("key", KEYS)
def test_all_sections_are_there_in_their_order(key):
    """Fifteen, each with something to say first."""
    found = sections(answers()[key])
    assert [s.heading for s in found] == [f"{n} {name}" for n, name in enumerate(TITLES, 1)]
    assert all(isinstance(section.parts[0], str | Boxed) for section in found)


@pytest.mark.parametrize("key", RENDERED)
def test_the_document_and_the_page_say_the_same(key):
    """All headings, texts and cells of the sections."""
    found = sections(answers()[key])
    text = document_text(key).replace("\n", "")
    headings = [p.text for p in read_document(key).paragraphs if p.style.name == "Heading 1"]
    assert headings == [section.heading for section in found]
    cells = [cell for grid in grids(found) for row in grid.table().rows for cell in row]
    for part in map(typeset, [*texts(found), *cells]):
        assert part in read_page(key).text
        assert part in text


def test_every_measure_is_defined():
    """With what it is divided by, unless it is a count."""
    assert tuple(TOLD) == MEASURES
    for name, (_, kind, definition) in TOLD.items():
        assert " / " in definition or (name, kind) == ("wasted_plants", "count")


def test_a_proposal_that_is_not_like_for_like_is_warned_of_everywhere():
    """In the summary, in section 5, on the page, in the document, the workbook, the terminal."""
    answer = answers()["unlike"]
    found = sections(answer)
    for number in (1, 5, 11):
        assert any(isinstance(p, Boxed) for p in found[number - 1].parts), number
    assert read_page("unlike").text.count("Not like for like") >= 3
    assert document_text("unlike").count("Not like for like") >= 3
    assert str(book("unlike")["Contents"]["C2"].value).startswith("Not like for like")
    assert next(telling_grant.sentences(answer)).startswith("Not like for like. The orders differ")
    assert "Expected: " not in document_text("unlike")
    assert "Not like for like" not in document_text("demo")


def test_without_a_proposal_it_says_what_to_run():
    text = " ".join(texts(sections(answers()["alone"])))
    assert "seedbeat grant maple-hollow.toml --compare PROPOSED.toml" in text
    assert "No cost was given, so cost per head is left out" in text


@pytest.mark.parametrize("key", KEYS)
def test_commands_that_are_named_exist(key):
    """Each "seedbeat word" is a command, in this program or in its folder of commands."""
    found = " ".join(texts(sections(answers()[key])))
    named = set(re.findall(r"seedbeat ([a-z]+) [\w-]+\.toml", found))
    known = {command.name for command in COMMANDS}
    known |= {path.stem for path in COMMANDS_HERE.glob("*.py")}
    assert {"worklist"} <= named <= known


def test_the_command_that_rebuilds_it_is_quoted_for_a_shell():
    text = document_text("demo")
    assert (
        "seedbeat grant maple-hollow.toml --compare maple-hollow-bigger-nursery.toml --years 3 "
        "--seed 1 --cost lease=2400 --cost 'seed & nutrients=1800' --wage 22.5 --starts 2027-01-11 "
        "--out DIR"
    ) in text
    for name in ("python", "simpy", "numpy"):
        assert f"{name} {versions()[name]}" in text
    assert answers()["demo"]["proposed"]["scenario_hash"] in text


def test_cautions_are_quoted_word_for_word():
    for caution in (cautions.ESTIMATES, cautions.COLD, cautions.STUDENTS, cautions.ELECTRICITY):
        assert caution in document_text("demo")
        assert caution in read_page().text


def test_values_are_told_as_people_read_them():
    held = "\u00a0"
    assert shown(0.5, "share") == f"50.0{held}%"
    assert shown((0.1, 0.25), "share") == f"10.0{held}to{held}25.0{held}%"
    assert shown((None, 1.0), "count") == shown(None, "dollars") == "-"
    assert shown(-0.004, "points") == "-0.4"
    assert shown(-0.0004, "points") == shown(0.0, "points") == "0.0"
    assert shown((-16.4, 0.2), "signed") == f"-16{held}to{held}0"
    assert shown(2.26, "signed") == "+2.3"
    assert shown("2027-02-01", "month") == f"February{held}2027"
    assert typeset("-5 (-4,1 of 5-95 %) --week 2027-02-01") == (
        "\u22125 (\u22124,1 of 5-95 %) --week 2027-02-01"
    )
    assert (shown(1234.5, "dollars"), shown(0.0741, "per head")) == ("$1,234.50", "$0.074")


# -- Word ---------------------------------------------------------------------------------------


def test_the_document_is_letter_in_english_with_numbered_pages():
    made = read_document()
    paper = made.sections[0]
    assert (paper.page_width.inches, paper.page_height.inches) == (8.5, 11)
    assert made.core_properties.language == "en-US"
    assert made.styles["Normal"].element.rPr.find(qn("w:lang")).get(qn("w:val")) == "en-US"
    fields = [node.text for node in paper.footer._element.iter(qn("w:instrText"))]
    assert fields == ["PAGE", "NUMPAGES"]
    assert made.core_properties.title == title(answers()["demo"])


def test_tables_of_the_document_repeat_their_header_and_fit_the_page():
    """Header rows are marked; rows do not break; columns are no wider than the page together."""
    found = list(grids(sections(answers()["demo"])))
    tables = read_document().tables
    assert len(tables) == len(found)
    for table, grid in zip(tables, found, strict=True):
        marked = [row._tr.trPr.find(qn("w:tblHeader")) is not None for row in table.rows]
        assert marked == [True] + [False] * len(grid.rows)
        assert all(row._tr.trPr.find(qn("w:cantSplit")) is not None for row in table.rows)
        assert [cell.text for cell in table.rows[0].cells] == [c.header for c in grid.columns]
        assert sum(column.width.inches for column in table.columns) <= 7.0 + 1e-3
        order = [child.tag.split("}")[1] for child in table._tbl.tblPr]
        known = ["tblStyle", "tblW", "jc", "tblBorders", "tblLayout", "tblLook"]
        assert order == [tag for tag in known if tag in order]  # ECMA-376, CT_TblPr: a sequence


def test_columns_are_at_least_as_wide_as_their_words():
    """Unless there is no room for them; a long text takes what the others leave."""
    table = Table("t", ("a", "b"), (("incomprehensible", "word " * 60), ("x", "y")))
    first, second = column_widths(table)
    assert first >= 16 * 0.078
    assert second > 4
    assert first + second == pytest.approx(7.0)
    many = Table("t", ("incomprehensible",) * 9, ())
    assert sum(column_widths(many)) == pytest.approx(7.0)


def test_pictures_have_words():
    """In the document and on the page, each other words."""
    drawn = [shape._inline.docPr.get("descr") for shape in read_document().inline_shapes]
    images = [attrs["alt"] for tag, attrs in read_page().tags if tag == "img"]
    parts = [p for s in sections(answers()["demo"]) for p in s.parts if isinstance(p, Shown)]
    assert drawn == images == [p.words for p in parts]
    assert {p.name for p in parts} == set(PICTURES)
    assert len(set(drawn)) == len(drawn) == 5
    assert min(map(len, drawn)) > 40


# -- workbook -----------------------------------------------------------------------------------


def test_each_table_has_a_sheet_of_real_numbers():
    """Headers with units, in view; shares, counts and dollars are numbers, dates are dates."""
    found = list(grids(sections(answers()["demo"])))
    assert book().sheetnames == ["Contents", *(grid.sheet for grid in found)]
    for grid in found:
        sheet = book()[grid.sheet]
        assert [cell.value for cell in sheet[1]] == headers(grid)
        assert sheet.max_row == 1 + len(grid.every or grid.rows)
        assert sheet.freeze_panes == "A2"
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.oddFooter.center.text == "&A, page &P of &N"
    case = answers()["demo"]["present"]
    measures = {row[0].value: row for row in book()["Measures"].iter_rows(min_row=2)}
    steady = measures["weeks met of weeks with deliveries"]
    assert steady[2].value == pytest.approx(case["measures"]["steadiness"]["mean"])
    assert steady[2].number_format == "0.0%"
    assert [c.value for c in measures["heads short a year"]][2] == pytest.approx(
        case["counts"]["heads_short"]["mean"]
    )
    assert book()["Weeks"]["A2"].value == datetime(2026, 10, 12)
    assert book()["Weeks"].max_row == 1 + 33
    assert book()["Costs"]["B2"].value == 2400
    assert book()["Inputs"].max_row == 1 + len(answers()["demo"]["inputs"])
    assert [c.value for c in book()["Changed inputs"][2]] == [
        "place nursery", "number of them", 22, 28, "trays",
    ]  # fmt: skip


def test_differences_of_shares_are_points_in_the_workbook():
    row = next(r for r in book()["Differences"].iter_rows(min_row=2)
               if r[0].value == "finishing sites filled")  # fmt: skip
    change = answers()["demo"]["differences"]["bench_fill"]
    assert row[3].value == pytest.approx(100 * change["mean"])
    assert (row[6].value, row[2].number_format) == ("points", "0.0%")


def test_cells_hold_their_texts():
    """Width x lines holds every text; letters are on average at most 0.9 of a figure's width."""
    for sheet in book():
        for row in sheet.iter_rows():
            lines = (sheet.row_dimensions[row[0].row].height - 3) / 13.5
            for cell in row:
                if isinstance(cell.value, str) and cell.value:
                    width = sheet.column_dimensions[cell.column_letter].width - 1
                    assert 0.9 * len(cell.value) <= width * lines, cell.coordinate
                    assert max(map(len, cell.value.split())) <= width + 1, cell.coordinate


def test_a_name_is_no_formula():
    """A cost called "=1+1 <&" is text everywhere."""
    found = sections(told(granted(read_scenario(BENCH)), [("=1+1 <&", 5.0)]))
    costs = load_workbook(io.BytesIO(workbook("t", found, [])))["Costs"]
    assert (costs["A2"].value, costs["A2"].data_type) == ("=1+1 <&", "s")
    assert "=1+1 <&" in Reader(page("t", found, {})).text


# -- page ---------------------------------------------------------------------------------------


def test_the_page_stands_alone():
    """Well-formed; loads and runs nothing; one first heading; headers of columns are marked."""
    read = read_page()
    assert not read.open
    names = [tag for tag, _ in read.tags]
    assert not {"script", "iframe", "form", "object"} & set(names)
    assert names.count("h1") == 1
    for tag, attrs in read.tags:
        assert (attrs.get("src") or "data:").startswith("data:")
        assert (attrs.get("href") or "#").startswith(("#", "data:,"))
        assert tag != "th" or attrs["scope"] == "col"
    links = [attrs["href"] for tag, attrs in read.tags if tag == "a"]
    marks = [f"#{attrs['id']}" for tag, attrs in read.tags if tag == "h2"]
    assert marks[1:] == links


def test_the_page_fits_a_phone(browser, tmp_path):
    """At 390 px nothing scrolls sideways but tables and pictures by themselves; no error."""
    (tmp_path / "grant.html").write_bytes(file("demo", "html"))
    phone(browser, (tmp_path / "grant.html").as_uri())
    wide = "return [document.documentElement.scrollWidth, window.innerWidth]"
    assert browser.execute_script(wide) == [390, 390]
    assert browser.get_log("browser") == []


# -- the command -------------------------------------------------------------------------------


def command(*words: object) -> dict[str, Any]:
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), grant.COMMAND)
    args = parser.parse_args(["grant", *map(str, words), "--workers", "1"])
    return grant.COMMAND.answer(args)


def test_without_a_folder_it_tells_how_to_have_the_documents():
    answer = command(BENCH, "--years", 2)
    screen = grant.COMMAND.screen(answer)
    assert "files" not in answer
    assert screen.ends[-1].startswith("--out DIR writes all of it: grant.docx, grant.html and")
    assert [table.title for table in screen.tables] == ["Orders not met", "Present capacity"]


def test_with_a_folder_it_writes_them(tmp_path, monkeypatch):
    """The documents, their pictures, and a run.json with the versions and the whole answer."""
    monkeypatch.setattr(grant, "_figures", lambda _: {})
    answer = command(BENCH, "--compare", BENCH, "--years", 2, "--out", tmp_path / "new")
    made = {path.name for path in (tmp_path / "new").iterdir()}
    assert made == set(answer["files"]) == {"run.json", "grant.docx", "grant.html", "grant.xlsx"}
    kept = json.loads((tmp_path / "new" / "run.json").read_text())
    assert kept["versions"] == versions()
    assert kept["proposed"]["scenario"] == "small bench, summer"
    assert "--out DIR" not in grant.COMMAND.screen(answer).ends[-1]


@pytest.mark.proof
def test_the_largest_order_is_told_where_it_is_asked_for():
    """8 x 18 channel sites / 4 weeks = 36 heads a week (H. Resh, Hobby Hydroponics, ch. 6; N.
    Bumgarner, Late Summer to Winter Bibb Lettuce Trial, 2013; the product is ours): the largest
    order in whole cases of 24 above it, 48, is beyond arithmetic. Without being asked for it is
    not told, and what tells it is named.
    """  # noqa: D205 - one sentence
    answer = command(BENCH, "--years", 2, "--capacity", "--steadiness", 0.9)
    versioned = answer | {"versions": versions()}
    told = [part for part in summary(versioned) if isinstance(part, str)]
    assert (
        "Largest steady order that a seeding cadence was shown to meet (90.0 % of the weeks, and "
        "every week in 85.0 % of the years): 36 heads a week (1.00 times the orders) at present."
    ) in told
    assert len(" ".join(told).split()) <= MOST_WORDS
    grid = largest_grid(answer)
    assert [row[1] for row in grid.rows] == [36.0, 36.0, 1.0, 1.0, 0.0, 1.0, 1.0, 48.0]
    parts = [part for part in largest_order(answer) if isinstance(part, str)]
    assert parts[1].endswith(
        "48 heads a week, cannot be met, by arithmetic. What limits it first: the channels."
    )
    assert shlex.split(rebuild_command(versioned))[7:10] == [
        "--capacity", "--steadiness=0.9", "--weakest-week=0.85",
    ]  # fmt: skip
    answer = answers()["alone"]
    assert largest_told(answer) == ""
    (part,) = largest_order(answer)
    assert "--capacity" in part


@pytest.mark.proof
def test_all_pictures_are_drawn(tmp_path):
    """Those of the documents, as PNG and SVG."""
    answer = command(DEMO, "--compare", BIGGER, "--years", 2, "--out", tmp_path)
    drawn = {f"{name}.{kind}" for name in PICTURES for kind in ("png", "svg")}
    assert drawn <= set(answer["files"])
    text = (tmp_path / "grant.html").read_text()
    assert text.count("<img ") == len(PICTURES)


# -- files --------------------------------------------------------------------------------------


def test_the_same_answer_gives_the_same_bytes():
    """Nothing in the packed files tells when they were written."""
    for kind in ("docx", "xlsx"):
        made = file("unlike", kind)
        assert made == file.__wrapped__("unlike", kind)
        with zipfile.ZipFile(io.BytesIO(made)) as packed:
            assert {entry.date_time for entry in packed.infolist()} == {(2000, 1, 1, 0, 0, 0)}
            about = packed.read("docProps/core.xml").decode()
        dates = re.findall(r"<dcterms:\w+[^>]*>([^<]*)", about)
        assert dates == ["2000-01-01T00:00:00Z"] * 2
        assert re.search("<dc:creator[^>]*>seedbeat<", about)


@pytest.mark.skipif(not shutil.which("soffice"), reason="needs LibreOffice (soffice)")
@pytest.mark.proof
def test_libreoffice_reads_the_documents(tmp_path):
    """It makes PDFs of both without complaint, with the headings and all sheets in them."""
    for kind in ("docx", "xlsx"):
        folder, name = tmp_path / kind, f"grant.{kind}"
        folder.mkdir()
        (folder / name).write_bytes(file("demo", kind))
        home = f"-env:UserInstallation={(tmp_path / 'home').as_uri()}"
        made = subprocess.run(
            ["soffice", home, "--headless", "--convert-to", "pdf", name],
            cwd=folder, capture_output=True, text=True, timeout=300, check=True,
        )  # fmt: skip
        assert "rror" not in made.stdout + made.stderr
        pdf = folder / "grant.pdf"
        assert pdf.read_bytes().startswith(b"%PDF")
        if shutil.which("pdftotext"):
            text = subprocess.run(
                ["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True
            ).stdout
            wanted = TITLES if name == "grant.docx" else ("Contents", "Differences", "Rebuild")
            assert all(word in text for word in wanted)
