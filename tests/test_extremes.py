"""Extremes: greenhouses whose whole year can be worked out by hand.

Nothing is drawn in them, or what is drawn cannot matter: every date and count is arithmetic. The
rules' anchors are those of the contributor guide.
"""

from __future__ import annotations

from datetime import time, timedelta
from math import isnan

import pytest
from pydantic import ValidationError
from reference.examples import MONDAY, NINE_TO_TEN, tiny, weeks

from sim.measures import measures_of
from sim.parts import (
    WEEKDAYS,
    Cadence,
    CadenceLine,
    ColdStore,
    Crew,
    Crop,
    Dates,
    Order,
    Place,
    School,
    Seeding,
    Shift,
    Stage,
    Surplus,
    Task,
    Weekday,
)
from sim.records import (
    BATCH,
    CAUSE,
    CONTAINERS,
    COUNT,
    CUSTOMER,
    KIND,
    MINUTES,
    SINCE,
    TIME,
    Row,
)
from sim.scenario import Scenario
from sim.timetable import Timetable
from sim.year import Year, run


def by_itself(**changes: object) -> Scenario:
    """10 cells seeded on Mon Sep 7 by nobody, moved on Wed, ready on Sat, over-mature on Thu."""
    stages = (
        Stage(name="seedling", place="nursery", days=2),
        Stage(name="head", place="bench", days=3, keep_days=5),
    )
    parts: dict[str, object] = {
        "places": {name: Place(count=None, sites_each=10) for name in ("nursery", "bench")},
        "crops": {"lettuce": Crop(stages=stages, harvested_by=None)},
        "tasks": {},
        "crews": {},
        "orders": (one_order("Mon", 10),),
    }
    return tiny(**(parts | changes))


def one_order(day: Weekday, heads: int, customer: str = "kitchen", **more: object) -> Order:
    """One delivery, in the week from Mon Sep 14."""
    monday = MONDAY + timedelta(days=7)
    week: dict[str, object] = {"first_day": monday, "last_day": monday + timedelta(days=6)}
    wanted: dict[Weekday, int] = {day: heads}
    return Order(customer=customer, crop="lettuce", heads=wanted, **(week | more))  # type: ignore[arg-type]


def lettuce(scenario: Scenario, **changes: object) -> dict[str, Crop]:
    """The scenario's crop with some values of its last stage changed."""
    crop = scenario.crops["lettuce"]
    last = crop.stages[-1].model_copy(update=changes)
    return {"lettuce": crop.model_copy(update={"stages": (*crop.stages[:-1], last)})}


def spoken(days: float) -> str:
    """A moment to the minute: "Sep 7 9:06"."""
    day, minute = divmod(round(days * 1440), 1440)
    on = MONDAY + timedelta(days=day)
    return f"{on:%b} {on.day} {minute // 60}:{minute % 60:02d}"


def told(year: Year, *columns: int) -> list[tuple]:
    """All rows but shifts: when, what, and these columns."""
    rows = [row for row in year.events if row[KIND] != "shift"]
    return [(spoken(row[TIME]), row[KIND], *(row[c] for c in columns)) for row in rows]


def of(year: Year, kind: str) -> list[Row]:
    """The rows of one kind."""
    return [row for row in year.events if row[KIND] == kind]


def count(year: Year, kind: str, cause: str | None = None) -> int:
    """Cells, plants or heads in the rows of one kind, of one cause if given."""
    return sum(row[COUNT] for row in of(year, kind) if cause in (None, row[CAUSE]))


def causes(year: Year, kind: str) -> set[str]:
    """The causes in the rows of one kind."""
    return {row[CAUSE] for row in of(year, kind)}


# -- by hand, step by step --------------------------------------------------------------------


