"""What `seedbeat check` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sim.telling import ASSUMED_TITLE, Answer, Table, iso, percent, whole

MOST = 12  # rows of a long list on the screen; the files hold all


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `check`."""
    school, window = answer["school"], answer["window"]
    yield (
        f"School: {school['days_in_session']} days in session from "
        f"{iso(school['first_day'], year=True)} to {iso(school['last_day'], year=True)}. Measured "
        f"are the {window['weeks']} weeks from {iso(window['first_day'], year=True)} to "
        f"{iso(window['last_day'], year=True)}."
    )
    yield from _sites(answer["places"])
    yield from (_needs(crop) for crop in answer["crops"])
    yield from _labor(answer)
    yield from _ceiling(answer)
    yield _calendar(answer)
    yield from _collisions(answer["collisions"])


def _sites(places: list[Answer]) -> Iterator[str]:
    finishing = [p for p in places if p["finishing"]]
    earlier = [p for p in places if not p["finishing"]]
    yield "Finishing sites: " + "; ".join(map(_place, finishing)) + "."
    if earlier:
        yield "Apart from these, for seedlings: " + "; ".join(map(_place, earlier)) + "."


def _place(place: Answer) -> str:
    kinds = place["container"] + "s"
    if place["containers"] is None:
        return f"{place['place']}, {whole(place['sites_each'])} in each, as many as it takes"
    text = (
        f"{place['place']}, {whole(place['containers'])} {kinds} x {whole(place['sites_each'])} = "
        f"{whole(place['sites'])}"
    )
    turns = place["turns_per_year"]
    return f"{text} ({turns:.1f} turns a year)" if turns else text


def _needs(crop: Answer) -> str:
    needed, seeded = crop["trays_per_week"], crop["trays_seeded_per_week"]
    text = f"{crop['crop'].capitalize()}, {crop['days']:g} days from seed to ready:"
    if not crop["heads_per_week"]:
        return f"{text} nothing is ordered; {seeded:.1f} trays a week are seeded."
    text += (
        f" {whole(crop['heads_per_week'])} heads ordered in a full week take "
        f"{whole(crop['transplants_per_week'])} transplants and {needed:.1f} trays a week; "
        f"{seeded:.1f} are seeded"
    )
    if seeded < needed:
        return f"{text}, which is too few."
    return f"{text}."


def _labor(answer: Answer) -> Iterator[str]:
    if not answer["staffed_by_crew"]:
        yield "Work: no crew is given, so no step may need anybody."
        return
    staffed, work = answer["staffed_minutes"], sum(w["minutes"] for w in answer["work"])
    used = percent(work / staffed) if staffed else "more than all"
    yield (
        f"Work of the orders: {whole(work)} of {whole(staffed)} person-minutes in an ordinary "
        f"week ({used})."
    )
    over = answer["weeks_over"]
    if over:
        listed = "; ".join(_over(week) for week in over[:4])
        more = f"; and {len(over) - 4} more, listed below" if len(over) > 4 else ""
        yield f"More work than minutes in {len(over)} weeks: {listed}{more}."


def _over(week: Answer) -> str:
    why = f" ({brief(week['why'])})" if week["why"] else ""
    return f"{iso(week['week_of'])}{why}, {whole(week['work'])} of {whole(week['staffed'])}"


def _ceiling(answer: Answer) -> Iterator[str]:
    found = answer["ceilings"]
    if found:
        first, rest = found[0], found[1:]
        ordered = sum(crop["heads_per_week"] for crop in answer["crops"])
        text = f"Ceiling: at most about {whole(first['heads_per_week'])} heads a week"
        if ordered:
            text += f" (the orders are {percent(ordered / first['heads_per_week'])} of it)"
        text += f"; what binds first: {_limit(first)}."
        if rest:
            told = ", ".join(f"{_limit(c)} {whole(c['heads_per_week'])}" for c in rest)
            text += f" The others: {told}."
        yield text


def _calendar(answer: Answer) -> str:
    highest, weeks = answer["highest_steadiness"], answer["impossible_weeks"]
    if highest is None:
        return "No delivery is due in the measured weeks."
    if not weeks:
        return "The calendar allows every week with deliveries to be met."
    listed = "; ".join(
        f"{iso(w['monday'], year=True)} ("
        + ", ".join(filter(None, (w["cause"], brief(w["closure"]))))
        + ")"
        for w in weeks[:4]
    )
    more = f"; and {len(weeks) - 4} more" if len(weeks) > 4 else ""
    return (
        f"The calendar allows at most {percent(highest)} of the weeks to be met. Impossible: "
        f"{listed}{more}."
    )


