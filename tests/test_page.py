"""The page of an answer, in a real browser: for a phone, for paper, for everybody."""

from __future__ import annotations

import shutil
from base64 import b64decode
from collections.abc import Callable, Iterator
from dataclasses import asdict
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from ten_heads import TINY

from sim.__main__ import main
from sim.inputs import inputs
from sim.page import Picture, page
from sim.scenario_file import read_scenario
from sim.telling import Screen, Table

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO, COUNTS = SCENARIOS / "maple-hollow.toml", SCENARIOS / "maple-hollow-counts.csv"
CHROMIUM = shutil.which("chromium"), shutil.which("chromedriver")
OPTIONS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--force-device-scale-factor=1",
)  # fmt: skip

ABOUT = {"command": "run", "file": "school.toml", "scenario_hash": "0" * 16, "cautions": ["Cold!"]}


class Reader(HTMLParser):
    """What a page holds: its text, and each tag with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Keep a text."""
        self.text.append(data)


def test_words_are_shown_as_they_are_written() -> None:
    """Names with signs that HTML knows stay text, in sentences, tables, titles and pictures."""
    odd = '<b>Tom & "Ann\'s"</b>'
    screen = Screen(odd, [odd], [Table(odd, (odd,), ((odd,),), odd)], [])
    read = Reader(page(screen, {**ABOUT, "cautions": [odd]}, [Picture(b"", odd)]))
    assert [text for text in read.text if odd in text] == [odd] * 8
    assert "b" not in [tag for tag, _ in read.tags]
    assert [attrs["alt"] for tag, attrs in read.tags if tag == "img"] == [odd]


def test_page_loads_nothing_and_runs_nothing() -> None:
    """No script, no style sheet, font or picture from elsewhere."""
    read = Reader(page(Screen("t", ["s"], [], []), ABOUT, [Picture(b"png", "words")]))
    assert "script" not in [tag for tag, _ in read.tags]
    for _, attrs in read.tags:
        for key in ("src", "href"):
            assert (attrs.get(key) or "data:").startswith("data:")


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    if not all(CHROMIUM):
        pytest.skip("needs chromium and chromedriver, which CI installs")
    from selenium.webdriver import Chrome, ChromeOptions
    from selenium.webdriver.chrome.service import Service

    options = ChromeOptions()
    for option in (*OPTIONS, f"--user-data-dir={tmp_path_factory.mktemp('chromium')}"):
        options.add_argument(option)
    options.binary_location = CHROMIUM[0]
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    with Chrome(options=options, service=Service(CHROMIUM[1])) as found:
        yield found


def options(out: Path) -> dict[str, tuple[object, ...]]:
    """What each command that writes a page is given, but for --out; TINY is the small scenario."""
    tiny, one = out / "tiny.toml", ("--workers", 1)
    log = (DEMO, COUNTS)
    return {
        "check": (DEMO,),
        "run": (tiny, "--years", 4, *one),
        "cadence": (SCENARIOS / "small-bench-summer.toml", "--runs", 1500, *one),
        "breaks": (tiny, "--years", 10, *one),
        "compare": (tiny, SCENARIOS / "maple-hollow-short.toml", "--years", 4, *one),
        "why": (tiny, "--week", "2026-11-02", "--years", 4, *one),
        "swings": (DEMO, "--years", 2, *one),
        "capacity": (tiny, "--runs", 2400, *one),
        "size": ("class", tiny, "--years", 2, "--runs", 7600, *one),
        "outlook": (DEMO, "--benches", SCENARIOS / "maple-hollow-benches.csv", "--futures", 10),
        "counts": (*log, "--today", "2027-06-30"),
        "calibrate": log,
        "sure": (*log, "--sets", 34, "--years", 10, *one),
        "review": (*log, "--outlooks", out / "outlook"),
        "grant": (DEMO, "--compare", SCENARIOS / "maple-hollow-bigger-nursery.toml", "--years", 2,
                  *one),
        "worklist": (DEMO, "--week", "2027-02-01", "--years", 2),
        "benches": (DEMO, "--on", "2027-01-11", "--years", 2),
    }  # fmt: skip