def test_one_tray_by_hand() -> None:
    """One tray of 4 cells, one person from 9 to 10, 3 heads for Sunday (worked on paper).

    Mon 9:06 the tray is seeded (6 min). Wed 0:00 the plants are finished; by 9:24 all four are
    set (6 min each) into two channels of 3 sites. Sat 0:00 they are ready. Sunday's 3 heads are
    cut by 9:30 (10 min each). The head that is left holds ceil(1 x 2 / 4) = 1 of the 2 channels;
    the other is washed by 9:35 and free two hours later. The last head is over-mature on Wed
    0:00, four days after Sat, and its channel is washed by 9:05.
    """
    assert told(run(tiny()), COUNT, CONTAINERS, MINUTES) == [
        ("Sep 7 9:06", "seeded", 4, 1, 6),
        ("Sep 9 0:00", "finished", 4, 0, 0),
        ("Sep 9 9:24", "moved", 4, 2, 24),
        ("Sep 9 9:24", "emptied", 0, 1, 0),
        ("Sep 9 9:24", "freed", 0, 1, 0),
        ("Sep 12 0:00", "finished", 4, 0, 0),
        ("Sep 13 9:30", "harvested", 3, 0, 30),
        ("Sep 13 9:30", "emptied", 0, 1, 0),
        ("Sep 13 9:35", "washed", 0, 1, 5),
        ("Sep 13 11:35", "freed", 0, 1, 0),
        ("Sep 13 15:00", "due", 3, 0, 0),
        ("Sep 13 15:00", "delivered", 3, 0, 0),
        ("Sep 16 0:00", "dumped", 1, 0, 0),
        ("Sep 16 0:00", "emptied", 0, 1, 0),
        ("Sep 16 9:05", "washed", 0, 1, 5),
        ("Sep 16 11:05", "freed", 0, 1, 0),
    ]


def test_two_batches_by_hand() -> None:
    """Two trays of 4 cells, three channels of 3 sites, one person from 9 to 10 every day.

    Harvest comes first, then moving, seeding, washing; 10, 6, 6 and 5 minutes each.
    Mon 7: batch A is seeded by 9:06. Wed 9: A's four plants go into 2 channels by 9:24; then
    batch B is seeded by 9:30. Fri 11: B is finished, one channel is free: three of its plants are
    set by 9:18, the fourth waits and holds B's tray.
    Sat 12: A is ready; 3 heads are cut by 9:30, the one left holds ceil(1 x 2 / 4) = 1 channel.
    The other is washed by 9:35, and B's fourth plant goes into it by 9:41; the tray is free.
    Mon 14: B's three are ready (Fri + 3). 3 heads are cut by 9:30, the oldest first: A's last one
    and two of B's; A's channel is washed by 9:35. Tue 15: B's fourth is ready (Sat + 3).
    B's heads are over-mature four days after they were ready: one on Fri 18, one on Sat 19 at
    0:00, before that day's harvest: Saturday's delivery is short by 3.
    8 cells = 6 delivered + 2 dumped.
    """
    tasks = {
        "harvest": Task(minutes_each=10, priority=1),
        "moving": Task(minutes_each=6, priority=2),
        "seeding": Task(minutes_each=6, priority=3),
        "washing": Task(minutes_each=5, priority=4),
    }
    places = {
        "nursery": Place(container="tray space", count=2, sites_each=4),
        "bench": Place(count=3, sites_each=3, washed_by="washing"),
    }
    saturday, last = MONDAY + timedelta(days=5), MONDAY + timedelta(days=13)
    order = one_order("Mon", 3).model_copy(
        update={"heads": {"Sat": 3, "Mon": 3}, "first_day": saturday, "last_day": last}
    )
    sown = tuple(Seeding(day=MONDAY + timedelta(days=n), crop="lettuce", trays=1) for n in (0, 2))
    year = run(tiny(places=places, tasks=tasks, orders=(order,), cadence=Cadence(added=sown)))
    assert told(year, BATCH, COUNT, CONTAINERS, MINUTES) == [
        ("Sep 7 9:06", "seeded", "lettuce 2026-09-07", 4, 1, 6),
        ("Sep 9 0:00", "finished", "lettuce 2026-09-07", 4, 0, 0),
        ("Sep 9 9:24", "moved", "lettuce 2026-09-07", 4, 2, 24),
        ("Sep 9 9:24", "emptied", "lettuce 2026-09-07", 0, 1, 0),
        ("Sep 9 9:24", "freed", "", 0, 1, 0),
        ("Sep 9 9:30", "seeded", "lettuce 2026-09-09", 4, 1, 6),
        ("Sep 11 0:00", "finished", "lettuce 2026-09-09", 4, 0, 0),
        ("Sep 11 9:18", "moved", "lettuce 2026-09-09", 3, 1, 18),
        ("Sep 12 0:00", "finished", "lettuce 2026-09-07", 4, 0, 0),
        ("Sep 12 9:30", "harvested", "lettuce 2026-09-07", 3, 0, 30),
        ("Sep 12 9:30", "emptied", "lettuce 2026-09-07", 0, 1, 0),
        ("Sep 12 9:35", "washed", "", 0, 1, 5),
        ("Sep 12 9:35", "freed", "", 0, 1, 0),
        ("Sep 12 9:41", "moved", "lettuce 2026-09-09", 1, 1, 6),
        ("Sep 12 9:41", "emptied", "lettuce 2026-09-09", 0, 1, 0),
        ("Sep 12 9:41", "freed", "", 0, 1, 0),
        ("Sep 12 15:00", "due", "", 3, 0, 0),
        ("Sep 12 15:00", "delivered", "lettuce 2026-09-07", 3, 0, 0),
        ("Sep 14 0:00", "finished", "lettuce 2026-09-09", 3, 0, 0),
        ("Sep 14 9:30", "harvested", "lettuce 2026-09-07", 1, 0, 10),
        ("Sep 14 9:30", "emptied", "lettuce 2026-09-07", 0, 1, 0),
        ("Sep 14 9:30", "harvested", "lettuce 2026-09-09", 2, 0, 20),
        ("Sep 14 9:35", "washed", "", 0, 1, 5),
        ("Sep 14 9:35", "freed", "", 0, 1, 0),
        ("Sep 14 15:00", "due", "", 3, 0, 0),
        ("Sep 14 15:00", "delivered", "lettuce 2026-09-07", 1, 0, 0),
        ("Sep 14 15:00", "delivered", "lettuce 2026-09-09", 2, 0, 0),
        ("Sep 15 0:00", "finished", "lettuce 2026-09-09", 1, 0, 0),
        ("Sep 18 0:00", "dumped", "lettuce 2026-09-09", 1, 0, 0),
        ("Sep 18 0:00", "emptied", "lettuce 2026-09-09", 0, 1, 0),
        ("Sep 18 9:05", "washed", "", 0, 1, 5),
        ("Sep 18 9:05", "freed", "", 0, 1, 0),
        ("Sep 19 0:00", "dumped", "lettuce 2026-09-09", 1, 0, 0),
        ("Sep 19 0:00", "emptied", "lettuce 2026-09-09", 0, 1, 0),
        ("Sep 19 9:05", "washed", "", 0, 1, 5),
        ("Sep 19 9:05", "freed", "", 0, 1, 0),
        ("Sep 19 15:00", "due", "", 3, 0, 0),
        ("Sep 19 15:00", "short", "", 3, 0, 0),
    ]
    got = year.measures()
    assert got["unit_fill_rate"] == pytest.approx(6 / 9)
    assert got["order_fill_rate"] == pytest.approx(2 / 3)
    assert got["steadiness"] == 0.5  # week 1 met by Saturday's; week 2 not, for its Saturday
    assert got["heads_per_week"] == 3
    assert got["wasted_plants"] == 2
    assert got["labor_use"] == pytest.approx((12 + 48 + 60 + 20) / (14 * 60))


