"""Laws: what holds in every run, tried on random greenhouses.

Every law is recomputed from the rows alone. The examples are the same in every session, and all
laws share them. The rules' anchors are those of the contributor guide.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import timedelta
from fractions import Fraction
from itertools import groupby, pairwise
from math import ceil, floor, inf, nan

import pytest
from hypothesis import HealthCheck, given, seed, settings
from strategies import Run, runs

from sim.greenhouse.house import run_year
from sim.greenhouse.plan import Plan
from sim.parts import Stage
from sim.records import (
    BATCH,
    CAUSE,
    COLUMNS,
    CONTAINERS,
    COUNT,
    CREW,
    CROP,
    CUSTOMER,
    KIND,
    KINDS,
    MINUTES,
    PLACE,
    SINCE,
    TIME,
    TO,
    Row,
)
from sim.year import Year

STORE = "cold store"
LEAVES = ("lost", "dumped", "delivered", "surplus")
UNITS = {
    "seeded": CONTAINERS, "moved": COUNT, "harvested": COUNT, "washed": CONTAINERS,
    "cleared": CONTAINERS, "checked": COUNT,
}  # fmt: skip
NEAR = 1e-6  # a difference of sums of clock times, or of stints' ends, below this is none [d]
ALL_LAWS: list[Callable[[Run], None]] = []
FIXED = settings(
    deadline=None, database=None, print_blob=False, suppress_health_check=list(HealthCheck)
)


def law(check: Callable[[Run], None]) -> Callable[[], None]:
    """A test of one law on 100 random runs, which all laws share; the proof takes more."""
    ALL_LAWS.append(check)
    return seed(20260831)(settings(FIXED, max_examples=100)(given(run=runs())(check)))


@pytest.mark.proof
@seed(1)
@settings(FIXED, max_examples=2000)
@given(run=runs())
def test_all_laws_hold_in_many_more_runs(run: Run) -> None:
    """R2 and all the laws below in 2,000 random runs."""
    for check in ALL_LAWS:
        check(run)


def test_random_runs_show_every_kind_of_row_and_cause() -> None:
    """The laws are not empty: their runs hold every kind of row, loss, waste and shortage."""
    seen: Counter[str] = Counter()

    @seed(20260831)
    @settings(FIXED, max_examples=100)
    @given(run=runs())
    def look(run: Run) -> None:
        seen.update({row[KIND] for row in run.rows} | {row[CAUSE] for row in run.rows})

    look()
    causes = {
        "lost while growing", "lost in moving", "damping-off", "overgrown", "over-mature",
        "kept too long", "no ready heads", "not enough minutes", "nobody there",
        "cold store full", "no free channel",
    }  # fmt: skip
    assert {word for word in (KINDS.keys() | causes) - {"standing"} if seen[word] < 3} == set()


# -- plants -----------------------------------------------------------------------------------


def changes(row: Row) -> Iterator[tuple[str, int]]:
    """Where a row puts plants or heads (place, change), and where it takes them away."""
    if row[KIND] == "seeded":
        yield row[PLACE], row[COUNT]
    elif row[KIND] in ("moved", "harvested", *LEAVES):
        yield row[PLACE], -row[COUNT]
    if row[KIND] == "moved":
        yield row[TO], row[COUNT]
    if row[KIND] == "harvested":
        yield STORE, row[COUNT]


@law
def test_no_place_ever_holds_less_than_no_plant_of_a_batch(run: Run) -> None:
    """R2: at any time, in any place and in the store, a batch has 0 plants or more."""
    here: Counter[tuple[str, str]] = Counter()
    for row in run.rows:
        for place, change in changes(row):
            here[row[BATCH], place] += change
            assert here[row[BATCH], place] >= 0, row


@law
def test_every_cell_meets_one_fate_or_is_on_hand(run: Run) -> None:
    """R2: seeded = lost + dumped + surplus + delivered + on hand, per batch and in total.

    On hand is counted part by part: what was finished and did not leave since, what came and was
    not finished yet, and what was harvested and did not leave the store.
    """
    balance: Counter[str] = Counter()
    on_hand: Counter[str] = Counter()
    finished: set[Part] = set()
    for row in run.rows:
        if row[KIND] == "seeded":
            balance[row[BATCH]] += row[COUNT]
        elif row[KIND] in LEAVES:
            balance[row[BATCH]] -= row[COUNT]
        if row[KIND] == "finished":
            finished.add(part_left(row))
            on_hand[row[BATCH]] += row[COUNT]
        elif row[KIND] in LEAVES and row[PLACE] == STORE:
            on_hand[row[BATCH]] -= row[COUNT]
        elif row[KIND] in ("moved", "dumped", "lost") and part_left(row) in finished:
            on_hand[row[BATCH]] -= row[COUNT]  # what is harvested is still on hand
    for row in run.of("seeded", "moved"):
        on_hand[row[BATCH]] += row[COUNT] * (part_joined(row) not in finished)
    crops = {row[BATCH]: row[CROP] for row in run.of("seeded")}
    assert balance.keys() == crops.keys()
    for batch, crop in crops.items():
        if all(the_stage(run, crop, s.place) for s in run.scenario.crops[crop].stages):
            assert on_hand[batch] == balance[batch], batch
    assert sum(balance.values()) == sum(c for row in run.rows for _, c in changes(row))


Part = tuple[str, str, int]  # batch, place and date of coming: what rule C1 calls a part


def part_left(row: Row) -> Part:
    """The part that a row's plants belong to, or leave."""
    return row[BATCH], row[PLACE], floor(row[SINCE])


