"""Sizes, the largest orders that they deliver, and what more of each thing adds, in words."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, whole


def amount(answer: Answer, size: int) -> str:
    """A size in words: "22 trays", "1 person a shift", "room for 720 heads"."""
    if answer["kind"] == "crew":
        return f"{size:,} {'person' if size == 1 else 'people'} a shift"
    told = counted(size, answer["unit"])
    return f"room for {told}" if answer["kind"] == "cold store" else told


def counted(number: int, unit: str) -> str:
    """A number of containers, people, periods, hours or heads."""
    if unit == "person":
        return f"{number:,} {'person' if number == 1 else 'people'}"
    return f"{number:,} {unit}" if number == 1 else f"{number:,} {unit}s"


def largest_orders(answer: Answer) -> Iterator[str]:
    """The largest orders that the present size and the one that is enough deliver."""
    rows = [row for row in answer["sizes"] if row["largest_orders"]]
    wanted = (answer["enough"], answer["present"])
    told = [
        f"with {amount(answer, row['size'])} {orders(row['largest_orders'])}"
        for row in rows
        if row["size"] in wanted
    ]
    if told:
        yield (
            f"The largest orders that are met, simulated: {'; '.join(told)}. The table has more "
            "sizes, and beside them what arithmetic alone would let through."
        )


def orders(largest: Answer) -> str:
    """The largest orders with their interval: "1,104 heads a full week (1,032 to 1,176)"."""
    span = f"({whole(largest['low'])} to {whole(largest['high'])})"
    if not largest["met"]:
        return f"none of those tried {span}"
    return f"{whole(largest['heads_full_week'])} heads a full week {span}"


def limits_next(answer: Answer) -> Iterator[str]:
    """What else is full first, by arithmetic."""
    limits = answer["next_limits"]
    others = [c for c in limits["ceilings"] if not c["of_this"]]
    own = [c for c in limits["ceilings"] if c["of_this"]]
    if others:
        also = f" ({answer['what']} itself: {whole(own[0]['heads_per_week'])})" if own else ""
        yield (
            f"What limits next at {limits['size']:,}, by arithmetic: {others[0]['name']}, at most "
            f"about {whole(others[0]['heads_per_week'])} heads a full week{also}."
        )


def gained(some: Answer) -> str:
    """What one more of each thing adds to the present or to larger orders."""
    short = some["heads_short_per_week"]
    told = (
        f"{short['mean']:,.1f} heads a week are short ({short['low']:,.1f} to "
        f"{short['high']:,.1f}), and no more can be gained. "
    )
    if some["orders"] == "present":
        told = f"One more of each thing at the present size: of the present orders {told}"
    else:
        heads = whole(some["heads_full_week"])
        told = f"What limits next, simulated: of orders of {heads} heads a full week {told}"
    gains = [
        g for g in some["things"]
        if g["heads_per_week"]["verdict"] == "real" and g["heads_per_week"]["mean"] > 0
    ]  # fmt: skip
    if not gains:
        return told + "Nothing by itself is shown to gain heads with this cadence."
    most = max(gains, key=lambda g: float(g["heads_per_week"]["mean"]))
    return told + (
        f"Most comes from {most['name']}, {counted(most['amount'], most['unit'])} more: "
        f"{signed(most['heads_per_week'])} heads a week and "
        f"{signed(most['weeks_met'])} weeks met a year."
    )


def signed(change: Answer) -> str:
    """A difference with its 95 % interval: "+2.2 (1.5 to 2.9)"."""
    mean, low, high = (change[key] for key in ("mean", "low", "high"))
    if mean is None:
        return "-"
    decimals = 0 if abs(mean) >= 10 else 1
    mean, low, high = (round(number, decimals) + 0.0 for number in (mean, low, high))
    if change["sure_low"] == change["sure_high"]:
        return f"{mean:+,.{decimals}f} every year" if mean else "0"
    return f"{mean:+,.{decimals}f} ({low:,.{decimals}f} to {high:,.{decimals}f})"
