"""Past outlooks against what was written down: how ranges are scored, and what looks off."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_outlook import on
from test_why import weekly

from sim.benches_records import with_records
from sim.benches_rows import benches_of
from sim.counts import read_counts
from sim.errors import RecordsError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.outlook import outlook
from sim.outlook_answer import LEVELS, kept, outlook_answer
from sim.records import BATCH, CAUSE, CONTAINERS, COUNT, CROP, CUSTOMER, KIND, PLACE, TIME, TO, Row
from sim.review import LEAST_WEEKS, Pair, Review, review, score, weight, weight_sd
from sim.review_answer import review_answer
from sim.review_files import Kept, KeptDelivery, read_outlooks
from sim.review_stages import expected_loss, stage_looks
from sim.scenario import Scenario
from sim.scenario_file import LoadedScenario, load_scenario
from sim.telling_review import sentences, tables
from sim.timetable import Timetable

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
MONDAY = date(2026, 10, 12)
WEEK = timedelta(days=7)
_WRITTEN = ("seeded", "moved", "lost", "harvested", "dumped", "delivered", "washed")
_HEADINGS = ("Date", "Starts", "Crop", "Batch seeded on", "What", "Place", "To", "Unit", "Count",
             "Cause")  # fmt: skip


def school_log(file: Path, rows: Iterable[Row], table: Timetable, until: date) -> Path:
    """What a school would write down of simulated rows, up to a day."""
    written = [row for row in rows if table.date_of(row[TIME]) < until]
    seeded = {row[BATCH]: table.date_of(row[TIME]) for row in written if row[KIND] == "seeded"}
    with file.open("w", newline="") as stream:
        log = csv.writer(stream)
        log.writerow(_HEADINGS)
        for row in written:
            kind, minute = row[KIND], int(row[TIME] % 1 * 1440)
            if kind not in (
                "seeded",
                "moved",
                "lost",
                "harvested",
                "dumped",
                "delivered",
                "washed",
            ):
                continue
            tray = kind in ("seeded", "washed")
            log.writerow([
                table.date_of(row[TIME]), f"{minute // 60:02d}:{minute % 60:02d}", row[CROP],
                seeded.get(row[BATCH], ""), kind, row[PLACE],
                {"moved": row[TO], "delivered": row[CUSTOMER]}.get(kind, ""),
                ("trays" if kind == "seeded" else "channels") if tray else "plants",
                row[CONTAINERS] if tray else row[COUNT], row[CAUSE],
            ])  # fmt: skip
    return file


def delivery(heads: Sequence[int], ordered: int = 100, day: date = MONDAY) -> KeptDelivery:
    """What an outlook keeps of a delivery of which so many heads are delivered in each future."""
    values = np.array(heads, dtype=float)
    quantiles = np.quantile(values, LEVELS, method="inverted_cdf").astype(int)
    complete = float((values == ordered).mean())
    return KeptDelivery(
        day, "kitchen", "bibb", ordered, float(values.mean()), float(values.std()), complete,
        LEVELS,
        tuple(int(q) for q in quantiles),
    )  # fmt: skip


# -- how ranges are scored --------------------------------------------------------------------


def test_an_outcome_counts_by_its_stretch_between_ten_and_ninety_percent() -> None:
    """By hand: one number in all futures .8; outside of all 0; in the middle 1; half at 10 %."""
    assert weight(delivery([100] * 20), 100) == pytest.approx(0.8)
    assert weight(delivery([100] * 20), 90) == 0.0
    spread = delivery(list(range(10, 30)))
    assert weight(spread, 5) == weight(spread, 31) == 0.0
    assert weight(spread, 20) == 1.0
    assert weight(delivery([0] * 4 + [50] * 16), 0) == pytest.approx(0.5)
    assert weight(delivery([0] * 4 + [50] * 16), 50) == pytest.approx(0.7 / 0.8)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 100), min_size=20, max_size=20))
def test_the_mean_of_all_outcomes_is_eighty_percent(heads: list[int]) -> None:
    """If each future is as likely to happen, whatever ties there are; and the spread is a bound."""
    d = delivery(heads)
    found = [weight(d, value) for value in heads]
    assert np.mean(found) == pytest.approx(0.8)
    assert np.std(found) <= weight_sd(d.share_complete) + 1e-9


def pair(week: int, expected: float, delivered: int, sd: float, found: float = 1.0) -> Pair:
    day = MONDAY + week * WEEK
    return Pair(MONDAY, day, "kitchen", "bibb", 100, expected, 0, 100, delivered, sd, found, 0.4)


def test_the_mean_error_and_its_interval_by_hand() -> None:
    """Two weeks: means of -10 and +4; spreads 6 and 8 a week, 5 for the mean; 1.96 of these."""
    pairs = [pair(0, 90.0, 80, 6.0), pair(1, 90.0, 93, 7.0), pair(1, 90.0, 95, 9.0)]
    found = score(pairs)
    assert (found.weeks, found.pairs) == (2, 3)
    assert found.bias.mean == pytest.approx(-3.0)
    assert found.bias.high - found.bias.mean == pytest.approx(1.959964 * 5.0)
    assert found.weight.mean == 1.0
    assert found.weight.low == pytest.approx(1.0 - 1.959964 * 0.4 / np.sqrt(2))
    assert not found.enough
    assert found.enough == (found.weeks >= LEAST_WEEKS)


def test_outlooks_that_are_right_are_seldom_called_wrong() -> None:
    """Truth drawn from the futures themselves: 16 weeks of two deliveries, 400 times.

    Each verdict may be wrong in 5 % of the times; 8 % are allowed, which a right program exceeds
    in less than 1 of 100 (binomial).
    """
    rng = np.random.default_rng(5)
    futures = np.minimum(100, rng.normal(108, 12, 200).round()).astype(int)
    d = delivery([int(h) for h in futures])
    assert 0.5 < d.share_complete < 0.9
    weights = {int(value): weight(d, int(value)) for value in set(futures)}
    wrong = np.zeros(2)
    for _ in range(400):
        pairs = []
        for week in range(16):
            heads = int(rng.choice(futures))  # both deliveries of a week fare alike
            one = replace(pair(week, d.expected, heads, d.sd, weights[heads]),
                          weight_sd=weight_sd(d.share_complete))  # fmt: skip
            pairs += [one, one]
        found = score(pairs)
        wrong[0] += not found.weight.low <= 0.8 <= found.weight.high
        wrong[1] += not found.bias.low <= 0.0 <= found.bias.high
    assert (wrong <= 0.08 * 400).all()


# -- end to end, without luck -----------------------------------------------------------------


def kept_of(scenario: Scenario, days: Iterable[date], folder: Path) -> list[Path]:
    """Outlooks of a scenario kept on some days, each in a folder of its own."""
    found = []
    for day in days:
        again = on(scenario, day)
        loaded = LoadedScenario(again, (), {}, (), Path("weekly.toml"))
        answer = kept(outlook_answer(loaded, outlook(again, weeks=4, futures=10), "mine.csv"))
        place = folder / str(day)
        place.mkdir()
        (place / "outlook.json").write_text(json.dumps(answer))
        found.append(place)
    return found


def reviewed(folder: Path, weeks: int, short_on: date | None = None) -> Review:
    """Outlooks of six Mondays beside a season that went as planned, or without one delivery."""
    scenario = weekly()
    plan = Plan(scenario)
    rows = [
        row
        for row in run_year(plan, 1, 0)
        if row[KIND] != "delivered" or plan.timetable.date_of(row[TIME]) != short_on
    ]
    log = school_log(folder / "log.csv", rows, plan.timetable, MONDAY + weeks * WEEK)
    if short_on:
        with log.open("a", newline="") as stream:
            row = (short_on, "15:00", "bibb", "", "delivered", "", "kitchen", "plants", 0, "")
            csv.writer(stream).writerow(row)
    kept_of(scenario, [MONDAY + n * WEEK for n in range(6)], folder)
    return review(scenario, read_counts(log, scenario), read_outlooks([folder]))


def test_what_was_certain_and_happened_is_as_it_should_be(tmp_path: Path) -> None:
    """Every delivery inside, no error, and nothing looks off; later ones are not yet there."""
    found = reviewed(tmp_path, 9)
    assert found.whole is not None
    assert (found.whole.pairs, found.whole.inside, found.whole.bias.mean) == (24, 1.0, 0.0)
    assert (found.not_yet, found.unwritten, found.changed) == (0, 0, 0)
    said = told(found)
    assert any("as it should be" in s for s in said)
    assert any("could be noise" in s for s in said)
    assert not any("Looks off" in s for s in said)


def test_a_certain_delivery_that_fails_is_told(tmp_path: Path) -> None:
    """Ten heads that every future delivers and nobody got: ranges too narrow, too many expected."""
    friday = MONDAY + 3 * WEEK + timedelta(days=4)
    found = reviewed(tmp_path, 9, friday)
    assert {p.day for p in found.pairs if not p.inside} == {friday}
    assert {p.lead for p in found.pairs if not p.inside} == {0, 1, 2, 3}
    said = told(found)
    assert any("their ranges are too narrow" in s for s in said)
    assert any("The outlooks expect too many." in s for s in said)
    outside = next(t for t in tables(answer_of(found)) if t.title == "Outside their range")
    assert len(outside.rows) == 4


def test_too_few_weeks_are_called_too_few(tmp_path: Path) -> None:
    """Records of four weeks say nothing of ranges; deliveries after them are left out."""
    found = reviewed(tmp_path, 4)
    assert found.whole is not None
    assert not found.whole.enough
    assert found.not_yet == 24 - found.whole.pairs > 0
    said = told(found)
    assert any(s.startswith("Too little to tell: 4 weeks") for s in said)
    assert not any("ranges are too" in s for s in said)


def answer_of(found: Review) -> dict[str, Any]:
    loaded = LoadedScenario(weekly(), (), {}, (), Path("weekly.toml"))
    return review_answer(loaded, found)


def told(found: Review) -> list[str]:
    return list(sentences(answer_of(found)))


def test_changed_orders_and_unwritten_deliveries_are_left_out(tmp_path: Path) -> None:
    """An outlook of twelve heads where ten were ordered; a Friday without any row."""
    scenario = weekly()
    plan = Plan(scenario)
    gone = MONDAY + WEEK + timedelta(days=4)
    rows = [
        r
        for r in run_year(plan, 1, 0)
        if r[KIND] != "delivered" or plan.timetable.date_of(r[TIME]) != gone
    ]
    log = school_log(tmp_path / "log.csv", rows, plan.timetable, MONDAY + 9 * WEEK)
    friday = MONDAY + timedelta(days=4)
    kept_ = Kept("here", MONDAY, (
        replace(delivery([10] * 20, 10, gone)), replace(delivery([12] * 20, 12, friday)),
        replace(delivery([10] * 20, 10, friday + 2 * WEEK)),
    ))  # fmt: skip
    found = review(scenario, read_counts(log, scenario), [kept_])
    assert (found.unwritten, found.changed, len(found.pairs)) == (1, 1, 1)


# -- what looks off ---------------------------------------------------------------------------


@cache
def season(loss: float, pace: float) -> tuple[list[Row], Scenario, Timetable]:
    """Half a year of the demo in which the nursery loses more, or grows slower, than it says."""
    scenario = load_scenario(DEMO)
    data = scenario.model_dump()
    nursery = data["crops"]["lettuce"]["stages"][0]
    nursery["loss_percent"] = loss
    nursery["days"] = pace
    plan = Plan(Scenario.model_validate(data))
    return run_year(plan, 4, 0), scenario, Timetable(scenario)


@pytest.mark.parametrize(
    ("loss", "days", "off"),
    [
        (10.0, 14.0, set()),
        (20.0, 14.0, {("losses", "nursery")}),
        (10.0, 17.0, {("days", "nursery")}),
    ],
)
def test_the_stage_that_is_off_is_named(
    loss: float, days: float, off: set[tuple[str, str]]
) -> None:
    """More losses, slower growth, or neither: that stage looks off and no other does."""
    rows, _, table = season(loss, days)
    looks = list(stage_looks(table, rows))
    assert {(look.what, look.stage) for look in looks if look.off} == off
    assert {(look.what, look.stage) for look in looks} == {
        ("losses", "nursery"), ("days", "nursery"), ("losses", "channels"),
    }  # fmt: skip


def test_expected_losses_are_those_of_the_stage_its_rare_event_and_the_move() -> None:
    """The demo's nursery: .9 x (1 - .02 x .3) x .97 come through."""
    nursery, channels = load_scenario(DEMO).crops["lettuce"].stages
    assert expected_loss(nursery, channels) == pytest.approx(1 - 0.9 * 0.994 * 0.97)
    assert expected_loss(channels, None) == pytest.approx(0.04)


