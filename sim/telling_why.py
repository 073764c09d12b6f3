"""What `seedbeat why` says, told to people, and the plain data it is told from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import date
from math import floor

from sim.answers import about, around, plain
from sim.batch_story import Story
from sim.scenario_file import LoadedScenario
from sim.telling import Answer, Table, iso, percent, whole
from sim.timetable import Timetable
from sim.why import Why

LEAST = 0.05  # share of a batch's heads that must have gone amiss for its way to be told
MOST = 4  # batches whose way is told in a sentence; the table holds all


_HEADS = (
    "expected", "not_seeded", "lost_more", "dumped", "not_ready", "gone", "there",
    "missed_because", "dumped_because",
)  # fmt: skip


def why_answer(loaded: LoadedScenario, found: Why, table: Timetable, seed: int) -> Answer:
    """Everything `seedbeat why` says."""
    answer = {
        **about(loaded, "why"),
        "seed": seed,
        "years": found.met.n,
        "week_of": found.monday,
        "closures": list(found.closures),
        "met": asdict(found.met),
        "years_short": found.years_short,
        "median_heads_short": found.median_short,
        "heads_short_by_cause": found.causes,
        "typical_year": found.replication,
        "deliveries": [{**asdict(d), "time": _day(d.time, table)} for d in found.deliveries],
        "batches": [_story(told, table) for told in found.stories],
        "skipped": [asdict(change) for change in found.skipped],
        "hands": asdict(found.hands) if found.hands else None,
        "last_date_to_act": found.act,
        **around(loaded),
    }
    return plain(answer)  # type: ignore[no-any-return] # an answer's plain values are an answer


def _day(time: float | None, table: Timetable) -> date | None:
    return None if time is None else table.date_of(floor(time))


def _story(told: Story, table: Timetable) -> Answer:
    return {
        "crop": told.seeding.crop,
        "planned": table.date_of(told.seeding.day),
        "trays": told.seeding.trays,
        "seeded": _day(told.seeded, table),
        "ready": _day(told.ready, table),
        **{name: getattr(told, name) for name in _HEADS},
        "waits": [
            {**asdict(wait), "ready": _day(wait.ready, table), "moved": _day(wait.moved, table)}
            for wait in told.waits
        ],
    }


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `why`."""
    yield _how_often(answer)
    if answer["typical_year"] is None:
        return
    causes = answer["heads_short_by_cause"]
    yield (
        "Why, over all years: "
        + "; ".join(f"{cause}, {whole(heads)} heads a year" for cause, heads in causes.items())
        + "."
    )
    yield from _deliveries(answer)
    yield from _skipped(answer)
    worst = sorted(answer["batches"], key=lambda b: -_missing(b))
    yield from (_batch(b) for b in worst[:MOST] if _missing(b) >= LEAST * b["expected"])
    yield from _hands(answer)
    act = answer["last_date_to_act"]
    if act:
        yield (
            f"Last date at which a seeding still helps: {iso(act, year=True)}. After that only "
            "what stands on the benches can be used: more people for moving, washing or harvest "
            "on the days named above, or telling the customer."
        )


def _how_often(answer: Answer) -> str:
    met, years = answer["met"], answer["years"]
    short = answer["years_short"]
    told = f"The week of {iso(answer['week_of'], year=True)} was met in {years - short} of {years} "
    told += "simulated years"
    if met["low"] is not None:
        told += f" (95 % interval {percent(met['low'])} to {percent(met['high'])})"
    if not short:
        return f"{told}. It was never short."
    heads = whole(answer["median_heads_short"])
    if short == years:
        return f"{told}. It was short in all of them, by {heads} heads in a middling one."
    if short == 1:
        return f"{told}. In the other one it was {heads} heads short."
    return f"{told}. In the others it was short by {heads} heads in a middling one."


