"""The parts of a scenario: what each may say, in which units, within which limits.

Every model is frozen. The keys are the keys of the full form of a scenario file; the unit
is in the key's name (`days`, `minutes_each`, `percent`, `hours`) or follows from the word
(trays, heads, people). Weekdays are written Mon ... Sun; a month Jan ... Dec.
"""

from __future__ import annotations

from datetime import date, time
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
Month = Literal["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
DayKind = Literal["regular", "early release", "exam", "closed"]
BreakRule = Literal[
    "if staffed",
    "nearest staffed day",
    "fit transplant and harvest",
    "seed more before",
    "skip paused weeks",
    "skip closed days",
]
DaysShape = Literal["normal", "lognormal", "gamma", "exponential"]

WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS: tuple[Month, ...] = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
IN_SESSION: tuple[DayKind, ...] = ("regular", "early release", "exam")

# strict: a number is never made from text or true, nor a date or a clock time from a number
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]*$")]
Percent = Annotated[float, Field(strict=True, ge=0, le=100, allow_inf_nan=False)]
Days = Annotated[float, Field(strict=True, ge=0, le=3650, allow_inf_nan=False)]
Minutes = Annotated[float, Field(strict=True, ge=0, le=1440, allow_inf_nan=False)]
Pace = Annotated[float, Field(strict=True, ge=10, le=300, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=1, le=10**9)]
Amount = Annotated[int, Field(strict=True, ge=0, le=10**9)]
Rank = Annotated[int, Field(strict=True, ge=1, le=99)]
Day = Annotated[date, Field(strict=True, ge=date(1900, 1, 1), le=date(8999, 12, 31))]
Clock = Annotated[time, Field(strict=True)]


