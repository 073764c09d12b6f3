"""The words of a school's records: headings, kinds of work, units, and what stands for a name."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from difflib import get_close_matches
from functools import cache
from typing import Final

from sim.agreement import advice, nearest
from sim.counts_values import WrongError
from sim.scenario import Scenario

PLANTS, CONTAINERS, PEOPLE, TIMES = "plants", "containers", "people", "times"  # kinds of unit

# field: its headings, the surest first; brackets and punctuation of a heading are passed over
HEADINGS: Final[dict[str, tuple[str, ...]]] = {
    "date": ("date", "date done", "done on", "day", "when"),
    "clock": ("starts", "start", "start time", "clock time", "time", "at"),
    "period": ("period", "class period", "shift"),
    "crew": ("crew", "who", "team", "done by", "by", "class", "group"),
    "crop": ("crop", "variety", "kind of lettuce", "plant"),
    "batch": ("batch", "batch name", "batch number", "lot", "tray lot"),
    "seeded": ("batch seeded on", "seeded on", "seeding date", "date seeded", "seed date"),
    "what": ("what", "what was done", "task", "work", "activity", "action", "event", "kind", "job"),
    "place": ("place", "where", "from", "from place", "location", "area", "bench"),
    "to": ("to place or customer", "to", "to place", "into", "moved to", "destination"),
    "customer": ("customer", "for whom", "for", "delivered to", "buyer", "client"),
    "unit": ("unit", "units", "of what"),
    "count": ("count", "counted", "number", "how many", "amount", "quantity", "qty", "no", "total"),
    "cause": ("cause", "why", "reason", "because"),
    "minutes": ("person minutes", "minutes", "min", "mins", "minutes worked", "time spent",
                "working time", "duration", "labor"),
    "people": ("people present", "present", "people", "number of people", "students present",
               "number of students", "student count", "attendance", "students", "how many people"),
}  # fmt: skip
NAMES_OF_PEOPLE: Final = frozenset(
    ("name", "names", "student", "students", "pupil", "pupils", "initials", "by", "who", "worker",
     "workers", "person", "teacher", "signed", "signature", "student name", "student names",
     "first name", "last name", "full name", "done by", "recorded by", "counted by",
     "filled in by", "written by", "worked by", "students present")
)  # fmt: skip
_NOBODY: Final = frozenset(
    ("all", "class", "everyone", "everybody", "nobody", "none", "na", "n a", "students", "staff",
     "adults", "teacher", "teachers", "volunteers", "leaves", "yes", "no")
)  # fmt: skip

KIND_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "seeded": ("seeded", "seed", "seeding", "sowed", "sown", "sow", "sowing", "seeds planted"),
    "missed": ("missed", "missed seeding", "not seeded", "seeding missed", "skipped"),
    "moved": ("moved", "move", "moving", "transplanted", "transplant", "transplanting", "set out",
              "re spaced", "respaced", "re spacing", "spaced"),
    "ready": ("ready", "finished", "ripe", "mature", "matured", "full size", "seen ready",
              "ready to move", "ready to transplant", "ready to cut", "ready to harvest"),
    "lost": ("lost", "loss", "losses", "died", "dead", "culled", "cull", "did not come up",
             "wilted", "damping off"),
    "harvested": ("harvested", "harvest", "harvesting", "cut", "picked", "packed"),
    "dumped": ("dumped", "dump", "thrown away", "threw away", "thrown out", "threw out",
               "composted", "compost", "discarded", "tossed", "wasted"),
    "washed": ("washed", "wash", "washing", "cleaned", "cleaning", "sanitized", "washed channels",
               "cleaned channels", "washed and sanitized"),
    "cleared": ("cleared", "clear", "clearing"),
    "checked": ("checked", "check", "checks", "daily check", "daily checks"),
    "delivered": ("delivered", "delivery", "deliver", "sent", "shipped", "sold"),
    "surplus": ("surplus", "given away", "donated", "donation"),
    "present": ("present", "people present", "people", "attendance", "shift"),
    "counted": ("counted", "count", "stand", "stand count", "alive", "standing"),
}  # fmt: skip
_WORKED_OUT: Final = frozenset(
    ("short", "due", "ordered", "order", "freed", "emptied", "not delivered")
)
_A_SLIP: Final = 0.85  # likeness from which a word is a known one, misspelt
TOTALS: Final = frozenset(["total", "totals", "subtotal", "sum", "average", "mean", "grand"])
COLD_STORE_WORDS: Final = ("cold store", "cooler", "walk in cooler", "walk in", "cold room",
                           "fridge", "refrigerator")  # fmt: skip
_UNITS: Final[dict[str, tuple[str, ...]]] = {
    PLANTS: ("plants", "plant", "heads", "head", "cells", "cell", "seeds", "seed", "seedlings",
             "seedling"),
    CONTAINERS: ("trays", "tray", "flats", "flat", "channels", "channel", "rafts", "raft",
                 "containers", "container"),
    PEOPLE: ("people", "persons", "person", "students", "student", "adults", "present"),
    TIMES: ("checks", "check", "times", "time", "days", "day"),
}  # fmt: skip
OTHER_CAUSE: Final = "other"  # what is kept of a cause in free words, which may hold names
_CAUSES: Final = (  # that are kept as they are, besides those of the scenario
    "did not come up", "lost at transplant", "nobody there", "no ready heads",
    "not enough minutes", "cold store full", "overgrown",
    "over-mature", "kept too long", "wilted", "dried out", "damping-off", "root rot", "mold",
    "mildew", "tipburn", "aphids", "thrips", "gnats", "pests", "algae", "bolted", "bitter",
    "broken", "damaged", "dropped", "spilled", "eaten", "too cold", "too hot", "frost",
    "power failure", "pump failure", "leak", "no water", "no seeds", "not sold", "canceled",
)  # fmt: skip
COUNT_HEADINGS: Final = ("trays", "flats", "cells", "seeds", "plants", "seedlings", "heads",
                         "channels", "rafts", "containers")  # fmt: skip


@cache
def bare(text: str) -> str:
    """Words in small letters, without brackets and what is in them, and without punctuation."""
    outside = re.sub(r"\[[^\]]*\]|\([^)]*\)", " ", text.replace("#", " number "))
    return " ".join(re.sub(r"[\W_]+", " ", outside.casefold()).split())


def in_brackets(text: str) -> str:
    """The bare words that stand in the brackets of a heading."""
    return bare(" ".join(re.findall(r"[\[(]([^\])]*)", text)))


# kinds that a table may have a column of each for, instead of a column What
COLUMN_KINDS: Final = ("seeded", "moved", "ready", "lost", "harvested", "dumped", "washed",
                       "delivered", "surplus", "counted")  # fmt: skip
_KINDS: Final = {word: kind for kind, words in KIND_WORDS.items() for word in words}


def kind_of(text: str) -> str:
    """The kind of record that a word says, such as "transplanted" for `moved`."""
    word = bare(text)
    if kind := _KINDS.get(word):
        return kind
    must = f"one of {', '.join(KIND_WORDS)}"
    if word in _WORKED_OUT:
        remedy = "take the row out: orders, and what is missing, are worked out from deliveries"
    elif word:
        near = nearest(word, KIND_WORDS) or nearest(word, _KINDS)
        remedy = f'did you mean "{near}"?' if near else "write one of these words"
    else:
        remedy = "write what was done"
    raise WrongError(must, remedy)


@cache
def _read_as(scenario_units: frozenset[str]) -> Mapping[str, str]:
    units = {word: family for family, words in _UNITS.items() for word in words}
    return units | dict.fromkeys(scenario_units, CONTAINERS)


def units_of(scenario: Scenario) -> Mapping[str, str]:
    """What each unit counts; the containers of the scenario's places are units too."""
    words = {bare(p.container) for p in scenario.places.values()}
    return _read_as(frozenset(words | {f"{w}s" for w in words} | {f"{w}es" for w in words}))


