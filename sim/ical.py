"""An iCalendar text (RFC 5545) to closures and special days.

Dates and clock times count as the school wrote them. An event counts for the days whose noon
it covers, or for the day on which it starts if it covers none. Its name says what it means
(`event_names.py`); a name that leaves a doubt changes nothing and is listed.
"""

from __future__ import annotations

import re
import warnings
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from datetime import time as clock_time
from time import monotonic
from typing import TYPE_CHECKING

from sim.errors import CalendarError
from sim.event_names import meaning
from sim.ical_text import YEARS, CalendarFile, Event, Line, Moment, midnight
from sim.parts import Dates, SpecialDay

if TYPE_CHECKING:
    import icalendar

MAX_SECONDS = 10.0  # for all repeats; a school's whole calendar takes well under a second
MAX_DAYS = 100_000  # days named by all events together, repeats counted
LAST_SECOND = clock_time(23, 59, 59)
WHOLE_DAY = timedelta(hours=23)  # a timed event at least this long counts as all-day
SHORT = timedelta(hours=4)  # a timed event shorter than this does not take up a school day
REPEATS = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
RULE_VALUES = {  # how the value of each part of a repeat rule may look
    "FREQ": "|".join(REPEATS),
    "INTERVAL": "[1-9][0-9]{0,2}",
    "COUNT": "[1-9][0-9]{0,3}",
    "UNTIL": "[0-9TZ]+",
    "WKST": "[A-Z]{2}",
    **dict.fromkeys(
        ("BYDAY", "BYMONTHDAY", "BYMONTH", "BYSETPOS", "BYYEARDAY", "BYWEEKNO"), "[A-Z0-9,+-]+"
    ),
}
RANK = ("early release", "exam", "closed")  # the later settles a day that two events name
ASSUMED = {
    "": "taken as an ordinary school day",
    "early release": "taken as an early release day",
    "exam": "taken as an exam day",
    "closed": "taken as closed, as another event says",
}


@dataclass(frozen=True)
class UnclearDay:
    """Days whose event could mean several things, and what was assumed of them."""

    first_day: date
    last_day: date
    name: str
    assumed: str


@dataclass(frozen=True)
class CalendarReading:
    """What a calendar says of a school year, and what was odd in the file."""

    closed: tuple[Dates, ...]
    special: tuple[SpecialDay, ...]
    unclear: tuple[UnclearDay, ...]
    repaired: tuple[str, ...]


def read_ical(data: bytes, first_day: date, last_day: date, where: str) -> CalendarReading:
    """Read closures and special days between two dates, both included and in order.

    `data` are the bytes of the file and `where` is its name, for messages. Exclusive ends,
    repeats and exceptions follow RFC 5545, sections 3.6.1 and 3.8.5.

    Raises
    ------
    CalendarError : the text is no iCalendar, is cut short, holds no event, is too large, or
        has a date or a repeat rule that cannot be read.

    """
    said: set[tuple[str, str, date]] = set()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the libraries' remarks are not for users
        file = CalendarFile(data, where)
        for name, start, end in _occurrences(file, first_day, last_day):
            kinds = _kinds(name, start, end)
            first, last = _days(start, end)
            first, last = max(first, first_day), min(last, last_day)
            days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
            said.update((kind, name, day) for kind in kinds for day in days)
            if len(said) > MAX_DAYS:
                raise file.error(
                    f"the events must cover at most {MAX_DAYS:,} days in all, but they cover "
                    "more; export only the school's own calendar"
                )
    return _reading(said, file.repaired)


