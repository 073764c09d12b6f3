"""The shipped scenarios say what their sources and the demo's arithmetic say."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from sim.order_book import leavings
from sim.parts import Dates
from sim.scenario import Scenario
from sim.scenario_file import load_scenario, read_scenario
from sim.school_year import SchoolYear, days_of, monday
from sim.timetable import Timetable

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHIPPED = sorted(SCENARIOS.glob("*.toml"))


def weekly_minutes(scenario: Scenario, day: date) -> float:
    """Person-minutes to be expected in the week of a date [min]."""
    table = Timetable(scenario)
    week = range(table.day_of(monday(day)), table.day_of(monday(day)) + 7)
    return sum(s.expected_minutes for s in table.shifts if s.day in week)


def session_days(scenario: Scenario, stretch: Dates) -> int:
    """Days in session within a stretch."""
    year = SchoolYear(scenario.school)
    return sum(year.in_session(day) for day in days_of(stretch))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_scenarios_load_and_open_with_their_question(path: Path) -> None:
    """Every shipped file loads, has a window that can be measured, and starts with a comment."""
    loaded = read_scenario(path)
    assert Timetable(loaded.scenario).weeks >= 4
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("# ")
    assert "?" in "".join(path.read_text(encoding="utf-8").splitlines()[:3])


def test_demo_school_is_in_session_180_days() -> None:
    """The demo's calendar: 180 school days, two exam weeks of five days, three breaks."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    year = SchoolYear(scenario.school)
    assert year.session_days() == 180
    exams = [date(2026, 12, 14) + timedelta(days=n) for n in range(5)]
    exams += [date(2027, 5, 24) + timedelta(days=n) for n in range(5)]
    assert {year.kind(day) for day in exams} == {"exam"}
    breaks = [date(2026, 11, 26), date(2026, 12, 24), date(2027, 1, 1), date(2027, 3, 17)]
    assert not any(year.in_session(day) for day in breaks)


def test_demo_minutes_are_the_arithmetic_of_its_inputs() -> None:
    """Two periods of 12 x .92 x 30 and 60 staff minutes a day: 3,612 a week, 1,956 in exams."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    assert weekly_minutes(scenario, date(2026, 11, 2)) == pytest.approx(
        5 * (2 * 12 * 0.92 * 30 + 60)
    )
    assert weekly_minutes(scenario, date(2026, 11, 2)) == pytest.approx(3612)
    assert weekly_minutes(scenario, date(2026, 12, 14)) == pytest.approx(1956)
    assert weekly_minutes(scenario, date(2027, 5, 24)) == pytest.approx(1956)


def test_demo_work_needed_is_2067_minutes_a_week() -> None:
    """1,104 heads, 1,150 plants, 64 channels and 8 trays a week take 2,067 person-minutes."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    minutes = {name: task.minutes_each for name, task in scenario.tasks.items()}
    heads = sum(sum(order.heads.values()) for order in scenario.orders)
    plants = heads / (1 - scenario.crops["lettuce"].stages[1].loss_percent / 100)
    channels = plants / scenario.places["channels"].sites_each
    trays = sum(scenario.cadence.lines[0].trays.values())
    needed = heads * minutes["harvest"] + plants * minutes["transplant"]
    needed += channels * minutes["washing"] + trays * minutes["seeding"]
    assert heads == 1104
    assert needed == pytest.approx(2067, abs=1)


def test_demo_cover_is_there_only_in_the_three_breaks() -> None:
    """Two adults, four hours, on the Mondays and Thursdays of three breaks."""
    scenario = load_scenario(SCENARIOS / "maple-hollow.toml")
    table = Timetable(scenario)
    cover = [s for s in table.shifts if s.crew == "break cover"]
    expected = [(2026, 11, 26), (2026, 12, 21), (2026, 12, 24), (2026, 12, 28), (2026, 12, 31)]
    expected += [(2027, 3, 15), (2027, 3, 18)]
    assert [table.date_of(s.day) for s in cover] == [date(*day) for day in expected]
    assert {s.expected_minutes for s in cover} == {480.0}