def jobs(*shifts: tuple[time, time], trays: int, minutes: float) -> list[tuple[str, int]]:
    """When three seedings of one Monday are done, by one person in these shifts."""
    crew = Crew(people=1, shifts=tuple(Shift(starts=a, ends=b) for a, b in shifts))
    year = run(
        tiny(
            places={name: Place(count=None, sites_each=1) for name in ("nursery", "bench")},
            tasks=tiny().tasks | {"seeding": Task(minutes_each=minutes)},
            crews={"staff": crew},
            cadence=Cadence(
                added=tuple(Seeding(day=MONDAY, crop="lettuce", trays=trays) for _ in range(3))
            ),
        )
    )
    return [(spoken(row[TIME]), row[CONTAINERS]) for row in of(year, "seeded")]


def test_jobs_that_fill_the_shifts_end_with_them() -> None:
    """W3: three jobs of length 5 at 0; at work from 5 to 10 and from 15 on: ends 10, 20, 25.

    By arithmetic, in units of ten minutes; no job has to be interrupted.
    """
    shifts = ((time(0, 50), time(1, 40)), (time(2, 30), time(6)))
    ends = [("Sep 7 1:40", 1), ("Sep 7 3:20", 1), ("Sep 7 4:10", 1)]
    assert jobs(*shifts, trays=1, minutes=50) == ends