def part_joined(row: Row) -> Part:
    """The part that seeded or moved plants join."""
    return row[BATCH], row[TO] or row[PLACE], floor(row[TIME])


@law
def test_finished_plants_are_those_that_came_less_those_lost(run: Run) -> None:
    """C3, C5: a part is finished with all its plants that were not lost, and none left before."""
    there: Counter[Part] = Counter()
    done: set[Part] = set()
    for row in run.rows:
        if row[KIND] == "finished":
            if the_stage(run, row[CROP], row[PLACE]):
                assert there[part_left(row)] == row[COUNT], row
            done.add(part_left(row))
        elif row[KIND] in ("moved", "lost", "dumped", "harvested") and row[PLACE] != STORE:
            there[part_left(row)] -= row[COUNT]
            assert there[part_left(row)] >= 0, row
            assert row[KIND] == "lost" or part_left(row) in done, row
        if row[KIND] in ("seeded", "moved"):
            there[part_joined(row)] += row[COUNT]


@law
def test_time_integral_of_plants_is_the_sum_of_their_stays(run: Run) -> None:
    """R2, Little's law as an identity: what `since` says agrees with what came and left.

    Left side: every change of a place's plants times the time from then to the end. Right side:
    of plants that left, or finished and are still there, the time since they came; of the rest,
    the time from their coming to the end.
    """
    integral: defaultdict[str, float] = defaultdict(float)
    stays: defaultdict[str, float] = defaultdict(float)
    there: Counter[Part] = Counter()
    since: dict[Part, float] = {}
    for row in run.rows:
        for place, change in changes(row):
            integral[place] += change * (run.days - row[TIME])
        if row[KIND] in ("moved", "harvested", *LEAVES):
            stays[row[PLACE]] += row[COUNT] * (row[TIME] - row[SINCE])
            there[part_left(row)] -= row[COUNT]
        elif row[KIND] == "finished":
            since[part_left(row)] = row[SINCE]
        if row[KIND] in ("seeded", "moved"):
            there[part_joined(row)] += row[COUNT]
    for row in run.of("seeded", "moved"):
        if part_joined(row) not in since:
            stays[row[TO] or row[PLACE]] += row[COUNT] * (run.days - row[TIME])
    for part, came in since.items():
        stays[part[1]] += there[part] * (run.days - came)
    for name in _places_of_one_stage(run):
        assert stays[name] == pytest.approx(integral[name], rel=1e-9, abs=NEAR), name


def _places_of_one_stage(run: Run) -> Iterator[str]:
    """Places in which only one part of a batch can come on one date."""
    for name in run.scenario.places:
        uses = [[s.place for s in c.stages].count(name) for c in run.scenario.crops.values()]
        if max(uses) <= 1:
            yield name


@law
def test_heads_in_the_store_stay_as_long_as_their_rows_say(run: Run) -> None:
    """R2: time-integral of the heads in the cold store = sum of their stays, lot by lot."""
    lots: Counter[tuple[str, float]] = Counter()
    integral = stays = 0.0
    for row in run.rows:
        if row[KIND] == "harvested":
            lots[row[BATCH], row[TIME]] += row[COUNT]
        elif row[PLACE] == STORE and row[KIND] in LEAVES:
            lots[row[BATCH], row[SINCE]] -= row[COUNT]
            stays += row[COUNT] * (row[TIME] - row[SINCE])
            assert lots[row[BATCH], row[SINCE]] >= 0, row
        for place, change in changes(row):
            integral += change * (run.days - row[TIME]) * (place == STORE)
    stays += sum(heads * (run.days - came) for (_, came), heads in lots.items())
    assert stays == pytest.approx(integral, rel=1e-9, abs=NEAR)


@law
def test_losses_and_finishes_happen_at_midnight(run: Run) -> None:
    """C3, C5, C6: losses of a stage, finishes and deadlines fall on 00:00; only culls do not."""
    culls = {s.move_loss_cause for c in run.scenario.crops.values() for s in c.stages}
    for row in run.of("finished", "lost", "dumped"):
        if row[CAUSE] not in culls and row[PLACE] != STORE:
            assert row[TIME] == floor(row[TIME]), row


@law
def test_a_batch_takes_the_same_days_in_all_its_parts(run: Run) -> None:
    """C3: the length of a stage is drawn once per batch; a part is finished at d + length."""
    lengths: dict[tuple[str, str], float] = {}
    for row in run.of("finished"):
        stage = the_stage(run, row[CROP], row[PLACE])
        if stage and not stage.pace_percent:
            length = row[TIME] - floor(row[SINCE])
            assert length >= 1
            assert lengths.setdefault((row[BATCH], row[PLACE]), length) == length