def _occurrences(
    file: CalendarFile, first_day: date, last_day: date
) -> Iterator[tuple[str, Moment, Moment]]:
    """Name, start and end of all that takes place between two days and is not called off."""
    import icalendar  # noqa: PLC0415 - slow to import
    import recurring_ical_events  # noqa: PLC0415 - slow to import

    begun = monotonic()
    since = datetime.combine(first_day, clock_time.min)
    until = datetime.combine(last_day, clock_time.max)
    for series in _series(file.events):
        calendar = icalendar.Calendar()
        try:
            for event in series:
                calendar.add_component(_built(file, event, last_day))
            found = recurring_ical_events.of(calendar).between(since, until)
        except CalendarError:
            raise
        except Exception as reason:  # whatever the library trips over, the cause is the event
            raise _bad_repeat(
                file, series, "has dates or repeats that cannot be worked out"
            ) from reason
        if monotonic() - begun > MAX_SECONDS:
            raise _bad_repeat(file, series, "takes too long to work out")
        for one in found:
            if str(one.get("STATUS", "")).upper() != "CANCELLED":
                yield str(one["SUMMARY"]), one["DTSTART"].dt, one["DTEND"].dt


def _bad_repeat(file: CalendarFile, series: list[Event], what: str) -> CalendarError:
    rules = [line.value[:80] for event in series for line in event.lines["RRULE"]]
    return file.error(
        f"{series[0]} {what} (its repeat rules: {rules}); write single events instead"
    )


def _series(events: list[Event]) -> Iterator[list[Event]]:
    """Events that belong together: a repeated event and its moved days share a UID.

    Of several with the same UID the highest SEQUENCE is the current one (RFC 5545, section
    3.8.7.4); careless exports give one UID to different events, which are then kept apart.
    """
    by_uid: dict[str, list[Event]] = defaultdict(list)
    for event in events:
        by_uid[event.text("UID") or f"line {event.number}"].append(event)
    for group in by_uid.values():
        moved = [event for event in group if event.first("RECURRENCE-ID")]
        main = [event for event in group if not event.first("RECURRENCE-ID")]
        newest = max(map(_sequence, main), default=0)
        current = [event for event in main if _sequence(event) == newest]
        yield [*current[:1], *moved]
        yield from ([event] for event in current[1:])


def _sequence(event: Event) -> int:
    text = event.text("SEQUENCE")
    return int(text) if re.fullmatch("[0-9]{1,9}", text) else 0


def _built(file: CalendarFile, event: Event, last_day: date) -> icalendar.Event:
    """The event for the library that works out repeats, with plain local dates and times."""
    import icalendar  # noqa: PLC0415 - slow to import

    start, end = file.span(event)
    built = icalendar.Event()
    built.add("UID", "one series")
    built.add("SUMMARY", event.text("SUMMARY") or "(no name)")
    built.add("STATUS", event.text("STATUS"))
    built.add("SEQUENCE", _sequence(event))
    built.add("DTSTART", start)
    built.add("DTEND", end)
    for line in event.lines["RECURRENCE-ID"][:1]:
        reach = {"RANGE": line.params["RANGE"]} if "RANGE" in line.params else {}
        built.add("RECURRENCE-ID", file.moment(event, line, line.value), reach)
    for line in event.lines["RRULE"]:
        built.add("RRULE", icalendar.vRecur.from_ical(_rule(file, event, line, start, last_day)))
    for name in ("EXDATE", "RDATE"):
        values = [(line, v) for line in event.lines[name] for v in line.value.split(",")]
        days = [file.moment(event, line, v.partition("/")[0]) for line, v in values]
        if days:
            built.add(name, [_like(start, day) for day in days])
    return built


