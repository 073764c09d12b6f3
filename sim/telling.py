"""Answers told to people: plain sentences first, then tables. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sim.school_year import spoken

Answer = dict[str, Any]

MEASURE_NAMES = {
    "unit_fill_rate": "heads delivered of heads ordered",
    "order_fill_rate": "deliveries complete of those due",
    "steadiness": "weeks met of weeks with deliveries",
    "weakest_week": "years that met the weakest week",
    "bench_fill": "finishing sites filled",
    "useful_bench_share": "... with heads later delivered",
    "heads_per_week": "heads delivered a week",
    "wasted_plants": "good plants dumped a year",
    "labor_use": "person-minutes worked of staffed",
}
ASSUMED_TITLE = "Assumed until you count it"
_COUNTS = ("heads_per_week", "wasted_plants")


@dataclass(frozen=True)
class Table:
    """A table to be shown: a title, headers, rows of text, and a line under it."""

    title: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    under: str = ""
    text_columns: tuple[int, ...] = (0,)


class Screen(NamedTuple):
    """What one command tells: first in sentences, then in tables, then in small print."""

    title: str
    sentences: list[str]
    tables: list[Table]
    ends: list[str]


def percent(share: float | None) -> str:
    """A share as people read it: "94.8 %", "-" if there is none."""
    return "-" if share is None else f"{100 * share:.1f} %"


def whole(number: float | None) -> str:
    """A number without decimals, thousands separated; "-" if there is none."""
    return "-" if number is None else f"{number:,.0f}"


def how_often(share: float) -> str:
    """Common words for how often something happens (as USDA Market News uses them)."""
    steps = ((0.0, "none"), (0.05, "occasional"), (0.10, "few"), (0.25, "some"), (0.50, "many"))
    for limit, word in steps:
        if share <= limit + 1e-12:
            return word
    return "most" if share <= 0.90 else "nearly all"


def iso(text: str | None, *, year: bool = False) -> str:
    """An ISO date told as people say it."""
    return spoken(date.fromisoformat(text), year=year) if text else "-"


def years_of(answer: Answer) -> str:
    """How many years were simulated, in words."""
    years = answer["years"]
    return "in 1 simulated year" if years == 1 else f"in {years:,} simulated years"


def run_sentences(answer: Answer, upcoming: Sequence[Answer]) -> Iterator[str]:
    """The first screen of `run`: five answers in their order."""
    yield _complete_or_short(answer)
    yield from _weakest(answer)
    yield _next_seedings(upcoming)
    yield _sustained(answer)
    yield _sites(answer)


def _complete_or_short(answer: Answer) -> str:
    measures, due = answer["measures"], answer["weeks_due"]
    steady, fill = measures["steadiness"]["mean"], measures["unit_fill_rate"]["mean"]
    if steady is None:
        return "No delivery is due in the measured weeks, so nothing can be complete or short."
    if answer["complete"]:
        return f"COMPLETE: {years_of(answer)} every delivery of all {due} weeks left complete."
    return (
        f"SHORT in {how_often(1 - steady)} weeks: {years_of(answer)}, {steady * due:.1f} of the "
        f"{due} weeks with deliveries were complete on average ({percent(steady)}), and "
        f"{percent(fill)} of the heads ordered were delivered."
    )


def _weakest(answer: Answer) -> Iterator[str]:
    week = answer["weakest_week"]
    if week is None or answer["complete"]:
        return
    why = next(iter(week["causes"]), "")
    often = f"complete in {week['years_met']:,} of {answer['years']:,} years"
    text = f"Weakest week: the week of {iso(week['week_of'], year=True)}, {often}"
    if why:
        text += f"; mostly {why} ({whole(week['heads_short_per_year'])} heads short in a mean year)"
    yield text + "."
    if week["last_date_to_act"]:
        yield (
            f"Last date to act for it: {iso(week['last_date_to_act'], year=True)}. A tray seeded "
            "later is not ready for its first delivery."
        )


def _next_seedings(days: Sequence[Answer]) -> str:
    if not days:
        return "Seed next: no seeding is left on the list."
    told = "; ".join(f"{iso(d['day'])}: {d['trays']}" for d in days)
    return f"Seed next: {told}."


def _sustained(answer: Answer) -> str:
    ordered, ceilings = answer["ordered_per_week"], answer["ceilings"]
    heads = answer["measures"]["heads_per_week"]["mean"]
    text = f"Heads a week: {whole(heads)} delivered of {whole(ordered)} ordered."
    if ceilings:
        text += (
            f" What limits first: {ceilings[0]['name']}, at most about "
            f"{whole(ceilings[0]['heads_per_week'])} heads a week."
        )
    return text


def _sites(answer: Answer) -> str:
    filled, useful = (answer["measures"][k]["mean"] for k in ("bench_fill", "useful_bench_share"))
    if filled is None:
        return "Sites filled: the finishing places are unlimited, so no share can be given."
    return (
        f"Finishing sites filled: {percent(filled)} of {whole(answer['finishing_sites'])}; "
        f"filled with heads that were delivered: {percent(useful)}."
    )


def measures_table(answer: Answer) -> Table:
    """Every measure: mean, 95 % interval of the mean, 5-95 % range of single years."""
    rows = []
    for key, name in MEASURE_NAMES.items():
        e = answer["measures"][key]
        show = whole if key in _COUNTS else percent
        rows.append(
            (name, show(e["mean"]), _span(e, "low", "high", show), _span(e, "p05", "p95", show))
        )
    under = "Few years: read the intervals as rough." if answer["rough"] else ""
    first, last = (iso(answer["window"][k], year=True) for k in ("first_day", "last_day"))
    title = f"Measures, {answer['window']['weeks']} weeks from {first} to {last}"
    headers = ("measure", "mean", "95 % interval", "5-95 % of years")
    return Table(title, headers, tuple(rows), under)


def _span(estimate: Answer, low: str, high: str, show: Any) -> str:
    if estimate[low] is None or estimate[high] is None or estimate["n"] < 2:
        return "-"
    return f"{show(estimate[low])} to {show(estimate[high])}".replace(" % to", " to")


def losses_table(answer: Answer) -> Table:
    """Losses and dumped plants by place and cause."""
    rows = tuple(
        (r["place"], r["cause"], whole(r["plants_per_year"]), percent(r["share"]))
        for r in answer["losses"]
    )
    headers = ("place", "cause", "plants a year", "share")
    return Table("Plants lost and dumped in these weeks", headers, rows, text_columns=(0, 1))


def work_table(answer: Answer) -> Table:
    """Person-minutes a week by crew and kind of work."""
    kinds = [k for k in ("daily checks", "harvest", "moving", "seeding", "washing", "clearing")
             if any(r[k] for r in answer["work"])]  # fmt: skip
    rows = tuple(
        (r["crew"], whole(r["staffed"]), *(whole(r[k]) for k in kinds), percent(r["share"]))
        for r in answer["work"]
    )
    headers = ("crew", "staffed", *kinds, "used")
    return Table("Person-minutes a week", headers, rows)


def sites_table(answer: Answer) -> Table:
    """Containers and sites by place."""
    rows = tuple(
        (
            r["place"],
            "unlimited" if r["count"] is None else f"{r['count']:,} x {r['sites_each']:,}",
            whole(r["mean_taken"]),
            percent(r["share_of_containers"]),
            whole(r["mean_plants"]),
            percent(r["share_of_sites"]),
        )
        for r in answer["sites"]
    )
    headers = ("place", "trays, channels x sites", "taken", "share", "plants", "of sites")
    return Table("Where plants stand, mean of these weeks", headers, rows)


def weak_weeks_table(answer: Answer, most: int = 8) -> Table:
    """The weeks met least often."""
    due = [w for w in answer["weeks"] if w["share_of_years_met"] is not None]
    weak = sorted(due, key=lambda w: (w["share_of_years_met"], w["week_of"]))[:most]
    rows = tuple(
        (
            iso(w["week_of"], year=True),
            percent(w["share_of_years_met"]),
            whole(w["ordered"]),
            whole(w["delivered"]),
            f"{whole(w['delivered_p05'])} to {whole(w['delivered_p95'])}",
        )
        for w in sorted(weak, key=lambda w: str(w["week_of"]))
        if w["share_of_years_met"] < 1
    )
    headers = ("week of", "years met", "ordered", "delivered", "5-95 % of years")
    return Table("The weakest weeks", headers, rows)


def seeding_table(days: Sequence[tuple[str, str]]) -> Table:
    """The dated seeding list."""
    rows = tuple((iso(day, year=True), trays) for day, trays in days)
    return Table("Seeding list", ("day", "trays"), rows, text_columns=(0, 1))


def endings(answer: Answer) -> list[str]:
    """What was assumed, what the calendar left open, and the cautions."""
    ends = []
    if answer["assumed"]:
        count = len(answer["assumed"])
        ends.append(
            f"{count} number{'s were' if count > 1 else ' was'} assumed until you count "
            f"{'them' if count > 1 else 'it'}: seedbeat check {answer['file']} lists "
            f"{'them' if count > 1 else 'it'}."
        )
    ends += [f"Calendar: {note}" for note in answer["notes"]]
    return [*ends, "Cautions\n" + "\n".join(f"- {c}" for c in answer["cautions"])]
