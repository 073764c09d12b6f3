"""The tables of `seedbeat size`."""

from __future__ import annotations

from sim.telling import Answer, Table, whole
from sim.telling_size import counted, signed

_SURE = {"real": "real", "could be noise": "noise", "the same": "same"}


def tables(answer: Answer) -> list[Table]:
    """The tables of `size`."""
    return [
        _sizes_table(answer), _own_table(answer), _cadences_table(answer), _more_table(answer),
        _costs_table(answer),
    ]  # fmt: skip


def _size(answer: Answer, row: Answer) -> str:
    return f"{row['size']:,}{' now' if row['size'] == answer['present'] else ''}"


def _shares(service: Answer) -> tuple[str, str]:
    """Weeks met and the weakest week in percent, with their intervals."""
    steady, week = service["steadiness"], service["weakest_week"]
    met, low, high = (100 * steady[key] for key in ("mean", "low", "high"))
    weakest, least, most = (100 * week[key] for key in ("mean", "low", "high"))
    return f"{met:.1f} ({low:.1f} to {high:.1f})", f"{weakest:.0f} ({least:.0f} to {most:.0f})"


def _sizes_table(answer: Answer) -> Table:
    rows = tuple(
        (
            _size(answer, r), r["verdict"], *_shares(r["best"]),
            whole(r["most_by_arithmetic"]), r["best"]["cadence"],
        )
        for r in answer["sizes"]
    )  # fmt: skip
    headers = ("size", "verdict", "weeks met, %", "weakest, %", "most", "by")
    under = (
        f"{answer['years']:,} fresh years of each size, the same chances for all, with the cadence "
        "(by) that few other years chose for it; 95 % intervals. Most: heads a week by arithmetic, "
        "whatever is full first, not simulated. Verdicts rest on years of their own; larger than "
        "one that is enough, or smaller than one that is not, was not tested by itself."
        + (" Few years: read the intervals as rough." if answer["rough"] else "")
    )
    return Table(f"Service by size ({answer['counted_in']})", headers, rows, under, (1, 5))


def _own_table(answer: Answer) -> Table:
    rows = tuple(
        (
            _size(answer, r), *_shares(r["own"]), whole(r["own"]["heads_per_week"]["mean"]),
            whole(r["own"]["wasted_plants"]["mean"]), whole(r["best"]["heads_per_week"]["mean"]),
        )
        for r in answer["sizes"]
        if any(row["best"]["cadence"] != "A" for row in answer["sizes"])
    )  # fmt: skip
    headers = ("size", "weeks met, %", "weakest, %", "heads", "wasted", "heads, best")
    under = (
        "Heads delivered a week and good plants wasted a year; last, the heads with the cadence "
        "that suits the size."
    )
    return Table("The same with the scenario's own cadence, A", headers, rows, under)


def _cadences_table(answer: Answer) -> Table:
    rows = tuple((c["letter"], c["name"]) for c in answer["cadences"])
    return Table("Cadences tried at every size", ("", "cadence"), rows, "", (0, 1))


def _more_table(answer: Answer) -> Table:
    rows = tuple(
        (
            f"{g['name']}, +{g['amount']:,}", signed(g["heads_per_week"]), signed(g["weeks_met"]),
            ", ".join(_SURE[g[key]["verdict"]] for key in ("heads_per_week", "weeks_met")),
        )
        for g in answer["more_of_each"]
    )  # fmt: skip
    headers = ("what", "heads a week", "weeks met a year", "verdicts")
    under = (
        f"Against the present size under the same chances, {answer['years']:,} years, with cadence "
        f"{_of_present(answer)} in all. More is one tray, channel or the like (5 % where there "
        "are many), one person on each shift, one class period or one hour more a day, one case "
        "of heads. 95 % intervals; verdicts (heads, weeks) share an error of 5 %."
    )
    return Table("A bit more of each thing", headers, rows, under, (0, 3))


def _of_present(answer: Answer) -> str:
    """The letter of the cadence that suits the present size."""
    now = next(r for r in answer["sizes"] if r["size"] == answer["present"])
    return str(now["best"]["cadence"])


def _costs_table(answer: Answer) -> Table:
    rows = tuple(
        (g["name"], counted(g["amount"], g["unit"]), f"${g['cost']:,.0f}", _cost_per_head(g))
        for g in answer["more_of_each"]
        if g["cost"] is not None
    )
    headers = ("what", "more", "a year", "for a head gained")
    under = (
        "The costs that were given, in dollars a year, over the heads gained in the measured "
        "weeks; where no gain is shown there is no cost of a head."
    )
    return Table("What a head gained costs", headers, rows, under, (0, 1))


def _cost_per_head(gain: Answer) -> str:
    each = gain["cost_per_head"]
    if each is None:
        return "no gain shown"
    mean, low, high = (f"{each[key]:,.2f}" for key in ("mean", "low", "high"))
    return f"${mean}" if low == high else f"${mean} (${low} to ${high})"