def the_stage(run: Run, crop: str, place: str) -> Stage | None:
    """The stage of a crop in a place, None if it has more than one there."""
    found = [stage for stage in run.scenario.crops[crop].stages if stage.place == place]
    return found[0] if len(found) == 1 else None


@law
def test_nothing_is_moved_or_harvested_after_its_deadline(run: Run) -> None:
    """C6: a finished part is moved or harvested within `keep_days`, then dumped to the last."""
    finished: dict[tuple[str, str, float], float] = {}
    crops = {row[BATCH]: row[CROP] for row in run.of("seeded")}
    left: Counter[tuple[str, str, float]] = Counter()
    for row in run.rows:
        part = (row[BATCH], row[PLACE], row[SINCE])
        if row[KIND] == "finished":
            finished[part] = row[TIME]
            left[part] = row[COUNT]
        elif row[KIND] in ("moved", "harvested", "dumped", "lost") and part in finished:
            left[part] -= row[COUNT]
            stage = the_stage(run, row[CROP], row[PLACE])
            if stage and stage.keep_days is not None:
                deadline = finished[part] + stage.keep_days
                # what needs nobody happens at once, even if nothing keeps
                assert (
                    row[TIME] < deadline
                    or row[TIME] == finished[part]
                    or (row[KIND] == "dumped" and row[TIME] == deadline)
                ), row
    for part, heads in left.items():
        stage = the_stage(run, crops[part[0]], part[1])
        if stage and stage.keep_days is not None and heads:
            assert finished[part] + stage.keep_days >= run.days, part


# -- containers -------------------------------------------------------------------------------


@law
def test_containers_taken_less_freed_are_within_the_count(run: Run) -> None:
    """R2, P1, P3: 0 <= taken - freed <= count at every moment, counted from the work's start."""
    for name, place in run.scenario.places.items():
        # at the same moment what is freed can be taken
        steps = [(when + NEAR, n) for when, _, where, n in containers_taken(run) if where == name]
        steps += [(r[TIME], -r[CONTAINERS]) for r in run.of("freed") if r[PLACE] == name]
        held = 0
        for _, change in sorted(steps):
            held += change
            assert place.count is None or held <= place.count
        for row in run.rows:
            if row[KIND] in ("seeded", "moved") and (row[TO] or row[PLACE]) == name:
                held -= row[CONTAINERS]
            held += row[CONTAINERS] * (row[KIND] == "freed" and row[PLACE] == name)
        assert held == 0


@law
def test_no_more_containers_are_freed_than_taken(run: Run) -> None:
    """R2: 0 <= taken - freed in each place after every row, and nothing is freed for nothing."""
    held = Counter(dict.fromkeys(run.scenario.places, 0))
    for row in run.rows:
        if row[KIND] in ("seeded", "moved"):
            held[row[TO] or row[PLACE]] += row[CONTAINERS]
        elif row[KIND] == "freed":
            assert row[CONTAINERS] > 0
            held[row[PLACE]] -= row[CONTAINERS]
            assert held[row[PLACE]] >= 0


def containers_taken(run: Run) -> Iterator[tuple[float, str, str, int]]:
    """Time at which the work on containers began, batch, place and number of them."""
    began = {id(row): begin for work in shifts_worked(run) for begin, row in work.begins()}
    for row in run.of("seeded", "moved"):
        yield began.get(id(row), row[TIME]), row[BATCH], row[TO] or row[PLACE], row[CONTAINERS]


@law
def test_containers_are_emptied_cleared_washed_and_freed_in_turn(run: Run) -> None:
    """P3: never more freed than washed, washed than emptied, emptied than taken; rest is kept."""
    for name, place in run.scenario.places.items():
        done: Counter[str] = Counter()
        rested = [
            (row[TIME] + place.rest_hours / 24, row[CONTAINERS])
            for row in run.of("washed")
            if row[PLACE] == name
        ]
        freed = [(r[TIME], r[CONTAINERS]) for r in run.of("freed") if r[PLACE] == name]
        if place.washed_by:
            due = [one for one in rested if one[0] < run.days - NEAR]
            assert [n for _, n in freed[: len(due)]] == [n for _, n in due]
            assert [t for t, _ in freed] == pytest.approx([t for t, _ in rested[: len(freed)]])
        for row in run.rows:
            if name == (row[TO] or row[PLACE]) and row[KIND] != "missed":
                kind = "taken" if row[KIND] in ("seeded", "moved") else row[KIND]
                done[kind] += row[CONTAINERS]
                assert done["emptied"] <= done["taken"]
                assert max(done["cleared"], done["washed"], done["freed"]) <= done["emptied"]
                assert done["freed"] <= (done["washed"] if place.washed_by else done["emptied"])


