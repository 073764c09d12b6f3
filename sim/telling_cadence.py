"""What `seedbeat cadence` says, told to people."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from sim.answers import by_day
from sim.telling import Answer, Table, iso, percent, seeding_table, whole

MOST = 10  # candidates on the screen; the files hold all


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `cadence`."""
    yield answer["sentence"]
    yield from _against_own(answer)
    yield _beside_bounds(answer)
    yield _how_sure(answer)
    if answer["pending"] or answer["untried"]:
        runs = 2 * answer["budget"]
        yield (
            f"To go on: seedbeat cadence {answer['file']} --runs {runs} --seed {answer['seed']} "
            "--keep KEPT, where KEPT is the file of the first search if it had one, or a new one."
        )
    if answer["ties"]:
        count = len(answer["ties"])
        others = "another cadence" if count == 1 else f"{count} other cadences"
        yield (
            f"About as good: {others} met the target too and waste about as much; steadier work "
            "decided between them."
        )


def _against_own(answer: Answer) -> Iterator[str]:
    own = answer["fresh"]["own"]
    changes = own["differences"]
    if not changes:
        yield "That is the cadence of the scenario itself."
        return
    steady, wasted = changes["steadiness"], changes["wasted_plants"]
    yield (
        f"The scenario's own cadence ({plain_name(own['name'])}) in the same {own['years']} fresh "
        f"years: {percent(own['steadiness']['mean'])} of the weeks met, the weakest week in "
        f"{percent(own['weakest_week']['mean'])} of the years, "
        f"{whole(own['wasted_plants']['mean'])} plants wasted. The difference in weeks met, "
        f"{100 * steady['mean']:+.1f} points ({100 * steady['low']:+.1f} to "
        f"{100 * steady['high']:+.1f}), {_real(steady)}; in plants wasted, "
        f"{wasted['mean']:+,.0f} ({wasted['low']:+,.0f} to {wasted['high']:+,.0f}), "
        f"{_real(wasted)}."
    )


def _real(difference: Answer) -> str:
    return "is real" if difference["verdict"] == "real" else "could be noise"


def _beside_bounds(answer: Answer) -> str:
    """What the chosen cadence takes of each bound."""
    parts = [
        f"{whole(c['taken'])} of the {whole(c['there_is'])} {c['unit']} of {c['what']}"
        for c in answer["ceilings"]
        if c["unit"] != "heads"
    ]
    heads = [
        f"{whole(c['taken'])} heads of {c['what']} for the {whole(c['there_is'])} ordered"
        for c in answer["ceilings"]
        if c["unit"] == "heads"
    ]
    name = answer["chosen"] or answer["nearest"]["name"]
    cells = next(r["cells_per_head"] for r in answer["simulated"] if r["name"] == name)
    return (
        f"Beside what there is: in an ordinary week it takes {', '.join(parts)}, and gives "
        f"{', '.join(heads)} (means). Overseeding: {cells:.2f} cells over the year for each head "
        f"ordered. By arithmetic alone it wastes at least {whole(answer['least_waste'])} plants "
        "a year."
    )


def _how_sure(answer: Answer) -> str:
    simulated, untried = len(answer["simulated"]), answer["untried"]
    bounded = answer["pruned"] - untried
    rest = f", {untried} set aside as the least promising" if untried else ""
    return (
        f"How sure: of {answer['candidates']:,} cadences listed, bounds keep out {bounded:,} "
        f"(below){rest}, and {simulated} were simulated, in {answer['runs']:,} years in all. "
        f"Not listed: {answer['left_out']}. {answer['allowance']}"
    )


def tables(answer: Answer) -> list[Table]:
    """The tables of `cadence`."""
    listed = Table("", (), ())
    if answer["seedings"]:
        listed = seeding_table(by_day(answer["seedings"]))
    return [
        _fresh_table(answer["fresh"]), _candidates_table(answer), _pruned_table(answer["bounds"]),
        listed,
    ]  # fmt: skip


