"""Pictures show the numbers they are given, whole and legible, in every scenario."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib import rcParams
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.dates import date2num
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle, StepPatch
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from sim.measures import WORK, sites_of
from sim.plots import (
    STRONG_LINES,
    WORK_FILLS,
    figures,
    ordered_and_delivered,
    png_bytes,
    svg_bytes,
    weeks_met,
)
from sim.plots_batches import DARK, LIGHT
from sim.plots_page import INK, PALE, shown
from sim.replications import Years
from sim.runs import replicate
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.year import Year, run

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHIPPED = [path.stem for path in sorted(SCENARIOS.glob("*.toml"))]
STEMS = [
    "ordered_and_delivered",
    "weeks_met",
    "batch_staircase",
    "work_and_staffing",
    "sites_filled",
]


# -- greenhouses to draw ----------------------------------------------------------------------


def demo() -> dict[str, Any]:
    return deepcopy(load_scenario(SCENARIOS / "maple-hollow.toml").model_dump())


def window(first: date, weeks: int) -> dict[str, date]:
    return {"first_day": first, "last_day": first + timedelta(days=7 * weeks - 1)}


def one_week() -> dict[str, Any]:
    return demo() | {"window": window(date(2026, 10, 12), 1)}


def unlimited() -> dict[str, Any]:
    places = {name: place | {"count": None} for name, place in demo()["places"].items()}
    return demo() | {"places": places}


def crowded() -> dict[str, Any]:
    """Twelve places, six crops and a closure each Friday, all with long and odd names."""

    def odd(name: str) -> str:
        return f"{name} $x_1$ \N{JACK-O-LANTERN} with a name that goes on and on"

    parts = demo()
    nursery, channels = parts["places"].values()
    places = {odd(f"_place {n}"): (channels if n % 2 else nursery) for n in range(12)}
    crops = {}
    for n in range(6):
        crop = crops[odd(f"_crop {n}")] = deepcopy(parts["crops"]["lettuce"])
        for stage, place in zip(crop["stages"], list(places)[2 * n :], strict=False):
            stage["place"] = place
    for order, crop in zip(parts["orders"], crops, strict=False):
        order["crop"] = crop
    lines = [parts["cadence"]["lines"][0] | {"crop": crop} for crop in crops]
    fridays = [date(2026, 8, 28) + timedelta(days=7 * n) for n in range(38)]
    closed = [{"first_day": day, "last_day": day, "name": odd("off")} for day in fridays]
    return parts | {
        "places": places,
        "crops": crops,
        "cadence": parts["cadence"] | {"lines": lines},
        "school": parts["school"] | {"closed": closed},
    }


EXTREMES: dict[str, Callable[[], dict[str, Any]]] = {
    "one week": one_week,
    "unlimited places": unlimited,
    "no orders": lambda: demo() | {"orders": []},
    "no people": lambda: demo() | {"crews": {}},
    "no seedings": lambda: demo() | {"cadence": {}},
    "crowded": crowded,
}


@dataclass
class Drawn:
    """A scenario with its results and their pictures."""

    years: Years
    year: Year
    pictures: dict[str, Figure]


@cache
def drawn(name: str) -> Drawn:
    """The pictures of a shipped scenario or of an extreme; three years, or one for one week."""
    if name in EXTREMES:
        scenario = Scenario.model_validate(EXTREMES[name]())
    else:
        scenario = load_scenario(SCENARIOS / f"{name}.toml")
    years, year = replicate(scenario, 1 if name == "one week" else 3), run(scenario)
    return Drawn(years, year, figures(years, year))


def edges_of(years: Years) -> np.ndarray:
    mondays = [years.timetable.week_monday(week) for week in range(years.timetable.weeks + 1)]
    return np.array([date2num(day) for day in mondays])


# -- whole and legible ------------------------------------------------------------------------


def texts_of(figure: Figure) -> list[Text]:
    """All texts that a reader sees; matplotlib keeps marks outside an axis without drawing them."""
    axes = figure.axes[0]
    outside: set[Text] = set()
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        for tick in axis.get_major_ticks():
            if not low - 1e-6 <= tick.get_loc() <= high + 1e-6:
                outside |= {tick.label1, tick.label2}
    found = figure.findobj(Text)
    return [t for t in found if t.get_visible() and t.get_text() and t not in outside]


def own_box(text: Text) -> Bbox:
    """A text without the line that leads to what it names."""
    return Text.get_window_extent(text)


def misplaced(figure: Figure) -> list[str]:
    """What is cut off, and what lies upon each other, by the boxes of the texts [pixels]."""
    figure.draw_without_rendering()
    boxes = [(text.get_text(), own_box(text)) for text in texts_of(figure)]
    page = figure.bbox
    cut = [
        f"{text!r} leaves the page"
        for text, box in boxes
        if box.x0 < 0 or box.y0 < 0 or box.x1 > page.x1 or box.y1 > page.y1
    ]
    return cut + [
        f"{one!r} overlaps {other!r}"
        for (one, a), (other, b) in combinations(boxes, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 1 and min(a.y1, b.y1) - max(a.y0, b.y0) > 1
    ]


@pytest.mark.parametrize("name", [*SHIPPED, *EXTREMES])
def test_nothing_is_cut_off_or_overlaps(name: str) -> None:
    """Every picture of every scenario draws without a warning, its texts on the page and apart."""
    pictures = drawn(name).pictures
    assert list(pictures) == STEMS
    assert {stem: misplaced(figure) for stem, figure in pictures.items()} == {s: [] for s in STEMS}


@pytest.mark.parametrize("name", ["maple-hollow", "one week", "crowded"])
def test_the_picture_itself_fills_most_of_the_page(name: str) -> None:
    """Names and keys leave at least .4 of the page's height and .6 of its width to the picture."""
    for figure in drawn(name).pictures.values():
        box = figure.axes[0].get_position()
        assert box.height > 0.4
        assert box.width > 0.6
        assert figure.get_figwidth() == 8