@law
def test_no_container_holds_two_batches(run: Run) -> None:
    """P2: at any moment a batch holds ceil(plants / sites) containers or more, all its own."""
    steps: defaultdict[tuple[str, str], list[tuple[float, int, int]]] = defaultdict(list)
    for when, batch, place, n in containers_taken(run):
        steps[batch, place].append((when, 0, n))
    for row in run.rows:
        for place, change in changes(row):
            steps[row[BATCH], place].append((row[TIME], change, 0))
        if row[KIND] == "emptied":
            steps[row[BATCH], row[PLACE]].append((row[TIME], 0, -row[CONTAINERS]))
    for (_, place), changed in steps.items():
        if place == STORE:
            continue
        plants = containers = 0
        sites = run.scenario.places[place].sites_each
        for _, together in groupby(sorted(changed), key=lambda step: step[0]):
            for _, more, taken in together:
                plants += more
                containers += taken
            assert containers >= ceil(plants / sites)
        assert plants or not containers


# -- people -----------------------------------------------------------------------------------


def tasks_of(run: Run, row: Row) -> set[str | None]:
    """The tasks that a row of work may belong to."""
    if row[KIND] in ("washed", "cleared"):
        place = run.scenario.places[row[PLACE]]
        return {place.washed_by if row[KIND] == "washed" else place.cleared_by}
    if row[KIND] == "checked":
        return {run.scenario.daily_checks_by}
    crop = run.scenario.crops[row[CROP]]
    if row[KIND] == "harvested":
        return {crop.harvested_by}
    if row[KIND] == "seeded":
        return {crop.stages[0].moved_in_by}
    steps = pairwise(crop.stages)
    return {b.moved_in_by for a, b in steps if (a.place, b.place) == (row[PLACE], row[TO])}


class Work:
    """The work of one shift: its crew, its minutes, and when it was done."""

    def __init__(self, shift: Row) -> None:
        self.crew, self.start, self.end = shift[CREW], shift[SINCE], shift[TIME]
        self.there = shift[MINUTES]
        self.rate = shift[MINUTES] / (self.end - self.start)
        self.rows: list[Row] = []

    def stints(self) -> list[tuple[float, float]]:
        """When each stint began and ended; heads of several parts are cut in one."""
        ends: Counter[float] = Counter()
        for row in self.rows:
            ends[row[TIME]] += row[MINUTES]
        return [(end - minutes / self.rate, end) for end, minutes in sorted(ends.items())]

    def begins(self) -> Iterator[tuple[float, Row]]:
        """When the work of each row began; its stint's minutes were used evenly until its end."""
        began = {end: begin for begin, end in self.stints()}
        for row in self.rows:
            yield began[row[TIME]], row

    def idle(self, until: float) -> float:
        """Person-minutes not used before a time."""
        busy = sum(min(end, until) - min(begin, until) for begin, end in self.stints())
        return (min(until, self.end) - self.start - busy) * self.rate


def shifts_worked(run: Run) -> list[Work]:
    """All shifts with the rows of work done in them; no row may lie outside."""
    shifts = [Work(row) for row in run.of("shift")]
    by_crew: dict[str, list[Work]] = {name: [] for name in run.scenario.crews}
    for work in sorted(shifts, key=lambda w: w.start):
        by_crew[work.crew].append(work)
    for row in run.of(*UNITS):
        if row[CREW]:
            worked = by_crew[row[CREW]]
            at = bisect_right([w.start for w in worked], row[TIME]) - 1
            assert at >= 0, ("before every shift", row)
            assert row[TIME] < worked[at].end, ("outside every shift", row)
            worked[at].rows.append(row)
    return shifts


@law
def test_work_is_done_by_those_who_may_within_their_shifts(run: Run) -> None:
    """W3, W4: work lies inside a shift of a crew that may do it; no task needs nobody."""
    shifts_worked(run)
    for row in run.of(*UNITS):
        tasks = tasks_of(run, row)
        if row[CREW]:
            assert any(
                task and row[CREW] in (run.scenario.tasks[task].who or run.scenario.crews)
                for task in tasks
            ), row
            assert row[MINUTES] > 0
        else:
            assert None in tasks, row
            assert row[MINUTES] == 0, row


@law
def test_minutes_worked_are_within_those_there_were(run: Run) -> None:
    """R2, W2: minutes worked in each shift <= people present x minutes x pace, none used twice."""
    for work in shifts_worked(run):
        assert sum(row[MINUTES] for row in work.rows) <= work.there + 1e-6
        if work.rows:
            stints = work.stints()
            assert stints[0][0] >= work.start - NEAR
            for (_, end), (begin, _) in pairwise(stints):
                assert begin >= end - NEAR


@law
def test_minutes_are_units_times_minutes_plus_one_setup(run: Run) -> None:
    """W1: minutes = units x minutes each, and the set-up once per task, crew and shift."""
    for work in shifts_worked(run):
        units: Counter[str] = Counter()
        minutes: Counter[str] = Counter()
        for row in work.rows:
            tasks = tasks_of(run, row)
            task = tasks.pop() if len(tasks) == 1 else None
            if task is None:
                break  # two steps between the same places: either task may be meant
            units[task] += row[UNITS[row[KIND]]]
            minutes[task] += row[MINUTES]
        else:
            for name in units:
                task = run.scenario.tasks[name]
                once = units[name] * task.minutes_each + task.setup_minutes
                assert minutes[name] == pytest.approx(once)