def test_crews_stop_at_the_shifts_end_and_lose_less_than_a_unit() -> None:
    """W3: jobs of 5 trays of 10 minutes; the first shift lasts 35 minutes.

    By hand: 3 trays by 1:20, 5 minutes are too few for a fourth; the other 2 from 2:30 to 2:50,
    then 5 trays by 3:40 and 5 by 4:30.
    """
    shifts = ((time(0, 50), time(1, 25)), (time(2, 30), time(6)))
    ends = [("Sep 7 1:20", 3), ("Sep 7 2:50", 2), ("Sep 7 3:40", 5), ("Sep 7 4:30", 5)]
    assert jobs(*shifts, trays=5, minutes=10) == ends


def test_a_unit_longer_than_every_shift_is_never_done() -> None:
    """W3, K4: a tray of 50 minutes does not fit a shift of 45; after two days it is missed."""
    year = run(
        tiny(
            tasks=tiny().tasks | {"seeding": Task(minutes_each=50)},
            crews={"staff": Crew(people=1, shifts=(Shift(starts=time(9), ends=time(9, 45)),))},
        )
    )
    assert told(year, COUNT, CAUSE)[:1] == [("Sep 10 0:00", "missed", 4, "not enough minutes")]


# -- nothing lost, everything lost ------------------------------------------------------------


def test_without_losses_every_cell_becomes_a_head() -> None:
    """R2, C5: 10 cells are 10 heads, at every step and in the delivery."""
    year = run(by_itself())
    for kind in ("seeded", "moved", "harvested", "delivered", "due"):
        assert count(year, kind) == 10
    assert {row[COUNT] for row in of(year, "finished")} == {10}
    assert not {"lost", "dumped", "short", "missed"} & {row[KIND] for row in year.events}


@pytest.mark.parametrize(("stage", "kept_in"), [(0, "nursery"), (1, "bench")])
def test_a_batch_that_is_lost_whole_gives_its_containers_back(stage: int, kept_in: str) -> None:
    """C5, P3: at 100 % loss nothing is finished alive, moved on or delivered, and nothing held."""
    crop = by_itself().crops["lettuce"]
    lost = list(crop.stages)
    lost[stage] = lost[stage].model_copy(update={"loss_percent": 100.0})
    year = run(by_itself(crops={"lettuce": crop.model_copy(update={"stages": tuple(lost)})}))
    assert count(year, "lost", "lost while growing") == 10
    assert [row[COUNT] for row in of(year, "finished")] == [10] * stage + [0]
    assert count(year, "moved") == 10 * stage
    assert (count(year, "delivered"), count(year, "short", "no ready heads")) == (0, 10)
    assert of(year, "freed")[-1][4] == kept_in
    assert len(of(year, "freed")) == 1 + stage


def test_a_batch_that_dies_in_moving_needs_no_crew() -> None:
    """C5: at 100 % culls every plant is lost at 0:00 of the move's day; no minutes are used."""
    crops = lettuce(tiny(), move_loss_percent=100.0)
    year = run(tiny(crops=crops))
    assert told(year, COUNT, MINUTES)[1:4] == [
        ("Sep 9 0:00", "finished", 4, 0),
        ("Sep 9 0:00", "lost", 4, 0),
        ("Sep 9 0:00", "emptied", 0, 0),
    ]
    assert causes(year, "lost") == {"lost in moving"}
    assert not of(year, "moved")


# -- nobody, nothing ordered, nowhere open ----------------------------------------------------


def test_without_crews_nothing_that_needs_hands_is_done() -> None:
    """W3, K4, O2: no crew at all: the tray is missed and the delivery short, "nobody there"."""
    year = run(tiny(crews={}))
    assert told(year, COUNT, CAUSE) == [
        ("Sep 10 0:00", "missed", 4, "nobody there"),
        ("Sep 13 15:00", "due", 3, ""),
        ("Sep 13 15:00", "short", 3, "nobody there"),
    ]
    assert isnan(year.measures()["labor_use"])


def test_a_break_rule_skips_what_nobody_can_seed() -> None:
    """K2: without crews a cadence expands to nothing: no seeding, so none missed."""
    line = CadenceLine(crop="lettuce", trays={"Mon": 1})
    year = run(tiny(crews={}, cadence=Cadence(lines=(line,))))
    assert not of(year, "missed")
    assert not of(year, "seeded")