_COMPARED = ("chosen", "scenario's own", "counted", "counted back")


def _fresh_table(fresh: Answer) -> Table:
    """The chosen cadence beside the own one and those counted back without a tool."""
    compared = [{**fresh["chosen"], "differences": {}}, fresh["own"], *fresh["counted_back"]]
    rows = tuple(
        (
            name, percent(one["steadiness"]["mean"]), percent(one["weakest_week"]["mean"]),
            whole(one["wasted_plants"]["mean"]),
            *(_less(one["differences"], measure) for measure in ("steadiness", "wasted_plants")),
        )
        for name, one in zip(_COMPARED, compared, strict=True)
    )  # fmt: skip
    headers = ("cadence", "weeks met", "weakest", "wasted", "more weeks", "more wasted")
    under = (
        f"{fresh['chosen']['years']} fresh years of each, the same luck for all. The last two "
        "columns say what the chosen one has more, or less, and whether that is real or could be "
        "noise (95 %). Counted: trays for a mean week's orders, breaks ignored; counted back: from "
        "each order by the mean days to ready, with 20 % more cells than heads."
    )
    return Table("The chosen cadence beside others", headers, rows, under, (0,))


def _less(differences: Answer, measure: str) -> str:
    if not differences:
        return "the same"
    found = differences[measure]
    number = (
        f"{100 * found['mean']:+.1f} pts" if measure == "steadiness" else (f"{found['mean']:+,.0f}")
    )
    return f"{number}, {found['verdict'].replace('could be ', '')}"


def _candidates_table(answer: Answer) -> Table:
    """The best candidates, and the scenario's own."""
    order = {"meets": 0, "too close to call": 1, "beaten": 2, "misses": 3}
    rows = sorted(
        answer["simulated"],
        key=lambda r: (r["name"] != answer["chosen"], order[r["verdict"]],
                       r["wasted_plants"]["mean"] if r["verdict"] == "meets"
                       else -r["steadiness"]["mean"]),
    )  # fmt: skip
    shown = rows[:MOST]
    if answer["own"]["name"] not in [r["name"] for r in shown]:
        shown = [*rows[: MOST - 1], answer["own"]]
    headers = ("trays", "in breaks", "verdict", "years", "weeks met", "weakest week", "wasted")
    cells = tuple(
        (
            *_brief(r["name"]), r["verdict"], whole(r["years"]), percent(r["steadiness"]["mean"]),
            f"{percent(r['weakest_week']['mean'])} {iso(r['weakest_week']['week_of'])[4:]}",
            whole(r["wasted_plants"]["mean"]),
        )
        for r in shown
    )  # fmt: skip
    under = (
        f"{len(shown)} of {len(rows)} simulated; these numbers come from the search, which favors "
        "the lucky; the sentences above use fresh years. --out DIR writes all with intervals."
    )
    return Table("Candidates", headers, cells, under, (0, 1, 2))


def _brief(name: str) -> tuple[str, str]:
    """A cadence's name cut in two for a table: "Mon 4, Thu 4", and what is done in breaks."""
    rhythm, _, breaks = plain_name(name).partition("; in breaks: ")
    rhythm = re.sub(r"(\d+) trays? (\w{3})", r"\2 \1", rhythm).replace(", every week", "")
    own = "own: " if name.startswith("own cadence") else ""
    return own + re.sub(r", \d{4}", "", rhythm), breaks.removeprefix("seed ")


def plain_name(name: str) -> str:
    """A cadence's name without the remark that it is the scenario's own."""
    return name.removeprefix("own cadence (").removesuffix(")") if "own cad" in name else name


def _pruned_table(pruned: list[Any]) -> Table:
    rows = tuple((p["reason"], p["bound"], whole(p["count"])) for p in pruned)
    headers = ("why", "bound", "cadences")
    return Table("Kept out without simulation", headers, rows, "", (0, 1))
