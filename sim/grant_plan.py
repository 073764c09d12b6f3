"""Sections 11, 12, 14 and 15 of a justification: risks, evaluation, inputs, rebuilding."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from sim.grant_parts import Boxed, Bullets, Column, Grid, Part, Value
from sim.grant_words import assumed, assumed_told, kind_of, listed, ranged, whole, years_of
from sim.inputs import DEFAULT
from sim.telling import Answer, iso, percent

# -- 11 -----------------------------------------------------------------------------------------


def cautions(answer: Answer) -> Iterator[Part]:
    """Cautions word for word, the weakest weeks, and what the numbers rest on."""
    if answer["not_like_for_like"]:
        yield Boxed("Not like for like. " + " ".join(answer["not_like_for_like"]))
    yield "What the numbers rest on: " + " ".join(_rests_on(answer))
    for name, key in (("present greenhouse", "present"), ("proposal", "proposed")):
        if answer[key] and (told := _weak(answer[key])):
            yield f"Weakest weeks of the {name}, with the share of years that met them: {told}."
    yield Bullets(tuple(answer["cautions"]))


def _rests_on(answer: Answer) -> Iterator[str]:
    if answer["assumed"]:
        yield (
            f"{assumed_told(answer)} until somebody counts (section 14); "
            f"seedbeat swings {answer['file']} says which of them move the result most."
        )
    else:
        yield "every input stands in the file; whether it was counted, its source note says."
    for note in answer["notes"]:
        yield f"Calendar: {note.rstrip('.')}."
    yield (
        "The simulation knows nothing of what it was not told: breakdowns, pests, prices, staff "
        "who leave. A range tells the chances of growing and attendance, not errors of the inputs."
    )
    if answer["rough"]:
        yield f"Only {years_of(answer)}: the intervals are rough."


def _weak(case: Answer) -> str:
    due = [w for w in case["weeks"] if w["share_of_years_met"] not in (None, 1.0)]
    weak = sorted(due, key=lambda w: (w["share_of_years_met"], w["week_of"]))[:3]
    told = (f"{iso(w['week_of'], year=True)}: {percent(w['share_of_years_met'])}" for w in weak)
    return "; ".join(told)


# -- 12 -----------------------------------------------------------------------------------------


def evaluation(answer: Answer) -> Iterator[Part]:
    """What will be counted, how often, by whom, and what it is to be compared with."""
    yield (
        "These counts test the estimates after one term. The sheet Counts of seedbeat worklist "
        f"{answer['file']} --week DATE --out DIR is ready for most of them. Students are counted "
        "as a number; no names are written down."
    )
    yield _plan_grid(answer)
    yield Bullets(tuple(_how_to_judge(answer)))


def _plan_grid(answer: Answer) -> Grid:
    students = [c for c in answer["present"]["crews"] if c["students"]]
    adults = [c for c in answer["present"]["crews"] if not c["students"]]
    class_of = listed([f"{c['crew']} ({', '.join(c['shifts'])})" for c in students]) or "the class"
    staff = listed([c["crew"] for c in adults]) or "the teacher"
    plan = (
        ("heads delivered and heads short, by customer", "each delivery", staff, "heads_delivered"),
        ("deliveries with a head missing, with the cause", "each delivery", staff,
         "deliveries_short"),
        ("weeks with a delivery not complete", "each week", staff, "weeks_not_met"),
        ("seedlings lost, and plants lost in moving, by batch", "each transplant", class_of,
         "plants_lost"),
        ("good plants and heads dumped, with the cause", "when it happens", class_of,
         "wasted_plants"),
        ("trays not seeded in time, with the cause", "each seeding day", class_of, "trays_missed"),
        ("finishing sites that hold a plant", "once a week, same day", class_of, "bench_fill"),
        ("minutes of each task, and students present (a number)", "three periods a term", staff,
         "labor_use"),
    )  # fmt: skip
    rows: list[tuple[Value, ...]] = []
    for what, often, who, name in plan:
        cases = [case for case in (answer["present"], answer["proposed"]) if case]
        found = [case["counts"].get(name) or case["measures"][name] for case in cases]
        rows.append((what, often, who, *((e["p05"], e["p95"]) for e in found)))
    columns = [
        Column("count"), Column("how often"), Column("by whom"),
        Column("expected in 5-95 % of years", "number", span=True),
    ]  # fmt: skip
    if answer["proposed"]:
        columns.append(Column("with the proposal", "number", span=True))
    kinds = tuple(kind_of(name) for *_, name in plan)
    return Grid("Evaluation", "What to count", tuple(columns), tuple(rows), kinds=kinds)


def _how_to_judge(answer: Answer) -> Iterator[str]:
    case = answer["present"]
    yield (
        "One count in ten falls outside its 5-95 % range by chance; several, or one far outside, "
        "say that an input does not fit. Put the counted number into the file, with its source, "
        "and run the same command again."
    )
    yield (
        "Of ten batches write down the dates of seeding, transplant and first ready head: they "
        "replace the assumed lengths and their spread."
    )
    if not answer["proposed"]:
        return
    change = answer["differences"]["heads_delivered"]
    e = case["counts"]["heads_delivered"]
    if change["mean"] is not None and abs(change["mean"]) < (e["p95"] - e["p05"]) / 2:
        yield (
            "One year before and one after cannot show the expected difference in heads "
            f"delivered ({change['mean']:+,.0f} a year): single years differ by more "
            f"({ranged(e)}). Judge by the counts that the change acts on directly."
        )


# -- 14 -----------------------------------------------------------------------------------------


def inputs_table(answer: Answer) -> Iterator[Part]:
    """Every input: first those to be counted, then the rest."""
    found = assumed(answer)
    columns = (Column("where"), Column("what"), Column("value"), Column("unit"), Column("source"))

    def row(one: Answer) -> tuple[Value, ...]:
        return one["where"], one["what"], one["value"], one["unit"], one["note"]

    if found:
        yield (
            "Replace these numbers by your own counts; until then each is assumed, for the reason "
            "beside it."
        )
        yield Grid("To count", "Assumed until you count it", columns, tuple(map(row, found)))
    given = [one for one in answer["inputs"] if one not in found]
    shown = tuple(row(one) for one in given if one["note"] != DEFAULT)
    under = (
        f"{len(given) - len(shown)} more inputs were left at their defaults; the workbook lists "
        "them, in the order of the file."
    )
    every = tuple(map(row, answer["inputs"]))
    yield Grid("Inputs", "Inputs given", columns, shown, under, every=every)


# -- 15 -----------------------------------------------------------------------------------------


def rebuild(answer: Answer) -> Iterator[Part]:
    """Command, seed, years, versions and hashes."""
    yield (
        "The same command, files and versions give the same numbers and the same documents, on "
        "any number of processes. run.json, written beside them, holds every number."
    )
    rows: list[tuple[Value, ...]] = [("command", command(answer))]
    rows += [
        (f"scenario, {name}", f"{case['scenario']}; {case['file']}; hash {case['scenario_hash']}")
        for name, case in (("present", answer["present"]), ("proposal", answer["proposed"]))
        if case
    ]
    window = answer["present"]["window"]
    rows += [
        ("seed", str(answer["seed"])),
        ("simulated years of each", whole(answer["years"])),
        ("years whose rows were looked at", whole(answer["looked_at"])),
        (
            "measured weeks",
            f"{window['weeks']}, from {window['first_day']} to {window['last_day']}",
        ),
        ("versions", ", ".join(f"{name} {v}" for name, v in answer["versions"].items())),
        ("system", answer["system"]),
    ]
    yield Grid("Rebuild", "To rebuild the figures", (Column("what"), Column("value")), tuple(rows))


def command(answer: Answer) -> str:
    """The command that gives this answer."""
    words = ["seedbeat", "grant", answer["file"]]
    if answer["proposed"]:
        words += ["--compare", answer["proposed"]["file"]]
    words += ["--years", str(answer["years"]), "--seed", str(answer["seed"])]
    for cost in answer["costs"]:
        words += ["--cost", f"{cost['what']}={cost['dollars']:g}"]
    if answer["wage"] is not None:
        words += ["--wage", f"{answer['wage']:g}"]
    if largest := answer["present"]["largest"]:
        words += ["--capacity"]
        words += [f"--steadiness={largest['target']['steadiness']:g}"]
        words += [f"--weakest-week={largest['target']['weakest_week']:g}"]
    if answer["starts"]:
        words += ["--starts", answer["starts"]]
    return f"{shlex.join(words)} --out DIR"