def _collisions(found: list[Answer]) -> Iterator[str]:
    serious = sorted(found, key=lambda c: (not c["lost"], -(c["waiting"] or 0)))[:3]
    for c in sorted(serious, key=lambda c: str(c["seeded"])):
        yield f"The seeding of {iso(c['seeded'])} {_fate(c)}"


def brief(name: str, most: int = 26) -> str:
    """A closure's name without what calendars put around it, cut to `most` letters."""
    name = name.split(" (", maxsplit=1)[0].split(" / ", maxsplit=1)[0]
    for start in ("No School - ", "No School: ", "School Closed - "):
        name = name.removeprefix(start)
    return name if len(name) <= most else name[: most - 3].rstrip() + "..."


def _limit(ceiling: Answer) -> str:
    return f"people ({ceiling['name']})" if ceiling["kind"] == "crews" else str(ceiling["name"])


def _fate(c: Answer) -> str:
    closed = c["why"] if c["why"] == "nobody there" else f"school closed ({brief(c['why'])})"
    text = f"is due for {c['task']} on {iso(c['due'])}, {closed}: "
    if c["lost"]:
        return text + "its plants are lost before anybody is there."
    if c["next_staffed"] is None:
        return text + "nobody is there later."
    return text + f"it waits until {iso(c['next_staffed'])}."


def tables(answer: Answer) -> list[Table]:
    """The tables of `check`."""
    return [
        _work_table(answer),
        _over_table(answer["weeks_over"]),
        _collision_table(answer["collisions"]),
        _change_table(answer["changed_seedings"]),
        _assumed_table(answer["assumed"]),
    ]


def _work_table(answer: Answer) -> Table:
    rows = tuple(
        (w["task"], w["kind"], whole(w["units"]), whole(w["minutes"])) for w in answer["work"]
    )
    crews = ", ".join(f"{c} {whole(m)}" for c, m in answer["staffed_by_crew"].items())
    headers = ("task", "kind of work", "units a week", "person-minutes")
    under = f"Staffed in an ordinary week, absence counted: {crews}." if crews else ""
    return Table("Work of the orders in an ordinary week", headers, rows, under, (0, 1))


def _over_table(weeks: list[Answer]) -> Table:
    rows = tuple(
        (iso(w["week_of"], year=True), brief(w["why"], 36), whole(w["work"]), whole(w["staffed"]))
        for w in weeks[:MOST]
    )
    headers = ("week of", "why", "work", "staffed")
    under = _rest(weeks)
    return Table("Weeks with more work than minutes [person-min]", headers, rows, under, (0, 1))


def _collision_table(found: list[Any]) -> Table:
    rows = tuple(
        (
            iso(c["seeded"]), c["crop"], c["task"], iso(c["due"]), brief(c["why"]),
            "lost" if c["lost"] else iso(c["next_staffed"]),
        )
        for c in found[:MOST]
    )  # fmt: skip
    headers = ("seeded", "crop", "due for", "on", "why nobody", "waits until")
    return Table("Steps due when nobody is there", headers, rows, _rest(found), tuple(range(6)))


def _change_table(found: list[Any]) -> Table:
    rows = tuple(
        (iso(c["planned"]), c["crop"], str(c["trays"]), c["what"], iso(c["to"]))
        for c in found[:MOST]
    )
    headers = ("planned", "crop", "trays", "break rule", "to")
    title = "Seedings that the break rule changed"
    return Table(title, headers, rows, _rest(found), (0, 1, 3, 4))


def _assumed_table(found: list[Any]) -> Table:
    rows = tuple((a["key"].replace('"', ""), _unit(a["value"])) for a in found)
    under = "The keys as in the file; --json and --out DIR give the reason for each."
    return Table(ASSUMED_TITLE, ("key", "taken as"), rows, under, (0, 1))


def _unit(value: str) -> str:
    return value.removesuffix("s") if value.startswith("1 ") and value.endswith("s") else value


def _rest(found: list[Any]) -> str:
    return (
        f"... and {len(found) - MOST} more; --out DIR writes them all." if len(found) > MOST else ""
    )
