"""Numbers hidden in schools that the reference simulates plant by plant, found from their records.

The reference (tests/reference) shares no code with the simulation and none with the calibration; a
recorder writes down what its plants go through, as a school would: what is ready is seen on the
first day on which people are there, and the season is cut off while much still grows.

Every school has a seed of its own, which also draws its hidden numbers. A scenario says the middle
of every range below; the ranges are those that `seedbeat swings` takes for guesses.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from reference.examples import MONDAY, two_stage, weeks
from reference.house import Reference
from reference.things import Container, Part, Plant

from sim.calibration import Calibration, calibrate
from sim.calibration_numbers import Number
from sim.calibration_shares import Tally, shares
from sim.parts import BadEvent, Stage
from sim.records import BATCH, KIND, TIME, Row
from sim.scenario import Scenario
from sim.timetable import Timetable

SCHOOLS = 200
MORNING = 9.1 / 24  # when people look [share of a day]
EVENT = BadEvent(percent_of_batches=4, loss_percent=40)
OWN = {
    "stand": 10.0, "stand spread": 3.0, "growing loss": 4.0, "growing spread": 2.0,
    "moving loss": 3.0, "nursery days": 8.0, "nursery spread": 1.0, "days": 15.0, "spread": 1.5,
}  # fmt: skip
PATHS = {
    "stand": (0, "loss_percent"), "growing loss": (1, "loss_percent"),
    "moving loss": (1, "move_loss_percent"), "nursery days": (0, "days"), "days": (1, "days"),
    "stand spread": (0, "loss_sd_points"), "growing spread": (1, "loss_sd_points"),
    "nursery spread": (0, "days_sd"), "spread": (1, "days_sd"),
}  # fmt: skip


def hidden(seed: int) -> dict[str, float]:
    """A school's numbers: stand +-5 points, losses half to double, days +-2, spreads .7 to 1.8."""
    rng = np.random.default_rng(10_000 + seed)
    drawn = {}
    for name, own in OWN.items():
        if name == "stand":
            drawn[name] = own + rng.uniform(-5, 5)
        elif "days" in name:
            drawn[name] = own + rng.uniform(-2, 2)
        else:
            ends = (0.7, 1.8) if "spread" in name else (0.5, 2.0)
            drawn[name] = own * float(np.exp(rng.uniform(*np.log(ends))))
    return drawn


def school(numbers: dict[str, float]) -> Scenario:
    """A small greenhouse of one term: 60 cells twice a week, room and minutes mostly enough."""
    seedling = Stage(
        name="seedling", place="nursery", days=numbers["nursery days"],
        days_sd=numbers["nursery spread"], moved_in_by="seeding", keep_days=9,
        loss_percent=numbers["stand"], loss_sd_points=numbers["stand spread"], bad_event=EVENT,
    )  # fmt: skip
    head = Stage(
        name="head", place="bench", days=numbers["days"], days_sd=numbers["spread"],
        moved_in_by="moving", keep_days=8, loss_percent=numbers["growing loss"],
        loss_sd_points=numbers["growing spread"], loss_cause="tipburn",
        move_loss_percent=numbers["moving loss"],
    )  # fmt: skip
    plain = two_stage(0, 0, 70)
    crops = {"lettuce": plain.crops["lettuce"].model_copy(update={"stages": (seedling, head)})}
    more = {"crops": crops, "window": weeks(MONDAY, 11)}
    return Scenario.model_validate({**plain.model_dump(), **more})