def test_a_crew_whose_people_are_all_absent_does_nothing() -> None:
    """W2: at 100 % absence every shift has 0 people and 0 minutes, and nothing is done."""
    crew = Crew(people=3, absent_percent=100, shifts=(NINE_TO_TEN,))
    year = run(tiny(crews={"staff": crew}))
    assert len(of(year, "shift")) == year.timetable.days
    assert {(row[COUNT], row[MINUTES]) for row in of(year, "shift")} == {(0, 0)}
    assert told(year, COUNT, CAUSE) == [
        ("Sep 10 0:00", "missed", 4, "not enough minutes"),
        ("Sep 13 15:00", "due", 3, ""),
        ("Sep 13 15:00", "short", 3, "no ready heads"),
    ]


def test_a_year_of_closures_has_no_work() -> None:
    """T4: closed every day, and crews that come on school days only: no shift, no work at all.

    Orders that pause are not due; those that go on are short.
    """
    school = School(
        first_day=MONDAY,
        last_day=MONDAY + timedelta(days=364),
        closed=(weeks(MONDAY, 53),),
    )
    crew = Crew(people=5, shifts=(Shift(weekdays=WEEKDAYS, starts=time(9), ends=time(10)),))
    orders = tuple(
        Order(customer=rule, crop="lettuce", heads={"Tue": 7}, school_closed=rule)
        for rule in ("pause", "deliver")
    )
    line = CadenceLine(crop="lettuce", trays={"Mon": 1})
    changes = {"school": school, "crews": {"class": crew}, "orders": orders}
    year = run(tiny(**changes, window=weeks(MONDAY, 52), cadence=Cadence(lines=(line,))))
    assert {row[KIND] for row in year.events} == {"due", "short"}
    assert {row[CUSTOMER] for row in year.events} == {"deliver"}
    assert causes(year, "short") == {"nobody there"}
    assert len(of(year, "due")) == 52  # Tuesdays from Sep 8 to Aug 31
    assert year.measures()["unit_fill_rate"] == 0


def test_without_orders_rates_have_no_denominator() -> None:
    """R3: nothing ordered: fill rates and steadiness are nan, heads a week 0; ripe heads waste."""
    year = run(by_itself(orders=()))
    got = year.measures()
    assert all(isnan(got[m]) for m in ("unit_fill_rate", "order_fill_rate", "steadiness"))
    assert got["heads_per_week"] == 0
    assert got["wasted_plants"] == 10
    assert told(year, COUNT, CAUSE)[-3] == ("Sep 17 0:00", "dumped", 10, "over-mature")


def test_heads_cut_when_ready_are_kept_too_long_without_orders() -> None:
    """O2, O3: harvest "when ready" without orders: cut on Sat 0:00, past two days on Mon 0:00."""
    crop = by_itself().crops["lettuce"].model_copy(update={"harvest": "when ready"})
    year = run(by_itself(orders=(), crops={"lettuce": crop}))
    assert told(year, COUNT, CAUSE)[-1] == ("Sep 14 0:00", "dumped", 10, "kept too long")


# -- places and windows -----------------------------------------------------------------------


def test_unlimited_places_hold_everything_and_have_no_fill() -> None:
    """P1: 1,000 trays find space at once; the share of sites filled has no denominator."""
    sown = Cadence(added=(Seeding(day=MONDAY, crop="lettuce", trays=1000),))
    year = run(by_itself(cadence=sown))
    assert count(year, "moved") == 10_000
    assert sum(row[CONTAINERS] for row in of(year, "moved")) == 1000
    got = year.measures()
    assert isnan(got["bench_fill"])
    assert isnan(got["useful_bench_share"])


def test_a_single_tray_space_is_seeded_again_when_it_is_free() -> None:
    """P3, P4, K4: one tray space, two seedings on one day: the second waits until Wednesday.

    The first leaves the nursery on Wed 0:00, so the second is seeded at that moment, within its
    two late days.
    """
    places = {
        "nursery": Place(count=1, sites_each=10),
        "bench": Place(count=None, sites_each=10),
    }
    two = tuple(Seeding(day=MONDAY, crop="lettuce", trays=1) for _ in range(2))
    year = run(by_itself(places=places, cadence=Cadence(added=two)))
    assert [spoken(row[TIME]) for row in of(year, "seeded")] == ["Sep 7 0:00", "Sep 9 0:00"]
    strict = run(by_itself(places=places, cadence=Cadence(added=two, late_days=1)))
    assert [spoken(row[TIME]) for row in of(strict, "seeded")] == ["Sep 7 0:00"]
    (missed,) = of(strict, "missed")
    assert (spoken(missed[TIME]), missed[CAUSE]) == ("Sep 9 0:00", "no free channel")