class Names:
    """The names of one kind that a scenario knows, and what people write for them."""

    def __init__(self, what: str, known: Iterable[str], also: Mapping[str, str]) -> None:
        self._what, self._known = what, list(known)
        self._read_as = dict(also) | {bare(name): name for name in self._known}

    @property
    def only(self) -> str:
        """The one name, or "" if there are none or several."""
        return self._known[0] if len(self._known) == 1 else ""

    def find(self, text: str) -> str:
        """The known name that a text means; "" if there is none or it may mean several.

        Besides the name itself that is a part of it, in whole words, that no other has.
        """
        word = bare(text)
        if not word or word in self._read_as:
            return self._read_as.get(word, "")
        found = {
            name for key, name in self._read_as.items() if f" {word} " in f" {key} "
        }  # fmt: skip
        return found.pop() if len(found) == 1 else ""

    def get(self, text: str) -> str:
        """The known name that a text means. Raises WrongError if there is none."""
        if found := self.find(text):
            return found
        must = f"{self._what} of the scenario"
        raise WrongError(must, advice(text or "?", self._known))


def names_of(scenario: Scenario) -> dict[str, Names]:
    """What crops, places, customers and crews are called, by the field they stand in."""
    containers: dict[str, list[str]] = {}
    for name, place in scenario.places.items():
        for word in (place.container, f"{place.container}s"):
            containers.setdefault(bare(word), []).append(name)
    places = {word: found[0] for word, found in containers.items() if len(found) == 1}
    customers = [order.customer for order in scenario.orders]
    customers += [outlet.outlet for outlet in scenario.surplus]
    return {
        "crop": Names("a crop", scenario.crops, {}),
        "place": Names("a place", scenario.places, places),
        "customer": Names("a customer", dict.fromkeys(customers), {}),
        "crew": Names("a crew", scenario.crews, {}),
    }


class Causes:
    """Causes that are kept: those of the scenario, the program's own, and plain words for a loss.

    Free text is not kept, as it may hold somebody's name.
    """

    def __init__(self, scenario: Scenario) -> None:
        stages = [stage for crop in scenario.crops.values() for stage in crop.stages]
        own = [s.loss_cause for s in stages] + [s.move_loss_cause for s in stages]
        own += [s.bad_event.cause for s in stages if s.bad_event]
        own += [f"no free {place.container}" for place in scenario.places.values()]
        self._known = {bare(cause): cause for cause in (*_CAUSES, *own) if cause}
        self._found: dict[str, str] = {"": ""}

    def find(self, text: str) -> str:
        """The known cause that a text means or has in it, in whole words; "other" if none."""
        word = bare(text)
        if word not in self._found:
            self._found[word] = self._search(word)
        return self._found[word]

    def _search(self, word: str) -> str:
        if near := get_close_matches(word[:80], self._known, n=1, cutoff=_A_SLIP):
            return self._known[near[0]]
        inside = [cause for key, cause in self._known.items() if f" {key} " in f" {word} "]
        return max(inside, key=len, default=OTHER_CAUSE)


def is_somebody(text: str, known: Collection[str]) -> bool:
    """Whether a text may be a person's name: it begins with a letter, and is nothing known."""
    word = bare(text)
    strange = word[:1].isalpha() and word not in _NOBODY
    return strange and not get_close_matches(word[:80], known, n=1, cutoff=_A_SLIP)
