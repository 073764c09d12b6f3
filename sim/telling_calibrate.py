"""What `seedbeat calibrate` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sim.telling import Answer, Table, iso, whole
from sim.telling_numbers import amount, figures, kind_told, told

_TO_DO = {
    "stand": "count the seedlings of each batch on the day they are ready, or write down how many "
    "did not come up",
    "growing loss": "write down the plants lost, with the cause, by batch",
    "moving loss": "write down the plants lost at moving, with that cause, by batch",
    "days": 'write "ready" on the day on which a walk round first finds a batch ready, and "ready" '
    "with 0 on a walk that finds none",
    "minutes": "write down the person-minutes of each shift's work, by a watch",
    "absence": "write down the people present at each shift",
}
_MOST = 3  # numbers told in the first sentences


def sentences(answer: Answer) -> Iterator[str]:
    """The first screen of `calibrate`."""
    moved = [n for n in answer["numbers"] if n["moved"]]
    first, last = (iso(answer[k], year=True) for k in ("first_day", "last_day"))
    yield (
        f"{len(moved)} of {len(answer['numbers'])} numbers moved, by {answer['rows']:,} rows of "
        f"{answer['records']}, {first} to {last}. {_written(answer, len(moved))}"
    )
    if answer["refused"]:
        row, it = ("row", "it") if answer["refused"] == 1 else ("rows", "them")
        yield (
            f"Mend the records first: {answer['refused']} {row} could not be read and told nothing "
            f"here, and what hangs on {it} may be wrong. seedbeat counts {answer['file']} "
            f"{answer['records']} lists {it}."
        )
    if most := sorted(moved, key=lambda n: -abs(n["changes_percent"]))[:_MOST]:
        told = "; ".join(_moved(answer, n) for n in most)
        yield f"What moved most: {told}."
        yield from _meaning(answer)
    yield from _next(answer)


def _written(answer: Answer, moved: int) -> str:
    if answer["written"] is None:
        return "No file was written: -o NEW writes one." if moved else "There is nothing to write."
    form = (
        f"a copy of {answer['file']} with its comments"
        if answer["form"] == "copy"
        else f"a what-if that builds on {answer['file']} and says only what moved"
    )
    return (
        f"Written to {answer['written']}, {form}; what it changes: seedbeat compare "
        f"{answer['file']} {answer['written']}."
    )


def _moved(answer: Answer, number: Answer) -> str:
    old, new = (figures(number, number[k]) for k in ("old", "new"))
    sign = " %" if number["unit"] == "percent" else ""
    text = f"{_name(answer, number)} {new}{sign} instead of {old}{sign}"
    change, touches = number["changes_percent"], number["touches"]
    if not touches or abs(change) < 0.05:
        return text
    more = "more" if change > 0 else "less" if touches == "bench time" else "fewer"
    return f"{text} ({abs(change):.1f} % {more} {touches})"


def _meaning(answer: Answer) -> Iterator[str]:
    """What the numbers mean together."""
    told = []
    for crop in answer["crops"]:
        heads, days = crop["heads_of_100"], crop["days"]
        if _differ(heads):
            told.append(
                f"of 100 seeds of {crop['crop']}, {heads['new']:.1f} become heads in an ordinary "
                f"batch, not {heads['old']:.1f}"
            )
        if _differ(days):
            told.append(
                f"{crop['crop']} is ready {days['new']:.1f} days after seeding, not "
                f"{days['old']:.1f}, waits left out"
            )
    work = answer["work_change_percent"]
    if abs(work) >= 0.05:
        more = "more" if work > 0 else "fewer"
        told.append(f"the work in these records takes {abs(work):.1f} % {more} minutes")
    if told:
        yield f"What it means: {'; '.join(told)}."


def _differ(pair: Answer) -> bool:
    """Whether two numbers differ as they are told."""
    return f"{pair['old']:.1f}" != f"{pair['new']:.1f}"


def _next(answer: Answer) -> Iterator[str]:
    """Which count would help most."""
    number = answer["count_next"]
    if number is None:
        return
    part = f"{number['leaves_open_percent']:.1f} % of the {number['touches']}"
    why = "A guess may be off by so much" if number["kept"] else "Its interval is so wide"
    yield (
        f"Count next: {_name(answer, number)}. {why} that it leaves up to {part} open, more than "
        f"any other number here. To learn it, {_TO_DO[number['kind']]}."
    )


def _name(answer: Answer, number: Answer, *, short: bool = False) -> str:
    """Where and what; a crop is named only where there are several."""
    where = str(number["where"])
    if len(answer["crops"]) == 1:
        where = where.removeprefix(f"{answer['crops'][0]['crop']}, ")
    return f"{where}: {kind_told(number['kind'], short=short)}"


def tables(answer: Answer) -> list[Table]:
    """The tables of `calibrate`."""
    return [*_moved_tables(answer), _kept_table(answer), _shapes_table(answer)]


def _moved_tables(answer: Answer) -> list[Table]:
    """The measured numbers; of several crops a table for each, and one for the rest."""
    measured = [n for n in answer["numbers"] if not n["kept"]]
    crops = [crop["crop"] for crop in answer["crops"]]
    if len(crops) == 1:
        return [replace(_moved_table(answer, "Measured", measured), under=_under(answer))]
    found = []
    for crop in (*crops, ""):
        of_crop = [n for n in measured if _crop_of(answer, n) == crop]
        one = {**answer, "crops": [{"crop": crop}]}
        found.append(_moved_table(one, f"Measured: {crop or 'work and people'}", of_crop))
    return [*found[:-1], replace(found[-1], under=_under(answer))]


def _crop_of(answer: Answer, number: Answer) -> str:
    """The crop that a number is one of; "" for tasks and crews."""
    crops = (str(crop["crop"]) for crop in answer["crops"])
    return next((c for c in crops if str(number["where"]).startswith(f"{c}, ")), "")


def _moved_table(answer: Answer, title: str, numbers: list[Answer]) -> Table:
    rows = []
    for n in numbers:
        change = f"{n['changes_percent']:+.1f} %" if n["touches"] else ""
        change = change.replace("-0.0", "+0.0")
        rows.append(
            (_name(answer, n, short=True), amount(n, n["old"]), figures(n, n["new"]), _interval(n),
             f"{whole(n['n'])} {n['of']}", change)
        )  # fmt: skip
    headers = ("number", "was", "now", "90 % interval", "from", "changes")
    return Table(title, headers, tuple(rows))


def _under(answer: Answer) -> str:
    """What was put beside the counts, and how the last column is meant."""
    return (
        "The scenario's own value is worth "
        f"{_times(answer['own_worth_batches'], 'batch', 'batches')} (for people absent, a shift), "
        f"its own spread {_times(answer['own_spread_worth_batches'], 'batch', 'batches')}; "
        f"{_across(answer)}minutes are as timed. Days are those of a pace of 100 %. The last "
        "column is by proportion: of heads (plants that come through), bench time (days), minutes "
        "of work, or crew minutes (people), weighted by how much of what is written down hangs "
        "on it."
    )


def _across(answer: Answer) -> str:
    """How the crops of one place help each other."""
    if len(answer["crops"]) == 1:
        return ""
    return (
        "a crop's own stand and losses move first by what the other crops in that place show "
        f"(likeness {answer['likeness_of_crops']:g}); "
    )


def _times(number: float, one: str, several: str) -> str:
    return f"{number:g} {one if number == 1 else several}"


def _interval(number: Answer) -> str:
    if number["low"] is None:
        return "-"
    ends = sorted(told(number, number[k]) for k in ("low", "high"))
    if number["unit"] == "minutes":
        return " to ".join(f"{end:.3g}" for end in ends)
    return " to ".join(f"{end:.1f}" for end in ends)


def _kept_table(answer: Answer) -> Table:
    rows = tuple(
        (_name(answer, n, short=True), amount(n, n["old"]), n["kept"])
        for n in answer["numbers"]
        if n["kept"]
    )
    return Table("Kept as they are", ("number", "is", "why"), rows, "", (0, 2))


def _shapes_table(answer: Answer) -> Table:
    """How much worse than the best each shape fits a stage's lengths."""
    names = ("normal", "lognormal", "gamma", "exponential", "weibull")
    rows = []
    for one in answer["shapes"]:
        worse = {fit["shape"]: fit["worse_by"] for fit in one["fits"]}
        where = _name(answer, {**one, "kind": "days"}).partition(":")[0]
        cells = (f"{worse[s]:.1f}{' *' if s == one['new'] else ''}" for s in names)
        rows.append((where, whole(one["n"]), whole(one["still_growing"]), *cells))
    headers = ("stage", "batches", "growing", *names[:3], "exp.", "Weibull")
    under = (
        "AIC above that of the best shape; * is what the scenario says. Another is taken if it is "
        f"lower by {answer['aic_much_better']:g} or more from 20 batches on; Weibull is only a "
        "check. Growing: not ready yet when the records end."
    )
    return Table("Shapes of the days", headers, tuple(rows), under)