class Recorded(Reference):
    """A reference house that notes, row by row, what its plants go through."""

    def __init__(self, scenario: Scenario, seed: int) -> None:
        self.noted: Counter[tuple[Any, ...]] = Counter()
        super().__init__(scenario, seed)

    def note(self, kind: str, part: Part, cause: str = "", number: int = 1, to: str = "") -> None:
        """So many plants of a part, now; those of one moment are one row."""
        place = self.crop.stages[part.step].place
        key = (self.now, kind, f"batch {part.batch.number}", place, to, float(part.placed), cause)
        self.noted[key] += number

    def put(self, plant: Plant, part: Part, container: Container) -> None:
        """Seeded, if it is the first stage; a move is noted where the plant leaves."""
        super().put(plant, part, container)
        if not part.step:
            self.note("seeded", part)

    def lift(self, plant: Plant) -> None:
        """Lost at moving, moved on, or harvested."""
        assert plant.part
        if plant.fate:
            self.note("lost", plant.part, plant.fate[1])
        elif plant.part.step + 1 < len(self.crop.stages):
            to = self.crop.stages[plant.part.step + 1].place
            self.note("moved", plant.part, to=to)
        else:
            self.note("harvested", plant.part)
        super().lift(plant)

    def _finish_stage(self, part: Part) -> None:
        before = list(part.plants)
        super()._finish_stage(part)
        alive = 0
        for plant in before:
            if plant.fate and plant.fate[0] == "lost" and plant.part is None:
                self.note("lost", part, plant.fate[1])
            else:
                alive += 1
        self.note("finished", part, number=alive)

    def _dump_overdue(self, day: int) -> None:
        for part, _ in self.deadlines.get(day, ()):
            if part.plants:
                self.note("dumped", part, number=len(part.plants))
        super()._dump_overdue(day)

    def rows(self) -> list[Row]:
        """The notes as rows, with a row for each shift and its minutes worked."""
        rows: list[Row] = [
            (at, kind, batch, "lettuce", place, to, "", "", count, 0, 0.0, since, cause)
            for (at, kind, batch, place, to, since, cause), count in self.noted.items()
        ]
        for starts, worked, capacity in self.crews.shift_minutes:
            nobody = ("", "", "", "", "", "")
            rows.append((starts, "shift", *nobody, 1, 0, capacity, starts, ""))
            rows.append((starts, "checked", *nobody, 1, 0, worked, 0.0, ""))
        return sorted(rows, key=lambda row: row[TIME])


def as_seen(rows: Iterable[Row], visits: list[int], end: int, *, ready: bool) -> list[Row]:
    """The rows up to day `end`, as people see them: what is ready, on the next day they are there.

    Without `ready` nobody writes down what is ready.
    """
    seen: list[Row] = []
    for row in rows:
        time = row[TIME]
        if row[KIND] in ("finished", "lost", "dumped") and time == int(time):
            time = next((day for day in visits if day >= time), 10**6) + MORNING
        if time < end and (ready or row[KIND] != "finished"):
            seen.append((time, *row[1:]))
    return sorted(seen, key=lambda row: row[TIME])


@dataclass
class Found:
    """One school: its hidden numbers, and what its records say."""

    hidden: dict[str, float]
    rows: list[Row]
    told: Calibration
    moved_only: Calibration
    six: Calibration


@cache
def found(seed: int) -> Found:
    """A school's term, cut off after ten weeks, calibrated from all rows and from six batches."""
    numbers = hidden(seed)
    scenario, own = school(numbers), Timetable(school(OWN))
    house = Recorded(scenario, seed)
    house.env.run(until=house.plan.end)
    rows, visits = house.rows(), [day for day, held in enumerate(house.plan.shifts) if held]
    told = as_seen(rows, visits, 70, ready=True)
    moved = as_seen(rows, visits, 70, ready=False)
    first = list(dict.fromkeys(row[BATCH] for row in told if row[BATCH]))[:6]
    six = [row for row in told if row[BATCH] in ("", *first)]
    return Found(numbers, told, *(calibrate(own, some) for some in (told, moved, six)))


def by_name(calibration: Calibration) -> dict[str, Number]:
    """The measured numbers of the crop's stages, by the names of `OWN`."""
    numbers = {n.path[3:]: n for n in calibration.numbers if n.path[0] == "crops" and n.measured}
    return {name: numbers[path] for name, path in PATHS.items() if path in numbers}


def hits(name: str, of: str) -> list[bool]:
    """For each school that tells a number: whether its interval holds the hidden one."""
    schools = [found(seed) for seed in range(SCHOOLS)]
    pairs = [(school.hidden[name], by_name(getattr(school, of)).get(name)) for school in schools]
    return [number.low <= secret <= number.high for secret, number in pairs if number]


LOSSES, DAYS = ("stand", "growing loss", "moving loss"), ("nursery days", "days")
SPREADS = ("stand spread", "growing spread", "nursery spread", "spread")


def test_a_school_is_found_from_its_records() -> None:
    """One school: hidden losses and days lie in twice their intervals, and are moved to.

    A right program fails for fewer than 1 seed in 200.
    """
    school = found(7)
    numbers = by_name(school.told)
    for name in (*LOSSES, *DAYS):
        number, half = numbers[name], (numbers[name].high - numbers[name].low) / 2
        assert number.moved
        assert abs(number.new - school.hidden[name]) <= 2 * half, name


