"""The page of an answer, in a real browser: for a phone, for paper, for everybody."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from sim.__main__ import main
from sim.page import Picture, page
from sim.telling import Screen, Table

DEMO = str(Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml")
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


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The pages of some commands on the demo, by command."""
    made = {}
    for command, *options in (("check",), ("run", "--years", "6", "--workers", "1")):
        out = tmp_path_factory.mktemp(command)
        assert main([command, DEMO, *options, "--out", str(out)]) == 0
        made[command] = (out / "page.html").as_uri()
    return made


def phone(browser: Any, address: str) -> None:
    """Show a page 390 pixels wide, as a phone would."""
    size = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    browser.get(address)


@pytest.mark.parametrize("command", ["check", "run"])
def test_page_fits_a_phone(browser: Any, pages: dict[str, str], command: str) -> None:
    """At 390 px nothing scrolls sideways but tables and pictures by themselves; no error."""
    phone(browser, pages[command])
    wide = "return [document.documentElement.scrollWidth, window.innerWidth]"
    assert browser.execute_script(wide) == [390, 390]
    assert browser.get_log("browser") == []


@pytest.mark.parametrize("command", ["check", "run"])
def test_everybody_can_read_it(browser: Any, pages: dict[str, str], command: str) -> None:
    """Language and title; words for every picture; one first heading; headers of columns; text
    in a contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3).
    """  # noqa: D205 - one sentence
    phone(browser, pages[command])
    ask = browser.execute_script
    assert ask("return document.documentElement.lang") == "en"
    assert ask("return document.title")
    assert ask("return document.querySelectorAll('h1').length") == 1
    words = ask("return [...document.images].map(i => i.alt)")
    assert all(len(word) > 15 for word in words)
    assert len(words) == (5 if command == "run" else 0)
    assert ask("return [...document.querySelectorAll('th')].every(h => h.scope === 'col')")
    assert ask(CONTRAST) >= 4.5


CONTRAST = """
const light = c => { const [r, g, b] = c.match(/\\d+/g).map(x => { x /= 255;
  return x <= .04045 ? x / 12.92 : ((x + .055) / 1.055) ** 2.4; });
  return .2126 * r + .7152 * g + .0722 * b; };
const texts = [...document.querySelectorAll('p, td, th, h1, h2, li')];
return Math.min(...texts.map(t => 1.05 / (light(getComputedStyle(t).color) + .05)));
"""


def test_keyboard_reaches_every_table(browser: Any, pages: dict[str, str]) -> None:
    """Tab goes from table to table in their order, and shows where it is; arrows scroll."""
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    phone(browser, pages["run"])
    labels = browser.execute_script(
        "return [...document.querySelectorAll('.wide')].map(t => t.getAttribute('aria-label'))"
    )
    focused = "return document.activeElement.getAttribute('aria-label')"
    found = []
    for _ in labels:
        ActionChains(browser).send_keys(Keys.TAB).perform()
        found.append(browser.execute_script(focused))
    assert found == labels
    outline = "return getComputedStyle(document.activeElement).outlineStyle"
    assert browser.execute_script(outline) == "solid"


def test_paper_shows_whole_tables(browser: Any, pages: dict[str, str]) -> None:
    """Printed, no table is wider than the paper."""
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    letter = {"width": 720, "height": 1056, "deviceScaleFactor": 1, "mobile": False}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", letter)
    browser.get(pages["run"])
    widths = browser.execute_script(
        "return [...document.querySelectorAll('table, img')].map(t => t.scrollWidth)"
    )
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert max(widths) <= 720