EVERYDAY = ("check", "run", "cadence", "breaks")
LONGER = (
    "compare",
    "why",
    "swings",
    "capacity",
    "size",
    "outlook",
    "counts",
    "calibrate",
    "sure",
    "review",
    "grant",
)
FORMS = ("worklist", "benches")  # to pin up, to fill in
PICTURES = {"run": 5, "cadence": 5, "breaks": 1, "compare": 1, "swings": 1}
COMMANDS = pytest.mark.parametrize(
    "command", [*EVERYDAY, *(pytest.param(c, marks=pytest.mark.proof) for c in LONGER + FORMS)]
)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    """The address of a command's page; it is made when it is first asked for."""
    out = tmp_path_factory.mktemp("pages")
    (out / "tiny.toml").write_text(TINY)

    def made(command: str) -> str:
        folder = out / command
        if not folder.exists():
            if command == "review":
                made("outlook")
            given = map(str, options(out)[command])
            assert main([command, *given, "--out", str(folder)]) == 0
        (found,) = folder.glob("*.html")
        return found.as_uri()

    return made


def phone(browser: Any, address: str, width: int = 390) -> None:
    """Show a page as wide as a phone."""
    size = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": True}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    browser.get(address)


@COMMANDS
def test_page_fits_a_phone(browser: Any, pages: Callable[[str], str], command: str) -> None:
    """Nothing scrolls sideways at 390 and at 320 px but tables and pictures by themselves; what
    does can be reached with the keyboard; no error. 320 px is WCAG 2.2, success criterion 1.4.10.
    """  # noqa: D205 - one sentence
    for width in (390, 320):
        phone(browser, pages(command), width)
        wide = "return [document.documentElement.scrollWidth, window.innerWidth]"
        assert browser.execute_script(wide) == [width, width]
        assert browser.execute_script(UNREACHED) == []
    assert browser.get_log("browser") == []


UNREACHED = """
return [...document.querySelectorAll('body *')].filter(e => e.scrollWidth > e.clientWidth + 1
  && ['auto', 'scroll'].includes(getComputedStyle(e).overflowX) && e.tabIndex < 0)
  .map(e => e.outerHTML.slice(0, 80));
"""


@COMMANDS
def test_everybody_can_read_it(browser: Any, pages: Callable[[str], str], command: str) -> None:
    """Language and title; words for every picture; headings in their order, one first; headers of
    columns and rows; text in a contrast of at least 4.5 to 1 (WCAG 2.2, criterion 1.4.3).
    """  # noqa: D205 - one sentence
    phone(browser, pages(command))
    ask = browser.execute_script
    assert ask("return document.documentElement.lang") == "en"
    assert ask("return document.title")
    levels = ask("return [...document.querySelectorAll('h1,h2,h3,h4')].map(h => +h.tagName[1])")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    words = ask("return [...document.images].map(i => i.alt)")
    assert all(len(word) > 15 for word in words)
    assert len(words) >= PICTURES.get(command, 0)
    if command not in FORMS:
        assert ask("return [...document.querySelectorAll('th')].every(h => h.scope)")
    contrast, seen = ask(CONTRAST)
    assert contrast >= 4.5
    assert seen > 20


