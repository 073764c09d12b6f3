"""What `seedbeat counts` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, Table, iso, percent, whole

MOST = 20  # refused rows in the table; the file of them holds all
_LISTED = 8  # rows set aside that are told
_MEASURES = {  # by the first of the measures that lack something
    "unit_fill_rate": "heads delivered, weeks met",
    "bench_fill": "sites filled",
    "wasted_plants": "plants dumped",
    "labor_use": "person-minutes used",
}
_WORDS = {
    "seeded": "{count} cells in {containers} trays", "missed": "{containers} trays not seeded",
    "moved": "{count} plants", "ready": "{count} plants or heads", "lost": "{count} plants",
    "harvested": "{count} heads",
    "dumped": "{count} plants or heads", "washed": "{containers} channels or trays",
    "cleared": "{containers} channels or trays", "checked": "{count} checks",
    "delivered": "{count} heads", "surplus": "{count} heads",
    "present": "{count} people, shifts added up", "counted": "{count} plants alive",
}  # fmt: skip


def sentences(answer: Answer) -> Iterator[str]:
    """What was read, what was refused and what to do about it, and how the file was read."""
    yield _read(answer)
    if refused := answer["lines"]["refused"]:
        yield (
            f"REFUSED: {_records(answer, refused)}. Mend {'it' if refused == 1 else 'them'} in the "
            "file and give the command again; until then nothing in "
            f"{'it' if refused == 1 else 'them'} is counted."
        )
    yield from _orders(answer)
    if aside := answer["set_aside"]:
        told = ", ".join(f"row {one['row']} ({one['why']})" for one in aside[:_LISTED])
        more = f" and {len(aside) - _LISTED} more" if len(aside) > _LISTED else ""
        yield f"Set aside, as no records: {told}{more}."
    read = f"How it was read: {answer['read_as']}, headings in row {answer['header_row']}."
    yield " ".join([read, *answer["reading"]])


def _read(answer: Answer) -> str:
    if not answer["lines"]["below_headings"]:
        file = answer["records"]
        return f"Nothing is written down yet: there is no row below the headings of {file}."
    lines, first, last = answer["lines"], answer["first_day"], answer["last_day"]
    span = f", from {iso(first, year=True)} to {iso(last, year=True)}" if first else ""
    batches = len(answer["batches"])
    text = (
        f"Read {whole(lines['read'])} of {_records(answer, lines['below_headings'])} below the "
        f"headings{span}: {whole(batches)} batch{'es' if batches != 1 else ''} seeded."
    )
    words = ("refused", "blank or not filled in", "set aside")
    numbers = [lines[key] for key in ("refused", "blank", "set_aside")]
    if not any(numbers):
        return f"{text} None was refused, blank or set aside."
    rest = [f"{whole(n)} {word}" for n, word in zip(numbers, words, strict=True)]
    return f"{text} Of the others {rest[0]}, {rest[1]}, {rest[2]}."


def _records(answer: Answer, number: int) -> str:
    """So many rows, or numbers where a row has one for each kind of work."""
    word = "number" if answer["by_columns"] else "row"
    return f"{whole(number)} {word}{'' if number == 1 else 's'}"


def _orders(answer: Answer) -> Iterator[str]:
    ordered = answer["ordered"]
    if not ordered or not ordered["heads"]:
        return
    there, unknown = ordered["heads"] - ordered["short"], ""
    if ordered["without_row"]:
        unknown = (
            f"; {len(ordered['without_row'])} of {ordered['due']} deliveries have no row and count "
            "as not delivered"
        )
    yield (
        f"From {iso(ordered['first'], year=True)} to {iso(ordered['last'], year=True)} "
        f"{whole(there)} of {whole(ordered['heads'])} heads ordered were delivered "
        f"({percent(there / ordered['heads'])}){unknown}."
    )


def tables(answer: Answer) -> list[Table]:
    """Refused rows, rows by kind, and what the measures lack."""
    return [_refused(answer), _kinds(answer), _missing(answer)]


def _refused(answer: Answer) -> Table:
    problems = answer["problems"]
    rows = tuple(
        (str(p["row"]), p["column"], p["value"] or "-", f"must be {p['must']}; {p['remedy']}")
        for p in problems[:MOST]
    )
    more = len(problems) - MOST
    under = f"{more:,} more are in refused.csv, which --out writes." if more > 0 else ""
    headers = ("row", "column", "it is", "what it must be; what to do")
    return Table("Refused rows", headers, rows, under, (1, 2, 3))


def _kinds(answer: Answer) -> Table:
    rows = tuple(
        (
            kind["kind"],
            whole(kind["rows"]),
            _WORDS[kind["kind"]].format(
                count=whole(kind["count"]), containers=whole(kind["containers"])
            ),
            whole(kind["minutes"]) if kind["minutes"] else "-",
        )
        for kind in answer["kinds"]
    )
    headers = ("what", "rows", "how much", "person-minutes")
    return Table("What was read", headers, rows, text_columns=(0, 2))


def _missing(answer: Answer) -> Table:
    rows = tuple((_MEASURES[one["measures"][0]], one["what"]) for one in answer["missing"])
    headers = ("to measure", "what is missing")
    return Table("What the measures lack", headers, rows, text_columns=(0, 1))
