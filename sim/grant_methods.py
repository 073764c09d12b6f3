"""Section 13 of a justification: the methods page, by the items of STRESS-DES.

Monks, Currie, Onggo, Robinson, Kunc & Taylor (2019), Strengthening the reporting of empirical
simulation studies: Introducing the STRESS guidelines, Journal of Simulation 13(1):55-67; headings
from memory, checked against a published checklist of version 1.0.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_parts import Heading, Item, Part
from sim.grant_words import MEASURES, assumed_told, listed, plural, whole
from sim.telling import Answer, iso

Items = Iterator[tuple[str, str]]


def methods(answer: Answer) -> Iterator[Part]:
    """The items under their headings."""
    yield (
        "By the items of STRESS-DES (Monks et al., Journal of Simulation 13(1):55-67, 2019), "
        "filled in from this run."
    )
    for number, (heading, items) in enumerate(SECTIONS.items(), 1):
        yield Heading(f"{number}. {heading}")
        for n, (name, text) in enumerate(items(answer), 1):
            yield Item(f"{number}.{n} {name}", text)


def _objectives(answer: Answer) -> Items:
    yield (
        "Purpose of the model",
        f"To estimate what the greenhouse of {answer['scenario']} can deliver of its standing "
        "orders in a school year, what limits it, and what a change would add.",
    )
    names = ", ".join(name for name, *_ in MEASURES.values())
    yield (
        "Model outputs",
        f"{names[0].upper()}{names[1:]}; yearly counts of heads, deliveries, weeks, losses and "
        "hours. Section 6 defines each; they are computed from the events of each year. Intervals "
        "of means: Student's t; of the weakest week: exact (Clopper and Pearson, 1934).",
    )
    if answer["proposed"]:
        aim = (
            f"Scenario based: the present greenhouse against {answer['proposed']['scenario']}, "
            "in the same simulated years."
        )
    else:
        aim = "One scenario, the present greenhouse; no alternative was tried and none optimized."
    yield "Experimentation aims", aim


def _logic(answer: Answer) -> Items:
    case = answer["present"]
    ways = [
        " -> ".join([
            f"{c['crop']}: seeding",
            *(f"{s['place']} ({s['days']:g} days)" for s in c["stages"]),
            "harvest", "cold store", "delivery",
        ])
        for c in case["cycles"]
    ]  # fmt: skip
    yield "Base model overview", "; ".join(ways) + "."
    yield (
        "Base model logic",
        "A batch is what is seeded together. Each stage has a drawn length and a drawn loss; "
        "moves, harvest and washing need people in dated shifts; plants that find no free place "
        "wait and are dumped after their keep days. Heads are harvested for dated deliveries "
        + ("or when ready, " if any(c["harvest"] == "when ready" for c in case["cycles"]) else "")
        + "and leave from a cold store.",
    )
    count = len(answer["changed_inputs"])
    yield (
        "Scenario logic",
        f"The proposal is the same model with {plural(count, 'input')} changed (section 5)."
        if answer["proposed"]
        else "There is one scenario only.",
    )
    order = ", ".join(f"{t['task']} ({t['priority']})" for t in case["tasks"])
    yield (
        "Algorithms",
        f'The cadence becomes a dated seeding list by the break rule "{case["break_rule"]}". '
        + (
            f"A crew takes the workable task of the lowest number, then the oldest: {order}. "
            if order
            else ""
        )
        + "Heads of a delivery are shared by customer rank, pro rata within a rank.",
    )
    yield "Components", " ".join(_components(answer))


def _components(answer: Answer) -> Iterator[str]:
    case = answer["present"]
    yield "Entities: batches of plants with their number alive, and heads in the cold store."
    works = ", ".join(row["work"] for row in case["work_hours"])
    yield f"Activities: {works}." if works else "Activities: none needs people."
    resources = listed([f"{r['name']} ({r['now']})" for r in case["resources"]])
    yield f"Resources: {resources}."
    yield (
        "Queues: the oldest first in every place; the store is first in, first out; plants that "
        "wait beyond their keep days are dumped."
    )
    yield "Entry: dated seedings. Exit: delivered, surplus, lost or dumped."


def _data(answer: Answer) -> Items:
    sources = [f"{key}: {text}" for key, text in answer["sources"].items()]
    files = [case["file"] for case in (answer["present"], answer["proposed"]) if case]
    told = f"The scenario {'files' if len(files) > 1 else 'file'} {listed(files)}"
    told += f"; source notes: {'; '.join(sources)}." if sources else ", without source notes."
    yield "Data sources", told
    notes = " ".join(f"{note.rstrip('.')}." for note in answer["notes"])
    yield (
        "Pre-processing",
        f"Calendar read into closures and special days. {notes}" if notes else "Nothing was done.",
    )
    yield (
        "Input parameters",
        f"All {len(answer['inputs'])} are listed in section 14 with unit and source. Lengths: "
        "normal, lognormal, gamma or exponential as given, rounded to whole days. Stand: "
        "beta-binomial by batch. Attendance: binomial.",
    )
    told = f"{assumed_told(answer)}, listed first in section 14."
    yield (
        "Assumptions",
        told if answer["assumed"] else "No number was assumed; all stand in the file.",
    )


def _experimentation(answer: Answer) -> Items:
    case, window = answer["present"], answer["present"]["window"]
    start, end = (iso(day, year=True) for day in case["run"])
    yield (
        "Initialization",
        f"A terminating system that starts on {start}, "
        f"{'empty' if case['starts_empty'] else 'with what stands there'}. Warm-up: what "
        f"happens before {iso(window['first_day'], year=True)} is simulated and not measured.",
    )
    yield (
        "Run length",
        f"To {end}, in days, so that the fate of all measured plants is known; measured are "
        f"{window['weeks']} weeks to {iso(window['last_day'], year=True)}.",
    )
    yield (
        "Estimation approach",
        f"{whole(answer['years'])} independent replications"
        + (" of each scenario with common random numbers" if answer["proposed"] else "")
        + ", chosen beforehand; no early stopping. "
        + (
            "Differences are taken year by year; the interval of the weakest week's difference "
            "comes of resampling the years; verdicts share an error of "
            f"{100 * answer['error']['of_all_verdicts']:.0f} % (Bonferroni)."
            if answer["proposed"]
            else "Intervals are for single measures, not for all together."
        ),
    )


def _implementation(answer: Answer) -> Items:
    versions = ", ".join(f"{name} {version}" for name, version in answer["versions"].items())
    yield "Software", f"{versions}; on {answer['system']}."
    yield (
        "Random sampling",
        f"Counter-based: each number is a keyed hash (BLAKE2b, RFC 7693) of seed {answer['seed']}, "
        "the replication and what asks for it (cause, crop, week of seeding, stage; crew, date, "
        "shift), made into a draw by inversion. Years of the same number have the same chances "
        "in every scenario.",
    )
    yield (
        "Model execution",
        "Process interaction and events on SimPy. Ties: task priority, then age, then the order of "
        "the file. Years may run on several processes; the results do not depend on it.",
    )
    yield (
        "System specification",
        "Any computer that runs the software above; results do not depend on the hardware, and run "
        "times are not recorded.",
    )


def _access(answer: Answer) -> Items:
    files = listed([case["file"] for case in (answer["present"], answer["proposed"]) if case])
    yield (
        "Computer model sharing statement",
        f"The model is the Python package seedbeat, with its source code; the inputs are {files}, "
        "with the calendar and base files they name. Hand them in with this document, and add here "
        "where you got the package.",
    )


SECTIONS = {
    "Objectives": _objectives,
    "Logic": _logic,
    "Data": _data,
    "Experimentation": _experimentation,
    "Implementation": _implementation,
    "Code access": _access,
}