def test_a_move_tells_when_plants_were_ready_if_nobody_writes_it() -> None:
    """The same nursery days from moves alone, to .3 days; of the last stage's nothing is said."""
    school = found(7)
    told, moved = by_name(school.told), by_name(school.moved_only)
    assert moved["nursery days"].new == pytest.approx(told["nursery days"].new, abs=0.3)
    assert "days" not in moved
    (kept,) = (n for n in school.moved_only.numbers if n.path[3:] == (1, "days"))
    assert kept.kept == "no row says when plants were ready"


@pytest.mark.proof
@pytest.mark.parametrize(
    ("names", "of", "measured"),
    [
        (LOSSES, "told", 0.897), (DAYS, "told", 0.893), (("nursery days",), "moved_only", 0.900),
        (LOSSES, "six", 0.916), (DAYS, "six", 0.893), (SPREADS, "told", 0.901),
    ],
)  # fmt: skip
def test_intervals_hold_what_is_hidden_as_often_as_they_say(
    names: tuple[str, ...], of: str, measured: float
) -> None:
    """90 % intervals of 200 schools hold the hidden number in 87-93 %.

    From a term's records, from moves alone, and from the first six batches. A right program is
    outside for about 1 seed in 20 with 400 intervals, 1 in 6 with 200. Alone, the stand is held
    in 85.5 %, losses while growing in 90, at moving in 93.5 (they are counted in single plants),
    nursery days in 90, days to ready in 88.5; each has a standard error of 2 points.
    """
    covered = [hit for name in names for hit in hits(name, of)]
    assert len(covered) >= 199 * len(names)
    assert 0.87 <= np.mean(covered) <= 0.93
    assert np.mean(covered) == pytest.approx(measured, abs=0.011)


@pytest.mark.proof
@pytest.mark.parametrize("name", LOSSES)
def test_six_batches_are_closer_than_raw_shares_or_the_scenario(name: str) -> None:
    """Over 200 schools the mean absolute error is less than that of either.

    Raw: plants lost of plants that came, of the same six batches. Measured: 1.58, 1.08 and .59
    points, against 1.77, 1.25 and .68 (raw; the paired differences are 6 or more standard errors)
    and 2.29, 1.39 and 1.04 (the scenario).
    """
    drawn, raw, own = [], [], []
    for seed in range(SCHOOLS):
        school = found(seed)
        number = by_name(school.six).get(name)
        stage = school.six.stages[PATHS[name][0]]
        tally = stage.culls if name == "moving loss" else stage.losses
        if number and tally:
            secret = school.hidden[name]
            drawn.append(abs(number.new - secret))
            raw.append(abs(100 * tally.lost.sum() / tally.entered.sum() - secret))
            own.append(abs(number.old - secret))
    assert len(drawn) >= 199
    assert np.mean(drawn) < np.mean(raw)
    assert np.mean(drawn) < np.mean(own)


@pytest.mark.proof
@pytest.mark.parametrize(
    ("batches", "plants", "own", "spread"),
    [(17, 60, 10, 3), (6, 60, 10, 3), (17, 800, 10, 3), (6, 800, 10, 3), (13, 45, 4, 2)],
)
def test_intervals_of_drawn_shares_hold_their_mean(
    batches: int, plants: int, own: float, spread: float
) -> None:
    """Beta-binomial batches drawn by numpy, means within half of the own one, spreads .7 to 1.8.

    3,000 intervals cover 87.5-92.5 %; the standard error is .55 points.
    """
    rng = np.random.default_rng(5)
    covered = 0
    for _ in range(3000):
        mean = own * rng.uniform(0.5, 1.5) / 100
        sd = spread * float(np.exp(rng.uniform(np.log(0.7), np.log(1.8)))) / 100
        total = mean * (1 - mean) / sd**2 - 1
        chances = rng.beta(mean * total, (1 - mean) * total, batches)
        lost = rng.binomial(plants, chances).astype(float)
        (share,) = shares([Tally(np.full(batches, float(plants)), lost, own / 100, spread / 100)])
        covered += share.low <= mean <= share.high
    assert 0.875 <= covered / 3000 <= 0.925
