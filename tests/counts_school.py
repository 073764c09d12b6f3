"""A simulated year as a school would write it down, and the shipped year of records.

`PYTHONPATH=. python tests/counts_school.py` writes scenarios/maple-hollow-counts.csv: a year of
the demo's greenhouse in which plants, losses and minutes are other than the demo's scenario says.
"""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from math import ceil
from pathlib import Path

from sim.scenario import Scenario
from sim.scenario_file import load_scenario
from sim.year import run

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "scenarios" / "maple-hollow.toml"
SHIPPED = ROOT / "scenarios" / "maple-hollow-counts.csv"
COLUMNS = (
    "Date", "Starts", "Crop", "Batch seeded on", "What", "Place", "To place or customer", "Unit",
    "Count", "Cause", "Time [person-minutes]", "People present [number, no names]",
)  # fmt: skip
UNITS = {"seeded": "trays", "missed": "trays", "washed": "channels", "cleared": "channels",
         "checked": "checks", "present": "people"}  # fmt: skip
WALKS = (0, 3)  # the class walks round the channels on Monday and Thursday
NOT_WRITTEN = ("finished", "emptied", "freed", "due", "short", "delivered")


def school_form(rows: Sequence[tuple], start: date) -> list[tuple]:
    """The rows of a run as those of the work list's sheet, with dates and clock times.

    What was done in one minute with one batch in one place is one row; so is a delivery.
    """
    sums: defaultdict[tuple, list[float]] = defaultdict(lambda: [0, 0.0])
    short = {(row[0], row[3], row[7]): row for row in rows if row[1] == "short"}
    for row in rows:
        at, kind, batch, crop, place, to, _, customer, count, containers, minutes, since, why = row
        if kind == "due":
            missing = short.get((at, crop, customer))
            count -= missing[8] if missing else 0
            told = missing[12] if missing else ""
            key = (*moment(at, start), crop, None, "delivered", place, customer, told)
        elif kind == "shift":
            key = (*moment(since, start), "", None, "present", "", "", "")
            minutes = 0.0
        elif kind in NOT_WRITTEN:
            continue
        else:
            key = (*moment(at, start), crop, seeded_on(batch), kind, place, to or customer, why)
        sums[key][0] += containers if UNITS.get(kind) in ("trays", "channels") else count
        sums[key][1] += minutes
    return [as_written(key, count, minutes) for key, (count, minutes) in sums.items()]


def moment(at: float, start: date) -> tuple[date, time]:
    """A simulated time [d] as a date and a clock time to the minute."""
    when = datetime.combine(start, time.min) + timedelta(days=at)
    return when.date(), when.time().replace(second=0, microsecond=0)


def seeded_on(batch: str) -> date | None:
    """The seeding date in a batch's name."""
    return date.fromisoformat(batch[-10:]) if batch else None


def as_written(key: tuple, count: float, minutes: float) -> tuple:
    """One row in the order of COLUMNS; People present has rows of their own."""
    on, at, crop, seeded, kind, place, to, cause = key
    heads = "heads" if kind in ("harvested", "delivered", "surplus") else "plants"
    unit, worked = UNITS.get(kind, heads), minutes or None
    return on, at, crop, seeded, kind, place, to, unit, int(count), cause, worked, None


def us_date(day: date | None) -> str:
    """A date as people in the US write it: 9/5/2026."""
    return f"{day.month}/{day.day}/{day.year}" if day else ""


def clock(at: time | None) -> str:
    """A clock time as people write it: 9:40 am."""
    return f"{at.hour % 12 or 12}:{at:%M} {'am' if at.hour < 12 else 'pm'}" if at else ""


def cells(row: tuple) -> list[str]:
    """A row as text, the way a spreadsheet saves it."""
    worked = "" if row[10] is None else f"{row[10]:.12g}"
    texts = [us_date(row[0]), clock(row[1]), row[2], us_date(row[3]), *row[4:9], row[9], worked]
    return [*map(str, texts), "" if row[11] is None else str(row[11])]


