"""Cost per head: what is paid a year, and what adults' hours are worth, each apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sim.replications import Estimate

Cost = tuple[str, float]  # what it is for, and dollars a year


def costs_answer(
    costs: Sequence[Cost], wage: float | None, heads: Estimate, adult_hours: float
) -> dict[str, Any] | None:
    """Rows of dollars a year and dollars per head; None if no cost and no wage was given.

    Dollars per head are dollars a year / heads delivered in the measured weeks of a year: at the
    mean of the heads, and at those of the 95 % and the 5 % year. `adult_hours` are those of the
    whole school year [person-hours]; students' hours are instruction and not valued.
    """
    if not costs and wage is None:
        return None
    total = sum(amount for _, amount in costs)
    rows = [{"what": name, "dollars": amount, "kind": "cost"} for name, amount in costs]
    if len(costs) > 1:
        rows.append({"what": "costs given, together", "dollars": total, "kind": "costs"})
    if wage is not None:
        labor = wage * adult_hours
        rows.append({"what": "adults' hours, valued apart", "dollars": labor, "kind": "labor"})
        if costs:
            rows.append(
                {"what": "costs and adults' hours", "dollars": total + labor, "kind": "all"}
            )
    return {
        "wage": wage,
        "adult_hours": adult_hours,
        "heads": heads.mean,
        "rows": [{**row, **_per_head(float(str(row["dollars"])), heads)} for row in rows],
    }


def _per_head(dollars: float, heads: Estimate) -> dict[str, float | None]:
    ends = {"per_head": heads.mean, "per_head_p05": heads.p95, "per_head_p95": heads.p05}
    return {name: dollars / count if count > 0 else None for name, count in ends.items()}