def test_a_window_without_a_whole_week_is_refused() -> None:
    """T3: only whole weeks are measured; a window of one day holds none."""
    with pytest.raises(ValidationError, match="at least one whole week from Monday to Sunday"):
        tiny(window=Dates(first_day=MONDAY, last_day=MONDAY))


def test_a_crop_of_one_stage_is_harvested_where_it_was_seeded() -> None:
    """C2: one stage only: seeded on Mon, ready on Wed in the same place, delivered on Mon 14."""
    stages = (Stage(name="head", place="bench", days=2),)
    year = run(by_itself(crops={"lettuce": Crop(stages=stages, harvested_by=None)}))
    assert not of(year, "moved")
    assert count(year, "delivered") == 10


# -- edges in time ----------------------------------------------------------------------------


def test_what_falls_on_the_end_of_the_run_is_not_part_of_it() -> None:
    """T2: the run covers [start, end): heads ready at 0:00 of the day after it are not recorded.

    Seeded five days before the end they would be ready exactly at the end, a day earlier just
    inside.
    """
    end = run(by_itself()).timetable.days
    for days_before, finished in ((5, 1), (6, 2)):
        day = MONDAY + timedelta(days=end - days_before)
        year = run(by_itself(cadence=Cadence(added=(Seeding(day=day, crop="lettuce", trays=1),))))
        assert year.timetable.days == end
        assert len(of(year, "finished")) == finished


def test_containers_rested_exactly_at_the_end_are_not_freed() -> None:
    """T2: a rest that is over exactly at the end of the run leaves no row; an hour less does.

    The tray is emptied on Wed Sep 9 at 0:00, the channels after the delivery.
    """
    end = run(by_itself()).timetable.days
    for hours, freed in ((24 * (end - 2), 0), (24 * (end - 2) - 1, 1)):
        places = {
            "nursery": Place(count=None, sites_each=10, rest_hours=hours),
            "bench": Place(count=None, sites_each=10, rest_hours=8760),
        }
        year = run(by_itself(places=places))
        assert year.timetable.days == end
        assert len(of(year, "freed")) == freed


def test_what_falls_on_a_weeks_edge_belongs_to_the_week_that_begins() -> None:
    """T2: a delivery on Mon 0:00 is the first of the new week, not the last of the old one.

    Likewise the first moment after the window is outside: Mon Sep 21, 0:00.
    """
    edge = one_order("Mon", 10, leaves=time(0))
    weeks_of = run(by_itself(orders=(edge,))).weeks()
    assert list(weeks_of["heads ordered"]) == [0, 10]
    later = edge.model_copy(update={"last_day": MONDAY + timedelta(days=14)})
    year = run(by_itself(orders=(later,)))
    assert [spoken(row[TIME]) for row in of(year, "due")] == ["Sep 14 0:00", "Sep 21 0:00"]
    assert list(year.weeks()["heads ordered"]) == [0, 10]
    assert year.measures()["unit_fill_rate"] == 1


@pytest.mark.parametrize(("leaves", "delivered"), [(time(0), 10), (time(0, 1), 0)])
def test_heads_exactly_at_the_keep_limit_are_usable(leaves: time, delivered: int) -> None:
    """O3: cut on Sat 0:00 and kept two days, heads can leave on Mon 0:00, a minute later not."""
    crop = by_itself().crops["lettuce"].model_copy(update={"harvest": "when ready"})
    orders = (one_order("Mon", 10, leaves=leaves),)
    year = run(by_itself(crops={"lettuce": crop}, orders=orders))
    assert (count(year, "delivered"), count(year, "dumped")) == (delivered, 10 - delivered)
    assert {row[TIME] - row[SINCE] for row in year.events if row[KIND] == "dumped"} <= {2.0}


@pytest.mark.parametrize(("keep_days", "delivered"), [(2, 0), (3, 10)])
def test_heads_are_over_mature_at_midnight_of_the_last_day(keep_days: int, delivered: int) -> None:
    """C6: ready on Sat 12 and kept two days, heads are dumped on Mon 14 at 0:00.

    The store's limit of half a day puts Monday's harvest at 3:00: too late, a day less late not.
    """
    crops = lettuce(by_itself(), keep_days=keep_days)
    year = run(by_itself(crops=crops, cold_store=ColdStore(keep_days=0.5)))
    assert (count(year, "delivered"), count(year, "dumped")) == (delivered, 10 - delivered)
    assert [spoken(row[TIME]) for row in of(year, "dumped")] == ["Sep 14 0:00"] * (not delivered)


