"""The spelling of an iCalendar text (RFC 5545): bytes to events, values to dates.

Only the shape is read here: folded lines, components, names, dates. What is odd but can be
read is noted in plain sentences; what cannot be read is refused with the line it stands on.
"""

from __future__ import annotations

import codecs
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sim.errors import CalendarError

Moment = date | datetime

MAX_BYTES = 5_000_000
YEARS = range(1900, 2101)
EVENT_LINES = (
    "DTSTART", "DTEND", "DURATION", "RRULE", "EXDATE", "RDATE", "RECURRENCE-ID", "SUMMARY",
    "STATUS", "UID", "SEQUENCE",
)  # fmt: skip
NO_ZONE = (
    "Times in UTC (ending in Z) are read as written, because the file does not name its own "
    "time zone (X-WR-TIMEZONE) in a form that is known."
)


@dataclass(frozen=True)
class Line:
    """One line of an event: its number in the file, and what stands around the colon."""

    number: int
    params: dict[str, str]
    value: str


@dataclass
class Event:
    """One event: the line it begins on, and the lines that matter here by their name."""

    number: int
    lines: dict[str, list[Line]] = field(default_factory=lambda: defaultdict(list))

    def first(self, name: str) -> Line | None:
        """The first line of that name, if there is one."""
        lines = self.lines.get(name)
        return lines[0] if lines else None

    def text(self, name: str) -> str:
        """The value of that line on one line, without control characters; "" if missing."""
        line = self.first(name)
        printable = (c if c.isprintable() else " " for c in line.value) if line else ()
        return " ".join("".join(printable).split())[:200]

    def __str__(self) -> str:
        return f'the event "{self.text("SUMMARY")}" (line {self.number})'