def test_boxes_that_overlap_are_found() -> None:
    """The check itself finds a text upon another and one that leaves the page."""
    figure = Figure((4, 3))
    axes = figure.add_subplot()
    axes.text(0.5, 0.5, "one")
    axes.text(0.5, 0.52, "two")
    axes.text(0.9, 0.8, "a text that is much too long")
    assert misplaced(figure) == [
        "'a text that is much too long' leaves the page",
        "'one' overlaps 'two'",
    ]


def test_labels_carry_units_and_titles_have_one_line() -> None:
    """Axis labels end in a unit in square brackets; a title is one line, and there is one."""
    units = {
        "ordered_and_delivered": ("[date]", "[heads]"),
        "weeks_met": ("[date]", "[%]"),
        "batch_staircase": ("[date]", "[number]"),
        "work_and_staffing": ("[date]", "[person-minutes]"),
        "sites_filled": ("[date]", "[%]"),
    }
    for name in ("maple-hollow", "no orders", "no people"):
        for stem, figure in drawn(name).pictures.items():
            axes = figure.axes[0]
            assert axes.get_xlabel().endswith(units[stem][0])
            assert axes.get_ylabel().endswith(units[stem][1])
            title = axes.get_title(loc="left")
            assert title
            assert "\n" not in title


def test_dates_read_as_people_say_them() -> None:
    """The weeks of the demo begin at Oct 12, 2026; the year is named where it changes."""
    for stem in ("ordered_and_delivered", "weeks_met", "work_and_staffing", "sites_filled"):
        axes = drawn("maple-hollow").pictures[stem].axes[0]
        labels = [text.get_text() for text in axes.get_xticklabels()]
        assert labels[0] == "Oct 12\n2026"
        assert [text for text in labels if "2027" in text] == ["Jan 4\n2027"]
        for place, text in zip(axes.get_xticks(), labels, strict=True):
            day = date(1970, 1, 1) + timedelta(days=int(place))
            assert day.weekday() == 0
            assert text.split("\n")[0] == f"{day:%b} {day.day}"


def test_an_empty_picture_says_why() -> None:
    """Without orders, people, seedings or limits the picture says so in words."""
    nothing, nobody = "nothing is ordered in these weeks", "nobody is at work in these weeks"
    said = {
        ("no orders", "ordered_and_delivered"): nothing,
        ("no orders", "weeks_met"): nothing,
        ("no people", "work_and_staffing"): nobody,
        ("no people", "batch_staircase"): "nothing is seeded",
        ("no seedings", "batch_staircase"): "nothing is seeded",
        ("unlimited places", "sites_filled"): "no place has a limited number of sites",
    }
    found = {
        (name, stem): text.get_text()
        for name in ("maple-hollow", *EXTREMES)
        for stem, figure in drawn(name).pictures.items()
        for text in texts_of(figure)
        if text.get_text() in said.values()
    }
    assert found == said