def test_at_midnight_over_mature_heads_go_before_a_delivery_leaves() -> None:
    """C6: a delivery on Mon 0:00 cannot use heads whose last day ended at that moment."""
    crops = lettuce(by_itself(), keep_days=2)
    orders = (one_order("Mon", 10, leaves=time(0)),)
    year = run(by_itself(crops=crops, orders=orders, cold_store=ColdStore(keep_days=0)))
    assert (count(year, "dumped", "over-mature"), count(year, "short")) == (10, 10)


def test_ready_heads_that_keep_no_day_are_over_mature_at_once() -> None:
    """C6: with `keep_days` 0 the deadline is the day of being ready itself."""
    year = run(by_itself(crops=lettuce(by_itself(), keep_days=0)))
    (dumped,) = of(year, "dumped")
    assert (spoken(dumped[TIME]), dumped[COUNT]) == ("Sep 12 0:00", 10)


# -- cold store and sharing -------------------------------------------------------------------


def test_a_store_that_keeps_nothing_delivers_what_is_cut_as_it_leaves() -> None:
    """O3: with `keep_days` 0 heads cut at the leaving itself have age 0 and are usable."""
    year = run(by_itself(cold_store=ColdStore(keep_days=0)))
    assert told(year, COUNT)[-5:] == [
        ("Sep 14 15:00", "harvested", 10),
        ("Sep 14 15:00", "emptied", 0),
        ("Sep 14 15:00", "freed", 0),
        ("Sep 14 15:00", "due", 10),
        ("Sep 14 15:00", "delivered", 10),
    ]


def test_a_store_that_keeps_nothing_leaves_no_shift_for_harvest() -> None:
    """O2: with `keep_days` 0 no shift from 9 to 10 lies inside the limit of 15:00."""
    year = run(tiny(cold_store=ColdStore(keep_days=0)))
    assert causes(year, "short") == {"nobody there"}


def test_a_store_of_three_heads_lets_a_third_of_the_order_go() -> None:
    """O3: harvest pauses at capacity: 3 of 9 heads are cut, 6 are short for want of space."""
    year = run(by_itself(cold_store=ColdStore(holds_heads=3), orders=(one_order("Mon", 9),)))
    assert (count(year, "harvested"), count(year, "delivered")) == (3, 3)
    assert count(year, "short", "cold store full") == 6


def test_a_full_store_goes_on_when_a_delivery_leaves() -> None:
    """O3: harvest resumes when space frees: 3 heads for 9:00, 3 for 10:00, 3 for 11:00."""
    orders = tuple(
        one_order("Mon", 3, f"{hour} o'clock", leaves=time(hour)) for hour in (9, 10, 11)
    )
    year = run(by_itself(cold_store=ColdStore(holds_heads=3), orders=orders))
    assert [(spoken(r[TIME]), r[COUNT]) for r in of(year, "harvested")] == [
        ("Sep 12 9:00", 3),  # as early as the keep limit allows
        ("Sep 14 9:00", 3),
        ("Sep 14 10:00", 3),
    ]
    assert not of(year, "short")


def test_a_store_full_of_heads_cut_when_ready_is_named_as_the_cause() -> None:
    """O4, O3: cut "when ready" into a store of 3, a delivery of 9 is short by 6: store full."""
    crop = by_itself().crops["lettuce"].model_copy(update={"harvest": "when ready"})
    store = ColdStore(holds_heads=3, keep_days=5)
    orders = (one_order("Mon", 9),)
    year = run(by_itself(crops={"lettuce": crop}, cold_store=store, orders=orders))
    assert (count(year, "delivered"), count(year, "short")) == (3, 6)
    assert causes(year, "short") == {"cold store full"}


def shares(stock: int, *wanted: tuple[str, int, int]) -> dict[str, int]:
    """Heads that customers (name, heads, priority) get of a stock, at one leaving."""
    places = {
        "nursery": Place(count=None, sites_each=stock),
        "bench": Place(count=None, sites_each=stock),
    }
    orders = tuple(one_order("Mon", n, name, priority=rank) for name, n, rank in wanted)
    year = run(by_itself(places=places, orders=orders))
    got = {name: 0 for name, _, _ in wanted}
    for row in of(year, "delivered"):
        got[row[CUSTOMER]] += row[COUNT]
    return got


