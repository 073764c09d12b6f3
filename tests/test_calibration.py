"""A season's records to numbers: shares and lengths by hand and against scipy, few records."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import time
from math import exp, inf, log, sqrt

import numpy as np
import pytest
from reference.examples import tiny
from scipy import stats

from sim.calibration import calibrate
from sim.calibration_lengths import (
    SHAPES,
    Lengths,
    counted_shares,
    estimate,
    fit,
    fits,
    misfits,
    share_below,
)
from sim.calibration_numbers import LEAST_BATCHES, LEAST_SHIFTS, LEAST_TIMED, Number
from sim.calibration_seen import Season, StandCount
from sim.calibration_shares import Tally, raw_variance, shares
from sim.calibration_stages import stages_of
from sim.calibration_stays import stays_of
from sim.calibration_visits import Pace, Visits
from sim.calibration_work import Sessions, attendance_of, minutes_each, sessions_of
from sim.draws import StageDays
from sim.errors import RecordsError
from sim.greenhouse.plan import StagePlan
from sim.parts import BadEvent, Crew, Crop, Place, Shift, Stage
from sim.records import Row
from sim.scenario import Scenario
from sim.timetable import Timetable

# -- shares ----------------------------------------------------------------------------------------


def tally(lost: Sequence[float], plants: float, own: float, spread: float = 0.0) -> Tally:
    return Tally(np.full(len(lost), plants), np.array(lost, float), own, spread)


def test_infinite_weight_is_the_scenarios_value_and_none_is_the_share_counted() -> None:
    """3 batches of 100 plants, 12 lost: own .10 with infinite weight, 12.5 / 301 with none.

    Without weight the prior of a binomial share is Jeffreys', half a plant at both ends.
    """
    (own,) = shares([tally([2, 4, 6], 100, 0.10, 0.02)], inf, inf)
    (raw,) = shares([tally([2, 4, 6], 100, 0.10)], 0.0, inf)
    assert (own.mean, own.low, own.high) == pytest.approx((0.10, 0.10, 0.10))
    assert (own.spread, own.spread_low, own.spread_high) == pytest.approx((0.02, 0.02, 0.02))
    assert raw.mean == pytest.approx(12.5 / 301, rel=1e-4)


@pytest.mark.parametrize("worth", [0.5, 1, 2, 7])
def test_the_scenarios_value_is_worth_so_many_batches(worth: float) -> None:
    """Conjugacy: a beta prior of a batch's variance / worth holds worth x 100 - 1 plants."""
    (share,) = shares([tally([2, 4, 6], 100, 0.10)], worth, inf)
    plants = worth * 100 - 1
    of = stats.beta(0.10 * plants + 12, 0.90 * plants + 288)
    assert share.mean == pytest.approx(of.mean(), rel=1e-4)
    assert (share.low, share.high) == pytest.approx(of.ppf([0.05, 0.95]), rel=5e-3)


def test_nothing_lost_and_nothing_expected_is_nothing() -> None:
    """The interval still says how much may have been lost unseen."""
    (share,) = shares([tally([0] * 9, 60, 0.0)])
    assert share.mean == share.low == 0.0
    assert 0.0 < share.high < 0.01


def test_a_crop_moves_half_as_the_others_do() -> None:
    """Two crops of 4 equal batches, own values worth 4; one crop's counts are as it says.

    With correlation 1/2 the gain is R (R + I)^-1 = [[1.75, .5], [.5, 1.75]] / 3.75.
    """
    low, same = tally([0, 0, 0, 0], 1e6, 0.5), tally([5e5] * 4, 1e6, 0.5)
    far = tally([6e5] * 4, 1e6, 0.5)  # a departure of .1; variances p (1 - p) are 4 % apart
    both = shares([far, same], 4.0, inf)
    assert both[0].mean - 0.5 == pytest.approx(0.1 * 1.75 / 3.75, rel=0.02)
    assert both[1].mean - 0.5 == pytest.approx(0.1 * 0.5 / 3.75, rel=0.04)
    assert shares([low], 4.0, inf)[0].mean == pytest.approx(0.25)