def _deliveries(answer: Answer) -> Iterator[str]:
    told = "; ".join(
        f"{iso(d['time'])}, {d['customer']}: {d['short']} of {d['ordered']} heads of {d['crop']} "
        f"missing ({d['cause']})"
        for d in answer["deliveries"]
    )
    yield f"A typical year in which it was short (number {answer['typical_year']}): {told}."


def _skipped(answer: Answer) -> Iterator[str]:
    if answer["skipped"]:
        told = ", ".join(
            f"{iso(c['planned'])} ({c['trays']} {_trays(c['trays'])} of {c['crop']})"
            for c in answer["skipped"]
        )
        yield f"Never seeded, since the break rule skips such days: {told}."


def _trays(count: int) -> str:
    return "tray" if count == 1 else "trays"


def _missing(batch: Answer) -> float:
    """Heads that did not come, or came too late."""
    return float(
        batch["not_seeded"] + max(0.0, batch["lost_more"]) + batch["dumped"] + batch["not_ready"]
    )


def _batch(batch: Answer) -> str:
    trays = batch["trays"]
    parts = [_fate(batch, name, words) for name, words in _FATES if batch[name] >= 0.5]
    told = (
        f"{trays} {_trays(trays)} of {batch['crop']} of {iso(batch['planned'])}, to give "
        f"{whole(batch['expected'])} heads: {', '.join(parts)}."
    )
    return " ".join([told, *(_wait(wait) for wait in batch["waits"])])


_FATES = (
    ("not_seeded", "not seeded"),
    ("dumped", "dumped before"),
    ("not_ready", "not ready in time"),
    ("lost_more", "lost beyond the ordinary"),
)


def _fate(batch: Answer, name: str, words: str) -> str:
    because = {
        "not_seeded": batch["missed_because"],
        "dumped": ", ".join(batch["dumped_because"]),
    }.get(name, "")
    return f"{whole(batch[name])} {words}" + (f" ({because})" if because else "")


def _wait(wait: Answer) -> str:
    told = f"{whole(wait['plants'])} plants were ready to move on {iso(wait['ready'])} and "
    if wait["moved"] is None:
        return f"{told}never moved: {wait['why']}."
    days = (date.fromisoformat(wait["moved"]) - date.fromisoformat(wait["ready"])).days
    return f"{told}waited until {iso(wait['moved'])}, {days} days: {wait['why']}."


def _hands(answer: Answer) -> Iterator[str]:
    hands = answer["hands"]
    causes = {d["cause"] for d in answer["deliveries"]}
    if not hands or not causes & {"not enough minutes", "nobody there"}:
        return
    there = sum(hands["there"].values())
    days = f"People, from {iso(hands['first'])} to {iso(hands['last'])}:"
    if not there:
        yield f"{days} nobody was there."
        return
    worked = ", ".join(f"{name} {whole(m)}" for name, m in hands["worked"].items())
    yield (f"{days} {whole(there)} person-minutes were there; worked were {worked or 'none'}.")


def tables(answer: Answer) -> list[Table]:
    """The heads that were meant for the short deliveries, batch by batch."""
    headers = (
        "seeding", "trays", "meant", "not\nseeded", "lost\nmore", "dumped", "too\nlate",
        "gone\nbefore", "there",
    )  # fmt: skip
    many = len({b["crop"] for b in answer["batches"]}) > 1
    rows = tuple(
        (
            f"{iso(b['planned'])[4:]}, {b['crop']}" if many else iso(b["planned"]),
            whole(b["trays"]),
            *(whole(b[name] + 0.0) for name in (
                "expected", "not_seeded", "lost_more", "dumped", "not_ready", "gone", "there")),
        )
        for b in answer["batches"]
    )  # fmt: skip
    under = (
        "Heads, at mean losses, of the batches meant for these deliveries, in the typical year. "
        "Lost more: beyond the mean (below zero: fewer were lost). Gone before: delivered earlier, "
        "or to surplus outlets. There: for the deliveries of this week."
    )
    return [Table("What became of the heads", headers, rows, under)]
