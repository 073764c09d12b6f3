"""What a scenario can do at most, by arithmetic alone: no simulation, no luck.

All numbers are means. A chain of plants is cells -> plants in each stage -> heads; with
`bad_events` (the default) the loss of rare events such as damping-off is spread over all
batches, without it an ordinary batch is meant. Stays are those at a pace of 100 percent, or of a
named month. Containers are counted full: batches that leave one part-filled need more.

The sites taken are the plants set per week x their stay / 7, the containers' turnaround
included: Little's law, L = lambda W (Little 1961, Operations Research 9:383-387, from memory).
Finishing sites and the cells of earlier stages are kept apart by place and never added up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf
from typing import Literal

from sim.order_book import Leaving
from sim.parts import Crop, Month, Order, Stage
from sim.scenario import Scenario
from sim.school_year import monday, weekday
from sim.seeding import trays_by_weekday
from sim.staffing import Work, ordinary_week, tightness, weekly_staffing
from sim.timetable import Timetable