def test_variance_from_batch_to_batch_by_moments() -> None:
    """0 and 20 lost of 100: (.02 - .1 x .9 / 100) / (1 - 1 / 100); equal batches: below 0."""
    assert raw_variance(tally([0, 20], 100, 0.1)) == pytest.approx((0.02 - 0.0009) / 0.99)
    assert raw_variance(tally([10, 10], 100, 0.1)) == pytest.approx(-0.0009 / 0.99)
    assert raw_variance(tally([10], 100, 0.1)) == 0.0


def test_mean_and_spread_beside_a_plain_sum() -> None:
    """The posterior of 6 batches, summed over even steps with scipy's beta-binomial.

    Own mean .1, worth a batch: s^2 + (.09 - s^2) / 80; own spread .04, worth 3.
    """
    lost = np.array([2, 5, 9, 14, 6, 11])
    m, s = np.meshgrid(np.linspace(0.001, 0.5, 400), np.linspace(0.002, 0.25, 300), indexing="ij")
    plants = m * (1 - m) / s**2 - 1
    allowed, plants = plants > 0, np.maximum(plants, 1e-6)
    weight = sum(stats.betabinom.logpmf(n, 80, m * plants, (1 - m) * plants) for n in lost)
    own = 0.09 / (s**2 + (0.09 - s**2) / 80) - 1
    weight += stats.beta.logpdf(m, np.maximum(0.1 * own, 0.5), np.maximum(0.9 * own, 0.5))
    weight -= 3 * ((0.04 / s) ** 2 / 2 + np.log(s)) + np.log(s)  # even steps of s, not of its log
    chance = np.where(allowed, np.exp(weight - weight[allowed].max()), 0.0)
    chance /= chance.sum()
    (share,) = shares([tally(lost, 80, 0.1, 0.04)])
    assert share.mean == pytest.approx((m * chance).sum(), rel=2e-3)
    assert share.spread == pytest.approx((s * chance).sum(), rel=5e-3)
    for points, part, ends in (
        (m[:, 0], chance.sum(1), (share.low, share.high)),
        (s[0], chance.sum(0), (share.spread_low, share.spread_high)),
    ):
        assert ends == pytest.approx(np.interp([0.05, 0.95], part.cumsum(), points), rel=0.03)


def test_a_spread_that_a_scenario_does_not_have_is_one_that_plants_do_not_explain() -> None:
    """Own spread 0, worth 3 batches: the moments' variance x 19 / 22; none where plants explain."""
    wide, same = tally([*range(1, 21)], 100, 0.1), tally([10, 11] * 10, 100, 0.1)
    of_wide, of_same = shares([wide])[0], shares([same])[0]
    assert of_wide.spread == pytest.approx(sqrt(raw_variance(wide) * 19 / 22))
    assert of_wide.spread_low < of_wide.spread < of_wide.spread_high
    assert of_same.spread == 0.0
    assert of_same.spread_low < 0.005 < of_same.spread_high


@pytest.mark.parametrize(("lost", "plants"), [(0, 40), (1, 40), (3, 60), (200, 2000)])
def test_without_spread_the_interval_is_that_of_a_binomial_share(lost: int, plants: int) -> None:
    """Jeffreys' interval (Brown, Cai & DasGupta, Statistical Science 16:101, 2001)."""
    (share,) = shares([tally([lost], plants, 0.5)], 0.0, inf)
    low, high = stats.beta(lost + 0.5, plants - lost + 0.5).ppf([0.05, 0.95])
    assert (share.low, share.high) == pytest.approx((low, high), abs=(high - low) / 100)
    assert 0.0 <= share.low <= share.mean <= share.high <= 1.0


# -- lengths ---------------------------------------------------------------------------------------

WHOLE = np.array([10.2, 11.7, 12.1, 12.9, 13.3, 14.8, 15.0, 16.6, 18.9, 21.4])


def exact(values: Sequence[float]) -> Lengths:
    """Lengths known to a thousandth of a day."""
    days = np.asarray(values, float)
    return Lengths(days - 5e-4, days + 5e-4)


