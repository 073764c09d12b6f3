"""Sections 6 to 10 of a justification: service, losses, labor, cost, timeline."""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_parts import Bullets, Column, Grid, Kind, Part, Shown, Span, Value, shown
from sim.grant_words import COUNTS, MEASURES, kind_of, name_of, whole, years_of
from sim.telling import Answer, iso

_CASES = (("present", "", ""), ("proposed", " proposal", " with the proposal"))


def _cases(answer: Answer) -> Iterator[tuple[Answer, str, str]]:
    """Each greenhouse with what tells its sheets and its titles apart."""
    for key, sheet, title in _CASES:
        if answer[key]:
            yield answer[key], sheet, title


# -- 6 ------------------------------------------------------------------------------------------


def throughput(answer: Answer) -> Iterator[Part]:
    """Measures and yearly counts, each with its definition and denominator."""
    window = answer["present"]["window"]
    yield (
        f"Over {window['weeks']} whole weeks, in {years_of(answer)}: the mean, its 95 % interval, "
        "and the range of single years. Every measure is defined below the tables, with what it "
        "is divided by."
    )
    for case, sheet, title in _cases(answer):
        yield _measures_grid(case, f"Measures{sheet}", f"Throughput and service{title}")
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (name, definition) for name, _, definition in MEASURES.values()
    )
    columns = (Column("measure"), Column("definition: numerator / denominator"))
    yield Grid("Definitions", "Definitions", columns, rows)
    yield Shown(
        "ordered_and_delivered",
        "Heads ordered and delivered each week: mean and 5-95 % of the years.",
        "Chart of heads ordered and heads delivered by week, with the range of single years.",
    )


def _measures_grid(case: Answer, sheet: str, title: str) -> Grid:
    found = {**case["measures"], **{n: case["counts"][n] for n in COUNTS}}
    rows, kinds = [], []
    for name, e in found.items():
        spans: list[Span] = [(e["low"], e["high"]), (e["p05"], e["p95"])]
        kinds.append(kind_of(name))
        unit = "share" if kinds[-1] == "share" else "count"
        rows.append((name_of(name), unit, e["mean"], *spans))
    columns = (
        Column("measure"), Column("is a"), Column("mean", "number"),
        Column("95 % interval", "number", span=True),
        Column("5-95 % of years", "number", span=True),
    )  # fmt: skip
    return Grid(sheet, title, columns, tuple(rows), kinds=tuple(kinds))


# -- 7 ------------------------------------------------------------------------------------------


def losses(answer: Answer) -> Iterator[Part]:
    """Plants lost and dumped, seedings missed and heads short, by cause."""
    yield (
        "Plants lost while growing or moving, and good plants dumped, in a mean year of the "
        "measured weeks, by place and cause; the share is of all plants lost or dumped."
    )
    for case, sheet, title in _cases(answer):
        yield _losses_grid(case, f"Losses{sheet}", f"Plants lost and dumped{title}")
        yield _causes_grid(
            case, f"Short and missed{sheet}", f"Heads short, cells not seeded{title}"
        )


def _losses_grid(case: Answer, sheet: str, title: str) -> Grid:
    rows = tuple(
        (r["place"], r["cause"], r["what"], r["plants_per_year"], r["share"])
        for r in case["losses"]
    )
    columns = (
        Column("place"), Column("cause"), Column("lost or dumped"),
        Column("plants a year", "count"), Column("share", "share"),
    )  # fmt: skip
    return Grid(sheet, title, columns, rows)


def _causes_grid(case: Answer, sheet: str, title: str) -> Grid:
    rows = [("heads short", r["cause"], r["a_year"]) for r in case["short_causes"]]
    rows += [("cells not seeded", r["cause"], r["a_year"]) for r in case["missed_causes"]]
    columns = (Column("what"), Column("cause"), Column("a year", "number"))
    return Grid(sheet, title, columns, tuple(rows))


# -- 8 ------------------------------------------------------------------------------------------


def labor(answer: Answer) -> Iterator[Part]:
    """Hours of students and staff, and the work by task."""
    case = answer["present"]
    if not case["hours"]:
        yield "No crew is given and no work needs anybody, so no hours can be shown."
        return
    yield " ".join(_contact(case))
    for each, sheet, title in _cases(answer):
        yield _hours_grid(answer, each, f"Hours{sheet}", f"Hours present and hours worked{title}")
        yield _work_grid(each, f"Work{sheet}", f"Work by task{title}")
    yield Shown(
        "work_and_staffing",
        "Work done and minutes staffed each week, mean of all simulated years.",
        "Stacked chart of person-minutes worked by kind of work and of those staffed, by week.",
    )


def _contact(case: Answer) -> Iterator[str]:
    students = [h for h in case["hours"] if h["students"]]
    adults = [h for h in case["hours"] if not h["students"]]
    first, last = (iso(day, year=True) for day in case["school"])
    if students:
        a_year, of_year = (sum(h[key] for h in students) for key in ("present", "school_year"))
        yield (
            f"Student contact hours, students present x length of the class period: an estimated "
            f"{whole(a_year)} in the measured weeks of a year, and {whole(of_year)} from {first} "
            f"to {last} by arithmetic. Class minutes are instruction, not a quota."
        )
    if adults:
        a_year, of_year = (sum(h[key] for h in adults) for key in ("present", "school_year"))
        yield (
            f"Staff hours: {whole(a_year)} in the measured weeks, {whole(of_year)} from {first} to "
            f"{last}."
        )


