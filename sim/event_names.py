"""What the name of a calendar event says of the school day.

Schools name events freely, so a name is read with the plain word lists below. A name closes
school only if it says so and leaves no doubt; whatever else it may mean is for a person to say.

Phrases are matched as whole words in any case, each word with or without a plural s, once
apostrophes and dots are dropped and hyphens inside words read as spaces.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

Meaning = Literal[
    "no school",  # says outright that students stay at home
    "day off",  # is the name of a closure: "Winter Break", "Labor Day"
    "early release",
    "exam",
    "exam and early release",
    "doubt",  # speaks of such a day, but not clearly
    "staff",  # a day for staff; school may be in session or not
    "other",  # speaks of no such day
]

NO_SCHOOL = (
    "no classes", "no students", "no student attendance", "no student day", "without students",
    "students off", "students do not attend", "students not in attendance", "non student day",
    "nonstudent day", "student free day", "pupil free day", "non attendance day", "no attendance",
    "not a school day", "closed to students", "closed for students", "school closed",
    "school are closed", "school is closed", "school and office closed",
    "school and district office closed", "school canceled", "school cancelled",
    "classes canceled", "classes cancelled", "school is canceled", "school is cancelled",
)  # fmt: skip
NO_SCHOOL_THING = (  # "no school bus" is not "no school"
    "bus", "buses", "uniform", "lunch", "breakfast", "meal", "supplies", "picture", "photo",
    "dance", "store", "nurse", "board", "musical", "play", "closure", "assembly", "fee",
)  # fmt: skip
DAY_OFF = (  # the last words of a name, fillers aside
    "holiday", "break", "recess", "vacation", "snow day", "labor day", "columbus day",
    "indigenous peoples day", "veterans day", "thanksgiving", "day after thanksgiving",
    "friday after thanksgiving", "christmas", "christmas eve", "new years", "new years day",
    "new years eve", "martin luther king", "martin luther king jr", "martin luther king junior",
    "mlk", "presidents day", "washingtons birthday", "memorial day", "juneteenth",
    "independence day", "fourth of july",
)  # fmt: skip
EARLY_RELEASE = (
    "early release", "early dismissal", "early out", "early closing", "noon dismissal",
    "half day", "minimum day", "shortened day", "short day", "abbreviated day", "late start",
    "late arrival", "late opening", "delayed start", "delayed opening", "delayed arrival",
    "hour delay", "school delayed",
)  # fmt: skip
EXAM = (
    "exam", "examination", "finals", "midterms", "test week", "testing week", "testing day",
    "testing window", "state testing", "standardized testing", "end of course testing",
    "assessment week", "state assessment",
)  # fmt: skip
STAFF = (
    "staff", "teacher", "workday", "work day", "professional development", "pd day",
    "in service", "inservice", "conference day",
)  # fmt: skip
OTHER_EVENT = (  # "Holiday Concert" is no holiday
    "concert", "game", "match", "meet", "meeting", "dance", "prom", "party", "parties", "parade",
    "feast", "lunch", "luncheon", "breakfast", "break fast", "dinner", "banquet", "show", "play",
    "musical", "performance", "recital", "rehearsal", "practice", "tryout", "camp", "club", "fair",
    "festival", "carnival", "sale", "drive", "fundraiser", "trip", "tour", "visit", "picture",
    "photo", "registration", "enrollment", "deadline", "due", "assembly", "ceremony", "market",
    "contest", "tournament", "championship", "bee", "movie", "night", "review", "study", "prep",
    "workshop", "webinar", "bus", "uniform", "homework", "packet", "ticket", "grades", "report",
    "basketball", "football", "soccer", "volleyball", "swim", "swimming", "track", "wrestling",
    "baseball", "softball", "tennis", "debate", "robotics", "physical", "eye", "state finals",
    "conference finals", "regional finals", "planning", "open house",
)  # fmt: skip
NEAR = (  # the day is near a break or an exam, not in it
    "before", "after", "until", "till", "resume", "reopen", "return", "back to", "back from",
    "countdown", "over", "during", "following", "prior to", "pre", "post",
)  # fmt: skip
EDGE = (  # the first or last day of a break, or the day it is reached
    "begin", "beginning", "start", "starting", "end", "ending", "first day", "last day",
    "dismissal", "dismiss", "dismissed", "leave",
)  # fmt: skip
IN_SESSION = ("in session", "school open", "regular day", "regular schedule", "classes held")
MAKE_UP = ("make up", "makeup")
UNSURE = (
    "not", "cancel", "canceled", "cancelled", "postponed", "rescheduled", "moved", "possible",
    "potential", "tentative", "tbd", "if", "unless", "maybe", "reminder", "tomorrow", "enjoy",
)  # fmt: skip
SOME_ONLY = (
    "senior", "junior", "sophomore", "freshman", "freshmen", "kindergarten", "pre k", "preschool",
    "elementary", "middle school", "grade 9", "grade 10", "grade 11", "grade 12", "9th grade",
    "10th grade", "11th grade", "12th grade", "ap", "sat exam", "sat testing", "psat", "act", "ib",
    "some",
)  # fmt: skip
FILLER = """
    a all am an and are at be before begin begins birthday block building by campus class
    classes collaboration conference conferences day days development dismissal district end ends
    every federal for from full high in inservice is january february march april may june july
    august september october november december jan feb mar apr jun jul aug sep sept oct nov dec
    mon tue tues wed thu thur thurs fri sat sun monday tuesday wednesday thursday friday saturday
    sunday legal local national noon observance observed of on parent pd period periods pm
    professional public quarter schedule school schools semester service session staff starts
    state student students teacher teachers term the this to today training trimester week weeks
    work workday year