CONTRAST = """
const parts = c => c.match(/[\\d.]+/g).map(Number);
const light = c => { const [r, g, b] = parts(c).map(x => { x /= 255;
  return x <= .04045 ? x / 12.92 : ((x + .055) / 1.055) ** 2.4; });
  return .2126 * r + .7152 * g + .0722 * b; };
const behind = e => { for (; e; e = e.parentElement) {
  const c = getComputedStyle(e).backgroundColor; if (parts(c)[3] !== 0) return c; }
  return 'rgb(255, 255, 255)'; };
const texts = [...document.querySelectorAll('p, td, th, h1, h2, h3, li, summary, figcaption, b')]
  .filter(t => t.textContent.trim());
const found = texts.map(t => [light(getComputedStyle(t).color), light(behind(t))].sort())
  .map(([dark, bright]) => (bright + .05) / (dark + .05));
return [Math.min(...found), found.length];
"""


@COMMANDS
def test_keyboard_reaches_everything(
    browser: Any, pages: Callable[[str], str], command: str
) -> None:
    """Tab goes from part to part in their order, and shows where it is; Enter unfolds the inputs.

    WCAG 2.2, success criteria 2.1.1 and 2.4.7.
    """
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    phone(browser, pages(command))
    parts = "[...document.querySelectorAll('[tabindex], summary, a[href], button, input')]"
    shown = f"const parts = {parts}.filter(e => e.checkVisibility({{contentVisibilityAuto: true}}))"
    count = browser.execute_script(f"{shown}; return parts.length")
    found = []
    for _ in range(count):
        ActionChains(browser).send_keys(Keys.TAB).perform()
        found.append(
            browser.execute_script(f"{shown}; return parts.indexOf(document.activeElement)")
        )
        outline = "return getComputedStyle(document.activeElement).outlineStyle"
        assert browser.execute_script(outline) in ("solid", "auto")
    assert found == list(range(count))
    if command in FORMS or command == "grant":
        return
    fold = browser.find_element("tag name", "details")
    assert fold.get_attribute("open") is None
    fold.find_element("tag name", "summary").send_keys(Keys.ENTER)
    assert fold.get_attribute("open") is not None


@COMMANDS
def test_paper_shows_all_of_it(browser: Any, pages: Callable[[str], str], command: str) -> None:
    """Printed on Letter and A4, nothing is wider than the paper, nothing is folded away, and the
    browser makes the pages; the form to walk round with is one. Widths
    of the paper less margins of 1 cm, at 96 px per inch.
    """  # noqa: D205 - one sentence
    sheets = {(8.5, 11.0): 740, (8.27, 11.69): 718}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    for (wide, high), width in sheets.items():
        size = {"width": width, "height": 1056, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get(pages(command))
        assert browser.execute_script(BEYOND, width) == []
        folded = "return [...document.querySelectorAll('tr')].filter(t => !t.offsetHeight).length"
        assert browser.execute_script(folded) == 0
        sheet = {"paperWidth": wide, "paperHeight": high}
        printed = b64decode(browser.execute_cdp_cmd("Page.printToPDF", sheet)["data"])
        assert printed.startswith(b"%PDF")
        sides = printed.count(b"/Type /Page\n")
        assert sides == 1 if command == "benches" else sides >= 1


BEYOND = """
return [...document.querySelectorAll('body *')]
  .filter(e => e.getBoundingClientRect().right > arguments[0] + 1)
  .map(e => e.outerHTML.slice(0, 80));
"""


def test_every_input_stands_on_the_page() -> None:
    """Each with its value, unit and source; what was assumed stands before, unfolded."""
    loaded = read_scenario(DEMO)
    found = [asdict(one) for one in inputs(loaded)]
    text = page(Screen("t", ["s"], [], []), {**ABOUT, "inputs": found}, [])
    before, folded = (" ".join(Reader(part).text) for part in text.split("<details>"))
    assert f"All {len(found)} inputs of the scenario" in folded
    assert all(f"{one['what']} " in folded and one["note"] in folded for one in found)
    assert "time for each head 1 minutes per head in the file" in " ".join(folded.split())
    assert "standard deviation of the length 1 day assumed: " in before
    assumed = [one for one in found if "assumed: " in one["note"]]
    assert 0 < len(assumed) < len(found)
    assert before.count("assumed: ") == len(assumed)