def test_complete_lengths_are_fitted_as_scipy_fits_them() -> None:
    """Normal, lognormal and exponential in closed form, gamma and Weibull by scipy's fit."""
    found = fits(exact(WHOLE))
    logs = np.log(WHOLE)
    middle = exp(logs.mean() + logs.var() / 2)
    shape, _, scale = stats.gamma.fit(WHOLE, floc=0)
    weibull = stats.weibull_min(*stats.weibull_min.fit(WHOLE, floc=0))
    wanted = {
        "normal": (WHOLE.mean(), WHOLE.std()),
        "lognormal": (middle, middle * sqrt(exp(logs.var()) - 1)),
        "exponential": (WHOLE.mean(), WHOLE.mean()),
        "gamma": (shape * scale, sqrt(shape) * scale),
        "weibull": (weibull.mean(), weibull.std()),
    }
    for name, (mean, sd) in wanted.items():
        assert found[name].mean == pytest.approx(mean, rel=2e-3), name
        assert found[name].sd == pytest.approx(sd, rel=5e-3), name
    density = stats.norm(WHOLE.mean(), WHOLE.std()).logpdf(WHOLE).sum() + 10 * log(1e-3)
    assert found["normal"].aic == pytest.approx(4 - 2 * density, abs=1e-2)
    assert list(found) == sorted(found, key=lambda name: found[name].aic)


@pytest.mark.parametrize(
    ("shape", "of", "held"),
    [("normal", stats.norm, {}), ("gamma", stats.gamma, {"floc": 0}),
     ("lognormal", stats.lognorm, {"floc": 0}), ("weibull", stats.weibull_min, {"floc": 0})],
)  # fmt: skip
def test_censored_lengths_are_fitted_as_scipy_fits_them(
    shape: str, of: stats.rv_continuous, held: dict[str, float]
) -> None:
    """Between visits 2 or 3 days apart, with four that still grow: scipy's CensoredData."""
    drawn = stats.gamma.rvs(60, scale=0.25, size=40, random_state=3)
    low, high = np.floor(drawn / 2.5) * 2.5, np.floor(drawn / 2.5) * 2.5 + 2.5
    high[:4] = inf
    low[:4] = 14.0
    right = np.isinf(high)
    data = stats.CensoredData(interval=np.c_[low, high][~right], right=low[right])
    theirs = of(*of.fit(data, **held))
    ours = fit(shape, Lengths(low, high))
    assert ours.mean == pytest.approx(theirs.mean(), rel=3e-3)
    assert ours.sd == pytest.approx(theirs.std(), rel=2e-2)


@pytest.mark.parametrize("shape", SHAPES)
def test_shapes_are_those_that_the_simulation_draws(shape: str) -> None:
    """Chance of a length below, beside `draws.StageDays`."""
    days = np.array([1.0, 9.0, 13.5, 14.0, 20.0])
    ours = share_below(shape, days, np.asarray(14.0), np.asarray(2.0))
    theirs = [StageDays(14.0, 2.0, shape).share_below(d) for d in days]
    assert ours == pytest.approx(theirs, abs=1e-12)


def test_the_weibull_shape_has_its_mean_and_spread() -> None:
    """Beside scipy: power 3, scale 10."""
    of = stats.weibull_min(3, scale=10)
    days = np.array([2.0, 8.0, 12.0])
    ours = share_below("weibull", days, np.asarray(of.mean()), np.asarray(of.std()))
    assert ours == pytest.approx(of.cdf(days), abs=1e-6)


def test_many_lengths_outweigh_the_scenario_and_one_is_worth_one() -> None:
    """400 lengths: their mean and 1.645 standard errors; one of 20 days, the own 12: halfway."""
    drawn = stats.norm(15, 2).rvs(400, random_state=1)
    found = estimate("normal", exact(drawn), 12.0, 1.0)
    assert found.mean == pytest.approx((drawn.sum() + 12) / 401, abs=0.02)
    half = 1.645 * drawn.std() / 20
    assert (found.low, found.high) == pytest.approx(
        (found.mean - half, found.mean + half), abs=0.02
    )
    assert found.sd == pytest.approx(drawn.std(), rel=0.02)
    assert found.sd_low < found.sd < found.sd_high
    assert estimate("normal", exact([20.0]), 12.0, 1.0).mean == pytest.approx(16.0, abs=0.05)


