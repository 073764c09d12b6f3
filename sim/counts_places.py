"""Where the plants of a row stood, where they went, and to whom."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from sim.agreement import COLD_STORE
from sim.counts_values import WrongError
from sim.counts_words import COLD_STORE_WORDS, Names, bare
from sim.scenario import Scenario

NOT_LISTED = "Heads given away to somebody who is not in the scenario were kept as surplus"


class Stay(NamedTuple):
    """Place, place moved to, and customer of a row; "" for what it has not or does not say."""

    place: str
    to: str
    customer: str


def stay_of(
    kind: str, crop: str, written: Stay, scenario: Scenario, names: dict[str, Names]
) -> Stay:
    """Places and customer of a row of a kind, from the texts that are written for them.

    Raises WrongError if one of them is unknown, or not where the crop goes.
    """
    if kind in ("delivered", "surplus"):
        return _customer(kind, written, names["customer"])
    if kind in ("washed", "cleared"):
        return Stay(_cleaned(kind, written.place, scenario, names["place"]), "", "")
    if kind in ("checked", "present"):
        return Stay("", "", "")
    stages = [stage.place for stage in scenario.crops[crop].stages]
    if kind == "moved":
        return _move(crop, written, stages, names["place"])
    place = ""
    if bare(written.place) in COLD_STORE_WORDS:
        place = COLD_STORE
    elif written.place:
        place = _stage(crop, written.place, stages, names["place"], "place")
    if place == COLD_STORE and kind not in ("harvested", "dumped"):
        remedy = 'write "dumped" for heads thrown away, or mend the place'
        raise WrongError("a place where plants grow", remedy, "place")
    wanted = {"seeded": stages[0], "missed": stages[0], "harvested": stages[-1]}.get(kind)
    if wanted and place not in ("", wanted, COLD_STORE):
        raise WrongError(f"{wanted}, where {crop} is {kind}", "mend the place", "place")
    return Stay(wanted or place, "", "")


def _stage(crop: str, written: str, stages: list[str], names: Names, field: str) -> str:
    """A place where a crop stands at some stage."""
    place = _known(written, names, field)
    if place not in stages:
        must = f"a place where {crop} stands: {', '.join(dict.fromkeys(stages))}"
        raise WrongError(must, "mend the place or the crop", field)
    return place


def _known(written: str, names: Names, field: str) -> str:
    try:
        return names.get(written)
    except WrongError as wrong:
        raise WrongError(wrong.must, wrong.remedy, field) from None


def _move(crop: str, written: Stay, stages: list[str], names: Names) -> Stay:
    """From where to where; one of the two is enough, and neither for a crop that moves once."""
    steps = list(pairwise(stages))
    if not steps:
        remedy = "mend what was done, or the crop"
        raise WrongError(f"none of {crop}, which is never moved", remedy, "what")
    source = _stage(crop, written.place, stages, names, "place") if written.place else ""
    target = _stage(crop, written.to, stages, names, "to") if written.to else ""
    if not target and source == stages[-1]:
        source, target = "", source  # the only place written is the one moved into
    found = [s for s in steps if source in ("", s[0]) and target in ("", s[1])]
    if len(found) == 1:
        return Stay(*found[0], "")
    told = "; ".join(f"from {a} to {b}" for a, b in steps)
    must = f"a move of {crop}: {told}"
    raise WrongError(must, "write from where and to where", "to" if written.to else "place")


def _cleaned(kind: str, written: str, scenario: Scenario, names: Names) -> str:
    """The place of what was washed or cleared; without one the only place with such a task."""
    if written:
        return _known(written, names, "place")
    places = scenario.places.items()
    with_task = [n for n, p in places if (p.washed_by if kind == "washed" else p.cleared_by)]
    if len(with_task) == 1:
        return with_task[0]
    raise WrongError("a place of the scenario", "write where it was done", "place")


def _customer(kind: str, written: Stay, names: Names) -> Stay:
    """To whom: the first of the texts that may say so, or the only customer there is."""
    texts = {"customer": written.customer, "to": written.to, "place": written.place}
    said = {f: t for f, t in texts.items() if t and bare(t) not in COLD_STORE_WORDS}
    field, text = next(iter(said.items()), ("customer", names.only))
    if kind == "surplus":
        return Stay(COLD_STORE, "", names.find(text))
    return Stay(COLD_STORE, "", _known(text, names, field))