# -- the drawn numbers are the numbers --------------------------------------------------------


def steps_of(figure: Figure) -> list[StepPatch]:
    return [patch for patch in figure.axes[0].patches if isinstance(patch, StepPatch)]


@pytest.mark.parametrize("name", ["maple-hollow-three-crops", "r8k", "one week"])
def test_heads_are_those_of_the_years(name: str) -> None:
    """Outline, points and band are the ordered, mean delivered and 5-95 % of the years."""
    years, figure = drawn(name).years, drawn(name).pictures["ordered_and_delivered"]
    ordered, delivered = years.weekly["heads ordered"], years.weekly["heads delivered"]
    band, outline = (patch.get_data() for patch in steps_of(figure))
    np.testing.assert_array_equal(outline.edges, edges_of(years))
    np.testing.assert_array_equal(outline.values, ordered[0])
    np.testing.assert_array_equal(band.edges, edges_of(years))
    np.testing.assert_array_equal(band.baseline, np.percentile(delivered, 5, axis=0))
    np.testing.assert_array_equal(band.values, np.percentile(delivered, 95, axis=0))
    (points,) = figure.axes[0].lines
    np.testing.assert_array_equal(points.get_xdata(), edges_of(years)[:-1] + 3.5)
    due = ordered[0] > 0
    np.testing.assert_array_equal(np.isnan(points.get_ydata()), ~due)
    np.testing.assert_allclose(points.get_ydata()[due], delivered.sum(axis=0)[due] / years.count)


def bars_of(figure: Figure) -> dict[float, Rectangle]:
    """The bars by the middle of their week."""
    (met, weak) = figure.axes[0].containers
    return {bar.get_x() + bar.get_width() / 2: bar for bar in (*met, *weak)}


@pytest.mark.parametrize("name", ["maple-hollow-three-crops", "maple-hollow-short", "no people"])
def test_bars_are_the_shares_of_years_met(name: str) -> None:
    """A bar for each week with orders, as high as its share of years; dark below the target."""
    years, bars = drawn(name).years, bars_of(drawn(name).pictures["weeks_met"])
    due = years.met[0] >= 0
    np.testing.assert_allclose(sorted(bars), edges_of(years)[:-1][due] + 3.5)
    for week in np.flatnonzero(due):
        share = sum(int(met == 1) for met in years.met[:, week]) / years.count
        bar = bars[edges_of(years)[week] + 3.5]
        assert bar.get_height() == pytest.approx(100 * share)
        assert bar.get_facecolor()[:3] == to_rgb(INK if share < 0.85 else PALE)


def test_weak_weeks_are_named_with_date_and_share() -> None:
    """Each week below the target, and no other, carries its Monday and its share."""
    years = drawn("maple-hollow-three-crops").years
    share = (years.met == 1).sum(axis=0) / years.count
    for target in (0.5, 0.85):
        axes = weeks_met(Figure((8, 4.5)).add_subplot(), years, target)
        labels = {text.get_text().split(":")[0] for text in axes.texts if ":" in text.get_text()}
        mondays = [years.timetable.week_monday(int(w)) for w in np.flatnonzero(share < target)]
        assert labels == {f"{day:%b} {day.day}" for day in mondays}
        line = next(line for line in axes.lines if len(line.get_xdata()) == 2)
        assert list(line.get_ydata()) == [100 * target] * 2
    assert (share < 0.85).sum() > (share < 0.5).sum() > 0


@pytest.mark.parametrize(("hits", "weak"), [(16, True), (17, False), (18, False)])
def test_a_week_met_as_often_as_the_target_is_not_weak(hits: int, weak: bool) -> None:
    """Of 20 years 17 are the target of 85 %: a week is weak below that only."""
    met = np.array([[1]] * hits + [[0]] * (20 - hits), np.int8)
    years = replace(drawn("one week").years, met=met, count=20)
    axes = weeks_met(Figure((8, 4.5)).add_subplot(), years)
    (bar,) = [bar for bars in axes.containers for bar in bars]
    assert bar.get_height() == pytest.approx(5 * hits)
    assert bar.get_facecolor()[:3] == to_rgb(INK if weak else PALE)
    assert any(text.get_text().startswith("Oct 12:") for text in axes.texts) == weak