# -- files ------------------------------------------------------------------------------------


def test_outlooks_are_found_in_folders_and_copies_count_once(tmp_path: Path) -> None:
    """In the folder, in the folders in it, and by name; sorted by day."""
    days = [MONDAY + WEEK, MONDAY]
    places = kept_of(weekly(), days, tmp_path)
    text = (places[0] / "outlook.json").read_text()
    (tmp_path / "outlook-copy.json").write_text(text)
    found = read_outlooks([tmp_path, places[1] / "outlook.json"])
    assert [kept_.day for kept_ in found] == sorted(days)
    assert read_outlooks([places[0]])[0].deliveries[0].quantiles == (10,) * len(LEVELS)


@pytest.mark.parametrize("text", ["[1]", "{}", "no", '{"levels": [0.5], "day": "2026-10-12"}'])
def test_a_file_that_is_no_outlook_is_refused(tmp_path: Path, text: str) -> None:
    """With its name, and what to do."""
    (tmp_path / "outlook.json").write_text(text)
    with pytest.raises(RecordsError, match=r"outlook\.json: must be an outlook\.json as seedbeat"):
        read_outlooks([tmp_path])


def test_nothing_to_review_is_refused(tmp_path: Path) -> None:
    """A folder that is not there; no outlook in it; records without deliveries."""
    with pytest.raises(RecordsError, match="there is none of that name"):
        read_outlooks([tmp_path / "gone"])
    scenario = weekly()
    plan = Plan(scenario)
    log = school_log(tmp_path / "log.csv", run_year(plan, 1, 0), plan.timetable, MONDAY)
    counts = read_counts(log, scenario)
    with pytest.raises(RecordsError, match="no outlook was found"):
        review(scenario, counts, [])
    early = school_log(log, run_year(plan, 1, 0), plan.timetable, date(2026, 9, 14))
    none = Kept("here", MONDAY, (delivery([10] * 20, 10),))
    with pytest.raises(RecordsError, match="must hold deliveries, but it holds none"):
        review(scenario, read_counts(early, scenario), [none])


