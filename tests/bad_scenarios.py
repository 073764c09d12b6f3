"""Scenario texts with one thing wrong, and what the message about it must name."""

from __future__ import annotations

from pathlib import Path

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SHORT = (SCENARIOS / "maple-hollow-short.toml").read_text(encoding="utf-8")
SHORT = SHORT.replace('calendar = "maple-hollow.ics"\n', "")
FULL = (SCENARIOS / "maple-hollow-three-crops.toml").read_text(encoding="utf-8")
FULL = FULL.replace('calendar = "maple-hollow.ics"\n', "")

# what is changed in the short form, and what the message must name: key, value, remedy
SHORT_CASES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "misspelt key": (
        "tray_spaces = 22",
        "tray_space = 22",
        ("nursery.tray_space is not a key", 'did you mean "tray_spaces"?'),
    ),
    "misspelt table": (
        "[nursery]",
        "[nursry]",
        ("nursry is not a key", 'did you mean "nursery"?'),
    ),
    "misspelt weekday": (
        "Mon = 4",
        "Monday = 4",
        ("seed_trays.Monday is not a key", "(= 4)", 'did you mean "Mon"?'),
    ),
    "missing key": (
        "cells_per_tray = 200",
        "",
        ("nursery.cells_per_tray is missing", "add cells_per_tray = 200 to [nursery]"),
    ),
    "missing minutes": (
        "working_minutes = 30",
        "",
        ("class.working_minutes is missing", "add working_minutes = 30 to [class]"),
    ),
    "missing first day": (
        "first_day = 2026-08-24",
        "",
        ("school.first_day is missing", "a date such as 2026-08-24"),
    ),
    "missing customer": (
        'customer = "Brasswick hotel"',
        "",
        ("orders[1].customer is missing", "text in quotes"),
    ),
    "unit in a number": (
        "working_minutes = 30",
        'working_minutes = "15 min"',
        ("class.working_minutes", "a number from 0 to 1,440", '"15 min"', "the number alone"),
    ),
    "true for a number": (
        "count = 448",
        "count = true",
        ("channels.count", 'a whole number from 1 to 1,000,000,000 or "unlimited"', "it is true"),
    ),
    "half a channel": (
        "count = 448",
        "count = 4.5",
        ("channels.count must be a whole number", "it is 4.5", "correct the number"),
    ),
    "no channels": ("count = 448", "count = 0", ("channels.count", "from 1 to", "it is 0")),
    "a huge number": (
        "count = 448",
        f"count = {10**30}",
        ("channels.count", "more than 15 digits", "correct the number"),
    ),
    "not a number": (
        "days_to_ready = 28",
        "days_to_ready = nan",
        ("channels.days_to_ready", "a number from 1 to 3,650", "it is nan"),
    ),
    "a stage of 0 days": (
        "days_to_ready = 28",
        "days_to_ready = 0",
        ("channels.days_to_ready must be a number from 1 to 3,650", "it is 0", "correct"),
    ),
    "loss of 140 percent": (
        "[channels]",
        "[channels]\nloss_percent = 140",
        ("channels.loss_percent must be a number from 0 to 100", "it is 140", "correct"),
    ),
    "germination of 140 percent": (
        "[nursery]",
        "[nursery]\ngermination_percent = 140",
        ("nursery.germination_percent", "from 0 to 100", "it is 140", "correct the number"),
    ),
    "date in quotes": (
        "first_day = 2026-08-24",
        'first_day = "2026-08-24"',
        ("first_day must be a date such as", 'it is "2026-08-24"', "without quotes"),
    ),
    "date as a number": (
        "first_day = 2026-08-24",
        "first_day = 20260824",
        ("first_day must be a date", "it is 20260824", "year-month-day"),
    ),
    "end before start": (
        "last_day = 2027-06-04",
        "last_day = 2026-06-04",
        ("last_day (2026-06-04) is before first_day (2026-08-24)", "swap them"),
    ),
    "a year of fifty years": (
        "last_day = 2027-06-04",
        "last_day = 2077-06-04",
        ("the run would last", "at most 7,320", "mend the years"),
    ),
    "a period that ends before it starts": (
        "1:10 pm-1:58 pm",
        "1:58 pm-1:10 pm",
        ("class.periods[2]", "ends at 13:10, not after it starts at 13:58", "'pm'"),
    ),
    "a period without am or pm": (
        "1:10 pm-1:58 pm",
        "1:10-1:58",
        ("class.periods[2]", "two clock times such as", '"1:10-1:58"', "give each am or pm"),
    ),
    "overlapping periods": (
        "1:10 pm-1:58 pm",
        "10:00 am-10:48 am",
        ("class.periods[2]", "10:00 to 10:48", "09:40 to 10:28", "move one"),
    ),
    "more minutes than the period has": (
        "working_minutes = 30",
        "working_minutes = 60",
        ("class.periods[1]", "at most the shift's 48 minutes", "it is 60", "lower it"),
    ),
    "a leaving time at night": (
        '"3:00 pm"',
        '"3:00"',
        ('orders["Brasswick hotel"].leaves', "a clock time", 'it is "3:00"', "add am or pm"),
    ),
    "a leaving time as a number": (
        '"3:00 pm"',
        "15",
        ('orders["Brasswick hotel"].leaves', "a clock time", "it is 15", "add am or pm"),
    ),
    "a misspelt choice": (
        '"pause"',
        '"paused"',
        ('school_closed must be one of "pause", "deliver"', '"paused"', 'did you mean "pause"?'),
    ),
    "an order for a crop nobody grows": (
        "school_closed",
        'crop = "kale"\nschool_closed',
        ('orders["Brasswick hotel"].crop', '"kale"', 'choose from "lettuce"'),
    ),
    "an order that ends before it starts": (
        "first_day = 2026-10-13",
        "first_day = 2026-10-13\nlast_day = 2026-05-28",
        ('orders["Brasswick hotel"].last_day', "2026-10-13", "it is 2026-05-28", "mend the year"),
    ),
    "a run that starts after school": (
        "seed_trays",
        "run_first_day = 2028-01-03\nseed_trays",
        ("run_first_day", "2027-06-04", "it is 2028-01-03", "start the run earlier"),
    ),
    "a calendar that is a number": (
        "seed_trays",
        "calendar = 5\nseed_trays",
        ("calendar must be a file name", "it is 5", "in quotes"),
    ),
}