def _rule(file: CalendarFile, event: Event, line: Line, start: Moment, last_day: date) -> str:
    """A repeat rule of at most one time a day that ends with the school year at the latest."""
    parts = dict(p.partition("=")[::2] for p in line.value.strip("; ").upper().split(";"))
    known = all(re.fullmatch(RULE_VALUES.get(k, "(?!)"), v) for k, v in parts.items())
    if not known or "FREQ" not in parts or parts.keys() >= {"COUNT", "UNTIL"}:
        raise file.error(
            f"the repeat rule on line {line.number} of {event} must have FREQ={'|'.join(REPEATS)}, "
            f"with COUNT or UNTIL but not both, and may have {', '.join(sorted(RULE_VALUES))}; "
            f"but it is {line.value[:80]!r}; write its days as single events"
        )
    if "COUNT" not in parts:
        until = datetime.combine(last_day, LAST_SECOND)
        if parts.get("UNTIL", "9999") < str(YEARS.stop):  # some write 9999 for "for ever"
            stop = file.moment(event, line, parts["UNTIL"])
            until = min(
                until,
                stop if isinstance(stop, datetime) else datetime.combine(stop, LAST_SECOND),
            )
        form = "%Y%m%dT%H%M%S" if isinstance(start, datetime) else "%Y%m%d"
        parts["UNTIL"] = until.strftime(form)
    return ";".join(f"{key}={value}" for key, value in parts.items())


def _like(start: Moment, moment: Moment) -> Moment:
    """A moment as a plain date if the event starts on a plain date."""
    if isinstance(moment, datetime) and not isinstance(start, datetime):
        return moment.date()
    return moment


def _days(start: Moment, end: Moment) -> tuple[date, date]:
    """First and last day whose noon lies within, or twice the day of the start."""
    if not isinstance(start, datetime):
        return start, end - timedelta(days=1)
    noon = timedelta(hours=12)
    instant = timedelta(microseconds=1)
    first, last = (start + noon - instant).date(), (midnight(end) - noon - instant).date()
    return (first, last) if first <= last else (start.date(), start.date())


def _kinds(name: str, start: Moment, end: Moment) -> tuple[str, ...]:
    """What an event makes of its days: kinds of day, "unclear", or nothing at all."""
    first, last = _days(start, end)
    what = meaning(name, (last - first).days + 1)
    length = midnight(end) - midnight(start)
    timed = isinstance(start, datetime) and length < WHOLE_DAY
    if isinstance(start, datetime) and not length and start.time() == clock_time.min:
        timed = False  # midnight to midnight of the same day: an all-day event without an end
    short = timed and timedelta(0) < length < SHORT
    return {
        "no school": ("closed",),
        "day off": ("unclear",) if short else ("closed",),
        "early release": ("early release",),
        "exam": ("exam",),
        "exam and early release": ("exam", "unclear"),
        "doubt": ("unclear",),
        "staff": () if short else ("unclear",),
        "other": () if timed else ("unclear",),
    }[what]


def _reading(said: set[tuple[str, str, date]], repaired: list[str]) -> CalendarReading:
    """Stretches of days from what was said of each day, by kind and name."""
    settled: dict[date, str] = {}
    for kind in RANK:
        settled |= {day: kind for one, _, day in said if one == kind}
    days: dict[tuple[str, str], set[date]] = defaultdict(set)
    for kind, name, day in said:
        now = settled.get(day, "")
        if kind == now:
            days[kind, name].add(day)
        elif kind in RANK or now != "closed":
            days[ASSUMED[now], name].add(day)
    runs = sorted((*run, name, kind) for (kind, name), held in days.items() for run in _runs(held))
    return CalendarReading(
        closed=tuple(
            Dates(first_day=first, last_day=last, name=name)
            for first, last, name, kind in runs
            if kind == "closed"
        ),
        special=tuple(
            SpecialDay.model_validate(
                {"first_day": first, "last_day": last, "name": name, "kind": kind}
            )
            for first, last, name, kind in runs
            if kind in {"early release", "exam"}
        ),
        unclear=tuple(UnclearDay(*run) for run in runs if run[3] not in RANK),
        repaired=tuple(repaired),
    )


def _runs(days: set[date]) -> Iterator[tuple[date, date]]:
    """First and last day of each run of adjacent days."""
    one = timedelta(days=1)
    starts = sorted(day for day in days if day - one not in days)
    ends = sorted(day for day in days if day + one not in days)
    return zip(starts, ends, strict=True)
