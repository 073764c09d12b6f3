"""Scenarios beside each other: known differences, honest intervals, verdicts, words and files."""

from __future__ import annotations

import argparse
import csv
import io
import json
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from math import isnan, nan
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.dates import date2num
from numpy.typing import NDArray
from reference.examples import MONDAY, tiny, weeks
from scipy import stats
from test_plots import misplaced

from sim import telling_compare
from sim.commands import base
from sim.commands.compare import BETTER, COMMAND, compare_answer, labels
from sim.comparing import ERROR, Change, compare, mean_change, pairs, weakest_change
from sim.errors import SeedbeatError
from sim.measures import MEASURES
from sim.parts import Cadence, Crop, Dates, Order, Place, School, Seeding, Stage
from sim.plots_compare import LOOKS, figures
from sim.replications import Years
from sim.report import json_text
from sim.runs import Runs, replicate
from sim.scenario import Scenario
from sim.scenario_file import load_scenario, read_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = SCENARIOS / "maple-hollow.toml"
BREAK = SCENARIOS / "maple-hollow-spring-break.toml"
WEEK = timedelta(days=7)
FOUR = {"first_day": MONDAY + WEEK, "last_day": MONDAY + 5 * WEEK - timedelta(days=1)}


def ordered(heads: int, **changes: object) -> Scenario:
    """20 cells seeded on four Mondays, 20 heads ready each Saturday, `heads` ordered each Monday.

    Nothing is drawn and nobody is needed. Ready heads are over-mature on Thursday.
    """
    stages = (
        Stage(name="seedling", place="nursery", days=2),
        Stage(name="head", place="bench", days=3, keep_days=5),
    )
    seedings = [Seeding(day=MONDAY + n * WEEK, crop="lettuce", trays=2) for n in range(4)]
    parts: dict[str, object] = {
        "places": {name: Place(count=None, sites_each=10) for name in ("nursery", "bench")},
        "crops": {"lettuce": Crop(stages=stages, harvested_by=None)},
        "tasks": {},
        "crews": {},
        "orders": (Order(customer="kitchen", crop="lettuce", heads={"Mon": heads}, **FOUR),),  # type: ignore[arg-type]
        "cadence": Cadence(added=tuple(seedings)),
        "window": weeks(MONDAY + WEEK, 4),
    }
    return tiny(**(parts | changes))


def compared(*scenarios: Scenario, years: int = 3) -> list[dict[str, Change]]:
    with Runs() as runs:
        return [dict(pair.changes) for pair in compare(scenarios, years, 1, runs).pairs]


def asked(*args: object) -> argparse.Namespace:
    """The arguments as the command line reads them."""
    parser = argparse.ArgumentParser()
    base.add(parser.add_subparsers(), COMMAND)
    return parser.parse_args(["compare", *map(str, args)])


@cache
def demo() -> tuple[Years, Years]:
    """Thirty years of the demo school, and of it with one day of cover in spring break."""
    one, other = (replicate(load_scenario(file), 30) for file in (DEMO, BREAK))
    return one, other


@cache
def demo_answer() -> dict[str, Any]:
    """What the command says of the demo school with full and with one day's cover, 12 years."""
    return COMMAND.answer(asked(DEMO, BREAK, "--years", 12, "--workers", 1))


# -- differences known by hand --------------------------------------------------------------------


def test_a_doubled_order_delivers_its_heads_and_wastes_fewer() -> None:
    """10 or 20 of 20 heads ordered in each of four weeks: +10 heads a week, -40 plants dumped.

    Exactly so in every year; both are met in full, so that no week and no share differs.
    """
    (found,) = compared(ordered(10), ordered(20))
    assert found["heads_per_week"] == Change(10.0, 10.0, 10.0, 10.0, 10.0, 3)
    assert found["wasted_plants"].mean == -40
    for name in ("heads_per_week", "wasted_plants"):
        assert found[name].exact
        assert found[name].verdict == "real"
    for name in ("unit_fill_rate", "order_fill_rate", "steadiness", "weakest_week"):
        assert found[name].verdict == "the same"
    assert found["bench_fill"].verdict == "no number"  # places without a limit have no share


