"""What is to be expected on the benches on a day: the same count in many simulated years."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from statistics import median_low

from sim.benches import Benches, Standing, Stored, ToClean
from sim.benches_rows import benches_of
from sim.errors import SeedbeatError
from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.scenario import Scenario
from sim.school_year import spoken
from sim.timetable import Timetable

OFTEN = 0.5  # share of the years from which a batch is expected in a place
Progress = Callable[[int, int, str], None]  # hears years done, all years, a note


@dataclass(frozen=True)
class Expected:
    """What stands there on a day, expected over so many simulated years.

    `benches` has a row for each batch and place where plants stand in at least half of the years:
    means of the years in which they do, middling dates, and plants as they would be counted.
    `there` says for each of these rows in how many years, `ready` in how many of those the most of
    its plants are ready.
    """

    benches: Benches
    there: tuple[int, ...]
    ready: tuple[int, ...]
    years: int


def expected(
    scenario: Scenario,
    day: date,
    *,
    years: int = 40,
    seed: int = 1,
    progress: Progress | None = None,
) -> Expected:
    """What stands in the greenhouse at 00:00 of a day of the run, which begins empty.

    Raises SeedbeatError if the day is not one of the run, or its first.
    """
    plan = Plan(scenario.model_copy(update={"benches": None}))
    number = plan.timetable.day_of(day)
    last = plan.timetable.date_of(plan.timetable.days - 1)
    if not 0 < number < plan.timetable.days:
        after = spoken(plan.timetable.start, year=True)
        raise SeedbeatError(
            f"--on {day}: must be a day of the run after its first, from the day after {after} "
            f"to {spoken(last, year=True)}; choose one between."
        )
    found = []
    for replication in range(years):
        found.append(benches_of(plan, run_year(plan, seed, replication), number))
        if progress:
            progress(replication + 1, years, "")
    return _together(plan.timetable, found)


def _together(table: Timetable, found: list[Benches]) -> Expected:
    day, years, scenario = found[0].day, len(found), table.scenario
    groups: defaultdict[tuple[str, str], list[list[Standing]]] = defaultdict(list)
    for benches in found:
        here: defaultdict[tuple[str, str], list[Standing]] = defaultdict(list)
        for s in benches.standing:
            here[s.place, s.batch].append(s)
        for key, rows in here.items():
            groups[key].append(rows)
    often = [rows for rows in groups.values() if len(rows) >= OFTEN * years]
    order = list(scenario.places)
    often.sort(key=lambda rows: (order.index(rows[0][0].place), rows[0][0].seeded, rows[0][0].crop))
    ready = tuple(sum(map(_mostly_ready, rows)) for rows in often)
    benches = Benches(
        day=day,
        standing=tuple(
            _mean(table, day, rows, ready=2 * r > len(rows))
            for rows, r in zip(often, ready, strict=True)
        ),
        to_clean=_to_clean(found),
        stored=_stored(found, day),
    )
    return Expected(benches, tuple(map(len, often)), ready, years)


def _mostly_ready(rows: list[Standing]) -> bool:
    """Whether most plants of a batch in a place are ready."""
    return 2 * sum(s.plants for s in rows if s.ready) > sum(s.plants for s in rows)


def _mean(table: Timetable, day: date, years: list[list[Standing]], *, ready: bool) -> Standing:
    """A batch in a place, its plants as they would be counted."""
    one, n = years[0][0], len(years)
    stages, place = table.scenario.crops[one.crop].stages, table.scenario.places[one.place]
    stage = next(s for s in stages if s.place == one.place)
    living = ready or stage is not stages[0]  # of cells seeded, some are yet to come up

    def alive(s: Standing) -> float:
        if s.ready:
            return float(s.plants)
        over = min(1.0, (day - s.moved).days / stage.days)
        return float(s.plants * (1.0 - stage.loss_percent / 100.0) ** over)

    containers = max(1, round(sum(s.containers or 0 for rows in years for s in rows) / n))
    plants = containers * place.sites_each
    if living:
        plants = max(1, round(sum(alive(s) for rows in years for s in rows) / n))
    moved = [s.moved for rows in years for s in rows for _ in range(s.plants)]
    since = [s.ready for rows in years for s in rows if s.ready for _ in range(s.plants)]
    middle = median_low(moved)
    return Standing(
        crop=one.crop, place=one.place, plants=plants, seeded=one.seeded, moved=middle,
        ready=max(middle, median_low(since)) if ready else None,
        containers=max(containers, -(-plants // place.sites_each)), living=living, batch=one.batch,
    )  # fmt: skip


def _to_clean(found: list[Benches]) -> tuple[ToClean, ...]:
    """Containers to clean by place, means of the years, rounded."""
    clear: Counter[str] = Counter()
    wash: Counter[str] = Counter()
    for benches in found:
        for c in benches.to_clean:
            clear[c.place] += c.to_clear
            wash[c.place] += c.to_wash
    n = len(found)
    return tuple(
        ToClean(place=name, to_clear=round(clear[name] / n), to_wash=round(wash[name] / n))
        for name in dict.fromkeys([*clear, *wash])
        if round(clear[name] / n) or round(wash[name] / n)
    )


def _stored(found: list[Benches], day: date) -> tuple[Stored, ...]:
    """Heads in the cold store by crop, means of the years, as put in at noon of a middling day."""
    lots: defaultdict[str, list[Stored]] = defaultdict(list)
    for benches in found:
        for lot in benches.stored:
            lots[lot.crop].append(lot)
    told = []
    for crop, these in lots.items():
        if heads := round(sum(lot.heads for lot in these) / len(found)):
            since = median_low([lot.since.date() for lot in these for _ in range(lot.heads)])
            since = min(since, day - timedelta(days=1))
            told.append(Stored(crop=crop, heads=heads, since=datetime.combine(since, time(12))))
    return tuple(told)
