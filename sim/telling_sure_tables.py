"""The tables of `seedbeat sure`, told to people."""

from __future__ import annotations

from sim.telling import Answer, Table, percent, whole
from sim.telling_numbers import amount
from sim.telling_sure_words import NOTHING, name, percent_of, span


def tables(answer: Answer) -> list[Table]:
    """The tables of `sure`."""
    return [_sets_table(answer), _split_table(answer), _ranking_table(answer), _held_table(answer)]


def _sets_table(answer: Answer) -> Table:
    own, target = answer["as_measured"], answer["target"]
    shown = (
        ("weeks met", "steadiness", percent, own["steadiness"]["mean"], target["steadiness"]),
        ("weakest week", "weakest_week", percent, own["weakest_week"]["mean"],
         target["weakest_week"]),
        ("heads a week", "heads_per_week", whole, own["heads_per_week"], None),
    )  # fmt: skip
    rows = tuple(
        (
            name, show(measured),
            *(show(answer["over_sets"][key][q]) for q in ("p05", "p25", "p50", "p75", "p95")),
            "-" if wanted is None else show(wanted),
        )
        for name, key, show, measured, wanted in shown
    )  # fmt: skip
    headers = ("", "measured", "5 %", "25 %", "half", "75 %", "95 %", "target")
    under = (
        "So many of the sets lie below. A set's weakest week is the lowest of "
        f"{target['weeks']} weeks and looks somewhat weaker than it is in {answer['years']} "
        "years. A set is judged as seedbeat swings judges: it misses only beyond noise, and meets "
        "if it is not below the target by more than the search's tolerances. All sets have the "
        "same years."
    )
    return Table("The plausible sets", headers, rows, under)


def _split_table(answer: Answer) -> Table:
    names = (
        ("counts", "too few counts"), ("years", "too few years"), ("sets", "too few sets"),
    )  # fmt: skip
    parts = [answer["split"][k] for k in ("steadiness", "heads_per_week")]
    rows = tuple(
        (words, *(cell for part in parts for cell in _share_cells(part[key])))
        for key, words in names
    )
    headers = ("comes from", "weeks met", "95 % interval", "heads a week", "95 % interval")
    under = (
        "Shares of the variance of the mean over all sets and years, about the mean under the true "
        "numbers: from set to set; from year to year over the years; from set to set over the "
        "sets. The intervals are rough (jackknife)."
    )
    return Table("What the uncertainty is made of", headers, rows, under)


def _share_cells(part: Answer) -> tuple[str, str]:
    if part["share"] is None:
        return "-", "-"
    low, high = (f"{100 * part[k]:.0f}" for k in ("low", "high"))
    return f"{100 * part['share']:.0f} %", f"{low} to {high} %"


def _ranking_table(answer: Answer) -> Table:
    shown = [row for row in answer["ranking"] if row["share"] >= NOTHING]
    rows = tuple(
        (
            name(answer, row, short=True), amount(row, row["value"]), span(row),
            f"{whole(row['n'])} {row['of']}" if row["how"] == "counted" else "a guess",
            percent_of(row["share"]), _takes_off(row),
        )
        for row in shown
    )  # fmt: skip
    headers = ("number", "now", "plausible", "from", "leaves", "10 more")
    left, explained = len(answer["ranking"]) - len(shown), answer["explained"]
    under = (
        "Leaves: its share of all that is uncertain about the weeks met; 10 more: what so many "
        "more records (batches, shifts) are expected to take off; how many, in brackets, where "
        "more are needed. Taken one by one the numbers explain "
        f"{100 * (explained or 0.0):.0f} % of what differs from set to set; the rest is "
        "several together, or in bends."
    )
    if left:
        under += f" {left} more numbers leave less than 0.5 % each."
    return Table("Which count would help most", headers, rows, under)


def _takes_off(row: Answer) -> str:
    text = percent_of(row["takes_off"])
    return text if row["more"] == 10 else f"{text} ({row['more']})"


def _held_table(answer: Answer) -> Table:
    rows = tuple(
        (name(answer, n, short=True), amount(n, n["value"]), n["why"])
        for n in answer["numbers"]
        if n["how"] == "held"
    )
    return Table("The same in all sets", ("number", "is", "why"), rows, "", (0, 2))