@law
def test_checks_are_done_once_a_day(run: Run) -> None:
    """W1: daily checks are done at most once a day, and only if the scenario has them."""
    days = [floor(row[TIME]) for row in run.of("checked")]
    assert len(days) == len(set(days))
    assert not days or run.scenario.daily_checks_by


@law
def test_no_crew_is_idle_while_seedlings_wait_for_unlimited_space(run: Run) -> None:
    """W3: a shift leaves less than one unit and its set-up unused while work waits throughout.

    Only work that nothing else can hold up: seeding and moving into places without a limit.
    """
    waits = [*_waiting_trays(run), *_waiting_plants(run)]
    shifts = shifts_worked(run)
    for work in shifts:
        beside = {id(r) for w in shifts if w.start < work.end < w.end for r in w.rows}
        for task, begins, rows in waits:
            spec = run.scenario.tasks[task]
            if begins > work.start or work.crew not in (spec.who or run.scenario.crews):
                continue
            if any(row[TIME] > work.end and id(row) not in beside for row in rows):
                assert work.idle(work.end) < spec.minutes_each + spec.setup_minutes + 1e-3


def _waiting_trays(run: Run) -> Iterator[tuple[str, float, list[Row]]]:
    """Task, day and rows of each seeding into a place without a limit."""
    for seeding in run.plan.seedings:
        first = run.scenario.crops[seeding.crop].stages[0]
        if first.moved_in_by and run.scenario.places[first.place].count is None:
            rows = [r for r in run.of("seeded", "missed") if r[BATCH] == seeding.batch]
            yield first.moved_in_by, seeding.day, rows


def _waiting_plants(run: Run) -> Iterator[tuple[str, float, list[Row]]]:
    """Task, time and rows of each part that waits to be moved to a place without a limit."""
    for part in run.of("finished"):
        stage = the_stage(run, part[CROP], part[PLACE])
        stages = run.scenario.crops[part[CROP]].stages
        if stage is None or stage is stages[-1]:
            continue
        onto = stages[stages.index(stage) + 1]
        if onto.moved_in_by and run.scenario.places[onto.place].count is None:
            key = (part[BATCH], part[PLACE], part[SINCE])
            rows = [r for r in run.of("moved", "dumped") if (r[BATCH], r[PLACE], r[SINCE]) == key]
            yield onto.moved_in_by, part[TIME], rows


# -- cadence ----------------------------------------------------------------------------------


@law
def test_a_planned_seeding_is_seeded_or_missed(run: Run) -> None:
    """K4: trays seeded within `late_days` + trays missed just after them = trays planned."""
    late = run.scenario.cadence.late_days
    trays: Counter[tuple[str, str]] = Counter()
    for row in run.of("seeded", "missed"):
        trays[row[KIND], row[BATCH]] += row[CONTAINERS]
    days = {seeding.batch: seeding.day for seeding in run.plan.seedings}
    assert len(days) == len(run.plan.seedings)
    for seeding in run.plan.seedings:
        done = trays["seeded", seeding.batch] + trays["missed", seeding.batch]
        assert done <= seeding.trays
        assert done == seeding.trays or seeding.day + late + 1 >= run.days
    for row in run.of("seeded"):
        assert days[row[BATCH]] <= row[TIME] < days[row[BATCH]] + late + 1
        sites = run.scenario.places[row[PLACE]].sites_each
        assert row[COUNT] == row[CONTAINERS] * sites
    for row in run.of("missed"):
        assert row[TIME] == days[row[BATCH]] + late + 1


# -- harvest, store and deliveries ------------------------------------------------------------


@law
def test_no_head_leaves_older_than_the_keep_limit(run: Run) -> None:
    """O3: a head is delivered or given away at the age of the limit at most, then it is dumped."""
    keep = run.scenario.cold_store.keep_days
    for row in run.of("delivered", "surplus"):
        assert -1e-9 <= row[TIME] - row[SINCE] <= keep + 1e-8, row
    for row in run.of("dumped"):
        if row[PLACE] == STORE:
            assert row[TIME] - row[SINCE] == pytest.approx(keep)


@law
def test_the_store_is_never_above_its_capacity(run: Run) -> None:
    """O3: heads in the cold store, of all crops, are within its capacity after every row."""
    heads, most = 0, run.scenario.cold_store.holds_heads
    for row in run.rows:
        heads += sum(change for place, change in changes(row) if place == STORE)
        assert 0 <= heads <= (inf if most is None else most), row


def leavings(run: Run) -> Iterator[tuple[float, str, list[Row]]]:
    """Each leaving: time, crop, and its due, short and delivered rows in their order."""
    rows = run.of("due", "short", "delivered")
    for (when, crop), together in groupby(rows, key=lambda row: (row[TIME], row[CROP])):
        yield when, crop, list(together)