def test_an_order_beyond_the_harvest_misses_every_week() -> None:
    """25 ordered of 20 heads: 5 short each week; every share falls from 1, by .2 or to 0."""
    (found,) = compared(ordered(20), ordered(25))
    assert found["unit_fill_rate"].mean == pytest.approx(-0.2)
    for name in ("order_fill_rate", "steadiness", "weakest_week"):
        assert found[name] == Change(-1.0, -1.0, -1.0, -1.0, -1.0, 3)
    assert found["heads_per_week"].verdict == found["wasted_plants"].verdict == "the same"


def test_weeks_are_told_one_by_one() -> None:
    """Only the third week's order is beyond the harvest: that week alone differs, in each year."""
    third = Dates(first_day=MONDAY + 3 * WEEK, last_day=MONDAY + 3 * WEEK)
    usual = ordered(20).orders[0]
    more = usual.model_copy(update={"heads": {"Mon": 25}, "first_day": third.first_day,
                                    "last_day": third.last_day})  # fmt: skip
    but = usual.model_copy(update={"paused": (third,)})
    with Runs() as runs:
        (pair,) = compare([ordered(20), ordered(20, orders=(but, more))], 20, 1, runs).pairs
    assert [week.week_of for week in pair.weeks] == [MONDAY + n * WEEK for n in (1, 2, 3, 4)]
    differing = pair.weeks[2]
    assert (differing.share_first, differing.share_other) == (1.0, 0.0)
    assert (differing.years_only_first, differing.years_only_other) == (20, 0)
    assert [week.verdict for week in pair.weeks] == ["the same", "the same", "real", "the same"]
    assert pair.changes["steadiness"].mean == -0.25
    assert pair.changes["weakest_week"].mean == -1.0


def test_a_scenario_against_itself_is_the_same() -> None:
    """All differences are exactly zero, and the sentence says so."""
    answer = COMMAND.answer(asked(DEMO, DEMO, "--years", 2, "--workers", 1))
    (pair,) = answer["comparisons"]
    assert {c["verdict"] for c in pair["differences"].values()} == {"the same"}
    assert {c[key] for c in pair["differences"].values() for key in ("mean", "low", "high")} == {0}
    assert all(week["verdict"] == "the same" for week in pair["weeks"])
    assert pair["not_like_for_like"] == []
    told = list(telling_compare.sentences(answer))
    assert told[1] == "B and A are the same: no measure differs in any of the 2 years."


# -- intervals and verdicts -----------------------------------------------------------------------


def test_mean_intervals_are_students_t_on_pairs() -> None:
    """The textbook interval of paired differences, as scipy gives it, at both levels."""
    rng = np.random.default_rng(3)
    one = rng.normal(5, 2, 30)
    other = one + rng.normal(0.3, 1, 30)
    found = mean_change(other - one, 0.005)
    test = stats.ttest_rel(other, one)
    assert (found.low, found.high) == pytest.approx(tuple(test.confidence_interval(0.95)))
    wide = test.confidence_interval(0.995)
    assert (found.sure_low, found.sure_high) == pytest.approx(tuple(wide))
    assert found.verdict == ("real" if test.pvalue < 0.005 else "could be noise")


@pytest.mark.parametrize(("shift", "verdict"), [(1.0, "real"), (0.62, "could be noise")])
def test_the_verdict_rests_on_the_wider_interval(shift: float, verdict: str) -> None:
    """Ten differences of standard error .25: .62 is beyond 95 %, not beyond the shared error."""
    spread = np.tile([-0.75, 0.75], 5)
    found = mean_change(shift + spread, ERROR / 9)
    assert found.low > 0
    assert found.verdict == verdict