def test_a_share_just_below_the_target_is_not_rounded_up_to_it() -> None:
    """849 of 1,000 years are 84.9 %, not 85 %; and 8,499 of 10,000 are not either."""
    for count, hits in ((1000, 849), (10_000, 8499)):
        met = np.array([[1]] * hits + [[0]] * (count - hits), np.int8)
        years = replace(drawn("one week").years, met=met, count=count)
        axes = weeks_met(Figure((8, 4.5)).add_subplot(), years)
        assert "Oct 12: 84.9 %" in [text.get_text() for text in axes.texts]


@pytest.mark.parametrize("name", ["maple-hollow", "r8k", "raft-line"])
def test_work_is_stacked_from_the_years_minutes(name: str) -> None:
    """Each kind of work is as thick as its minutes, on top of the last; the line is the staff's."""
    years = drawn(name).years
    *stack, staffed = steps_of(drawn(name).pictures["work_and_staffing"])
    assert [patch.get_label() for patch in stack] == [
        w for w in WORK.values() if years.work[w].any()
    ]
    below = np.zeros(years.timetable.weeks)
    for patch in stack:
        data = patch.get_data()
        np.testing.assert_array_equal(data.baseline, below)
        np.testing.assert_allclose(data.values - data.baseline, years.work[str(patch.get_label())])
        np.testing.assert_array_equal(data.edges, edges_of(years))
        below = data.values
    np.testing.assert_array_equal(staffed.get_data().values, years.work["staffed"])
    worked = sum(minutes for (_, work), minutes in years.crew_minutes.items() if work != "staffed")
    assert below.sum() == pytest.approx(worked / years.count)


@pytest.mark.parametrize("name", ["maple-hollow-three-crops", "small-bench-summer"])
def test_lines_are_the_shares_of_sites(name: str) -> None:
    """A line per place: plants over sites, named at its end; the level is the useful share."""
    years, axes = drawn(name).years, drawn(name).pictures["sites_filled"].axes[0]
    places = drawn(name).year.timetable.scenario.places
    *lines, level = axes.lines
    assert [line.get_label() for line in lines] == list(places)
    for line, place, plants in zip(lines, places.values(), years.plants, strict=True):
        np.testing.assert_allclose(line.get_ydata()[1:-1], 100 * plants / sites_of(place))
        np.testing.assert_array_equal(line.get_xdata()[1:-1], edges_of(years)[:-1] + 3.5)
        assert line.get_xdata()[0] == edges_of(years)[0]
    assert set(places) <= {text.get_text() for text in axes.texts}
    useful = years.values["useful_bench_share"]
    assert level.get_ydata()[0] == pytest.approx(100 * sum(useful) / years.count)
    assert len({(line.get_linestyle(), line.get_color()) for line in lines}) == len(places)


def test_places_without_a_limit_are_named_instead() -> None:
    """No share can be drawn of a place without a limit: the key names it."""
    axes = drawn("unlimited places").pictures["sites_filled"].axes[0]
    assert len(axes.lines) == 0
    legend = axes.get_legend()
    assert legend is not None
    assert [t.get_text() for t in legend.get_texts()] == ["no limit: nursery, channels"]


def outlines(figure: Figure) -> dict[tuple[str, int], np.ndarray]:
    """Corners (day, row) of the bars by place and number of the batch."""
    found = {}
    for bars in figure.axes[0].collections:
        assert isinstance(bars, PolyCollection)
        for path in bars.get_paths():
            found[str(bars.get_label()), round(path.vertices[:, 1].mean())] = path.vertices
    return found


def stays_by_count(year: Year) -> dict[tuple[str, int], tuple[float, float]]:
    """Time on the axis from a batch's first plant in a place to none, counted from the table."""
    rows, zero = year.rows, date2num(year.timetable.start)
    seeded = rows[rows["kind"] == "seeded"].groupby("batch", sort=False)["time"].min()
    found = {}
    for number, batch in enumerate(seeded.index, start=1):
        own = rows[rows["batch"] == batch]
        for place in year.timetable.scenario.places:
            leaves = own["kind"].isin(["moved", "lost", "harvested", "dumped"])
            comes = (own["kind"] == "seeded") & (own["place"] == place) | (own["to"] == place)
            change = own["count"].where(comes, 0) - own["count"].where(
                leaves & (own["place"] == place), 0
            )
            there = change.cumsum()
            if comes.any():
                gone = own["time"][(there == 0) & (change < 0)]
                end = gone.max() if there.iloc[-1] == 0 else year.timetable.days
                found[place, number] = (zero + own["time"][comes].min(), zero + end)
    return found