@pytest.mark.parametrize("wrong", [(200.0, inf), (-inf, 2.5), (40.0, 41.0)])
def test_a_length_written_wrong_does_not_move_the_others(wrong: tuple[float, float]) -> None:
    """Twenty lengths of 13 to 15 days, and one that cannot be: it is told, and counts for nothing.

    Nor does it make another shape fit better.
    """
    low = np.linspace(13.0, 14.8, 20)
    right = Lengths(low, low + 1.0)
    both = Lengths(np.append(low, wrong[0]), np.append(low + 1.0, wrong[1]))
    one, two = (estimate("normal", some, 14.0, 1.0) for some in (right, both))
    assert two.mean == pytest.approx(one.mean, abs=0.1)
    assert two.sd == pytest.approx(one.sd, rel=0.1)
    assert misfits("normal", both, two.mean, two.sd) == 1
    assert misfits("normal", right, one.mean, one.sd) == 0
    assert next(iter(fits(both))) != "exponential"


@pytest.mark.parametrize("shape", SHAPES)
def test_still_growing_batches_make_a_length_longer(shape: str) -> None:
    """Six lengths of about 10 days, and six batches not ready after 12."""
    done = Lengths(np.arange(8.0, 11.0, 0.5), np.arange(9.0, 12.0, 0.5))
    more = Lengths(np.append(done.low, [12.0] * 6), np.append(done.high, [inf] * 6))
    one, two = (estimate(shape, some, 10.0, 1.0) for some in (done, more))
    assert one.low < one.mean < one.high
    assert two.mean > one.mean + 0.5


def test_counted_shares_by_hand_and_beside_scipy() -> None:
    """Two lengths in (1, 2], one in (2, 3]: 2/3 by 2, 1 by 3; right-censored: Kaplan-Meier."""
    days, part = counted_shares(Lengths(np.array([1.0, 1, 2]), np.array([2.0, 2, 3])))
    assert dict(zip(days, part, strict=True)) == pytest.approx({1: 0, 2: 2 / 3, 3: 1})
    done, grows = np.array([3.0, 5, 6, 8]), np.array([4.0, 7])
    low, high = np.append(done - 1e-9, grows), np.append(done, [inf, inf])
    days, part = counted_shares(Lengths(low, high))
    theirs = stats.ecdf(stats.CensoredData(uncensored=done, right=grows)).cdf
    ours = [part[days <= day + 1e-6][-1] for day in done]
    assert ours == pytest.approx(theirs.evaluate(done), abs=1e-6)


# -- what rows show --------------------------------------------------------------------------------


def school(**changes: object) -> Scenario:
    """`tiny` of the reference, with losses, culls and lengths worth finding."""
    seedling = Stage(
        name="seedling", place="nursery", days=4, days_sd=1, moved_in_by="seeding", loss_percent=10,
        loss_sd_points=3, loss_cause="did not come up",
        bad_event=BadEvent(percent_of_batches=5, loss_percent=50),
    )  # fmt: skip
    head = Stage(
        name="head", place="bench", days=6, days_sd=1, moved_in_by="moving", loss_percent=4,
        move_loss_percent=3, loss_cause="tipburn",
    )  # fmt: skip
    parts: dict[str, object] = {
        "places": {
            "nursery": Place(count=50, sites_each=100), "bench": Place(count=100, sites_each=50),
        },
        "crops": {"lettuce": Crop(stages=(seedling, head))},
    }  # fmt: skip
    return tiny(**(parts | changes))