@pytest.mark.parametrize(
    ("values", "verdict", "exact"),
    [
        ([0.0, 0.0, 0.0], "the same", True),
        ([2.0, 2.0, 2.0], "real", True),
        ([1e-13, -1e-13, 0.0], "the same", True),
        ([1.0, -1.0, 0.5], "could be noise", False),
        ([nan, nan, nan], "no number", False),
    ],
)
def test_verdicts(values: list[float], verdict: str, exact: bool) -> None:
    """A constant difference is exact; what sums are rounded by is none; nan has no verdict."""
    found = mean_change(np.array(values), 0.01)
    assert (found.verdict, found.exact) == (verdict, exact)


@pytest.mark.parametrize(("only_first", "only_other"), [(9, 0), (8, 0), (7, 0), (0, 12), (12, 3)])
def test_weeks_are_judged_by_the_exact_sign_test(only_first: int, only_other: int) -> None:
    """McNemar 1947: years in which only one met the week, against a fair coin, as scipy has it.

    Four weeks share the error of 5 %.
    """
    met = np.ones((2, 40, 4), np.int8)
    met[1, :only_first, 2] = 0
    met[0, 40 - only_other :, 2] = 0
    first, other = (replace(plain_years(), met=one, count=40) for one in met)
    (pair,) = pairs([first, other])
    chance = stats.binomtest(only_first, only_first + only_other).pvalue
    assert pair.weeks[2].verdict == ("real" if chance < ERROR / 4 else "could be noise")
    assert pair.weeks[1].verdict == "the same"


@cache
def plain_years() -> Years:
    """Two years of four weeks in which nothing is drawn."""
    return replicate(ordered(20), 2)


def null_differences(trials: int, years: int, seed: int) -> NDArray[np.float64]:
    """Differences of nine measures that are zero in the mean and go together, [trials, 9, years].

    As of weeks met of 33: skewed and in steps; a shared part makes half of their variance.
    """
    rng = np.random.default_rng(seed)
    counts = rng.binomial(33, 0.95, (2, trials, 1, years)) + rng.binomial(
        33, 0.95, (2, trials, len(MEASURES), years)
    )
    return np.asarray((counts[0] - counts[1]) / 66)


def test_shared_out_verdicts_are_wrong_together_in_at_most_one_of_twenty() -> None:
    """Nine measures without a difference, 60 years, 400 trials: any "real" in at most 5 %.

    The standard error is .011; the limit of .08 is 2.7 away from .05, and Bonferroni stays below
    that. With 95 % intervals each, some measure would look real in more than 15 %.
    """
    alone = shared = 0
    for trial in null_differences(400, 60, 1):
        found = [mean_change(one, ERROR / len(MEASURES)) for one in trial]
        shared += any(change.verdict == "real" for change in found)
        alone += any(change.low > 0 or change.high < 0 for change in found)
    assert shared / 400 <= 0.08
    assert alone / 400 > 0.15


def test_the_error_is_shared_over_measures_and_scenarios() -> None:
    """Nine differences share 5 %, eighteen do with a third scenario: t intervals as scipy has them.

    Bonferroni: each wider interval has a level of 1 - .05 / 9, or 1 - .05 / 18.
    """
    one, other = demo()
    for results, tests in (((one, other), 9), ((one, other, one), 18)):
        found = next(pairs(results)).changes["labor_use"]
        test = stats.ttest_rel(other.values["labor_use"], one.values["labor_use"])
        wide = test.confidence_interval(1 - 0.05 / tests)
        assert (found.sure_low, found.sure_high) == pytest.approx(tuple(wide), abs=1e-8)


