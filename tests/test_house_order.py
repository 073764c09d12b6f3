"""The house keeps its order: imports go down, and a few things stay in their rooms."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

SIM = Path(__file__).parent.parent / "sim"

# from the top of the house to its bottom; rooms of one line do not see each other,
# but for those named `a > b`, which stand one behind the other
HOUSE = """
__main__
commands.new > commands.check
commands.cadence > commands.swings
commands.sure
commands.counts commands.calibrate commands.benches commands.outlook commands.review
commands.run commands.compare commands.why commands.worklist
commands.breaks commands.capacity commands.size commands.grant > commands.base
benches_form grant_page grant_document grant_book > grant_packed
report screen page
worklist_page worklist_book worklist_calendar
telling_grant > grant_sections
grant_methods grant_plan grant_results grant_change > grant_present > grant_capacity
grant_words > grant_parts
telling_size_tables > telling_size > telling_size_more
telling_capacity_tables > telling_capacity
telling_breaks_tables > telling_breaks
telling_cadence telling_check telling_why
telling_sure telling_sure_tables > telling_sure_words
telling_calibrate telling_outlook telling_review
telling_counts telling_worklist telling_swings telling_compare telling_numbers > telling
plots plots_sure plots_calibrate plots_outlook plots_size plots_breaks plots_swings
plots_compare plots_capacity > plots_batches > plots_page
grant_answer > grant > grant_cost grant_rows
sure_answer
checking choosing worklist calibration_answer counts_answer outlook_answer review_answer
swings_answer capacity_answer breaks_answer sizing_answer > answers
sureness > sureness_counts > sureness_draws sureness_split
sizing > sizing_found > sizing_more sizing_orders sizing_tests > sizing_cadences > sizing_things
capacity > capacity_limits capacity_steps > capacity_room > capacity_sizes
calibration > calibration_stage_numbers > calibration_stages
calibration_file > calibration_toml
calibration_seen calibration_numbers > calibration_visits calibration_lengths calibration_work
calibration_stays
calibration_shares > calibration_grid
swings > swings_beside > swings_inputs
cadence > settling > searching > aim > cadence_answer > pruning variants > candidates
thin_weeks cadence_bounds kind_chances least_waste
selection > selection_rounds selection_asked > selection_bets > selection_runs
why > batch_story
kept cluster
outlook > outlook_actions > outlook_futures
breaks > breaks_remedies > breaks_study
breaks_seedings breaks_cover breaks_harm > breaks_variants > breaks_calendar
comparing
review > review_stages review_files
runs > workers
replications year > year_numbers selection_bounds
benches_records benches_expected
benches_rows kind_year trials worklist_sums worklist_tasks
greenhouse.house > greenhouse.standing
greenhouse.crews
greenhouse.batch greenhouse.deliveries
greenhouse.places greenhouse.cold_store greenhouse.fate
greenhouse.jobs > greenhouse.plan > greenhouse.clock
benches_file > benches_line
counts_missing > counts > counts_reader counts_season > counts_line counts_people
counts_amounts counts_balance counts_batches counts_cleaning counts_columns
counts_orders counts_places counts_shifts
counts_entries counts_file counts_words > counts_values
ceilings > workload
collisions > flows
weeks
measures
seeding
order_book
timetable
cautions
records_file
asking > asking_page > asking_files > asking_questions > asking_answers
inputs
scenario_file > toml_file wording > short_form > run_size
written
scenario
agreement > benches
ical > ical_text > event_names
records draws > quantiles
school_year
parts
errors
"""


@cache
def rooms() -> list[set[str]]:
    found = []
    for line in HOUSE.split("\n"):
        found += [set(part.split()) for part in line.split(">") if part.strip()]
    return found


@cache
def modules() -> dict[str, ast.Module]:
    found = {}
    for path in sorted(SIM.rglob("*.py")):
        name = ".".join(path.relative_to(SIM).with_suffix("").parts)
        if not name.endswith("__init__"):
            found[name] = ast.parse(path.read_text())
    return found


def imported(tree: ast.AST) -> set[str]:
    """Modules that run when this one does; imports for type checking alone do not count."""
    names: set[str] = set()
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            inside = node.module in ("sim", "sim.commands")
            names |= {f"{node.module}.{a.name}" for a in node.names} if inside else {node.module}
        else:
            names |= imported(node)
    return names


@pytest.mark.parametrize("name", sorted(modules()))
def test_imports_go_down(name):
    """A module imports only from rooms below its own."""
    level = {room: depth for depth, row in enumerate(rooms()) for room in row}
    assert name in level, f"give {name} a place in the house"
    for other in imported(modules()[name]):
        if other.startswith("sim."):
            assert level[other.removeprefix("sim.")] > level[name], f"{name} imports {other}"


def test_every_room_exists():
    assert {room for row in rooms() for room in row} == set(modules())


@pytest.mark.parametrize(
    ("library", "allowed"),
    [
        ("simpy", {"greenhouse."}),
        ("matplotlib", {"plots", "report"}),
        ("rich", {"screen"}),
        ("icalendar", {"ical", "worklist_calendar"}),
        ("tomllib", {"toml_file"}),
        ("argparse", {"__main__", "commands."}),
        ("dask", {"cluster"}),
        ("docx", {"grant_document"}),
        ("openpyxl", {"worklist_book", "grant_book", "counts"}),
        ("sqlite3", {"kept"}),
    ],
)
def test_libraries_stay_in_their_rooms(library, allowed):
    for name, tree in modules().items():
        if any(other.split(".")[0] == library for other in imported(tree)):
            assert name.startswith(tuple(allowed)), f"{name} imports {library}"


def test_only_file_modules_and_the_report_touch_the_disk():
    touching = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink"}
    allowed = {
        "__main__",
        "report",
        "toml_file",
        "scenario_file",
        "records_file",
        "kept",
        "asking_files",
        "calibration_file",
        "cluster",
    }
    for name, tree in modules().items():
        calls = {
            node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
        }
        if name not in allowed:
            assert not (calls & touching) - {"open"} or name.startswith("greenhouse"), name
            assert "open" not in calls or name == "greenhouse.house", name


def test_modules_and_functions_stay_short():
    """No module above 300 lines, no function above 40."""
    for name, tree in modules().items():
        path = SIM.joinpath(*name.split(".")).with_suffix(".py")
        assert len(path.read_text().splitlines()) <= 300, name
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                words = ast.get_docstring(node, clean=False) or ""
                lines = (node.end_lineno or 0) - node.lineno - words.count("\n")
                assert lines <= 40, f"{name}.{node.name}"
