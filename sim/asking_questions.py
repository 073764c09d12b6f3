"""The questions of a new scenario: words, reason, unit, default, and what a good answer is.

The numbers offered are invented, for a greenhouse that has not counted yet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sim.asking_answers import (
    Known,
    Parse,
    a_date,
    by_weekday,
    first_day_offered,
    first_delivery_offered,
    last_day_offered,
    minutes_offered,
    name,
    parse_calendar,
    parse_closure,
    parse_first_delivery,
    parse_last_day,
    parse_leaves,
    parse_pause,
    parse_periods,
    parse_working_minutes,
    trays_offered,
    whole,
)


@dataclass(frozen=True, slots=True)
class Question:
    """One question; `number` if it is one of the ten; `note` is the comment in the file.

    `table` is the table of the file that holds the key, `heading` is said before the question.
    """

    key: str
    asks: str
    reason: str
    unit: str
    default: str | Callable[[Known], str]
    parse: Parse
    note: str
    table: str = ""
    number: int = 0
    heading: str = ""

    def offered(self, known: Known) -> str:
        """The default as it is shown."""
        return self.default if isinstance(self.default, str) else self.default(known)


SCHOOL = (
    Question(
        "first_day", "When is the first day of class?",
        "the simulated year starts on it, and so does the seeding", "date",
        first_day_offered, lambda text, _: a_date(text, 2099), "first day of class",
        heading="The school year (dates as 2026-08-24 or 8/24/2026)",
    ),
    Question(
        "last_day", "When is the last day of class?",
        "the orders end with it, and the seeding in time before", "date",
        last_day_offered, parse_last_day, "last day of class",
    ),
    Question(
        "calendar",
        "Is there a file of the school calendar (.ics) in the folder of the new scenario? Its "
        "name, or none; without one you are asked for the closed days.",
        "it says which days are closed, early release or exam days", "file name",
        "none", parse_calendar, "closed, early release and exam days, from this file",
    ),
)  # fmt: skip
CLOSED = Question(
    "closed",
    "On which days between is there no class? One closure a line, such as",
    "nobody seeds, transplants or harvests then; more can be written in later", "closed",
    "", parse_closure, "days without class",
)  # fmt: skip
GREENHOUSE = (
    Question(
        "tray_spaces", "How many seedling trays does the nursery hold at once?",
        "a tray that finds no space is not seeded", "trays", "22", whole(1, 100_000),
        "trays that the nursery holds at once", "nursery", 1, "The nursery",
    ),
    Question(
        "cells_per_tray", "How many cells has a tray?",
        "one cell gives one seedling at most", "cells", "200", whole(1, 10_000),
        "cells in a tray", "nursery", 2,
    ),
    Question(
        "days_to_transplant", "How many days from seeding to transplant?",
        "so long a tray takes its space in the nursery", "days", "14", whole(1, 120),
        "days from seeding to transplant", "nursery", 3,
    ),
    Question(
        "count", "How many channels are there to grow the heads out?",
        "seedlings that find no empty channel wait and get overgrown", "channels", "448",
        whole(1, 100_000), "channels for grow-out", "channels", 4, "The channels",
    ),
    Question(
        "sites_each", "How many sites (holes for a plant) has a channel?",
        "channels times sites are the heads that can stand at once", "sites", "18",
        whole(1, 10_000), "sites in a channel", "channels", 5,
    ),
    Question(
        "days_to_ready", "How many days from transplant until the heads are ready to cut?",
        "it says which seeding is for which delivery", "days", "28", whole(1, 365),
        "days from transplant until ready", "channels", 6,
    ),
    Question(
        "ready_heads_keep_days",
        "How many days can ready heads stay in the channel before they are over-mature?",
        "it matters most and is least known: watch a few channels", "days", "10", whole(1, 365),
        "days that ready heads keep in the channel", "channels", 7,
    ),
)  # fmt: skip
CLASS = (
    Question(
        "periods",
        "When are the class periods in the greenhouse, on each class day from Monday to Friday? "
        "Put a comma between two periods.",
        "all work is done in them, until you write in other hours (staff before school, say)",
        "periods",
        "9:40 am-10:28 am, 1:10 pm-1:58 pm", parse_periods,
        "class periods, Monday to Friday", "class", heading="The class",
    ),
    Question(
        "students_per_period", "How many students come to one period?",
        "with the minutes they are all the work that can be done", "students", "12",
        whole(1, 1_000), "students in a period", "class", 8,
    ),
    Question(
        "working_minutes",
        "How many minutes of a period do they work, without set-up, teaching and clean-up?",
        "often less than one thinks; it is an estimate to be timed, not a quota", "minutes",
        minutes_offered, parse_working_minutes, "minutes of a period worked", "class", 9,
    ),
)  # fmt: skip
ORDERS = Question(
    "orders", "Who has a standing order? One customer after the other.",
    "a week is met when every delivery of it leaves complete", "", "", lambda text, _: text,
    "standing orders", "orders", 10, "The orders",
)  # fmt: skip
CUSTOMER = (
    Question(
        "customer", "What kind of place is it? No names of people.",
        "it is how results name the order", "customer", "school cafeteria",
        lambda text, _: name(text, "a kind of place"), "a kind of place, no names of people",
    ),
    Question(
        "heads", "How many heads does it get, on which days of the week?",
        "heads that are missing at leaving are short", "heads", "Tue 240, Fri 240",
        by_weekday("Tue 120, Fri 120"), "heads by weekday (10)",
    ),
    Question(
        "leaves", "At what time does the delivery leave?",
        "what is not cut and packed by then is short", "clock time", "3:00 pm",
        parse_leaves, "clock time at which the delivery leaves",
    ),
    Question(
        "school_closed", "Does the order pause when school is closed?",
        "a customer that never pauses needs heads on days without class", "yes or no", "yes",
        parse_pause, "pause, or deliver: on days without class",
    ),
    Question(
        "first_day", "When is its first delivery?",
        "the weeks that count start with it; heads of the first seeding have to be ready", "date",
        first_delivery_offered, parse_first_delivery,
        "first delivery, when the first heads are ready",
    ),
)  # fmt: skip
SEEDING = Question(
    "seed_trays",
    "On which days do you seed, and how many trays each time? If you do not seed yet: the default "
    "gives about 13 cells for every 10 heads ordered.",
    "the search for a better cadence starts from it", "trays", trays_offered,
    by_weekday("Mon 4, Thu 4"), "trays seeded by weekday, every week", heading="The seeding",
)  # fmt: skip
QUESTIONS = (*SCHOOL, CLOSED, *GREENHOUSE, *CLASS, ORDERS, SEEDING)