def test_the_paired_interval_covers_the_difference() -> None:
    """Two plans in the same 100 years, weeks met of 33, .93 and .95: covered in 95 of 100 trials.

    1,500 trials: standard error .0056, so that .933 to .967 is three of them on either side.
    """
    rng = np.random.default_rng(2)
    chance = rng.beta(20, 1.5, (1500, 100))  # the same year for both
    luck = rng.random((1500, 100, 33))
    one = (luck < chance[..., None]).mean(axis=2)
    other = (luck < (chance + 0.3 * (1 - chance))[..., None]).mean(axis=2)
    truth = 0.3 * (1 - 20 / 21.5)
    covered = [c.low <= truth <= c.high for d in other - one for c in [mean_change(d, ERROR)]]
    assert 0.933 <= np.mean(covered) <= 0.967


def test_the_same_luck_narrows_the_intervals_of_the_demo() -> None:
    """One day of cover less in spring break, 30 years: the paired variance is far smaller.

    For heads delivered of those ordered it is .18 of that of independent years (400 years, see the
    tests of luck); a limit of a half is beyond any doubt for both measures.
    """
    one, other = demo()
    for name in ("unit_fill_rate", "steadiness"):
        paired = np.var(other.values[name] - one.values[name])
        apart = np.var(other.values[name]) + np.var(one.values[name])
        assert paired < 0.5 * apart
    (pair,) = pairs([one, other])
    assert pair.changes["steadiness"].verdict == "real"
    assert pair.changes["steadiness"].mean < 0


# -- the weakest week -----------------------------------------------------------------------------

ONE_WEAK = np.array([0.5] + [0.97] * 32)
ALL_ALIKE = np.full(33, 0.97)
CASES = {  # shares of years by week, of the first and of the other scenario
    "one weak week each": (ONE_WEAK, np.array([0.6] + [0.97] * 32)),
    "one weak week, and all alike": (ONE_WEAK, ALL_ALIKE),
    "all alike, and one weak week": (ALL_ALIKE, ONE_WEAK),
    "all alike, both": (np.full(33, 0.9), np.full(33, 0.9)),
    "all alike, better": (np.full(33, 0.9), ALL_ALIKE),
    "step by step": (np.linspace(0.8, 0.99, 33), np.array([0.8, *np.linspace(0.86, 0.99, 32)])),
    "as weak, one or all": (np.array([0.9] + [0.99] * 32), np.full(33, 0.9)),
    "rarely missed": (np.full(33, 0.99), np.array([0.98] + [0.995] * 32)),
    "hidden among all": (np.array([0.95] + [0.99] * 32), np.full(33, 0.95)),
}