class Model(BaseModel):
    """Base of all parts: frozen, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=False)


class Dates(Model):
    """A stretch of days, both ends included, with the name people give it."""

    first_day: Day
    last_day: Day
    name: str = ""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last_day < self.first_day:
            raise ValueError(
                f"ends ({self.last_day}) before it starts ({self.first_day}); swap the two dates"
            )
        return self


class SpecialDay(Dates):
    """Days in session that run differently: early release or exam."""

    kind: Literal["early release", "exam"]


class School(Model):
    """The school calendar: which days are in session, and of which kind."""

    first_day: Day
    last_day: Day
    weekdays: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    closed: tuple[Dates, ...] = ()
    special: tuple[SpecialDay, ...] = ()

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last_day < self.first_day:
            raise ValueError(
                f"last_day ({self.last_day}) is before first_day ({self.first_day}); "
                "swap them or mend the year"
            )
        return self


class Place(Model):
    """Where plants stand: containers of one kind, each with the same number of sites.

    `count` None means unlimited. `washed_by` and `cleared_by` name tasks; without one the
    step needs nobody and happens at once.
    """

    container: Name = "channel"
    count: Count | None
    sites_each: Count
    washed_by: str | None = None
    cleared_by: str | None = None
    rest_hours: Annotated[float, Field(strict=True, ge=0, le=8760, allow_inf_nan=False)] = 0.0


class BadEvent(Model):
    """A rare event that hits a whole batch, such as damping-off."""

    percent_of_batches: Percent
    loss_percent: Percent
    cause: Name = "damping-off"


class Stage(Model):
    """One step of a crop in one place.

    `days` and `days_sd` are the mean and standard deviation of its length [days] for a pace
    of 100 %; the drawn length is rounded to whole days, at least one. `loss_percent` of the
    plants are lost by the stage's end, with a batch-to-batch standard deviation of
    `loss_sd_points` [percentage points]. `move_loss_percent` are culled while moving in.
    `keep_days` is how long finished plants may wait (None: for ever). `turnaround_days` is
    only used for the ceilings of `check`: days that a container stays taken beyond the stage.
    """

    name: Name
    place: str
    days: Annotated[float, Field(strict=True, ge=1, le=3650, allow_inf_nan=False)]
    days_sd: Days = 0.0
    days_shape: DaysShape = "normal"
    loss_percent: Percent = 0.0
    loss_sd_points: Percent = 0.0
    loss_cause: Name = "lost while growing"
    bad_event: BadEvent | None = None
    moved_in_by: str | None = None
    move_loss_percent: Percent = 0.0
    move_loss_cause: Name = "lost in moving"
    keep_days: Annotated[int, Field(strict=True, ge=0, le=3650)] | None = None
    turnaround_days: Days = 0.0
    pace_percent: dict[Month, Pace] = {}

    @model_validator(mode="after")
    def _spread_is_possible(self) -> Self:
        mean = self.loss_percent / 100
        most = 100 * (mean * (1 - mean)) ** 0.5
        if self.loss_sd_points > 0 and self.loss_sd_points >= most:
            raise ValueError(
                f"loss_sd_points must be below {most:.1f} (the most that a loss of "
                f"{self.loss_percent:g} percent can vary), but it is {self.loss_sd_points:g}; "
                "lower it, or set it to 0"
            )
        return self


class Crop(Model):
    """What is grown: an ordered list of stages, then harvest."""

    stages: Annotated[tuple[Stage, ...], Field(min_length=1)]
    harvest: Literal["for orders", "when ready"] = "for orders"
    harvested_by: str | None = "harvest"


class Task(Model):
    """A kind of work: minutes per tray, plant, head, container or day, and who may do it.

    A lower `priority` number is done first. An empty `who` means every crew.
    """

    minutes_each: Annotated[float, Field(strict=True, gt=0, le=1440, allow_inf_nan=False)]
    setup_minutes: Minutes = 0.0
    priority: Rank = 5
    who: tuple[str, ...] = ()


class Shift(Model):
    """A class period, staff hours or break cover: when a crew is at work.

    Held on `weekdays` when the day's kind is in `on`, and within `only` if given.
    `working_minutes` exclude set-up and clean-up; `minutes_on` changes them for a kind of day.
    """

    name: str = ""
    weekdays: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    starts: Clock
    ends: Clock
    working_minutes: Minutes | None = None
    on: tuple[DayKind, ...] = IN_SESSION
    minutes_on: dict[DayKind, Minutes] = {}
    only: tuple[Dates, ...] = ()

    @property
    def length_minutes(self) -> float:
        """Length of the shift [minutes]."""
        start = self.starts.hour * 60 + self.starts.minute
        return self.ends.hour * 60 + self.ends.minute - start

    def minutes(self, kind: DayKind) -> float:
        """Working minutes of one person on such a day [minutes]."""
        usual = self.length_minutes if self.working_minutes is None else self.working_minutes
        return self.minutes_on.get(kind, usual)

    @model_validator(mode="after")
    def _makes_sense(self) -> Self:
        if self.length_minutes <= 0:
            raise ValueError(
                f"the shift ends at {self.ends:%H:%M}, not after it starts at {self.starts:%H:%M}; "
                "write morning as 'am', afternoon as 'pm', and split a shift that crosses midnight"
            )
        for minutes in (self.working_minutes or 0, *self.minutes_on.values()):
            if minutes > self.length_minutes:
                raise ValueError(
                    f"working_minutes must be at most the shift's {self.length_minutes:g} minutes, "
                    f"but it is {minutes:g}; lower it or lengthen the shift"
                )
        return self


class Crew(Model):
    """People who work together: how many, when, how many are absent, how fast."""

    people: Count
    students: bool = False
    absent_percent: Percent = 0.0
    pace_percent: Annotated[float, Field(strict=True, gt=0, le=500, allow_inf_nan=False)] = 100.0
    shifts: tuple[Shift, ...] = ()


class Order(Model):
    """A standing order: heads by delivery weekday, and when the delivery leaves."""

    customer: Name
    crop: str
    heads: dict[Weekday, Amount]
    leaves: Clock = time(15)
    first_day: Day | None = None
    last_day: Day | None = None
    school_closed: Literal["pause", "deliver"] = "deliver"
    paused: tuple[Dates, ...] = ()
    priority: Rank = 1


class Surplus(Model):
    """An outlet that takes heads without a promise.

    It takes those stored and not spoken for, and those in the place that would be over-mature
    within `ripe_within_days`.
    """

    outlet: Name
    crop: str
    heads: dict[Weekday, Amount]
    leaves: Clock = time(15)
    ripe_within_days: Days = 3.0


class ColdStore(Model):
    """The walk-in cold store: heads it holds (None: no limit) and how long they keep."""

    holds_heads: Count | None = None
    keep_days: Days = 2.0


class CadenceLine(Model):
    """Trays of one crop by weekday, every so many weeks, from and to a date.

    Instead of `trays` a line may name `heads_wanted` by weekday; then whole trays are seeded
    for `heads_wanted x cells_per_head` cells (overseeding made explicit).
    """

    crop: str
    trays: dict[Weekday, Amount] = {}
    heads_wanted: dict[Weekday, Amount] = {}
    cells_per_head: Annotated[float, Field(strict=True, ge=1, le=20, allow_inf_nan=False)] = 1.2
    every_weeks: Annotated[int, Field(strict=True, ge=1, le=52)] = 1
    first_day: Day | None = None
    last_day: Day | None = None


class Seeding(Model):
    """One dated seeding, given by hand."""

    day: Day
    crop: str
    trays: Count


class Cadence(Model):
    """The seeding rhythm: lines, one break rule, and dated additions or skips."""

    lines: tuple[CadenceLine, ...] = ()
    break_rule: BreakRule = "if staffed"
    late_days: Annotated[int, Field(strict=True, ge=0, le=100_000)] = 2
    added: tuple[Seeding, ...] = ()
    skipped: tuple[Day, ...] = ()