@law
def test_delivered_and_short_are_what_was_ordered(run: Run) -> None:
    """R2, O4: delivered + short = ordered, for each customer at each leaving; short has a cause."""
    for _, _, rows in leavings(run):
        heads: Counter[str] = Counter()
        for row in rows:
            heads[row[CUSTOMER]] += row[COUNT] * (1 if row[KIND] == "due" else -1)
            assert row[COUNT] > 0
            assert bool(row[CAUSE]) == (row[KIND] == "short")
        assert set(heads.values()) == {0}


@law
def test_every_standing_order_is_due_on_its_days(run: Run) -> None:
    """O1: heads due = the orders' heads by weekday, less pauses and closed days."""
    school = run.scenario.school
    closed = {
        stretch.first_day + timedelta(days=n)
        for stretch in school.closed
        for n in range((stretch.last_day - stretch.first_day).days + 1)
    }
    due: Counter[tuple[str, int]] = Counter()  # by customer and minute
    for row in run.of("due"):
        due[row[CUSTOMER], round(row[TIME] * 1440)] += row[COUNT]
    wanted: Counter[tuple[str, int]] = Counter()
    for order in run.scenario.orders:
        first, last = order.first_day or school.first_day, order.last_day or school.last_day
        for n in range(run.days):
            day = run.scenario.start + timedelta(days=n)
            off = day in closed or f"{day:%a}" not in school.weekdays
            off = off or not school.first_day <= day <= school.last_day
            paused = any(p.first_day <= day <= p.last_day for p in order.paused)
            if first <= day <= last and not paused and not (off and order.school_closed == "pause"):
                minute = n * 1440 + order.leaves.hour * 60 + order.leaves.minute
                wanted[order.customer, minute] += order.heads.get(f"{day:%a}", 0)
    # nothing can be delivered at the very first moment of a run
    assert due == +Counter({key: heads for key, heads in wanted.items() if key[1] > 0})


@law
def test_stock_is_shared_by_priority_then_pro_rata(run: Run) -> None:
    """O4: by priority, then heads x stock / ordered, whole heads by the largest remainder."""
    ranks = {order.customer: order.priority for order in run.scenario.orders}
    for _, _, rows in leavings(run):
        ordered = {row[CUSTOMER]: row[COUNT] for row in rows if row[KIND] == "due"}
        got: Counter[str] = Counter()
        for row in rows:
            got[row[CUSTOMER]] += row[COUNT] * (row[KIND] == "delivered")
        stock = sum(got.values())
        for rank in sorted(set(ranks.values())):
            group = {name: heads for name, heads in ordered.items() if ranks[name] == rank}
            there = min(stock, sum(group.values()))
            stock -= there
            assert {name: got[name] for name in group} == largest_remainder(group, there)
        assert stock == 0


def largest_remainder(wanted: dict[str, int], there: int) -> dict[str, int]:
    """Whole shares of `there` in proportion to `wanted`; ties go to the first."""
    if not wanted:
        return {}
    total = sum(wanted.values())
    exact = {name: Fraction(heads * there, total) for name, heads in wanted.items()}
    given_out = {name: floor(share) for name, share in exact.items()}
    in_turn = sorted(exact, key=lambda name: given_out[name] - exact[name])
    for name in in_turn[: there - sum(given_out.values())]:
        given_out[name] += 1
    return given_out


@law
def test_the_store_is_first_in_first_out(run: Run) -> None:
    """O3: of one crop, no head leaves the store before one that came earlier and still keeps."""
    lots: defaultdict[str, Counter[float]] = defaultdict(Counter)
    keep = run.scenario.cold_store.keep_days
    for row in run.rows:
        if row[KIND] == "harvested":
            lots[row[CROP]][row[TIME]] += row[COUNT]
        elif row[PLACE] == STORE and row[KIND] in LEAVES:
            lots[row[CROP]][row[SINCE]] -= row[COUNT]
            if row[KIND] != "dumped":
                older = [t for t, n in lots[row[CROP]].items() if n and t < row[SINCE]]
                assert all(t + keep < row[TIME] + NEAR for t in older), row


@law
def test_nothing_usable_is_kept_back_from_a_short_delivery(run: Run) -> None:
    """O4: when a delivery is short, no head of its crop that still keeps stays in the store."""
    keep = run.scenario.cold_store.keep_days
    stock: defaultdict[str, Counter[float]] = defaultdict(Counter)
    for now, together in groupby(run.rows, key=lambda row: row[TIME]):
        short = set()
        for row in together:
            if row[KIND] == "harvested":
                stock[row[CROP]][row[TIME]] += row[COUNT]
            elif row[PLACE] == STORE and row[KIND] in LEAVES:
                stock[row[CROP]][row[SINCE]] -= row[COUNT]
            elif row[KIND] == "short":
                short.add(row[CROP])
        for crop in short:
            left = {t: n for t, n in stock[crop].items() if n and t < now - NEAR}
            assert all(t + keep < now for t in left), (now, crop)