class CalendarFile:
    """One iCalendar file: its head lines, its events, and what was odd in it.

    Raises
    ------
    CalendarError : the bytes are no iCalendar text, are cut short or too many, or hold no event.

    """

    def __init__(self, data: bytes, where: str) -> None:
        self.where = where
        self.head: dict[str, str] = {}
        self.events: list[Event] = []
        self.repaired: list[str] = []
        self._read_events(self._components(self._unfolded(data)))
        self._check_head()
        self.zone = _zone(self.head.get("X-WR-TIMEZONE", ""))

    def error(self, text: str) -> CalendarError:
        """The error to raise, with the file's name before the text."""
        return CalendarError(f"{self.where}: {text}")

    def note(self, text: str) -> None:
        """Keep a sentence on what was odd, once."""
        if text not in self.repaired:
            self.repaired.append(text)

    def _unfolded(self, data: bytes) -> Iterator[tuple[int, str]]:
        """The lines with their numbers, continuation lines joined to the line they continue."""
        if not data.strip():
            raise self.error("the file is empty; export or download the calendar again")
        if len(data) > MAX_BYTES:
            raise self.error(
                f"the file must have at most {MAX_BYTES:,} bytes, but it has {len(data):,}; "
                "export only the school year that is needed"
            )
        if b"\0" in data:
            raise self.error(
                "the file is not plain text (it holds zero bytes); export the calendar as an "
                ".ics file in UTF-8"
            )
        if data.startswith(codecs.BOM_UTF8):
            self.note("The file starts with a byte order mark; it was skipped.")
        folded: list[tuple[int, list[bytes]]] = []
        for number, line in enumerate(data.removeprefix(codecs.BOM_UTF8).splitlines(), 1):
            if folded and line[:1] in (b" ", b"\t"):
                folded[-1][1].append(line[1:])
            elif line.strip():
                folded.append((number, [line]))
        for number, pieces in folded:
            yield number, self._decoded(b"".join(pieces))

    def _decoded(self, line: bytes) -> str:
        try:
            return line.decode()
        except UnicodeDecodeError:
            self.note("The file is not in UTF-8; it was read as Western European text (Latin-1).")
            return line.decode("cp1252", errors="replace")

    def _components(self, lines: Iterable[tuple[int, str]]) -> list[tuple[Event, int, str]]:
        """The lines of each event with their numbers, once all components are known closed."""
        inside: list[str] = []
        held: list[tuple[Event, int, str]] = []
        calendars = number = 0
        for number, line in lines:
            name, _, value = (part.strip().upper() for part in line.partition(":"))
            if name == "BEGIN":
                inside.append(value)
                calendars += value == "VCALENDAR"
                if value == "VEVENT":
                    self.events.append(Event(number))
            elif name == "END" and inside:
                if inside.pop() != value:
                    raise self._cut_short(number)
            elif inside[-1:] == ["VEVENT"]:
                held.append((self.events[-1], number, line))
            elif inside[-1:] == ["VCALENDAR"]:
                self.head.setdefault(name.partition(";")[0], line.partition(":")[2].strip())
        self._check_components(calendars, inside, number)
        return held

    def _check_components(self, calendars: int, inside: list[str], number: int) -> None:
        if not calendars:
            raise self.error(
                "this is not an iCalendar file (it has no line BEGIN:VCALENDAR); look for a "
                "link to subscribe or export on the calendar's page and save the .ics file"
            )
        if inside:
            raise self._cut_short(number)
        if not self.events:
            raise self.error("the calendar holds no event (BEGIN:VEVENT); export it again")

    def _cut_short(self, number: int) -> CalendarError:
        return self.error(
            f"the calendar is cut short or mixed up at line {number}: each BEGIN needs its own "
            "END, down to END:VCALENDAR; download it again"
        )

    def _read_events(self, held: list[tuple[Event, int, str]]) -> None:
        """Keep the event lines that matter; what is no line at all is skipped and noted."""
        stray = []
        for event, number, line in held:
            name = re.match(r"\s*([A-Za-z0-9-]+)\s*[;:]", line)
            if name is None:
                stray.append(str(number))
            elif name[1].upper() in EVENT_LINES:
                event.lines[name[1].upper()].append(self._line(number, line))
        if stray:
            listed = ", ".join(stray[:5]) + (" and others" if len(stray) > 5 else "")
            self.note(f"Not of the form NAME:value and skipped: line {listed}.")

    def _line(self, number: int, line: str) -> Line:
        from icalendar.parser import Contentline  # noqa: PLC0415 - slow to import

        try:
            _, params, value = Contentline(line).parts()  # type: ignore[no-untyped-call]
        except (ValueError, AssertionError):
            raise self.error(
                f"line {number} must be of the form NAME:value, but it is {line[:60]!r}; "
                "mend or delete the line"
            ) from None
        read = {str(key).upper(): str(param) for key, param in params.items()}
        return Line(number, read, str(value))

    def _check_head(self) -> None:
        version = self.head.get("VERSION", "")
        if not version:
            self.note("The file has no VERSION line; read as version 2.0.")
        elif version != "2.0":
            self.note(f"The file says VERSION {version[:20]!r}; read as version 2.0.")
        if not self.head.get("PRODID"):
            self.note("The file has no PRODID line (the program that wrote it); read all the same.")

    def span(self, event: Event) -> tuple[Moment, Moment]:
        """Start and exclusive end, of the same kind; an all-day event lasts at least one day.

        Raises
        ------
        CalendarError : there is no start, a date or length cannot be read, or the end comes first.

        """
        line = event.first("DTSTART")
        if line is None:
            raise self.error(f"{event} has no start (DTSTART); give it a date or delete it")
        start = self.moment(event, line, line.value)
        end = self._end(event, start)
        if isinstance(start, datetime) != isinstance(end, datetime):
            start, end = midnight(start), midnight(end)
        if end < start:
            raise self.error(f"{event} ends ({end}) before it starts ({start}); mend or delete it")
        if end == start and not isinstance(start, datetime):
            end = start + timedelta(days=1)
        return start, end

    def _end(self, event: Event, start: Moment) -> Moment:
        """The exclusive end from DTEND or DURATION; the start itself if neither is given."""
        from icalendar import vDuration  # noqa: PLC0415 - slow to import

        if line := event.first("DTEND"):
            return self.moment(event, line, line.value)
        if line := event.first("DURATION"):
            try:
                length: timedelta = vDuration.from_ical(line.value)  # type: ignore[no-untyped-call]
                return start + length
            except (ValueError, OverflowError):
                raise self.error(
                    f"line {line.number} of {event} must hold a length such as P1D or PT50M, but "
                    f"it holds {line.value[:40]!r}; mend it or delete the event"
                ) from None
        return start

    def moment(self, event: Event, line: Line, value: str) -> Moment:
        """A date, or a local date and time without a zone.

        A UTC time is turned into the event's own time zone, else the calendar's; without
        either it stays as written, which is noted.

        Raises
        ------
        CalendarError : the value is no date or lies outside 1900 to 2100.

        """
        found = re.fullmatch(r"([0-9]{8})(?:T([0-9]{4})([0-9]{2})?(Z?))?", value.strip().upper())
        try:
            if found is None:
                raise ValueError
            day, minute, second, utc = found.groups()
            read = datetime.strptime(day + (minute or "0000") + (second or "00"), "%Y%m%d%H%M%S")
            if read.year not in YEARS:
                raise ValueError
        except ValueError:
            raise self.error(
                f"line {line.number} of {event} must hold a date such as 20261012 or "
                f"20261012T080000, from {YEARS[0]} to {YEARS[-1]}, but it holds {value[:40]!r}; "
                "mend the date or delete the event"
            ) from None
        return self._local(event, read) if utc else read if minute else read.date()

    def _local(self, event: Event, utc: datetime) -> datetime:
        """A UTC time in the event's time zone, else the calendar's, else as it is."""
        start = event.first("DTSTART")
        zone = _zone(start.params.get("TZID", "")) if start else None
        zone = zone or self.zone
        if zone is None:
            self.note(NO_ZONE)
            return utc
        return utc.replace(tzinfo=UTC).astimezone(zone).replace(tzinfo=None)


def midnight(moment: Moment) -> datetime:
    """The moment itself, or the start of the day."""
    return moment if isinstance(moment, datetime) else datetime.combine(moment, time.min)


def _zone(name: str) -> ZoneInfo | None:
    """The time zone of that name, if it is known."""
    try:
        return ZoneInfo(name.strip())
    except (KeyError, ValueError, OSError):
        return None