def row(at: float, kind: str, batch: str = "", place: str = "nursery", **more: object) -> Row:
    """One row, everything that is not named empty."""
    crop = "lettuce" if batch else ""
    values = {"to": "", "crew": "", "count": 0, "containers": 0, "minutes": 0.0, "since": 0.0,
              "cause": ""} | more  # fmt: skip
    return (at, kind, batch, crop, place, values["to"], values["crew"], "", values["count"],
            values["containers"], values["minutes"], values["since"], values["cause"])  # type: ignore[return-value] # fmt: skip


def batch_rows(name: str, day: int, stay: int, lost: int, *, cause: str = "did not come up",
               culled: int = 2) -> list[Row]:  # fmt: skip
    """A batch of 100 cells seeded on a day, all of it moved so many days later."""
    seeded, moved = day + 0.38, day + stay + 0.38
    return [
        row(seeded, "seeded", name, count=100, containers=1, minutes=6.0, crew="staff"),
        row(moved, "lost", name, count=lost, since=seeded, cause=cause),
        row(moved, "lost", name, count=culled, since=seeded, cause="lost in moving"),
        row(moved, "moved", name, to="bench", count=100 - lost - culled, since=seeded,
            minutes=0.1 * (98 - lost), crew="staff"),
    ]  # fmt: skip


def records(batches: int, *, shifts: int = 0) -> list[Row]:
    """So many batches, one every two days, 8 to 12 lost, moved after 3 to 5 days."""
    rows = [r for n in range(batches) for r in batch_rows(f"b{n}", 2 * n, 3 + n % 3, 8 + n % 5)]
    for day in range(shifts):
        rows.append(row(day + 10 / 24, "shift", place="", crew="staff", count=1, minutes=60.0,
                        since=day + 9 / 24))  # fmt: skip
    return sorted(rows, key=lambda r: r[0])


def found(
    rows: Sequence[Row], scenario: Scenario | None = None
) -> dict[tuple[object, ...], Number]:
    """The numbers of a calibration by their keys."""
    return {n.path: n for n in calibrate(Timetable(scenario or school()), rows).numbers}


NURSERY = ("crops", "lettuce", "stages", 0)


def season(rows: Sequence[Row], *stands: StandCount) -> Season:
    return Season.of(sorted(rows, key=lambda r: r[0]), stands, Timetable(school()))


def test_losses_and_culls_are_told_apart_by_their_cause() -> None:
    """Of 100 cells 9 did not come up, 40 were lost in the rare event, 2 in moving."""
    rows = [*batch_rows("a", 0, 4, 9), *batch_rows("b", 2, 4, 40, cause="damping-off")]
    seen = season(rows).stage("lettuce", 0)
    assert (seen.entered, seen.lost, seen.hit, seen.named) == ((100, 100), (9, 40), (0, 40), True)
    moving = season(rows).stage("lettuce", 1)
    assert (moving.to_move, moving.culled) == ((91, 60), (2, 2))


def test_a_loss_without_a_cause_is_one_of_growing() -> None:
    """Of 89 plants on the bench 4 were lost, nobody wrote why; the others were harvested."""
    rows = batch_rows("a", 0, 4, 9)
    rows.append(row(11.4, "lost", "a", "bench", count=4, since=4.4))
    rows.append(row(11.5, "harvested", "a", "bench", count=85, since=4.4))
    seen = season(rows).stage("lettuce", 1)
    assert (seen.entered, seen.lost, seen.unknown) == ((89,), (4,), 0)


def test_what_no_row_tells_of_is_guessed_counted_or_left_out() -> None:
    """70 of 100 moved: 30 lost if that was two weeks ago, 25 if 75 were counted, else unknown."""
    rows = [
        row(0.4, "seeded", "a", count=100, containers=1),
        row(4.4, "moved", "a", to="bench", count=70, since=0.4),
    ]
    later = [*rows, row(30.4, "seeded", "b", count=100, containers=1)]
    counted = StandCount(4, "a", "nursery", 75)
    assert season(rows).stage("lettuce", 0).unknown == 1
    known, guessed = season(later, counted).stage("lettuce", 0), season(later).stage("lettuce", 0)
    assert (known.lost, known.guessed) == ((25,), 0)
    assert (guessed.lost, guessed.guessed) == ((30,), 1)