def test_what_ifs_differ_from_the_demo_in_one_thing() -> None:
    """The bigger nursery differs in tray spaces only, the spring break in the cover only."""
    demo = load_scenario(SCENARIOS / "maple-hollow.toml").model_dump()
    bigger = load_scenario(SCENARIOS / "maple-hollow-bigger-nursery.toml").model_dump()
    spring = load_scenario(SCENARIOS / "maple-hollow-spring-break.toml").model_dump()
    assert bigger["places"]["nursery"].pop("count") == 28
    assert demo["places"]["nursery"]["count"] == 22
    shift = demo["crews"]["break cover"]["shifts"][0]
    fewer = spring["crews"]["break cover"]["shifts"][0]
    assert fewer["only"][:2] == shift["only"][:2]
    assert fewer["only"][2] == {**shift["only"][2], "last_day": date(2027, 3, 15)}
    assert shift["only"][2]["name"] == "spring break"
    fewer["only"] = shift["only"]
    assert {k for k in demo if demo[k] != spring[k]} == {"name"}
    del demo["places"]["nursery"]["count"]
    assert {k for k in demo if demo[k] != bigger[k]} == {"name"}


def test_reference_workload_has_its_numbers() -> None:
    """70 days of fill-up, 364 days of window, 180 in session, three weeks without anybody."""
    scenario = load_scenario(SCENARIOS / "r8k.toml")
    window = scenario.window
    assert window is not None
    assert (window.first_day - scenario.start).days == 70
    assert len(days_of(window)) == 364
    assert session_days(scenario, window) == 180
    table = Timetable(scenario)
    staffed = {(s.day - table.window_start) // 7 for s in table.shifts}
    assert len(set(range(52)) - staffed) == 3
    # every other week's deliveries can be harvested within the keep limit
    inside = [x for x in leavings(scenario, table) if 0 <= x.time - table.window_start < 364]
    hopeless = {int(x.time - table.window_start) // 7 for x in inside if not x.staffed}
    assert hopeless == set(range(52)) - staffed
    assert scenario.places["nursery"].count == 12
    summer = [s for s in table.shifts if s.crew == "summer crew"]
    assert {s.expected_minutes for s in summer} == {3 * 180.0}
    assert len({monday(table.date_of(s.day)) for s in summer}) == 20
    # deliveries go on until the run's end, so that the fate of the last plants is known
    assert (scenario.school.last_day - scenario.start).days >= table.days


def test_raft_line_has_the_published_stays() -> None:
    """Rutgers, Lettuce Production: 1,200 seeds and 960 plants a day, 12 + 10 + 14 days."""
    scenario = load_scenario(SCENARIOS / "raft-line.toml")
    stages = scenario.crops["lettuce"].stages
    assert [stage.days for stage in stages] == [12, 10, 14]
    places = [scenario.places[stage.place] for stage in stages]
    assert [place.sites_each for place in places] == [1200, 60, 21]
    assert 1200 * (1 - stages[1].move_loss_percent / 100) == pytest.approx(960)
    assert all(trays == 1 for trays in scenario.cadence.lines[0].trays.values())
    assert len(scenario.cadence.lines[0].trays) == 7


def test_small_bench_fits_its_sites() -> None:
    """Resh: 8 x 18 sites; Bumgarner: 2 + 4 weeks give 36.0 a week, 3 + 5 weeks 28.8."""
    for name, weeks, most in (("summer", (2, 4), 36.0), ("winter", (3, 5), 28.8)):
        scenario = load_scenario(SCENARIOS / f"small-bench-{name}.toml")
        stages = scenario.crops["bibb lettuce"].stages
        assert tuple(stage.days / 7 for stage in stages) == weeks
        channels = scenario.places["channels"]
        assert channels.count is not None
        assert channels.count * channels.sites_each / weeks[1] == pytest.approx(most)
        assert Timetable(scenario).weeks % 5 == 0
        assert scenario.cadence.lines[0].trays == {"Mon": 36}


def test_three_crops_share_places_and_one_has_a_third_stage() -> None:
    """Three crops, all ending in the same channels; one passes through nursery channels."""
    crops = load_scenario(SCENARIOS / "maple-hollow-three-crops.toml").crops
    assert len(crops) == 3
    assert {crop.stages[-1].place for crop in crops.values()} == {"channels"}
    assert sorted(len(crop.stages) for crop in crops.values()) == [2, 2, 3]
