"""What `seedbeat capacity` says, told to people in tables."""

from __future__ import annotations

from typing import Any

from sim.answers import by_day
from sim.telling import Answer, Table, iso, percent, seeding_table, whole
from sim.telling_capacity import told_cases


def tables(answer: Answer) -> list[Table]:
    """The tables of `capacity`."""
    limits = answer["limits"]
    found = [_sizes_table(answer), _cadences_table(answer)]
    if limits:
        at = f"at {whole(answer['next_larger']['heads_per_week'])} heads a week"
        found += [_reliefs_table(limits, at), _fullness_table(limits, at)]
        found += [_lost_table(limits, at), _over_table(limits["weeks_over"], at)]
    found.append(_orders_table(answer["orders"]))
    if answer["seedings"]:
        found.append(seeding_table(by_day(answer["seedings"])))
    return found


def _sizes_table(answer: Answer) -> Table:
    claimed = answer["claim"]["cases"] if answer["claim"] else None
    rows = tuple(
        (
            whole(r["heads_per_week"]), told_cases(r["cases"]).split()[0],
            "claimed" if r["cases"] == claimed else r["verdict"],
            _percents(r["best"]["steadiness"], 1), _percents(r["best"]["weakest_week"], 0),
        )
        for r in answer["sizes"]
    )  # fmt: skip
    headers = ("heads", "cases", "verdict", "weeks met, %", "weakest, %")
    under = (
        "Verdicts come from the search; weeks met and years that met the weakest week are those of "
        "the chosen or nearest cadence (next table) in years that had no part in it, with 95 % "
        "intervals."
        + (
            " The claimed size was simulated once more for the sentence above."
            if answer["claim"]
            else ""
        )
    )
    return Table("Sizes tried, a week", headers, rows, under, (2,))


def _percents(estimate: Answer, decimals: int) -> str:
    mean, low, high = (f"{100 * estimate[key]:.{decimals}f}" for key in ("mean", "low", "high"))
    return f"{mean} ({low} to {high})"


def _cadences_table(answer: Answer) -> Table:
    rows = tuple(
        (
            told_cases(r["cases"]).split()[0], whole(r["years"]), whole(r["cadences"]),
            whole(r["best"]["wasted_plants"]["mean"]), r["best"]["name"],
        )
        for r in answer["sizes"]
    )  # fmt: skip
    title = "The chosen or nearest cadence of each size"
    headers = ("cases", "years", "tried", "wasted", "cadence")
    under = (
        "Years simulated and cadences tried at each size; wasted are good plants dumped a year, "
        "mean. The file sizes.csv (--out) has the intervals."
    )
    return Table(title, headers, rows, under, text_columns=(4,))


def _reliefs_table(limits: Answer, at: str) -> Table:
    every = [{**limits["together"], "name": "all of these"}] if limits["together"] else []
    rows = tuple(
        (
            r["name"] or ("twice the people" if r["kind"] == "people" else r["kind"]),
            percent(r["steadiness"]), percent(r["weakest_week"]),
            f"{100 * r['gain']['mean']:+.1f} ({100 * r['gain']['low']:+.1f} to "
            f"{100 * r['gain']['high']:+.1f})",
            f"x {r['trays']:g}",
        )
        for r in [*limits["reliefs"], *every]
    )  # fmt: skip
    headers = ("without the limit of", "weeks met", "weakest", "gain in points (95 %)", "trays")
    without = limits["without"]
    under = (
        f"With the limits: {percent(without['steadiness']['mean'])} of weeks met, the weakest in "
        f"{percent(without['weakest_week']['mean'])} of {without['years']} years. The same "
        "cadence and chances, with the trays as listed or more, whichever met most weeks."
    )
    return Table(f"What more of one thing would do {at}", headers, rows, under)


def _fullness_table(limits: Answer, at: str) -> Table:
    rows = tuple(
        (
            f["name"] or "minutes of the people",
            percent(f["mean"]), percent(f["fullest"]), iso(f["monday"], year=True),
        )
        for f in limits["fullness"]
    )  # fmt: skip
    headers = ("what", "taken, mean", "fullest week", "week of")
    return Table(f"How full {at}", headers, rows, text_columns=(0, 3))


def _lost_table(limits: Answer, at: str, most: int = 8) -> Table:
    rows = [
        *(("heads short", cause, n) for cause, n in limits["heads_short_per_year"].items()),
        *(("cells not seeded", c, n) for c, n in limits["cells_missed_per_year"].items()),
        *((f"lost, {r['place']}", r["cause"], r["plants"]) for r in limits["plants_lost_per_year"]),
    ]
    told = tuple((what, cause, whole(n)) for what, cause, n in rows if n >= 0.5)
    headers = ("what", "cause", "a year")
    return Table(f"Short, missed and lost {at}", headers, told[:most], text_columns=(0, 1))


def _over_table(weeks: list[Any], at: str, most: int = 8) -> Table:
    rows = tuple(
        (iso(w["week_of"], year=True), w["why"][:36], whole(w["work"]), whole(w["staffed"]))
        for w in weeks[:most]
    )
    headers = ("week of", "why", "work", "staffed")
    title = f"Weeks with more work than minutes {at} [person-min]"
    return Table(title, headers, rows, "By arithmetic, without chance.", (0, 1))


def _orders_table(orders: list[Any]) -> Table:
    rows = tuple(
        (o["customer"], o["crop"], o["weekday"], whole(o["heads_now"]), whole(o["heads_claimed"]))
        for o in orders
        if o["heads_now"] != o["heads_claimed"]
    )
    headers = ("customer", "crop", "day", "heads now", "claimed")
    under = (
        "Deliveries that are not listed stay as they are, and so do dates, pauses, leaving times "
        "and priorities. A delivery is at least one case."
    )
    return Table("Orders at the claimed size", headers, rows, under, (0, 1, 2))