def test_plants_that_no_row_brought_are_passed_over() -> None:
    """A batch that stood there first tells nothing of the place it stood in."""
    rows = [row(0.0, "standing", "a", count=50), *batch_rows("b", 1, 4, 9)]
    rows.append(row(3.4, "moved", "a", to="bench", count=45, since=0.0))
    rows.append(row(3.5, "harvested", "c", "bench", count=5))
    seen = season(rows).stage("lettuce", 0)
    assert (seen.batches, seen.unknown) == (1, 0)
    assert stays_of(rows)["c", "bench"].strange


def test_readiness_lies_between_two_visits() -> None:
    """Seeded on day 0, seen ready on day 7, last looked on day 4: finished on day 5, 6 or 7.

    A part is finished on day floor(length + 1/2), so that the length is 4.5 to 7.5 days; at 00:00
    exactly the day is known; what still grows has no upper limit.
    """
    visits = [row(day + 0.4, "checked", crew="staff", count=1) for day in (0, 3, 4, 7)]
    seeded = [row(0.4, "seeded", n, count=10, containers=1) for n in ("a", "b", "c")]
    ready = [
        row(7.4, "finished", "a", count=9, since=0.4),
        row(6.0, "finished", "b", count=9, since=0.4),
    ]
    lengths = season([*visits, *seeded, *ready]).stage("lettuce", 0).lengths
    assert list(zip(lengths.low, lengths.high, strict=True)) == [(4.5, 7.5), (5.5, 6.5), (7.5, inf)]


def test_a_move_was_possible_with_room_and_minutes_to_spare() -> None:
    """On days 4 and 5 the bench was full, on day 4 no minutes were left."""
    one_channel = school(places={"nursery": Place(count=9, sites_each=100),
                                 "bench": Place(count=1, sites_each=500)})  # fmt: skip
    rows = [row(day + 0.42, "shift", place="", crew="staff", count=1, minutes=60.0)
            for day in range(8)]  # fmt: skip
    rows += [row(4.4, "washed", place="bench", crew="staff", containers=1, minutes=59.0)]
    rows += [row(4.9, "moved", "x", to="bench", count=9, containers=1)]
    rows += [row(6.9, "freed", place="bench", containers=1)]
    visits = Visits(sorted(rows, key=lambda r: r[0]), Timetable(one_channel))
    assert visits.last_chance(7, "moving", "bench") == 6
    assert visits.last_chance(6, "moving", "bench") == 3
    assert visits.last_chance(6, "moving", "nursery") == 5
    assert visits.last_chance(6, None, "nursery") == 5
    assert visits.before(3, "bench") == 2


@pytest.mark.parametrize("placed", [0, 3, 20, 27])
@pytest.mark.parametrize("length", [0.3, 6.4, 6.6, 13.5])
def test_limits_in_days_of_full_pace_hold_the_length_that_was_drawn(
    placed: int, length: float
) -> None:
    """Beside the simulation's own rule (C3, C4), September at 80 %, October at 120 %."""
    pace = {"Sep": 80.0, "Oct": 120.0}
    stage = Stage(name="s", place="nursery", days=5, pace_percent=pace)
    timetable = Timetable(school())
    day = StagePlan(stage, timetable).finished(placed, length)
    low, high = Pace(stage, timetable, 60).limits(placed, day - 1, day)
    assert low < length <= high
    assert day == placed + 1 or high - low < 1.3  # a day's growth, or none known of the first


def test_batches_hit_by_the_rare_event_are_found_without_its_name() -> None:
    """One of 31 batches lost 55 of 100, the others 8 to 12; no row says damping-off.

    The own 5 % are worth the 20 batches that hold one hit, less one (a beta prior's plants).
    """
    rows = records(30)
    rows += batch_rows("bad", 61, 4, 55)
    (nursery, _) = stages_of(season(rows))
    assert nursery.far_more == (False,) * 30 + (True,)
    assert nursery.losses
    assert nursery.losses.batches == 30
    numbers = found(sorted(rows, key=lambda r: r[0]))
    assert numbers[*NURSERY, "loss_percent"].new == pytest.approx(10, abs=0.3)
    assert numbers[*NURSERY, "bad_event", "percent_of_batches"].new == pytest.approx(
        100 * (1 + 0.95) / (31 + 19), abs=0.01
    )
    assert numbers[*NURSERY, "bad_event", "loss_percent"].kept == "no row names it as a cause"