@law
def test_heads_are_cut_only_for_open_requests(run: Run) -> None:
    """O2: harvest "for orders" never stores more of a crop than open requests and outlets want."""
    for crop, spec in run.scenario.crops.items():
        if spec.harvest == "when ready" or any(s.crop == crop for s in run.scenario.surplus):
            continue
        requests = [x for x in run.plan.leavings if x.crop == crop]
        fresh: Counter[float] = Counter()
        for row in run.rows:
            if row[CROP] != crop:
                continue
            if row[KIND] == "harvested":
                fresh[row[TIME]] += row[COUNT]
                asked = [x for x in requests if x.opens <= row[TIME] <= x.time]
                assert asked, row
                usable = sum(
                    n
                    for t, n in fresh.items()
                    if t + run.scenario.cold_store.keep_days >= min(x.time for x in asked) - NEAR
                )
                assert usable <= sum(x.heads for x in asked), row
            elif row[PLACE] == STORE and row[KIND] in LEAVES:
                fresh[row[SINCE]] -= row[COUNT]


@law
def test_the_oldest_ready_part_is_cut_first(run: Run) -> None:
    """O2: where one crew at most may harvest, parts are cut in the order of becoming ready."""
    for crop, spec in run.scenario.crops.items():
        task = spec.harvested_by
        may = run.scenario.tasks[task].who or tuple(run.scenario.crews) if task else ()
        last = spec.stages[-1]
        if len(may) > 1 or not the_stage(run, crop, last.place):
            continue
        left: dict[tuple[str, float], int] = {}
        for row in run.rows:
            if row[CROP] != crop or row[PLACE] != last.place:
                continue
            part = (row[BATCH], row[SINCE])
            if row[KIND] == "finished" and row[COUNT]:
                left[part] = row[COUNT]
            elif row[KIND] in ("harvested", "dumped"):
                if row[KIND] == "harvested":
                    assert part == next(iter(left)), row
                left[part] -= row[COUNT]
                if not left[part]:
                    del left[part]


@law
def test_short_for_want_of_minutes_means_the_minutes_were_used(run: Run) -> None:
    """O2, W3: "not enough minutes" only when harvesters' shifts of that day were used up."""
    shifts = shifts_worked(run)
    opens = {(x.time, x.crop): x.opens for x in run.plan.leavings}
    for row in run.of("short"):
        task = run.scenario.crops[row[CROP]].harvested_by
        if row[CAUSE] != "not enough minutes" or task is None:
            continue
        spec, now = run.scenario.tasks[task], row[TIME]
        for work in shifts:
            may = work.crew in (spec.who or run.scenario.crews)
            if may and max(opens[now, row[CROP]], floor(now)) <= work.start < now:
                assert work.idle(now) < spec.minutes_each + spec.setup_minutes + 1e-3, row


@law
def test_an_outlet_takes_no_more_than_it_can(run: Run) -> None:
    """O1: heads given away on one day are within what the outlets take of the crop that day."""
    given: Counter[tuple[str, int]] = Counter()
    for row in run.of("surplus"):
        given[row[CROP], floor(row[TIME])] += row[COUNT]
    for (crop, day), heads in given.items():
        name = f"{run.scenario.start + timedelta(days=day):%a}"
        takes = sum(s.heads.get(name, 0) for s in run.scenario.surplus if s.crop == crop)
        assert 0 < heads <= takes


# -- rows and what is computed from them ------------------------------------------------------


@law
def test_rows_lie_inside_the_run_in_order_of_time(run: Run) -> None:
    """T2, R1: rows are sorted, from 0 on and before the end; a shift's row ends by the end."""
    times = [row[TIME] for row in run.rows]
    assert times == sorted(times)
    for row in run.rows:
        assert 0 <= row[TIME] < run.days or (row[KIND] == "shift" and row[TIME] <= run.days)
        assert 0 <= row[SINCE] <= row[TIME]
        assert min(row[COUNT], row[CONTAINERS], row[MINUTES]) >= 0
        assert len(row) == len(COLUMNS)
        assert row[KIND] in KINDS


@law
def test_the_same_seed_gives_the_same_rows(run: Run) -> None:
    """L1, L2: a scenario, a seed and a replication fix every row, whoever ran before."""
    assert run_year(Plan(run.scenario), run.seed, 0) == run.rows


@law
def test_measures_agree_with_tables_made_from_the_rows(run: Run) -> None:
    """R3 to R5: every measure recomputed with pandas, by its definition."""
    table, end = run.plan.timetable, run.plan.timetable.window_end
    year = Year(table, run.rows)
    got, rows = year.measures(), year.rows
    inside = rows[(rows.time >= table.window_start) & (rows.time < end)]
    due, short = inside[inside.kind == "due"], inside[inside.kind == "short"]
    keys = ["customer", "crop", "time"]
    both = due.groupby(keys)["count"].sum().to_frame("due")
    both["short"] = short.groupby(keys)["count"].sum()
    both["met"] = both.short.isna()
    week = (both.index.get_level_values("time") - table.window_start) // 7
    delivered = inside[inside.kind == "delivered"]["count"].sum()
    late = set(rows[(rows.kind == "seeded") & (rows.time >= end)].batch)
    wasted = rows[(rows.kind == "dumped") & ~rows.batch.isin(late)]["count"].sum()
    worked = inside[inside.kind.isin(UNITS)].minutes.sum()
    there = inside[inside.kind == "shift"].minutes.sum()
    ordered = both.due.sum()
    expected = {
        "unit_fill_rate": delivered / ordered if ordered else nan,
        "order_fill_rate": both.met.mean(),
        "steadiness": both.met.groupby(week).all().mean(),
        "heads_per_week": delivered / table.weeks,
        "wasted_plants": wasted,
        "labor_use": worked / there if there else nan,
    }
    found = {name: got[name] for name in expected}
    assert found == pytest.approx(expected, nan_ok=True)


