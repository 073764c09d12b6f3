"""The tables of `seedbeat size`."""

from __future__ import annotations

from sim.telling import Answer, Table, whole
from sim.telling_size_more import counted, signed

_LONGEST = 25  # letters of a name
_SURE = {"real": "real", "could be noise": "noise", "the same": "same"}


def tables(answer: Answer) -> list[Table]:
    """The tables of `size`."""
    gains = answer["more_of_each"]
    return [
        _sizes_table(answer), _largest_table(answer),
        *(_more_table(answer, some) for some in gains),
        *(_costs_table(some) for some in gains),
        _own_table(answer), _cadences_table(answer),
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
            _size(answer, r), r["verdict"], *_shares(r["best"]), r["best"]["cadence"],
        )
        for r in answer["sizes"]
    )  # fmt: skip
    headers = ("size", "verdict", "weeks met, %", "weakest, %", "by")
    under = (
        f"{answer['years']:,} fresh years of each size, the same chances for all, with the cadence "
        "(by) that few other years chose for it; 95 % intervals. Weakest: years that met the "
        "weakest week. Verdicts rest on years of their own; larger than one that is enough, or "
        "smaller than one that is not, was not tested by itself."
        + (" Few years: read the intervals as rough." if answer["rough"] else "")
    )
    title = f"Service of the present orders by size ({answer['counted_in']})"
    return Table(title, headers, rows, under, (1, 4))


def _largest_table(answer: Answer) -> Table:
    def told(row: Answer) -> tuple[str, str]:
        found = row["largest_orders"]
        if not found:
            return "not tried", ""
        return (
            whole(found["heads_full_week"]) if found["met"] else "none met",
            f"{whole(found['low'])} to {whole(found['high'])}",
        )

    rows = tuple(
        (
            _size(answer, r), *told(r), whole(r["most_by_arithmetic"]),
            (r["limited_by"] or "nothing")[:_LONGEST],
        )
        for r in answer["sizes"]
    )  # fmt: skip
    headers = ("size", "simulated", "95 % interval", "by arithmetic", "full first")
    under = (
        f"Now {whole(answer['heads_ordered_full_week'])} are ordered. Simulated: the largest "
        "orders, all customers' scaled together (told apart by "
        f"{counted(answer['orders_step_heads'], 'head')}), that {answer['orders_years']:,} years "
        f"met {_within(answer)}, by the best of the cadences with "
        "trays in proportion or up to 25 % more. The interval goes from the largest orders shown "
        "to be met to the largest not shown to be missed, for each size by itself. By arithmetic: "
        "what is full first at mean stays and losses, without chance, breaks or waiting."
        + (" Few years: read all of it as rough." if answer["rough"] else "")
    )
    title = f"Largest orders by size ({answer['counted_in']}), heads in a full week"
    return Table(title, headers, rows, under, (4,))


def _within(answer: Answer) -> str:
    steady, week = (
        f"{100 * (answer['target'][key] - answer['tolerance'][key]):g} %"
        for key in ("steadiness", "weakest_week")
    )
    return f"to at least {steady} of the weeks and {week} of the years of each week"


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
        "Heads delivered a week and good plants wasted a year, means; last, the heads with the "
        "cadence that suits the size. The file sizes.csv (--out) has their intervals."
    )
    return Table("The same with the scenario's own cadence, A", headers, rows, under)


def _cadences_table(answer: Answer) -> Table:
    rows = tuple((c["letter"], c["name"]) for c in answer["cadences"])
    return Table("Cadences tried at every size", ("", "cadence"), rows, "", (0, 1))


def _more_table(answer: Answer, some: Answer) -> Table:
    rows = tuple(
        (
            f"{g['name']}, +{g['amount']:,}", signed(g["heads_per_week"]), signed(g["weeks_met"]),
            ", ".join(_SURE[g[key]["verdict"]] for key in ("heads_per_week", "weeks_met")),
        )
        for g in some["things"]
    )  # fmt: skip
    headers = ("what", "heads a week", "weeks met a year", "verdicts")
    if some["orders"] == "present":
        under = (
            f"Gained against the present size under the same chances, {some['years']:,} years, "
            f"with cadence {_of_present(answer)} in all. More is one tray, channel or the like "
            "(5 % where there are many), one person on each shift, one class period or one hour "
            "more a day, one case of heads. 95 % intervals; verdicts (heads, weeks) share an error "
            "of 5 %."
        )
    else:
        under = (
            f"The same for orders that the present size does not meet, {some['years']:,} years, "
            f"with {some['cadence']}."
        )
    return Table(f"One more of each thing, {_for_orders(some)}", headers, rows, under, (0, 3))


def _for_orders(some: Answer) -> str:
    if some["orders"] == "present":
        return "present orders"
    return f"orders of {whole(some['heads_full_week'])} heads a full week"


def _of_present(answer: Answer) -> str:
    """The letter of the cadence that suits the present size."""
    now = next(r for r in answer["sizes"] if r["size"] == answer["present"])
    return str(now["best"]["cadence"])


def _costs_table(some: Answer) -> Table:
    rows = tuple(
        (g["name"], counted(g["amount"], g["unit"]), f"${g['cost']:,.0f}", _cost_per_head(g))
        for g in some["things"]
        if g["cost"] is not None
    )
    headers = ("what", "more", "a year", "for a head gained")
    under = (
        "The costs that were given, in dollars a year, over the heads gained in the measured "
        "weeks (95 % intervals); where no gain is shown there is no cost of a head."
    )
    title = f"What a head gained costs, {_for_orders(some)}"
    return Table(title, headers, rows, under, (0, 1))


def _cost_per_head(gain: Answer) -> str:
    each = gain["cost_per_head"]
    if each is None:
        return "no gain shown"
    mean, low, high = (f"{each[key]:,.2f}" for key in ("mean", "low", "high"))
    return f"${mean}" if low == high else f"${mean} (${low} to ${high})"