# -- work and people -------------------------------------------------------------------------------


def test_minutes_are_those_of_all_shifts_over_all_units() -> None:
    """(20 + 31 + 45 - 3 x 2 of set-up) / (4 + 6 + 8); equal ratios leave no interval."""
    of = minutes_each(Sessions((4, 6, 8), (20.0, 31.0, 45.0)), setup=2.0)
    assert of.each == pytest.approx(90 / 18)
    off = np.array([-2.0, -1.0, 3.0])
    half = stats.t.ppf(0.95, 2) * sqrt((off**2).sum() * 3 / 2) / 18
    assert (of.low, of.high) == pytest.approx((5 - half, 5 + half))
    same = minutes_each(Sessions((4, 8), (10.0, 20.0)), setup=0.0)
    assert same.low == same.high == 2.5


def test_one_shift_is_one_session() -> None:
    """Two rows of a crew in one shift are timed together; a row without minutes tells nothing."""
    rows = [*batch_rows("a", 0, 4, 9), *batch_rows("b", 0, 4, 9)]
    rows.append(row(9.4, "harvested", "a", "bench", count=80, crew="staff"))
    timed = sessions_of(rows, Timetable(school()))
    assert timed == {
        "seeding": Sessions((2,), (12.0,)), "moving": Sessions((178,), (pytest.approx(17.8),)),
    }  # fmt: skip


def test_people_absent_are_those_missing_from_the_crew() -> None:
    """A crew of 4: 4, 3 and 2 came, once 5; a shift told twice counts once."""
    crews = {
        "staff": Crew(people=4, absent_percent=10, shifts=(Shift(starts=time(9), ends=time(10)),))
    }
    scenario = school(crews=crews)
    rows = [row(day + 0.4, "shift", place="", crew="staff", count=count, since=day + 0.38)
            for day, count in enumerate([4, 3, 2, 5])]  # fmt: skip
    of = attendance_of([*rows, rows[0]], scenario)["staff"]
    assert (of.people, of.absent, of.over) == ((4, 4, 4, 4), (0, 1, 2, 0), 1)


# -- what is moved ---------------------------------------------------------------------------------


def test_few_records_move_nothing_and_say_so() -> None:
    """One batch, shift or session less than the least: kept, with the reason; nothing to write."""
    numbers = found(records(LEAST_BATCHES - 1, shifts=LEAST_SHIFTS - 1))
    assert not any(number.moved for number in numbers.values())
    assert numbers[*NURSERY, "loss_percent"].kept == "4 batches, at least 5 are needed"
    assert numbers[*NURSERY, "days"].kept == "4 batches, at least 5 are needed"
    assert numbers["tasks", "seeding", "minutes_each"].kept == (
        f"timed in {LEAST_BATCHES - 1} shifts, at least {LEAST_TIMED} are needed"
    )
    assert numbers["crews", "staff", "absent_percent"].kept == (
        "people counted in 9 shifts, at least 10 are needed"
    )
    assert not calibrate(Timetable(school()), records(4)).changes()


def test_enough_records_move_means_first_and_spreads_later() -> None:
    """From 5 batches on the means, from 10 on the spreads, from 30 on the share of rare events."""
    five, ten, thirty = (found(records(n, shifts=10)) for n in (5, 10, 30))
    for numbers in (five, ten, thirty):
        assert not numbers[*NURSERY, "days"].kept
        assert not numbers["tasks", "seeding", "minutes_each"].kept
    assert five[*NURSERY, "loss_percent"].count == 5
    assert five[*NURSERY, "loss_percent"].source == "measured here, n = 5 batches"
    assert five[*NURSERY, "loss_sd_points"].kept == "5 batches, at least 10 are needed"
    assert not ten[*NURSERY, "loss_sd_points"].kept
    assert ten[*NURSERY, "bad_event", "percent_of_batches"].kept
    assert not thirty[*NURSERY, "bad_event", "percent_of_batches"].kept
    assert five["crews", "staff", "absent_percent"].new == 0.0