def test_stock_goes_by_priority_then_pro_rata() -> None:
    """O4: 10 heads: the school's 6 come first; 4 are left for 5, 3 and 3.

    4 x 5 / 11 = 1.82, 4 x 3 / 11 = 1.09 twice: 1, 1 and 1, and the last to the largest remainder.
    """
    wanted = (("cafe", 5, 2), ("school", 6, 1), ("pantry", 3, 2), ("market", 3, 2))
    assert shares(10, *wanted) == {"cafe": 2, "school": 6, "pantry": 1, "market": 1}


def test_equal_remainders_go_to_the_first_in_the_file() -> None:
    """O4: 5 heads for 3 and 3: 2.5 each, so 3 for the first named and 2 for the second."""
    assert shares(5, ("pantry", 3, 1), ("cafe", 3, 1)) == {"pantry": 3, "cafe": 2}


def test_a_lower_priority_gets_nothing_before_the_higher_is_served() -> None:
    """O4: 5 heads for 6 (first) and 1 (second): 5 and none."""
    assert shares(5, ("cafe", 1, 2), ("school", 6, 1)) == {"cafe": 0, "school": 5}


def test_an_outlet_takes_only_what_no_order_waits_for() -> None:
    """O1: of 10 heads cut when ready, 7 wait for Monday's order; the outlet gets 3 of its 20."""
    crop = by_itself().crops["lettuce"].model_copy(update={"harvest": "when ready"})
    outlet = Surplus(outlet="cafeteria", crop="lettuce", heads={"Sun": 20}, leaves=time(15))
    orders = (one_order("Mon", 7, leaves=time(8)),)
    store = ColdStore(keep_days=3)
    year = run(
        by_itself(crops={"lettuce": crop}, orders=orders, surplus=(outlet,), cold_store=store)
    )
    assert [(spoken(r[TIME]), r[COUNT]) for r in of(year, "surplus")] == [("Sep 13 15:00", 3)]
    assert count(year, "delivered") == 7


# -- what a row says --------------------------------------------------------------------------


def test_since_says_when_the_plants_came() -> None:
    """R1, R2: two trays seeded by 9:06 and 9:12 stay from then on: by Wed 0:00 in all
    4 x (38 h 54 min) + 4 x (38 h 48 min), which is 8 x (Wed 0:00 - since).
    """  # noqa: D205 - one sentence
    places = tiny().places | {"nursery": Place(count=2, sites_each=4)}
    both = Crew(people=1, shifts=(NINE_TO_TEN,))
    two = Cadence(added=(Seeding(day=MONDAY, crop="lettuce", trays=2),))
    # beside another crew stints are short: each tray is a row of its own
    year = run(tiny(places=places, cadence=two, crews={"staff": both, "other": other_crew()}))
    seeded = of(year, "seeded")
    assert [(spoken(row[TIME]), row[COUNT]) for row in seeded] == [
        ("Sep 7 9:06", 4),
        ("Sep 7 9:12", 4),
    ]
    finished = of(year, "finished")[0]
    stays = sum(row[COUNT] * (finished[TIME] - row[TIME]) for row in seeded)
    assert finished[COUNT] * (finished[TIME] - finished[SINCE]) == pytest.approx(stays)


def other_crew() -> Crew:
    """A crew at work from 9 to 10 of whom nobody ever comes."""
    return Crew(people=1, absent_percent=100, shifts=(NINE_TO_TEN,))


def test_heads_cut_together_count_each_its_own_days_in_the_window() -> None:
    """R4: of 10 heads of one batch cut on day 15, 5 stood since day 10 and 5 since day 14.5.

    Of the window's 14 days on 9 sites the first five filled 5 x 4 = 20, the others none; all ten
    were delivered.
    """

    def row(when: float, kind: str, number: int, since: float) -> Row:
        return (when, kind, "A", "lettuce", "bench", "", "", "", number, 0, 0.0, since, "")

    rows = [
        row(15.0, "harvested", 5, 10.0),
        row(15.0, "harvested", 5, 14.5),
        row(15.6, "delivered", 10, 15.0),
    ]
    got = measures_of(rows, Timetable(tiny()))
    assert got["useful_bench_share"] == pytest.approx(20 / (9 * 14))
