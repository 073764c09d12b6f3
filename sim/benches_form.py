"""A form to count the benches with: on a terminal, and on one page to walk round with.

The page needs nothing but itself, and has no place for anybody's name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import Any

from sim.answers import Answer, about, around, plain
from sim.benches_expected import Expected
from sim.cautions import COLD_ROOM
from sim.page import framed, paragraph
from sim.scenario_file import LoadedScenario
from sim.telling import Table, iso, whole

BLANK = 3  # rows for what is not expected, in each place
_PAGE = 728.0  # height of print on a page of Letter, the lower of the two [pt]
_LINE = 0.75  # height of the line under a row [pt]
_SMALLEST, _LARGEST = 6.0, 9.0  # sizes of print [pt]
_STYLE = """
.form th, .form td { border: 1px solid #555; text-align: left; padding: .1em .3em; height: 1.9em;
  vertical-align: middle; white-space: nowrap; }
.form th { height: auto; font-size: .9em; white-space: normal; vertical-align: bottom; }
.form { width: 100%; margin: 0 0 .6em; font-size: 1em; }
.form .n { text-align: right; }
.form .count { min-width: 5em; }
.form i, p i { display: inline-block; width: .8em; height: .8em; border: 1.2px solid #000; }
p b.line { display: inline-block; width: 9em; border-bottom: 1px solid #000; }
h1 { margin: 0 0 .3em; }
h2 { border: 0; padding: 0; margin: .5em 0 .2em; font-size: 1.1em; }
p { margin: 0 0 .4em; }
@media print {
  @page { margin: 9mm 10mm; }
  body { font-size: PRINTpt; line-height: 1.2; }
  .form { font-size: 1em; }
  h1 { font-size: 1.4em; }
}
"""
HOW_TO = (
    "Before the day's work, walk round once, place by place. Tick each batch that is there, and "
    "count: trays and channels that hold plants, and the plants in them as they stand. In trays "
    "that are still coming up, count the trays only. Write what is not on the list into the free "
    "rows."
)
THEN = (
    "Then put the counts into benches.csv: change the numbers, write 0 for what is gone, add rows "
    "for what is new. Counts only; no names of anybody on this sheet."
)


def benches_answer(loaded: LoadedScenario, found: Expected, seed: int) -> Answer:
    """Everything `seedbeat benches` says: by place, what is expected to stand there."""
    scenario, benches = loaded.scenario, found.benches
    clean = {c.place: c for c in benches.to_clean}
    batches: dict[str, list[Answer]] = {name: [] for name in scenario.places}
    for s, there, ready in zip(benches.standing, found.there, found.ready, strict=True):
        batches[s.place].append({
            "batch": s.batch, "crop": s.crop, "seeded": s.seeded, "moved": s.moved,
            "containers": s.containers, "plants": s.plants, "by_the_tray": not s.living,
            "ready": s.ready, "years": there, "years_ready": ready,
        })  # fmt: skip
    places = [
        {
            "place": name, "container": place.container, "batches": batches[name],
            "to_wash": clean[name].to_wash if name in clean else 0,
            "to_clear": clean[name].to_clear if name in clean else 0,
        }
        for name, place in scenario.places.items()
    ]  # fmt: skip
    answer = {
        **about(loaded, "benches"),
        "day": benches.day,
        "seed": seed,
        "years": found.years,
        "crops": list(scenario.crops),
        "places": places,
        "stored": [{"crop": s.crop, "heads": s.heads, "since": s.since} for s in benches.stored],
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def sentences(answer: Answer) -> Iterator[str]:
    """What the list is, and what to do with it."""
    rows = sum(len(place["batches"]) for place in answer["places"])
    yield (
        f"What the simulation expects on {iso(answer['day'], year=True)}, before the day's work: "
        f"{rows} batches that stand there in at least half of {answer['years']:,} simulated years, "
        "with means of those years. The simulation does not know what really happened: count."
    )
    if answer.get("files"):
        yield f"Print benches.html. {THEN}"
    else:
        yield "With --out DIR this becomes a form to print, and a file to fill in."


def tables(answer: Answer) -> list[Table]:
    """A table for each place with something to expect, and one of the cold store."""
    found = [_place_table(place) for place in answer["places"]]
    stored = tuple((s["crop"], whole(s["heads"])) for s in answer["stored"])
    return [t for t in (*found, Table("Cold store", ("crop", "heads"), stored)) if t.rows]


def _place_table(place: Answer) -> Table:
    rows = [
        (b["batch"], iso(b["moved"]), whole(b["containers"]), _plants(b), _ready(b))
        for b in place["batches"]
    ]
    under = "; ".join(_to_clean(place))
    headers = ("batch", "there since", f"{place['container']}s", "plants", "ready")
    return Table(place["place"].capitalize(), headers, tuple(rows), under, (0, 1, 4))


def _plants(batch: Answer) -> str:
    return "-" if batch["by_the_tray"] else whole(batch["plants"])


def _ready(batch: Answer) -> str:
    return f"since {iso(batch['ready'])}" if batch["ready"] else "no"


def _to_clean(place: Answer) -> list[str]:
    """Containers to clean in words, none if there are none."""
    kinds = {"to_wash": "to wash", "to_clear": "to clear of dumped plants"}
    told = []
    for key, words in kinds.items():
        if count := place[key]:
            told.append(f"{count:,} {place['container']}{'s' if count > 1 else ''} {words}")
    return told


def form(answer: Answer) -> str:
    """The page to walk round with."""
    title = f"{answer['scenario']}: what stands there on {iso(answer['day'], year=True)}"
    parts = [
        f"<h1>{escape(title)}</h1>",
        '<p>Counted on <b class="line"></b> at <b class="line"></b> before the day\'s work</p>',
        paragraph(HOW_TO),
        *map(_place, answer["places"]),
        _cold_store(answer),
        paragraph(THEN),
        paragraph(_source(answer)),
    ]
    return framed(title, parts, _STYLE.replace("PRINT", f"{_print_size(answer):.1f}"))


def _print_size(answer: Answer) -> float:
    """The largest print with which the form fits one page of A4 or Letter, within limits [pt]."""
    rows = sum(len(place["batches"]) + BLANK for place in answer["places"])
    rows += len(answer["crops"])
    height = 19.0 + 2.1 * rows + 6.0 * (len(answer["places"]) + 1)  # in the size of the print
    return max(_SMALLEST, min(_LARGEST, (_PAGE - _LINE * rows) / height))


def _source(answer: Answer) -> str:
    return (
        f"seedbeat benches {answer['file']}, {answer['years']} simulated years, seed "
        f"{answer['seed']}, scenario {answer['scenario_hash']}. Expected numbers are means."
    )


def _place(place: Answer) -> str:
    """A place with a row for each batch expected, free rows, and what is to be cleaned."""
    name = f"{place['container']}s"
    heads = ("there", "batch", "there since", f"{name} expected", f"{name} counted",
             "plants expected", "plants counted", "ready expected", "ready")  # fmt: skip
    rows = [
        (
            "<i></i>", escape(b["batch"]), iso(b["moved"]), whole(b["containers"]), "",
            "count trays" if b["by_the_tray"] else whole(b["plants"]), "", _ready(b), _TICKS,
        )
        for b in place["batches"]
    ]  # fmt: skip
    rows += [("<i></i>", "", "", "", "", "", "", "", _TICKS)] * BLANK
    clean = " &nbsp; ".join(
        f'{escape(name)} {words}: expected {place[key]}, counted <b class="line"></b>'
        for key, words in (("to_wash", "to wash"), ("to_clear", "with dumped plants to clear"))
    )
    title = place["place"].capitalize()
    return f"<h2>{escape(title)}</h2>\n{_table(title, heads, rows)}\n<p>{clean}</p>"


_TICKS = "<i></i> yes <i></i> no"


def _cold_store(answer: Answer) -> str:
    heads: dict[str, Any] = {s["crop"]: s for s in answer["stored"]}
    rows = [
        (escape(crop), whole(heads[crop]["heads"]) if crop in heads else "0", "", "")
        for crop in answer["crops"]
    ]
    headers = ("crop", "heads expected", "heads counted", "stored on (day and time)")
    caution = paragraph(COLD_ROOM) if COLD_ROOM in answer["cautions"] else ""
    return f"<h2>Cold store (adults)</h2>\n{_table('Cold store', headers, rows)}\n{caution}"


def _table(title: str, headers: Sequence[str], rows: Sequence[tuple[str, ...]]) -> str:
    """A table to write in, which scrolls by itself on a phone; cells are HTML."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in headers)
    body = "\n".join("<tr>" + "".join(f"<td>{c}</td>" for c in row) + "</tr>" for row in rows)
    table = f'<table class="form"><thead><tr>{head}</tr></thead>\n<tbody>{body}</tbody></table>'
    words = f"{escape(title)}, table"
    return f'<div class="wide" tabindex="0" role="region" aria-label="{words}">{table}</div>'