@law
def test_bench_fill_is_the_share_of_sites_with_a_plant(run: Run) -> None:
    """R4: filled sites = mean plants in the last stages' places; delivered heads fill fewer."""
    got = Year(run.plan.timetable, run.rows).measures()
    start, end = run.plan.timetable.window_start, run.plan.timetable.window_end
    last = {crop.stages[-1].place for crop in run.scenario.crops.values()}
    places = [run.scenario.places[name] for name in last]
    if any(place.count is None for place in places):
        assert got["bench_fill"] != got["bench_fill"]
        return
    level, before, area = 0, float(start), 0.0
    for row in run.rows:
        now = min(max(row[TIME], start), end)
        area += level * (now - before)
        before = now
        level += sum(change for place, change in changes(row) if place in last)
    area += level * (end - before)
    sites = sum(place.count * place.sites_each for place in places if place.count)
    assert got["bench_fill"] == pytest.approx(area / sites / (end - start))
    assert 0 <= got["bench_fill"] <= 1 + 1e-9


@law
def test_delivered_heads_fill_no_more_than_all_plants(run: Run) -> None:
    """R4: sites filled with heads that were delivered are a part of the sites filled."""
    got = Year(run.plan.timetable, run.rows).measures()
    if got["bench_fill"] == got["bench_fill"]:
        assert 0 <= got["useful_bench_share"] <= got["bench_fill"] + 1e-9


@law
def test_weekly_tables_add_up_to_the_rows(run: Run) -> None:
    """R1, T3: the weeks' counts and minutes add up to those of the rows inside the window."""
    table = run.plan.timetable
    year = Year(table, run.rows)
    weeks, rows = year.weeks(), year.rows
    assert list(weeks.index) == [
        run.scenario.start + timedelta(days=table.window_start + 7 * n) for n in range(table.weeks)
    ]
    inside = rows[(rows.time >= table.window_start) & (rows.time < table.window_end)]
    by_week = inside.groupby([(inside.time - table.window_start) // 7, "kind"])
    sums = by_week[["count", "containers", "minutes"]].sum().to_dict("index")
    counts = {
        "heads ordered": "due", "heads short": "short", "heads delivered": "delivered",
        "cells seeded": "seeded", "plants moved": "moved", "heads harvested": "harvested",
        "surplus heads": "surplus", "plants lost": "lost", "plants dumped": "dumped",
    }  # fmt: skip
    minutes = {
        "seeding": "seeded", "moving": "moved", "harvest": "harvested", "washing": "washed",
        "clearing": "cleared", "daily checks": "checked", "staffed": "shift",
    }  # fmt: skip
    columns = {name: (kind, "count") for name, kind in counts.items()}
    columns |= {f"{name} [person-min]": (kind, "minutes") for name, kind in minutes.items()}
    columns |= {f"trays {kind}": (kind, "containers") for kind in ("seeded", "missed")}
    for name, (kind, column) in columns.items():
        expected = [sums.get((n, kind), {}).get(column, 0) for n in range(table.weeks)]
        assert list(weeks[name]) == pytest.approx(expected), name


@law
def test_weekly_means_are_time_averages(run: Run) -> None:
    """R4: weekly plants and containers taken = the level held in each week, added up over time."""
    table = run.plan.timetable
    weeks = Year(table, run.rows).weeks()
    edges = [table.window_start + 7 * n for n in range(table.weeks + 1)]
    for name in run.scenario.places:
        steps = [(r[TIME], c) for r in run.rows for place, c in changes(r) if place == name]
        held = [
            (r[TIME], r[CONTAINERS] * (-1 if r[KIND] == "freed" else 1))
            for r in run.of("seeded", "moved", "freed")
            if (r[TO] or r[PLACE]) == name
        ]
        for column, level in (("plants in", steps), ("containers taken in", held)):
            means = weeks[f"{column} {name}"]
            assert list(means) == pytest.approx(_means(level, edges), abs=1e-9)


def _means(steps: list[tuple[float, int]], edges: list[int]) -> list[float]:
    """Mean level between each two edges: every step counts from its time to the later edge."""

    def area(edge: int) -> float:
        return sum(change * (edge - when) for when, change in steps if when < edge)

    return [(area(end) - area(start)) / 7 for start, end in pairwise(edges)]