def _hours_grid(answer: Answer, case: Answer, sheet: str, title: str) -> Grid:
    rows = tuple(
        (
            h["crew"], "students" if h["students"] else "adults", h["people"], h["present"],
            (h["present_p05"], h["present_p95"]), h["school_year"], h["available"], h["worked"],
            h["share"],
        )
        for h in case["hours"]
    )  # fmt: skip
    columns = (
        Column("crew"), Column("who"), Column("people", "count"), Column("present", "count", "h"),
        Column("5-95 % of years", "count", "h", True), Column("school year", "count", "h"),
        Column("for work", "count", "h"), Column("worked", "count", "h"), Column("share", "share"),
    )  # fmt: skip
    under = (
        "Hours of a mean year. Present: people present x length of the shift, in the measured "
        f"weeks ({answer['looked_at']} of the years); school year: the same by arithmetic, for the "
        "whole school year. For work: working minutes of those present; share: worked of those."
    )
    return Grid(sheet, title, columns, rows, under)


def _work_grid(case: Answer, sheet: str, title: str) -> Grid:
    total = sum(r["hours"] for r in case["work_hours"])
    rows = tuple(
        (r["work"], r["students"], r["adults"], r["hours"], r["hours"] / total)
        for r in case["work_hours"]
    )
    columns = (
        Column("work"), Column("students", "count", "h a year"),
        Column("adults", "count", "h a year"), Column("together", "count", "h a year"),
        Column("share", "share"),
    )  # fmt: skip
    return Grid(sheet, title, columns, rows, "Person-hours worked in the measured weeks.")


# -- 9 ------------------------------------------------------------------------------------------


def costs(answer: Answer) -> Iterator[Part]:
    """Dollars per head, with labor valued apart."""
    if not answer["present"]["costs"]:
        yield (
            "No cost was given, so cost per head is left out; give --cost NAME=AMOUNT (dollars a "
            "year) for each cost, and --wage for adults' hours."
        )
        return
    yield " ".join(_cost_notes(answer))
    for case, sheet, title in _cases(answer):
        yield _costs_grid(case, f"Costs{sheet}", f"Cost per head{title}")


def _cost_notes(answer: Answer) -> Iterator[str]:
    yield (
        "Dollars a year / heads delivered in the measured weeks of a year; the range holds 5-95 % "
        "of the years."
    )
    if answer["wage"] is None:
        yield "Labor is not valued, because no wage was given (--wage)."
    else:
        rate, hours = shown(answer["wage"], "dollars"), answer["present"]["costs"]["adult_hours"]
        yield (
            f"Adults' hours, {whole(hours)} in the school year, are valued at {rate} an hour and "
            "kept apart. Students' hours are instruction and are not valued."
        )
    if answer["proposed"]:
        yield (
            "The same costs are taken for both; what the change itself costs is in neither unless "
            "it was given."
        )


def _costs_grid(case: Answer, sheet: str, title: str) -> Grid:
    rows = tuple(
        (r["what"], r["dollars"], r["per_head"], (r["per_head_p05"], r["per_head_p95"]))
        for r in case["costs"]["rows"]
    )
    columns = (
        Column("cost"), Column("a year", "dollars", "dollars"),
        Column("per head", "per head", "dollars"),
        Column("5-95 % of years", "per head", "dollars", True),
    )  # fmt: skip
    under = f"Heads delivered a year: {whole(case['costs']['heads'])}."
    return Grid(sheet, title, columns, rows, under)


# -- 10 -----------------------------------------------------------------------------------------


def timeline(answer: Answer) -> Iterator[Part]:
    """Months with their seedings, deliveries and closures; the first heads of a proposal."""
    case, window = answer["present"], answer["present"]["window"]
    yield (
        f"From {iso(case['run'][0], year=True)} to the last measured week. Measured are the weeks "
        f"from {iso(window['first_day'], year=True)} to {iso(window['last_day'], year=True)}; "
        "before them the greenhouse fills up. Seedings follow the break rule "
        f'"{case["break_rule"]}".'
    )
    for each, sheet, title in _cases(answer):
        if each is case or each["months"] != case["months"]:
            yield _months_grid(each, f"Timeline{sheet}", f"Timeline by month{title}")
    if answer["proposed"]:
        yield from _first_more(answer)


def _months_grid(case: Answer, sheet: str, title: str) -> Grid:
    rows = tuple(
        (
            m["month"], m["school_days"], m["seeding_days"], m["trays"], m["deliveries"],
            m["heads"], "; ".join(m["closures"]) or "none",
        )
        for m in case["months"]
    )  # fmt: skip
    count: Kind = "count"
    columns = (
        Column("month", "month"), Column("school days", count), Column("seeding days", count),
        Column("trays to seed", count), Column("deliveries due", count),
        Column("heads due", count), Column("closures"),
    )  # fmt: skip
    return Grid(sheet, title, columns, rows, "As planned: the dated seeding list and the orders.")


def _first_more(answer: Answer) -> Iterator[Part]:
    cycles = "; ".join(f"{c['crop']} {c['days']:g} days" for c in answer["proposed"]["cycles"])
    if not answer["starts"]:
        yield (
            "The first additional heads can be delivered one cycle after the change can be used: "
            f"{cycles}, at mean lengths. Give --starts DATE to have the dates worked out."
        )
        return
    yield (
        f"The change can be used from {iso(answer['starts'], year=True)}. The first additional "
        f"heads come one cycle after the next day with somebody to seed: {cycles} at mean lengths, "
        "longer in months with a slower pace."
    )
    told = (
        f"{one['crop']}: seeded {iso(one['seeded'], year=True)}, ready about "
        f"{iso(one['ready'], year=True)}, {_first_delivery(one)}"
        for one in answer["first_more"]
    )
    yield Bullets(tuple(told))


def _first_delivery(one: Answer) -> str:
    if one["leaves"]:
        return f"first delivery on or after that: {iso(one['leaves'], year=True)}."
    return "after the last delivery of these orders."
