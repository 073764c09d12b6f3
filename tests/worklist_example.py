"""A bench whose work list is known by arithmetic, and years of the demo for the tests."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from sim.scenario_file import LoadedScenario, read_scenario
from sim.worklist import work_of, worklist_answer
from sim.worklist_tasks import WorkWeek

DEMO = Path(__file__).parent.parent / "scenarios" / "maple-hollow.toml"
THREE_CROPS = DEMO.with_name("maple-hollow-three-crops.toml")
SUMMER = DEMO.with_name("small-bench-summer.toml")
TODAY = date(2026, 11, 12)
YEARS = 4

# One student with 30 minutes a day; nothing varies. Every Monday a tray of 40 cells is seeded
# (15 minutes); a week later 40 plants are moved (10 minutes) into 4 channels of 10; two weeks
# after that they are ready. 60 heads are ordered for Friday and keep a day, so that only Friday's
# 30 minutes can harvest: 30 heads leave, 30 are short, week after week.
BENCH = """
name = "one bench"
school = { first_day = 2026-01-05, last_day = 2026-04-24 }
daily_checks_by = "checks"
orders = [{ customer = "=HALL & <co>", crop = "lettuce", heads = { Fri = 60 }, leaves = "3:00 pm" }]
cold_store = { holds_heads = "unlimited", keep_days = 1 }

[places]
nursery = { container = "tray", count = 4, sites_each = 40 }
bench = { container = "channel", count = 60, sites_each = 10, washed_by = "washing" }

[[crops.lettuce.stages]]
name = "nursery"
place = "nursery"
days = 7
moved_in_by = "seeding"

[[crops.lettuce.stages]]
name = "bench"
place = "bench"
days = 14
moved_in_by = "transplant"

[tasks]
harvest = { minutes_each = 1.0, priority = 1 }
transplant = { minutes_each = 0.25, priority = 2 }
seeding = { minutes_each = 15, priority = 3 }
washing = { minutes_each = 2, priority = 4 }
checks = { minutes_each = 1, priority = 5 }

[crews.class]
people = 1
students = true
absent_percent = 0
shifts = [{ name = "period 1", starts = "9:00 am", ends = "9:30 am" }]

[cadence]
lines = [{ crop = "lettuce", trays = { Mon = 1 }, last_day = 2026-04-20 }]
"""


def bench(folder: Path) -> LoadedScenario:
    """The bench, read from a file in this folder."""
    file = folder / "bench.toml"
    file.write_text(BENCH)
    return read_scenario(file)


@cache
def demo_week(monday: date = date(2026, 11, 9), path: Path = DEMO) -> WorkWeek:
    """A week of a shipped scenario, of a few years."""
    return work_of(read_scenario(path).scenario, monday=monday, today=TODAY, years=YEARS)


@cache
def demo_answer(monday: date = date(2026, 11, 9), path: Path = DEMO) -> dict:
    """The plain answer of that week."""
    return worklist_answer(read_scenario(path), demo_week(monday, path), 1)