def weeks_met_in(
    case: str, years: int, rng: np.random.Generator
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Weeks met by two scenarios that share most of their luck, with good and bad years."""
    year, same = rng.standard_normal((years, 1)), rng.standard_normal((years, 33))

    def met(shares: NDArray[np.float64]) -> NDArray[np.bool_]:
        own = 0.95 * same + np.sqrt(1 - 0.95**2) * rng.standard_normal((years, 33))
        return np.asarray(stats.norm.cdf(np.sqrt(0.2) * year + np.sqrt(0.8) * own) < shares)

    return met(CASES[case][0]), met(CASES[case][1])


@cache
def weakest_trials(case: str, years: int, trials: int, resamples: int) -> tuple[float, float]:
    """Shares of trials whose 95 % interval holds the truth, and whose wider one does not.

    The wider one is that of a verdict among nine, so that .0056 is the second share to be had.
    """
    rng, truth = np.random.default_rng(7), CASES[case][1].min() - CASES[case][0].min()
    found = [
        weakest_change(*weeks_met_in(case, years, rng), ERROR / 9, resamples) for _ in range(trials)
    ]
    holds = [c.low <= truth + 1e-9 and truth - 1e-9 <= c.high for c in found]
    wrong = [not c.sure_low <= truth + 1e-9 or not truth - 1e-9 <= c.sure_high for c in found]
    return float(np.mean(holds)), float(np.mean(wrong))


def test_the_weakest_weeks_difference_is_covered_where_one_side_is_biased() -> None:
    """One week of .9 against 33 of .9, 200 years: the minimum of the latter is 4 points too low.

    About .96 of the intervals cover the truth; 150 trials have a standard error of .016, and .91
    is three of them below. The basic bootstrap without the second view covers less than .84.
    """
    assert weakest_trials("as weak, one or all", 200, 150, 300)[0] >= 0.91


@pytest.mark.proof
@pytest.mark.parametrize("case", [case for case in CASES if case != "hidden among all"])
def test_the_weakest_weeks_difference_is_covered(case: str) -> None:
    """200 years, 400 trials: at least .93 are covered; .89 is three standard errors below that.

    Verdicts among nine are wrong in at most .02; .042 is three standard errors above that.
    """
    covered, wrong = weakest_trials(case, 200, 400, 1000)
    assert covered >= 0.89
    assert wrong <= 0.042


@pytest.mark.proof
def test_where_many_weeks_are_as_weak_as_one_the_interval_is_too_narrow() -> None:
    """A known limit, said below the table: one week of .95 against 33 weeks of .95, 200 years.

    About .91 of the intervals cover the truth; 400 trials have a standard error of .015.
    """
    assert 0.86 <= weakest_trials("hidden among all", 200, 400, 1000)[0] <= 0.95


def test_the_weakest_week_is_each_scenarios_own() -> None:
    """Two weeks, four years: the first misses week 1 once, the other week 2 in three years."""
    first = np.array([[False, True], [True, True], [True, True], [True, True]])
    other = np.array([[True, False], [True, False], [True, False], [True, True]])
    found = weakest_change(first, other, 0.01)
    assert found.mean == 0.25 - 0.75
    assert found.sure_low <= found.low < found.mean < found.high <= found.sure_high
    assert weakest_change(first, other, 0.01) == found  # the resamples are the same every time
    assert weakest_change(first, first, 0.01) == Change(0, 0, 0, 0, 0, 4)
    assert isnan(weakest_change(first, other[:, :0], 0.01).mean)


# -- like for like --------------------------------------------------------------------------------


def unlike(one: Scenario, other: Scenario) -> tuple[list[str], int]:
    """The warnings about a pair, and the number of weeks compared."""
    with Runs() as runs:
        (pair,) = compare([one, other], 2, 1, runs).pairs
    return list(pair.unlike), len(pair.weeks)


def test_another_cadence_is_like_for_like() -> None:
    """Nothing is said where only what is seeded differs."""
    assert unlike(ordered(20), ordered(20, cadence=Cadence())) == ([], 4)


def test_other_orders_are_said() -> None:
    """Four deliveries of 10 heads against four of 20: none is the same, 10 and 20 heads a week."""
    (told,), count = unlike(ordered(10), ordered(20))
    assert told.startswith(
        "The orders differ: 4 deliveries are due in A only and 4 in B only; 10 heads a week are "
        "ordered in A and 20 in B."
    )
    assert count == 4


def test_other_weeks_are_said_and_not_compared_one_by_one() -> None:
    """Windows of four and of three weeks: said with their dates, no week is compared."""
    (told,), count = unlike(ordered(20), ordered(20, window=weeks(MONDAY + WEEK, 3)))
    assert "A is measured from Mon Sep 14, 2026 to Sun Oct 11, 2026" in told
    assert "B from Mon Sep 14, 2026 to Sun Oct 4, 2026" in told
    assert count == 0


def test_other_calendars_are_said() -> None:
    """One more closed day: its date, and what it is in each."""
    school = ordered(20).school
    day = date(2026, 9, 22)
    closed = School(
        first_day=school.first_day,
        last_day=school.last_day,
        closed=(Dates(first_day=day, last_day=day),),
    )
    (told,), _ = unlike(ordered(20), ordered(20, school=closed))
    assert told == (
        "The school calendars differ on 1 day, the first Tue Sep 22, 2026: regular in A, closed "
        "in B."
    )


# -- refusals, names and words --------------------------------------------------------------------


def test_one_year_is_refused() -> None:
    """A single year has no interval: the message says what to give, before anything is run."""
    with pytest.raises(SeedbeatError, match=r"--years: must be at least 2.* it was 1; 200"):
        compared(ordered(10), ordered(20), years=1)


def test_seven_scenarios_are_refused() -> None:
    """At most six can be told apart; the message says how many were given."""
    with pytest.raises(SeedbeatError, match=r"at most 6 .* 7 were given; compare fewer"):
        compared(*[ordered(10)] * 7)


def test_one_file_alone_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Two files at least; the usage names what is missing."""
    with pytest.raises(SystemExit) as ended:
        asked(DEMO)
    assert ended.value.code == 2
    assert "OTHER" in capsys.readouterr().err


def test_names_that_repeat_are_told_apart_by_their_files(tmp_path: Path) -> None:
    """Different names stay; equal ones become file names, equal file names become paths."""
    (tmp_path / "maple-hollow.ics").write_bytes((SCENARIOS / "maple-hollow.ics").read_bytes())
    for name in ("other.toml", DEMO.name):
        (tmp_path / name).write_bytes(DEMO.read_bytes())
    one, two, other, same = map(
        read_scenario, (DEMO, BREAK, tmp_path / "other.toml", tmp_path / DEMO.name)
    )
    names = ["Maple Hollow", "Maple Hollow, one day of cover in spring break"]
    assert labels([one, two]) == names
    assert labels([one, other]) == ["maple-hollow.toml", "other.toml"]
    assert labels([one, same]) == [str(DEMO), str(tmp_path / DEMO.name)]
    assert labels([one, one]) == ["maple-hollow.toml", "maple-hollow.toml"]


def test_better_and_worse_by_measure() -> None:
    """Fewer wasted plants are better; more of the others; bench fill and labor use are neither."""
    assert BETTER["wasted_plants"] == -1
    assert set(MEASURES) - set(BETTER) == {"bench_fill", "labor_use"}
    loaded = [read_scenario(DEMO), read_scenario(BREAK)]
    with Runs() as runs:
        found = compare([ordered(10), ordered(20)], 2, 1, runs)
    changes = compare_answer(loaded, found)["comparisons"][0]["differences"]
    assert changes["wasted_plants"]["direction"] == changes["heads_per_week"]["direction"]
    assert changes["wasted_plants"]["direction"] == "better"
    assert changes["steadiness"]["direction"] is None


def test_the_first_screen_says_it_in_sentences() -> None:
    """Who is who, then the change in weeks, weakest week, heads and waste, each with a verdict."""
    answer = demo_answer()
    who, told, sure = telling_compare.sentences(answer)
    assert who.startswith("A is Maple Hollow (maple-hollow.toml); B is Maple Hollow, one day of")
    change = answer["comparisons"][0]["differences"]["steadiness"]
    assert told.startswith("B delivers fewer complete weeks than A: ")
    assert f"{100 * change['mean']:+.1f} points ({100 * change['low']:+.1f} to " in told
    assert "B's weakest week, of Mon Mar 15, is met in 0.0 % of the years; A's, of" in told
    assert told.count(", real.") + told.count(", could be noise.") == 4
    assert "Bonferroni" in sure
    assert "so few years" in sure  # 12 of them
    assert "so few years" not in list(telling_compare.sentences({**answer, "rough": False}))[-1]


def test_every_measure_has_its_words() -> None:
    """The table names all measures, in their order."""
    assert tuple(telling_compare.NAMES) == MEASURES


def test_pages_fit_80_columns_and_speak_plainly() -> None:
    """Tables need at most 80 columns, three blanks between two of them; no word of the code."""
    answer = demo_answer()
    tables = telling_compare.tables(answer)
    for table in tables:
        columns = zip(table.headers, *table.rows, strict=True)
        assert sum(max(map(len, column)) + 3 for column in columns) - 3 <= 80, table.title
    page = json_text({"t": [str(t) for t in tables], "s": list(telling_compare.sentences(answer))})
    for word in ("luck", "container", "guarantee", "promise", "nan", "None", "useful_bench"):
        assert word not in page


def test_what_is_assumed_is_said_once_for_each_scenario() -> None:
    """The assumptions of both, with the letters they belong to; cautions last, each once."""
    answer = demo_answer()
    assert {row["of"] for row in answer["assumed"]} == {"A, B"}
    *told, cautions = telling_compare.endings(answer)
    assert sum("assumed until you count" in text for text in told) == 2
    assert cautions.startswith("Cautions\n")
    assert len(set(answer["cautions"])) == len(answer["cautions"]) == cautions.count("\n- ")


# -- picture, files, workers ----------------------------------------------------------------------


def test_the_picture_shows_the_shares_of_years() -> None:
    """A line for each scenario with its shares, in its weeks, and nothing is cut or covered."""
    figure = figures(demo(), ["A: Maple Hollow", "B: one day of cover"])["weeks_compared"]
    assert misplaced(figure) == []
    lines = figure.axes[0].lines
    for line, years in zip(lines, demo(), strict=True):
        np.testing.assert_allclose(line.get_ydata(), 100 * years.met_share)
        mondays = [date2num(years.timetable.week_monday(n)) for n in range(years.timetable.weeks)]
        inside = np.asarray(line.get_xdata()) - mondays
        assert ((inside > 0) & (inside < 7)).all()
    assert figure.axes[0].get_legend().get_texts()[1].get_text() == "B: one day of cover"


def test_high_shares_are_drawn_larger_and_no_orders_are_said() -> None:
    """The axis begins at 80 % if no week is below; without orders the picture says so."""
    full = figures([plain_years()] * 2, ["A", "B"])["weeks_compared"].axes[0]
    assert 75 < full.get_ylim()[0] < 80
    empty = replicate(ordered(20, orders=()), 2)
    figure = figures([empty, empty], ["A", "B"])["weeks_compared"]
    assert "nothing is ordered in these weeks" in [t.get_text() for t in figure.axes[0].texts]


def test_lines_are_told_apart_without_color() -> None:
    """Six marks, and neighbors filled and open by turns; no line is too light to see on paper."""
    assert len({look["marker"] for look in LOOKS}) == len(LOOKS) == 6
    assert [look.get("markerfacecolor") for look in LOOKS] == [None, "white"] * 3
    assert all(np.mean(to_rgb(look["color"])) < 0.7 for look in LOOKS)


def test_any_number_of_workers_gives_the_same_answer() -> None:
    """Rule L2: the JSON of 12 years by two workers is that by one, letter by letter."""
    two = COMMAND.answer(asked(DEMO, BREAK, "--years", 12, "--workers", 2))
    assert json_text(two) == json_text(demo_answer())


def test_out_writes_tables_picture_and_what_rebuilds_them(tmp_path: Path) -> None:
    """Measures, differences and weeks as CSV, the picture twice, the page, and run.json."""
    answer = COMMAND.answer(asked(DEMO, BREAK, "--years", 3, "--workers", 1, "--out", tmp_path))
    files = {path.name for path in tmp_path.iterdir()}
    assert files == set(answer["files"]) >= {
        "measures.csv", "differences.csv", "weeks.csv", "weeks_compared.png", "weeks_compared.svg",
        "run.json",
    }  # fmt: skip
    rows = list(csv.DictReader(io.StringIO((tmp_path / "differences.csv").read_text())))
    assert [row["measure"] for row in rows] == list(MEASURES)
    kept = json.loads((tmp_path / "run.json").read_text())
    assert kept["comparisons"] == answer["comparisons"]
    assert kept["seed"] == 1
