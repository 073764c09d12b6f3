"""The numbers that a coordinator guesses, how far each may be off, and a scenario with one moved.

The ranges are assumed: invented for a greenhouse that has not counted yet, to be changed when it
has. An input moves for all crops, stages, tasks or crews together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import copysign
from typing import Any, Literal

from sim.agreement import KeyPath
from sim.parts import Stage
from sim.scenario import Scenario

_WIDEST = 0.9  # a spread that a moved loss does not allow becomes this share of the most


@dataclass(frozen=True)
class Number:
    """One number of a scenario that an input moves: where it stands, and its limits.

    `whole` for whole days. With `of_100` the scenario holds 100 less the number, as it holds a
    loss where people say a stand. An `aside` number moves along and is not told.
    """

    path: KeyPath
    value: float
    least: float
    most: float
    whole: bool = False
    of_100: bool = False
    aside: bool = False

    def moved(self, how: Literal["add", "percent"], by: float) -> float:
        """The number moved, within its limits; whole days by at least one."""
        change = by if how == "add" else self.value * by / 100
        if self.whole and by:
            change = copysign(max(1, round(abs(change))), by)
        return round(min(max(self.value + change, self.least), self.most), 9)


@dataclass(frozen=True)
class Input:
    """A guessed number, with the ends of its range as moves from what the scenario says.

    `low` and `high` are added [unit, points for %], or are a change in percent of the number.
    `phrase` says in words what the number is; `why` is the reason of the range, `missing` what a
    scenario without such a number lacks.
    """

    key: str
    label: str
    phrase: str
    unit: str
    how: Literal["add", "percent"]
    low: float
    high: float
    why: str
    find: Callable[[Scenario], Iterator[Number]]
    missing: str

    @property
    def range(self) -> tuple[float, float]:
        """Both ends."""
        return self.low, self.high

    def told(self, numbers: list[Number], by: float) -> tuple[float | None, str]:
        """The moved number with its unit, or what changes where several numbers differ."""
        pairs = [(n.value, n.moved(self.how, by)) for n in numbers if not n.aside]
        values = {after for _, after in pairs}
        if len(values) == 1 and len({before for before, _ in pairs}) == 1:
            value = values.pop()
            return value, _amount(value, self.unit)
        changes = {round(after - before, 9) for before, after in pairs}
        if changes == {0.0}:
            return None, "as given"
        if len(changes) == 1 and self.how == "add":
            unit = "points" if self.unit == "%" else self.unit
            return None, _more_or_less(changes.pop(), unit)
        shares = [100 * (after / before - 1) for before, after in pairs if before]
        about = "" if max(shares) - min(shares) < 0.05 else "about "
        return None, about + _more_or_less(round(sum(shares) / len(shares)), "%")


def _amount(value: float, unit: str) -> str:
    return f"{value:g} {unit.removesuffix('s') if value == 1 else unit}"


def _more_or_less(change: float, unit: str) -> str:
    return f"{_amount(abs(change), unit)} {'less' if change < 0 else 'more'}"


def changed(scenario: Scenario, moved: Input, by: float) -> Scenario:
    """The scenario with one input moved, checked anew; its cadence is as before."""
    parts = scenario.model_dump()
    for number in moved.find(scenario):
        value = number.moved(moved.how, by)
        value = round(100 - value, 9) if number.of_100 else value
        _put(parts, number.path, int(value) if number.whole else value)
    for crop in parts["crops"].values():
        for stage in crop["stages"]:
            _settle_spread(stage)
    parts["cadence"] = {}  # a searched cadence may hold dates that a file may not
    return Scenario.model_validate(parts).model_copy(update={"cadence": scenario.cadence})


def _put(parts: Any, path: KeyPath, value: float) -> None:
    for key in path[:-1]:
        parts = parts[key]
    parts[path[-1]] = value


def _settle_spread(stage: dict[str, Any]) -> None:
    """Lower a spread that is more than the loss can vary; `parts.Stage` refuses it."""
    mean = stage["loss_percent"] / 100
    most = 100 * (mean * (1 - mean)) ** 0.5
    if stage["loss_sd_points"] >= most:
        stage["loss_sd_points"] = round(_WIDEST * most, 4)


# -- where the numbers stand ------------------------------------------------------------------


def _stages(scenario: Scenario) -> Iterator[tuple[KeyPath, Stage, int, bool]]:
    """Each stage: its path, itself, its number in its crop, and whether it is the last."""
    for name, crop in scenario.crops.items():
        for number, stage in enumerate(crop.stages):
            path = ("crops", name, "stages", number)
            yield path, stage, number, number == len(crop.stages) - 1


def _keeps(scenario: Scenario, *, heads: bool) -> Iterator[Number]:
    for path, stage, _, last in _stages(scenario):
        if stage.keep_days is not None and last == heads:
            yield Number((*path, "keep_days"), stage.keep_days, min(1, stage.keep_days), 3650, True)


def _heads_keep(scenario: Scenario) -> Iterator[Number]:
    return _keeps(scenario, heads=True)


def _seedlings_keep(scenario: Scenario) -> Iterator[Number]:
    return _keeps(scenario, heads=False)


def _stand(scenario: Scenario) -> Iterator[Number]:
    for path, stage, number, _ in _stages(scenario):
        if number == 0:
            yield Number((*path, "loss_percent"), 100 - stage.loss_percent, 0, 100, of_100=True)


def _moving_loss(scenario: Scenario) -> Iterator[Number]:
    for path, stage, number, _ in _stages(scenario):
        if number and stage.move_loss_percent:
            yield Number((*path, "move_loss_percent"), stage.move_loss_percent, 0, 100)


def _growing_loss(scenario: Scenario) -> Iterator[Number]:
    for path, stage, number, _ in _stages(scenario):
        if number and stage.loss_percent:
            yield Number((*path, "loss_percent"), stage.loss_percent, 0, 100)


def _spread(scenario: Scenario) -> Iterator[Number]:
    for path, stage, _, _ in _stages(scenario):
        if stage.loss_sd_points:
            yield Number((*path, "loss_sd_points"), stage.loss_sd_points, 0, 100)
        if stage.days_sd:
            yield Number((*path, "days_sd"), stage.days_sd, 0, 3650)


def _days(scenario: Scenario, *, heads: bool) -> Iterator[Number]:
    for path, stage, _, last in _stages(scenario):
        if last == heads:
            yield Number((*path, "days"), stage.days, 1, 3650)


def _nursery_days(scenario: Scenario) -> Iterator[Number]:
    return _days(scenario, heads=False)


def _grow_out_days(scenario: Scenario) -> Iterator[Number]:
    return _days(scenario, heads=True)


def _task_minutes(scenario: Scenario) -> Iterator[Number]:
    for name, task in scenario.tasks.items():
        least = min(0.001, task.minutes_each)
        yield Number(("tasks", name, "minutes_each"), task.minutes_each, least, 1440)


def _absence(scenario: Scenario) -> Iterator[Number]:
    for name, crew in scenario.crews.items():
        if crew.absent_percent:
            yield Number(("crews", name, "absent_percent"), crew.absent_percent, 0, 100)


def _worked(scenario: Scenario, *, students: bool) -> Iterator[Number]:
    """Working minutes of the shifts of students, or of others, never longer than the shift."""
    for name, crew in scenario.crews.items():
        for number, shift in enumerate(crew.shifts if crew.students == students else ()):
            path, longest = ("crews", name, "shifts", number), shift.length_minutes
            usual = longest if shift.working_minutes is None else shift.working_minutes
            yield Number((*path, "working_minutes"), usual, 0, longest)
            for kind, minutes in shift.minutes_on.items():
                yield Number((*path, "minutes_on", kind), minutes, 0, longest, aside=True)


def _class_minutes(scenario: Scenario) -> Iterator[Number]:
    return _worked(scenario, students=True)


def _adult_minutes(scenario: Scenario) -> Iterator[Number]:
    return _worked(scenario, students=False)


def _store_keep(scenario: Scenario) -> Iterator[Number]:
    yield Number(("cold_store", "keep_days"), scenario.cold_store.keep_days, 0, 3650)


def _rare_event(scenario: Scenario) -> Iterator[Number]:
    for path, stage, _, _ in _stages(scenario):
        if stage.bad_event and stage.bad_event.percent_of_batches:
            share = stage.bad_event.percent_of_batches
            yield Number((*path, "bad_event", "percent_of_batches"), share, 0, 100)


def _slow_months(scenario: Scenario) -> Iterator[Number]:
    for path, stage, _, _ in _stages(scenario):
        for month, pace in stage.pace_percent.items():
            if pace < 100:
                yield Number((*path, "pace_percent", month), pace, 10, 100)


# ten batches leave a standard deviation open by 0.69 to 1.83 times (chi-square, 9 degrees, 95 %)
INPUTS: tuple[Input, ...] = (
    Input("heads-keep", "ready heads keep", "ready heads keep {}", "days", "percent", -30, 30,
          "a few channels watched once leave about a third open", _heads_keep,
          "ready heads have no keep limit"),
    Input("seedlings-keep", "seedlings keep", "seedlings keep {}", "days", "percent", -30, 30,
          "a batch watched once leaves about a third open", _seedlings_keep,
          "seedlings have no keep limit"),
    Input("stand", "stand (germination)", "the stand is {}", "%", "add", -5, 5,
          "seed lots and warm weeks differ by about five points", _stand, "there is no stage"),
    Input("moving-loss", "loss at moving", "the loss at moving is {}", "%", "percent", -50, 100,
          "seldom counted: half or double", _moving_loss, "no loss at moving is given"),
    Input("grow-out-loss", "loss in grow-out", "the loss in grow-out is {}", "%", "percent",
          -50, 100, "seldom counted: half or double", _growing_loss,
          "no loss after the nursery is given"),
    Input("spread", "batch-to-batch spread", "the spread from batch to batch is {}", "points",
          "percent", -30, 80, "what ten counted batches leave open", _spread,
          "every batch is given as alike"),
    Input("nursery-days", "nursery days", "the nursery takes {}", "days", "add", -2, 2,
          "what one batch leaves open where batches differ by a day", _nursery_days,
          "crops have one stage only"),
    Input("grow-out-days", "grow-out days", "growing out takes {}", "days", "add", -2, 2,
          "what one or two batches leave open where batches differ by a day or two",
          _grow_out_days, "there is no stage"),
    Input("task-minutes", "minutes per unit", "a unit of work takes {}", "minutes", "percent",
          -25, 50, "not timed yet: practice makes quick, a new class is slow", _task_minutes,
          "there are no tasks"),
    Input("absence", "people absent", "absence is {}", "%", "percent", -50, 100,
          "differs by season: half or double", _absence, "nobody is given as ever absent"),
    Input("class-minutes", "class minutes worked", "the class works {} a period", "minutes",
          "percent", -20, 20, "set-up and clean-up take more or less of a period",
          _class_minutes, "no crew is of students"),
    Input("adult-minutes", "adult minutes worked", "adults work {} a shift", "minutes",
          "percent", -20, 20, "other duties take more or less of a shift", _adult_minutes,
          "there are no adults' shifts"),
    Input("store-keep", "cold store keeps", "the cold store keeps heads {}", "days", "add", -1, 1,
          "what customers want is seldom asked", _store_keep, "there is no cold store"),
    Input("rare-event", "rare bad event", "a rare bad event hits {} of the batches",
          "%", "percent", -50, 100, "too rare to be counted in a year: half or double",
          _rare_event, "no rare bad event is given"),
    Input("slow-months", "pace in slow months", "the pace in slow months is {}", "%", "add",
          -5, 5, "one winter says little of the next", _slow_months, "no slow month is given"),
)  # fmt: skip