@pytest.mark.parametrize("name", ["maple-hollow-three-crops", "one week"])
def test_bars_of_batches_span_their_stays(name: str) -> None:
    """A batch's bar in a place runs from its first plant's coming to its last one's leaving."""
    year, figure = drawn(name).year, drawn(name).pictures["batch_staircase"]
    expected, found = stays_by_count(year), outlines(figure)
    assert set(found) == set(expected)
    for at, corners in found.items():
        assert (corners[:, 0].min(), corners[:, 0].max()) == pytest.approx(
            expected[at], abs=1e-6, rel=0
        )
        assert abs(corners[:, 1] - at[1]).max() <= 0.5


def test_bars_of_a_bench_without_luck_have_the_published_lengths() -> None:
    """N. Bumgarner, Late Summer to Winter Bibb Lettuce Trial (2013): 2 weeks, then 4 weeks."""
    found = outlines(drawn("small-bench-summer").pictures["batch_staircase"])
    cut = drawn("small-bench-summer").year.timetable
    end = date2num(cut.start) + cut.days
    for place, weeks in (("nursery", 2), ("channels", 4)):
        lengths = [
            corners[:, 0].max() - corners[:, 0].min()
            for (at, _), corners in found.items()
            if at == place and corners[:, 0].max() < end
        ]
        assert len(lengths) > 40
        assert set(lengths) == {7.0 * weeks}


def test_a_row_is_split_while_a_batch_is_in_two_places() -> None:
    """Until a batch left the nursery its bar in the channels has the lower half of the row."""
    split = 0
    found = outlines(drawn("maple-hollow").pictures["batch_staircase"])
    for (place, number), corners in found.items():
        if place == "channels":
            left, start = found["nursery", number][:, 0].max(), corners[:, 0].min()
            upper = corners[corners[:, 1] < number]
            assert upper[:, 0].min() == pytest.approx(max(left, start), abs=1e-6, rel=0)
            split += left > start
    assert split > 0


def test_marks_show_where_harvests_end_and_plants_are_dumped() -> None:
    """One mark per batch at its last harvest, and one per dump from a place."""
    year = drawn("maple-hollow").year
    lines = {
        line.get_label(): line
        for line in drawn("maple-hollow").pictures["batch_staircase"].axes[0].lines
    }
    rows, zero = year.rows, date2num(year.timetable.start)
    last = rows[rows["kind"] == "harvested"].groupby("batch")["time"].max()
    np.testing.assert_allclose(
        sorted(lines["harvest ends"].get_xdata()), sorted(zero + last), rtol=0, atol=1e-6
    )
    dumped = rows[(rows["kind"] == "dumped") & rows["place"].isin(["nursery", "channels"])]
    np.testing.assert_allclose(
        sorted(lines["plants dumped"].get_xdata()), sorted(zero + dumped["time"]), rtol=0, atol=1e-6
    )
    assert len(dumped) > 0


def test_a_place_called_like_the_cold_store_holds_no_less_than_nothing() -> None:
    """Heads kept too long in the cold store do not leave a place of that name: plants >= 0.

    A scenario may refuse the name instead.
    """
    parts = demo()
    parts["places"]["cold store"] = parts["places"].pop("channels")
    parts["crops"]["lettuce"]["stages"][1]["place"] = "cold store"
    parts["crops"]["lettuce"]["harvest"] = "when ready"
    parts["cold_store"]["holds_heads"] = None
    try:
        scenario = Scenario.model_validate(parts)
    except ValueError as refused:
        assert "cold store" in str(refused)  # noqa: PT017 - either answer is right
    else:
        assert replicate(scenario, 1).plants.min() >= 0


# -- closures ---------------------------------------------------------------------------------


@pytest.mark.parametrize("stem", STEMS)
def test_closures_are_shaded_and_named(stem: str) -> None:
    """Each closure of the demo within the axis is shaded from its first day to its last."""
    axes = drawn("maple-hollow").pictures[stem].axes[0]
    left, right = axes.get_xlim()
    shades = {
        (patch.get_x(), patch.get_x() + patch.get_width())
        for patch in axes.patches
        if isinstance(patch, Rectangle) and patch.get_zorder() == 0
    }
    school = drawn("maple-hollow").year.timetable.scenario.school
    closed = {(date2num(c.first_day), date2num(c.last_day) + 1) for c in school.closed}
    inside = {(a, b) for a, b in closed if left <= a and b <= right}
    assert len(inside) >= 8
    assert inside <= shades
    assert all((a, b) in closed or b == right for a, b in shades)
    names = {text.get_text() for text in axes.texts}
    assert {"Thanksgiving Break", "Winter Break", "Spring Break"} <= names