def test_losses_that_nobody_wrote_down_are_no_losses_of_zero() -> None:
    """30 batches without a row of losses leave the scenario's 10 and 3 percent alone."""
    rows = [r for r in records(30) if r[1] != "lost"]
    counts = {(r[2]): r[8] for r in rows if r[1] == "moved"}
    rows = [(*r[:8], counts[r[2]], *r[9:]) if r[1] == "seeded" else r for r in rows]
    numbers = found(rows)  # type: ignore[arg-type]
    assert numbers[*NURSERY, "loss_percent"].kept == "no row tells of plants lost"
    assert numbers["crops", "lettuce", "stages", 1, "move_loss_percent"].kept


def test_a_spread_that_the_new_loss_does_not_allow_is_lowered() -> None:
    """A loss of .3 % cannot vary by 9 points from batch to batch."""
    rows = [r for n in range(8) for r in batch_rows(f"b{n}", 2 * n, 4, int(n == 0))]
    stages = school().crops["lettuce"].stages
    wide = stages[0].model_copy(update={"loss_sd_points": 9.0})
    crop = Crop(stages=(wide, stages[1]))
    numbers = found(sorted(rows, key=lambda r: r[0]), school(crops={"lettuce": crop}))
    loss, spread = (numbers[*NURSERY, key].new for key in ("loss_percent", "loss_sd_points"))
    assert 0 < spread < 100 * sqrt(loss / 100 * (1 - loss / 100))


def test_the_count_that_leaves_most_open_is_named() -> None:
    """Heads never seen ready: a guess of 6 of 10 days may be 2 off, more than anything counted."""
    of = calibrate(Timetable(school()), records(30, shifts=30))
    assert of.most_open
    number, leaves = of.most_open
    assert number.path == ("crops", "lettuce", "stages", 1, "days")
    assert leaves == pytest.approx(20.0)


def test_two_stages_in_one_place_are_kept() -> None:
    """Rows do not tell which of the two a loss belongs to."""
    stages = school().crops["lettuce"].stages
    again = stages[1].model_copy(update={"name": "again"})
    crops = {"lettuce": Crop(stages=(*stages, again))}
    numbers = found(records(30), school(crops=crops))
    of_crop = [n for path, n in numbers.items() if path[0] == "crops"]
    assert all("two of its stages stand in one place" in n.kept for n in of_crop)


def test_no_rows_are_refused() -> None:
    with pytest.raises(RecordsError, match="hold no rows that can be used"):
        calibrate(Timetable(school()), [])


def test_the_better_shape_is_taken_from_many_batches() -> None:
    """Lengths of an exponential shape, 60 batches: it is written; the scenario's normal is not."""
    drawn = stats.expon(scale=9).rvs(60, random_state=5)
    rows = []
    for n, length in enumerate(drawn):
        day = max(1, int(length + 0.5))
        rows += [row(n + 0.4, "seeded", f"b{n}", count=10, containers=1),
                 row(float(n + day), "finished", f"b{n}", count=9, since=n + 0.4)]  # fmt: skip
    of = calibrate(Timetable(school()), sorted(rows, key=lambda r: r[0]))
    assert of.stages[0].better == "exponential"
    (shape,) = (c for c in of.changes() if c.path[-1] == "days_shape")
    assert (shape.value, shape.source) == ("exponential", "fits best here, n = 60 batches")
    few = calibrate(Timetable(school()), [r for r in rows if int(r[2][1:]) < 19])
    assert not [c for c in few.changes() if c.path[-1] == "days_shape"]
    assert [n for n in few.notes if "from 19 batches no shape is changed, from 20 on it is" in n]