# -- benches from records ---------------------------------------------------------------------


def test_records_say_what_stands_there(tmp_path: Path) -> None:
    """Without luck the benches from a log are those of the rows, but for what is ready."""
    scenario = weekly()
    plan = Plan(scenario)
    rows = run_year(plan, 1, 0)
    log = school_log(tmp_path / "log.csv", rows, plan.timetable, date(2026, 12, 1))
    loaded = LoadedScenario(scenario, (), {}, (), Path("weekly.toml"))
    for day in (MONDAY, date(2026, 10, 21)):
        there = benches_of(plan, rows, plan.timetable.day_of(day))
        found = with_records(loaded, log, day).scenario.benches
        assert found is not None
        assert [s.model_copy(update={"ready": None, "batch": ""}) for s in there.standing] == [
            s.model_copy(update={"batch": ""}) for s in found.standing
        ]
        assert found.to_clean == there.to_clean
    assert with_records(loaded, log).scenario.start == date(2026, 12, 1)  # after its last row


def test_records_with_a_bad_row_cannot_say_it(tmp_path: Path) -> None:
    """Every row is needed: the first bad ones are told, and the way out; so is a day too early."""
    scenario = weekly()
    plan = Plan(scenario)
    log = school_log(tmp_path / "log.csv", run_year(plan, 1, 0), plan.timetable, MONDAY)
    loaded = LoadedScenario(scenario, (), {}, (), Path("weekly.toml"))
    with pytest.raises(RecordsError, match="must be after Mon Aug 31, 2026"):
        with_records(loaded, log, date(2026, 8, 31))
    log.write_text(log.read_text() + "2026-10-09,09:00,bibb,,moved,nursery,channels,plants,many,\n")
    with pytest.raises(RecordsError, match=r'(?s)row \d+, column "Count".*1 row cannot be used'):
        with_records(loaded, log)