def test_weekly_pictures_of_the_demo_name_every_closure() -> None:
    """Ten closures, nine of them after the first delivery, all find room for their names."""
    axes = drawn("maple-hollow").pictures["weeks_met"].axes[0]
    assert {text.get_text() for text in axes.texts if ":" not in text.get_text()} == {
        "Columbus Day / Indigenous Peoples' Day", "Veterans Day", "Thanksgiving Break",
        "Winter Break", "Martin Luther King, Jr. Day", "Presidents' Day", "Spring Break",
        "Staff Day", "Teacher Workday", "",
    }  # fmt: skip


def test_names_are_shown_in_characters_of_the_font() -> None:
    """Signs without a glyph are left out, letters become a box, long names are cut."""
    assert shown("fall \N{JACK-O-LANTERN} party") == "fall party"
    assert shown("\u6e29\u5ba4") == "\u25a1\u25a1"
    assert shown("two\nlines") == "two lines"
    assert shown("a" * 80) == "a" * 25 + "\u2026"


# -- black and white --------------------------------------------------------------------------


def contrast(one: str, other: str) -> float:
    """Contrast of two colors (W3C, Web Content Accessibility Guidelines 2.1)."""

    def luminance(color: str) -> float:
        linear = [
            c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_and_white_is_21() -> None:
    """W3C, WCAG 2.1: contrast runs from 1 to 21."""
    assert contrast("black", "white") == pytest.approx(21)
    assert contrast("red", "red") == 1


def test_pictures_can_be_told_apart_without_color() -> None:
    """Neighbors differ by 3 to 1 in luminance (WCAG 2.1, 1.4.11); like ones differ in hatching."""
    assert contrast(INK, PALE) > 3
    for one, other in pairwise(WORK_FILLS):
        assert contrast(one["facecolor"], other["facecolor"]) > 3
    for dark in DARK:
        assert all(contrast(dark["facecolor"], light["facecolor"]) > 3 for light in LIGHT)
    for fills in (DARK, LIGHT):
        assert len({fill["hatch"] for fill in fills}) == len(fills)
    assert len({str(line["linestyle"]) for line in STRONG_LINES}) == len(STRONG_LINES)


# -- files ------------------------------------------------------------------------------------


def test_files_are_the_same_every_time() -> None:
    """The same numbers give the same PNG and SVG bytes; neither carries a date or a program."""
    one = drawn("one week")
    again = figures(one.years, one.year)
    for stem, figure in one.pictures.items():
        svg = svg_bytes(figure)
        assert svg == svg_bytes(again[stem])
        assert b"<svg" in svg
        assert b"dc:date" not in svg
        assert b"dc:creator" not in svg
    png = png_bytes(one.pictures["batch_staircase"])
    assert png == png_bytes(again["batch_staircase"]) == png_bytes(again["batch_staircase"])
    assert png.startswith(b"\x89PNG")
    assert b"tEXt" not in png


def test_settings_outside_are_neither_used_nor_changed() -> None:
    """Another font size outside changes no picture, and drawing changes no setting."""
    years = drawn("one week").years
    usual = ordered_and_delivered(Figure((8, 4.5)).add_subplot(), years)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(rcParams, "font.size", 31.0)
        patch.setitem(rcParams, "text.parse_math", True)
        other = ordered_and_delivered(Figure((8, 4.5)).add_subplot(), years)
        assert rcParams["font.size"] == 31.0
    assert [t.get_fontsize() for t in usual.texts] == [t.get_fontsize() for t in other.texts]
    assert usual.get_legend().get_texts()[0].get_fontsize() == 8
    assert other.get_legend().get_texts()[0].get_fontsize() == 8


def test_a_date_can_be_added_to_a_picture() -> None:
    """The axis of dates understands dates: a reader can mark a day in a notebook."""
    axes = weeks_met(Figure((8, 4.5)).add_subplot(), drawn("maple-hollow").years)
    line = axes.axvline(date(2026, 12, 1))
    assert axes.xaxis.convert_units(line.get_xdata()[0]) == date2num(date(2026, 12, 1))


def test_drawing_needs_no_pyplot() -> None:
    """Importing the pictures leaves pyplot, which is slow and wants a screen, alone."""
    code = "import sys, sim.plots; sys.exit('matplotlib.pyplot' in sys.modules)"
    root = Path(__file__).parent.parent
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0
