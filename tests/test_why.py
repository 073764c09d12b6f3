"""Why a week was short: the chain back to a cause that is known by hand."""

from __future__ import annotations

import json
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from sim.__main__ import main
from sim.batch_story import Stories
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.parts import (
    Cadence,
    CadenceLine,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Shift,
    Stage,
    Task,
)
from sim.runs import Runs
from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.why import Why, why

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
MONDAY = date(2026, 8, 31)


def weekly(closed: tuple[Dates, ...] = (), **given: Any) -> Scenario:
    """A tray of ten each Monday, 7 days in the nursery, 14 in the channel; ten heads each Friday.

    No luck: whatever is short is known by hand. The seeding of day 0 is ready on day 21 and goes
    to the delivery of day 25, September 25.
    """
    stages = (
        Stage(name="nursery", place="nursery", days=7.0, keep_days=3, moved_in_by="seeding"),
        Stage(name="channels", place="channels", days=14.0, keep_days=6, moved_in_by="moving"),
    )
    parts: dict[str, Any] = {
        "school": School(first_day=MONDAY, last_day=date(2026, 12, 18), closed=closed),
        "places": {
            "nursery": Place(container="tray", count=4, sites_each=10),
            "channels": Place(count=8, sites_each=5),
        },
        "crops": {"bibb": Crop(stages=stages)},
        "tasks": {
            "seeding": Task(minutes_each=5.0),
            "moving": Task(minutes_each=1.0),
            "harvest": Task(minutes_each=1.0),
        },
        "crews": {"class": Crew(people=4, shifts=(Shift(starts=time(9), ends=time(10)),))},
        "orders": (Order(customer="kitchen", crop="bibb", heads={"Fri": 10}),),
        "cadence": Cadence(lines=(CadenceLine(crop="bibb", trays={"Mon": 1}),)),
        **given,
    }
    return Scenario(**parts)


def of(scenario: Scenario, day: date, years: int = 3) -> Why:
    return why(scenario, day, Runs(), years=years)


def test_a_skipped_seeding_is_the_cause_three_weeks_later() -> None:
    """Nobody is there on Monday Oct 5: no seeding, and nothing for Friday Oct 30."""
    closed = Dates(first_day=date(2026, 10, 5), last_day=date(2026, 10, 5), name="fair day")
    found = of(weekly((closed,)), date(2026, 10, 28))
    assert found.years_short == 3
    (late,) = found.deliveries
    assert (late.ordered, late.short, late.cause) == (10, 10, "no ready heads")
    assert [(c.planned, c.trays) for c in found.skipped] == [(date(2026, 10, 5), 1)]
    assert found.stories == ()
    assert found.act == date(2026, 10, 9)  # Friday: moved on the 16th, ready on the 30th


def test_seedlings_that_nobody_moves_are_the_cause() -> None:
    """Closed Oct 12-16: the seedlings of Oct 5 wait from Monday to Thursday, and are dumped."""
    closed = Dates(first_day=date(2026, 10, 12), last_day=date(2026, 10, 16), name="fall break")
    found = of(weekly((closed,)), date(2026, 10, 26))
    (story,) = found.stories
    assert (story.expected, story.dumped, story.there) == (10.0, 10.0, 0)
    assert story.dumped_because == ("overgrown",)
    (wait,) = story.waits
    assert (wait.plants, wait.moved, wait.why) == (10, None, "nobody there (fall break)")


def test_a_missing_channel_is_the_cause() -> None:
    """Two channels hold one batch for 14 days: the second batch finds none, and is dumped."""
    places = {
        "nursery": Place(container="tray", count=4, sites_each=10),
        "channels": Place(count=2, sites_each=5),
    }
    found = of(weekly(places=places), date(2026, 10, 2))
    (story,) = [s for s in found.stories if s.seeding.day == 7]
    assert story.waits[0].why == "no free channel"
    assert story.dumped == 10.0


