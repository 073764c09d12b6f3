"""`seedbeat calibrate`: a season's records to the numbers of a new scenario file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sim.commands.base import Answer, Command, finish

if TYPE_CHECKING:
    from sim.calibration_seen import StandCount
    from sim.records import Row
    from sim.scenario_file import LoadedScenario
    from sim.telling import Screen
    from sim.timetable import Timetable


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "records", type=Path, metavar="RECORDS",
        help="what was done and counted in a season: CSV or .xlsx",
    )  # fmt: skip
    parser.add_argument(
        "-o", dest="new", type=Path, metavar="NEW",
        help="write the scenario with what was measured to this new file",
    )  # fmt: skip


class Read(NamedTuple):
    """Records that were read, their days, how many rows were refused, and how it went."""

    timetable: Timetable
    rows: list[Row]
    stands: list[StandCount]
    refused: int
    notes: tuple[str, ...]


def _answer(args: argparse.Namespace) -> Answer:
    from sim.calibration import calibrate
    from sim.calibration_answer import calibrate_answer
    from sim.calibration_file import ready, write_new
    from sim.report import ready_folder, tables
    from sim.scenario_file import read_scenario

    folder = ready_folder(args.out)
    if args.new:
        ready(args.new)
    loaded = read_scenario(args.file)
    read = read_records(args.records, loaded)
    found = calibrate(read.timetable, read.rows, read.stands)
    name = args.records.name
    answer = calibrate_answer(loaded, found, name, refused=read.refused, reading=read.notes)
    changes = found.changes()
    if args.new and changes:
        first, last = answer["first_day"], answer["last_day"]
        heading = f"Numbers measured from {name}, {first} to {last}: each says so in its source."
        answer["form"] = write_new(args.new, loaded, changes, heading)
        answer["written"] = str(args.new)
    if folder is None:
        return answer
    from sim.plots_calibrate import figures

    return finish(answer, folder, tables(answer, ("numbers",)), _screen, figures(found))


def read_records(records: Path, loaded: LoadedScenario) -> Read:
    """Records of a school, or in this program's own form.

    Raises RecordsError if none of its rows can be used.
    """
    from sim.calibration_file import is_own_table
    from sim.calibration_seen import StandCount
    from sim.errors import RecordsError
    from sim.timetable import Timetable

    timetable = Timetable(loaded.scenario.model_copy(update={"benches": None}))
    if is_own_table(records):
        from sim.records_file import read_rows

        rows = sorted(read_rows(records, timetable.start), key=lambda row: row[0])
        return Read(timetable, rows, [], 0, ())
    from sim.counts import read_counts

    counts = read_counts(records, timetable.scenario)
    if counts.refused and not counts.rows:
        raise RecordsError(
            f"{records.name}: none of its rows can be used; seedbeat counts "
            f"{loaded.path.name} {records.name} says what to mend in each."
        )
    stands = [
        StandCount(timetable.day_of(s.day), s.batch, s.place, s.plants) for s in counts.stands
    ]
    return Read(timetable, counts.rows, stands, counts.refused, counts.notes)


def _screen(answer: Answer) -> Screen:
    from sim import telling, telling_calibrate
    from sim.telling import Screen

    taken = [f"Taken for granted: {note}" for note in answer["taken"]]
    taken += [f"Records: {note}" for note in answer["reading"]]
    return Screen(
        f"{answer['scenario']}: what the records in {answer['records']} say of its numbers",
        list(telling_calibrate.sentences(answer)),
        telling_calibrate.tables(answer),
        [*taken, *telling.endings(answer)],
    )


COMMAND = Command(
    "calibrate", "set a scenario's numbers by what was counted in a season", _options, _answer,
    _screen,
)  # fmt: skip
