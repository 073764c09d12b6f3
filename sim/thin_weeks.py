"""The weeks with least to spare, and the trays that a cadence needs more for them.

After a long break, and after months of slow growth, heads are thin for some weeks in a row. More
trays all year would waste plants in all other weeks; a few more trays in the weeks that grow
for the thin ones do not.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil

from sim.kind_year import Cover, KindYear
from sim.parts import Cadence, CadenceLine
from sim.school_year import weekday
from sim.timetable import Timetable

MORE = 0.12  # trays more in the weeks that need it, as a share of the usual ones, at least one
_THIN = 0.95  # a reserve below this share of the heads due is thin


def thin_run(reserves: Mapping[int, float]) -> tuple[int, int] | None:
    """First and last of the consecutive weeks that together lack most of a full reserve."""
    worst, most, lack, first = None, 0.0, 0.0, 0
    for week, reserve in sorted(reserves.items()):
        if reserve >= _THIN or week - 1 not in reserves or reserves[week - 1] >= _THIN:
            lack, first = 0.0, week
        if reserve < _THIN:
            lack += 1.0 - reserve
            if lack > most:
                worst, most = (first, week), lack
    return worst


def topped_up(
    cadence: Cadence, cover: Cover, year: KindYear, timetable: Timetable
) -> Cadence | None:
    """The same cadence with more trays for its thin weeks and the week before; None without any.

    They are seeded on the day that has fewest, of each crop that has thin weeks.
    """
    first_lines = {line.crop: line for line in reversed(cadence.lines)}
    more = [
        added
        for line in first_lines.values()
        if (run := thin_run(cover.reserves.get(line.crop, {})))
        and (added := _added(line, run, year, timetable))
    ]
    return cadence.model_copy(update={"lines": (*cadence.lines, *more)}) if more else None


def _added(
    line: CadenceLine, run: tuple[int, int], year: KindYear, timetable: Timetable
) -> CadenceLine | None:
    """The line to add for a run of thin weeks, from its first seeding to its last."""
    lightest = min(line.trays, key=lambda day: line.trays[day])
    first, last = (timetable.window_start + 7 * week for week in (run[0] - 1, run[1] + 1))
    days = [
        timetable.date_of(day)
        for day in range(timetable.window_end)
        if (ready := year.ready(line.crop, day)) is not None and first <= ready < last
    ]
    days = [day for day in days if weekday(day) == lightest]
    if not days:
        return None
    trays = {lightest: ceil(MORE * sum(line.trays.values()) / line.every_weeks)}
    return CadenceLine(crop=line.crop, trays=trays, first_day=days[0], last_day=days[-1])