def test_dirty_channels_are_named() -> None:
    """Nobody may wash: after the first two batches all channels wait to be washed."""
    places = {
        "nursery": Place(container="tray", count=4, sites_each=10),
        "channels": Place(count=6, sites_each=5, washed_by="washing"),
    }
    tasks = {**weekly().tasks, "washing": Task(minutes_each=5.0, who=("nobody",))}
    crews = {**weekly().crews, "nobody": Crew(people=1)}
    found = of(weekly(places=places, tasks=tasks, crews=crews), date(2026, 11, 13))
    waits = [wait.why for story in found.stories for wait in story.waits]
    assert waits
    assert set(waits) == {"no clean channel, 6 wait to be washed"}


def test_nobody_to_harvest_is_the_cause() -> None:
    """Closed on the Wednesday to Friday before the delivery: heads are ready, nobody cuts them."""
    closed = Dates(first_day=date(2026, 10, 28), last_day=date(2026, 10, 30), name="fair")
    found = of(weekly((closed,)), date(2026, 10, 30))
    assert [d.cause for d in found.deliveries] == ["nobody there"]
    assert sum(story.there for story in found.stories) >= 10
    assert found.hands is not None
    assert found.hands.there == {}
    assert found.closures == ("fair",)


def test_a_week_always_met_has_no_typical_short_year() -> None:
    """All is met: nothing to explain, and the interval says how sure."""
    found = of(weekly(), date(2026, 10, 28), years=20)
    assert (found.met.mean, found.years_short, found.replication) == (1.0, 0, None)
    assert (found.deliveries, found.stories, found.hands) == ((), (), None)
    assert found.met.low == pytest.approx(0.025 ** (1 / 20))  # Clopper & Pearson (1934)


def test_where_heads_went_adds_up() -> None:
    """In every batch of a year of the demo the parts add up to the heads that were meant."""
    plan = Plan(load_scenario(DEMO))
    stories = Stories(plan, run_year(plan, 1, 3))
    for seeding in plan.seedings:
        for until in (seeding.day + 5.0, seeding.day + 20.0, seeding.day + 48.0, 353.0):
            s = stories.story(seeding, until - 3.0, until)
            parts = (s.not_seeded, s.lost_more, s.dumped, s.not_ready, s.gone, s.there)
            assert sum(parts) == pytest.approx(s.expected)
            assert min(s.not_seeded, s.dumped, s.gone, s.there) >= 0
            assert s.not_ready > -1e-6
            assert abs(s.lost_more) < 0.5 * s.expected  # the rare event takes 30 percent


@pytest.mark.parametrize("day", [date(2026, 8, 1), date(2030, 1, 1)])
def test_a_week_outside_the_window_is_refused(day: date) -> None:
    """The message says which weeks there are, and what was asked."""
    with pytest.raises(SeedbeatError, match=f"must be a date in the measured weeks.*{day}"):
        of(weekly(), day)


def test_a_week_without_a_delivery_is_refused() -> None:
    """The message names the nearest week that has one."""
    paused = (Dates(first_day=date(2026, 10, 19), last_day=date(2026, 10, 25)),)
    orders = (Order(customer="kitchen", crop="bibb", heads={"Fri": 10}, paused=paused),)
    with pytest.raises(SeedbeatError, match=r"there is none.*Oct 26, 2026"):
        of(weekly(orders=orders), date(2026, 10, 21))


def test_command_answers_in_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo's weakest week, on a screen and as JSON."""
    asked = ["why", str(DEMO), "--week", "2027-02-01", "--years", "20", "--workers", "1"]
    assert main(asked) == 0
    shown = capsys.readouterr().out
    assert "A typical year in which it was short" in shown
    assert max(map(len, shown.splitlines())) <= 80
    assert main([*asked, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["week_of"] == "2027-02-01"
    assert answer["years_short"] + round(answer["met"]["mean"] * 20) == 20
    assert sum(d["short"] for d in answer["deliveries"]) > 0