"""


def _any_of(phrases: Iterable[str]) -> re.Pattern[str]:
    """A pattern that finds any of the phrases as whole words, the longest first."""
    longest_first = sorted(phrases, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(longest_first)})s?\b".replace(" ", "s? "))


_FILLER = frozenset(FILLER.split())
_NO_SCHOOL = re.compile(
    rf"{_any_of(NO_SCHOOL).pattern}|\bno school\b(?! (?:{'|'.join(NO_SCHOOL_THING)})s?\b)"
)
_DAY_OFF, _EARLY_RELEASE, _EXAM = _any_of(DAY_OFF), _any_of(EARLY_RELEASE), _any_of(EXAM)
_STAFF, _OTHER_EVENT, _NEAR = _any_of(STAFF), _any_of(OTHER_EVENT), _any_of(NEAR)
_NOT_OFF = _any_of((*OTHER_EVENT, *NEAR, *EDGE, *IN_SESSION, *MAKE_UP))
_IN_SESSION, _DOUBT = _any_of(IN_SESSION), _any_of((*UNSURE, *SOME_ONLY))
_DENIED = re.compile(
    rf"\b(?:no|not|non|without)(?: an?| the)? {_any_of((*DAY_OFF, *EARLY_RELEASE, *EXAM)).pattern}"
)
_MAKE_UP_DAY = re.compile(
    r"\b(?:possible |potential |emergency )?(?:snow |weather )?make ?up days?( if \w+)?\b"
)
_BACK_ON = re.compile(r"\|[^|]*\b(?:resum|reopen|return)[^|]*\d[^|]*")


def _parts(name: str) -> list[str]:
    """The name in plain lower-case words, cut where a dash, comma or bracket cuts it."""
    text = re.sub("[.'`\u2018\u2019\u00b4]", "", name.casefold())
    text = re.sub(r"(?:1/2|\u00bd)[ -]?(?=day)", "half ", text)
    text = re.sub(r"\s+-+|-+\s+|[\u2013\u2014:;,/()\[\]|!*\n]", "|", text.replace("&", " and "))
    text = re.sub(r"[^\w|]+|_+", " ", text)
    return [part.strip() for part in text.split("|") if part.strip()]


def _ends_with(phrases: re.Pattern[str], part: str) -> bool:
    """Whether a part of a name ends with one of the phrases, filler words aside."""
    found = list(phrases.finditer(part))
    rest = _DAY_OFF.sub("", part[found[-1].end() :]) if found else part
    return bool(found) and all(word in _FILLER or word[0].isdigit() for word in rest.split())


def _is_off(parts: list[str]) -> bool:
    """Whether the parts are the name of a closure and of nothing else."""
    text = _BACK_ON.sub("", "|".join(parts))
    if _NOT_OFF.search(_DAY_OFF.sub("", text)):
        return False
    return any(
        _ends_with(_DAY_OFF, part)
        or ("closed" in part.split() and _FILLER.issuperset(set(part.split()) - {"closed"}))
        for part in parts
    )


def meaning(name: str, days: int) -> Meaning:
    """What an event of that name says of the days it covers.

    `days` is how many days it covers [d]: "Early Release - Thanksgiving" on one day is an
    early release, over three days it is a doubt.
    """
    parts = _parts(name)
    text = "|".join(parts)
    says: set[Meaning] = set()
    for part in parts:
        if _ends_with(_EARLY_RELEASE, part) and not _OTHER_EVENT.search(part):
            says.add("early release")
        if _ends_with(_EXAM, part) and not (_OTHER_EVENT.search(part) or _NEAR.search(part)):
            says.add("exam")
    if _is_off(parts):
        says.add("day off")
    if _NO_SCHOOL.search(text):
        says.add("no school")
    if not says and not _DENIED.search(text):
        return "staff" if _STAFF.search(text) else "other"
    return _settled(text, says, days)


def _settled(text: str, says: set[Meaning], days: int) -> Meaning:
    """What a name means that says several things at once, or one thing with a doubt."""
    sure = _NO_SCHOOL.sub("", _MAKE_UP_DAY.sub("", _DAY_OFF.sub("", text)))
    if _DENIED.search(text) or _DOUBT.search(sure):
        return "doubt"
    if "no school" in says:
        mixed = any(p.search(text) for p in (_EARLY_RELEASE, _EXAM, _IN_SESSION))
        return "doubt" if mixed else "no school"
    if says == {"early release", "exam"}:
        return "exam and early release"
    if says == {"early release", "day off"} and days == 1:
        return "early release"
    return says.pop() if len(says) == 1 else "doubt"