FULL_CASES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "a place that does not exist": (
        'place = "nursery channels"',
        'place = "nursery chanels"',
        ("crops.romaine.stages", ".place", '"nursery chanels"', 'did you mean "nursery channels"'),
    ),
    "a task that does not exist": (
        'moved_in_by = "re-spacing"',
        'moved_in_by = "respacing"',
        ("moved_in_by must name a task", '"respacing"', 'did you mean "re-spacing"?'),
    ),
    "a task without its table": (
        "[tasks.harvest]",
        "[tasks.harvesting]",
        ("crops.butterhead.harvested_by", '"harvest"', 'did you mean "harvesting"?'),
    ),
    "a crew that does not exist": (
        "[tasks.harvest]",
        '[tasks.harvest]\nwho = ["clas"]',
        ("tasks.harvest.who[1] must name a crew", '"clas"', 'did you mean "class"?'),
    ),
    "a task for two kinds of work": (
        'washed_by = "washing"',
        'washed_by = "harvest"',
        ("washed_by", '"harvest" is', "washing containers", "add a second task"),
    ),
    "a cadence for a crop nobody grows": (
        'crop = "romaine"\ntrays',
        'crop = "roman"\ntrays',
        ('cadence.lines["roman"].crop', '"roman"', 'did you mean "romaine"?'),
    ),
    "a surplus for a crop nobody grows": (
        'outlet = "food pantry"\ncrop = "butterhead"',
        'outlet = "food pantry"\ncrop = "butter"',
        ('surplus["food pantry"].crop', '"butter"', 'did you mean "butterhead"?'),
    ),
    "two stages of one name": (
        'name = "nursery channels"',
        'name = "nursery"',
        ("crops.romaine.stages[2].name", '"nursery" is there twice', "rename one"),
    ),
    "a window before the run": (
        "[window]\nfirst_day = 2026-10-12",
        "[window]\nfirst_day = 2025-10-12",
        ("window.first_day", "from 2026-08-24", "it is 2025-10-12", "move the window"),
    ),
    "a window that ends before it starts": (
        "last_day = 2027-05-30",
        "last_day = 2026-05-30",
        ("window", "ends (2026-05-30) before it starts (2026-10-12)", "swap"),
    ),
    "a window without a whole week": (
        "last_day = 2027-05-30",
        "last_day = 2026-10-17",
        ("window", "one whole week", "2026-10-17", "make it longer"),
    ),
    "a seeding outside the run": (
        "late_days = 2",
        'late_days = 2\nadded = [{ day = 2029-01-01, crop = "romaine", trays = 2 }]',
        ("cadence.added[1].day", "inside the run", "it is 2029-01-01", "mend the date"),
    ),
    "a skip outside the run": (
        "late_days = 2",
        "late_days = 2\nskipped = [2026-10-12, 2025-10-12]",
        ("cadence.skipped[2]", "inside the run", "it is 2025-10-12", "mend the date"),
    ),
    "a line with trays and heads": (
        "trays = { Mon = 2",
        "heads_wanted = { Mon = 100 }\ntrays = { Mon = 2",
        ('cadence.lines["butterhead"]', "trays or heads_wanted", "both", "take one out"),
    ),
    "a line that says nothing": (
        'crop = "romaine"\ntrays = { Mon = 1, Thu = 1 }',
        'crop = "romaine"',
        ('cadence.lines["romaine"]', "neither", "add trays"),
    ),
    "a line that ends before it starts": (
        "trays = { Mon = 2",
        "first_day = 2027-01-01\nlast_day = 2026-01-01\ntrays = { Mon = 2",
        ('cadence.lines["butterhead"].last_day', "2027-01-01", "it is 2026-01-01", "swap"),
    ),
    "more spread than a loss can have": (
        "loss_percent = 2\nloss_sd_points = 1",
        "loss_percent = 2\nloss_sd_points = 40",
        ('crops.romaine.stages["nursery channels"]', "must be below 14.0", "it is 40", "lower it"),
    ),
    "a shift that ends before it starts": (
        'ends = "10:28 am"',
        'ends = "9:28 am"',
        ('crews.class.shifts["period 1"]', "ends at 09:28", "starts at 09:40", "'pm'"),
    ),
    "a shift that starts between two minutes": (
        'starts = "9:40 am"',
        "starts = 09:40:30",
        ('crews.class.shifts["period 1"].starts', "a clock time", "it is 09:40:30"),
    ),
    "a closed day that is none": (
        "last_day = 2027-06-04",
        "last_day = 2027-06-04\nclosed = [2026-09-07, 7]",
        ("school.closed[2]", "a date, or a table", "it is 7"),
    ),
    "a table where a list is due": (
        "[[surplus]]",
        "[surplus]",
        ("surplus must be a list", "it is a table", "[[...]]"),
    ),
    "a crop without stages": (
        "[[crops.butterhead",
        "[crops.kale]\nstages = []\n\n[[crops.butterhead",
        ("crops.kale.stages must be a list of at least 1", "it is an empty list", "[[...]]"),
    ),
    "no name": ("[crews.staff]", '[crews.""]', ('crews."" must be a name', "rename it")),
    "a name of two lines": (
        'customer = "Brasswick hotel"',
        'customer = "Brasswick\\nhotel"',
        ("customer must be text in quotes", '"Brasswick\\nhotel"', "put a name in quotes"),
    ),
}
