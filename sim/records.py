"""What happened: one flat row per event.

A run only appends rows; every statistic is computed from them afterwards. A school's own log
has the same columns. Rows are plain tuples in the order of `COLUMNS`.
"""

from __future__ import annotations

from typing import Final, Literal

Row = tuple[float, str, str, str, str, str, str, str, int, int, float, float, str]

COLD_STORE: Final = "cold store"  # the place of stored heads

Number = Literal[8, 9, 10]  # the columns that can be added up

TIME: Final = 0
KIND: Final = 1
BATCH: Final = 2
CROP: Final = 3
PLACE: Final = 4
TO: Final = 5
CREW: Final = 6
CUSTOMER: Final = 7
COUNT: Final = 8
CONTAINERS: Final = 9
MINUTES: Final = 10
SINCE: Final = 11
CAUSE: Final = 12

COLUMNS: dict[str, str] = {
    "time": "when it happened [days since 00:00 on the first day]",
    "kind": "what happened; see the kinds of rows",
    "batch": "the batch it happened to",
    "crop": "the crop",
    "place": "where it happened; for a move, where the plants stood before",
    "to": "for a move, where the plants stand now",
    "crew": "who did it",
    "customer": "for whom",
    "count": "cells, plants, heads or people [number]",
    "containers": "trays, channels or rafts taken, emptied, washed or freed [number]",
    "minutes": "person-minutes worked; for a shift, person-minutes there were [min]",
    "since": "when these plants came to the place, or these heads to the cold store [days]",
    "cause": "why",
}

KINDS: dict[str, str] = {
    "standing": "plants, heads, or containers to clean that were there when the run began",
    "seeded": "cells seeded in `place`, in so many trays",
    "missed": "cells that were to be seeded and were not, with the cause",
    "finished": "plants that completed their stage in `place` and are alive",
    "lost": "plants lost, with the cause",
    "moved": "plants set from `place` into `to`, taking so many containers there",
    "harvested": "heads cut in `place` and put in the cold store",
    "dumped": "plants or heads thrown away: overgrown, over-mature, or kept too long",
    "emptied": "containers that hold no plants any more",
    "cleared": "containers cleared of dumped plants",
    "washed": "containers washed and sanitized",
    "freed": "containers that can be used again",
    "due": "heads a customer ordered for this delivery",
    "delivered": "heads of one batch that left for the customer",
    "short": "heads missing from a delivery, with the cause",
    "surplus": "heads that a surplus outlet took",
    "checked": "daily checks done",
    "shift": "a shift that ended: people present, and the person-minutes they had",
}