def csv_of(table: Sequence[Sequence[object]], separator: str = ",") -> str:
    """Rows of cells as CSV."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, lineterminator="\n").writerows(table)
    return text.getvalue()


def by_period(rows: Sequence[tuple], scenario: Scenario) -> list[tuple]:
    """Rows as a class fills them in: dated by the period's start, people in its rows' own column.

    What nobody does, such as counting losses in the morning, has no clock time.
    """
    starts = {s.starts: s.ends for crew in scenario.crews.values() for s in crew.shifts}
    people = {row[:2]: row[8] for row in rows if row[4] == "present"}
    sums: Counter[tuple] = Counter()
    minutes: Counter[tuple] = Counter()
    for row in rows:
        on, at, kind = row[0], row[1], row[4]
        held = next((s for s, end in starts.items() if s <= at <= end), None)
        if kind != "delivered":
            at = held
        key = (on, at, *row[2:8], row[9], people.get((on, at)))
        sums[key] += row[8]
        minutes[key] += row[10] or 0
    worked = {key[:2] for key in sums if key[4] not in ("present", "delivered")}
    return [
        (
            *key[:8],
            count,
            key[8],
            max(1, round(minutes[key])) if minutes[key] else None,
            None if present else key[9],
        )
        for key, count in sums.items()
        if not (present := key[4] == "present") or key[:2] not in worked
    ]


def stand_counts(rows: Sequence[tuple], start: date) -> list[tuple]:
    """Seedlings counted alive on the day when they were ready to move."""
    return [
        (moment(at, start)[0], None, crop, seeded_on(batch), "counted", place, "", "plants", count,
         "", None, None)
        for at, kind, batch, crop, place, _, _, _, count, *_ in rows
        if (kind, place) == ("finished", "nursery")
    ]  # fmt: skip


def ready_rows(rows: Sequence[tuple], start: date, place: str, walks: set[int]) -> list[tuple]:
    """Plants that a walk round first finds ready in a place, by batch, with their number.

    `walks` are the days of the walks [days since the run's first]; they come before the day's work.
    """
    left: Counter[tuple] = Counter()  # by batch and the time when they came to the place
    fresh: set[tuple] = set()
    found, walked = [], 0
    for row in rows:
        at, kind, batch, crop, here, _, _, _, count, _, _, since, _ = row
        before = ceil(at)  # what happens at 00:00 is seen on that day's walk
        for day in sorted(walks & set(range(walked, before))):
            found += _seen(left, fresh, start + timedelta(days=day), place)
        walked = before
        if here == place and kind == "finished":
            left[batch, crop, since] += count
            fresh.add((batch, crop, since))
        elif here == place and kind in ("harvested", "moved", "dumped", "lost"):
            left[batch, crop, since] -= count
    return found


def _seen(left: Counter[tuple], fresh: set[tuple], on: date, place: str) -> list[tuple]:
    """Rows of what is new on a walk; it is new no more."""
    new: Counter[tuple] = Counter()
    for key in fresh:
        new[key[:2]] += max(left[key], 0)
    fresh.clear()
    return [
        (on, None, crop, seeded_on(batch), "ready", place, "", "heads", plants, "", None, None)
        for (batch, crop), plants in sorted(new.items())
        if plants
    ]


def year_of_records() -> str:
    """The shipped file: the demo's plan, in a greenhouse that differs from the demo's numbers."""
    scenario = load_scenario(DEMO)
    nursery, channels = scenario.crops["lettuce"].stages
    stages = (
        nursery.model_copy(
            update={"days": 14.6, "days_sd": 1.2, "loss_percent": 13.0, "loss_sd_points": 4.0}
        ),
        channels.model_copy(
            update={"days": 29.0, "days_sd": 1.8, "loss_percent": 5.5, "move_loss_percent": 4.0}
        ),
    )
    more = {"seeding": 1.15, "transplant": 1.1, "harvest": 0.9, "washing": 1.2}
    tasks = {
        name: task.model_copy(update={"minutes_each": task.minutes_each * more.get(name, 1.0)})
        for name, task in scenario.tasks.items()
    }
    lettuce = scenario.crops["lettuce"].model_copy(update={"stages": stages})
    other = scenario.model_copy(update={"crops": {"lettuce": lettuce}, "tasks": tasks})
    events = run(other, seed=2027).events
    written = by_period(school_form(events, scenario.start), scenario)
    written += stand_counts(events, scenario.start)
    walks = {int(row[0]) for row in events if row[1] == "shift" and row[6] == "class"}
    walks = {day for day in walks if (scenario.start + timedelta(days=day)).weekday() in WALKS}
    written += ready_rows(events, scenario.start, "channels", walks)
    written.sort(key=lambda row: (row[0], row[1] or time()))
    title = (
        "Invented records of an invented school: made by a simulation with other numbers than "
        "the demo's"
    )
    last = scenario.school.last_day
    return csv_of([[title], COLUMNS, *(cells(row) for row in written if row[0] <= last)])


if __name__ == "__main__":
    SHIPPED.write_text(year_of_records(), encoding="utf-8")
