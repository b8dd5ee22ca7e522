"""Commands that learn cutting data from a shop's own readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

__all__ = ["learn_data", "make_test_pieces"]

DataFile = Annotated[Path, typer.Argument(help="A cutting-data file.", show_default=False)]


def make_test_pieces(
    file: DataFile,
    thickness: Annotated[list[float], typer.Option(help="Plate thickness, mm; again for more.")],
    out: Annotated[Path, typer.Option(help="Folder for the programs and the form for the readings.")],
    pieces: Annotated[int, typer.Option(help="Pieces of each thickness.", min=1)] = 5,
    job: Annotated[
        Path | None, typer.Option(help="A job whose machine cuts them; the usual one if left out.")
    ] = None,
) -> None:
    """Make programs that cut and mark test pieces, and readings.csv for what the callipers say.

    Fill in the column `measured`, then `cutplan data learn FILE readings.csv`.
    """
    from cutplan.base.files import write_text
    from cutplan.base.machine import Machine
    from cutplan.cli.display import progress_display
    from cutplan.planning import kerf_piece_job, kerf_readings_form, load_job, locked, plan_job, write_files
    from cutplan.process import load_cutting_data

    table = load_cutting_data(file)
    machine = Machine() if job is None else load_job(job).machine
    wanted = kerf_piece_job(table, file, thickness, pieces, machine)
    with locked(out), progress_display(Console(stderr=True)) as tell:
        write_files(plan_job(wanted, tell), out)
        write_text(out / "readings.csv", kerf_readings_form(table, thickness, pieces))
    print(f"written to {out}: {len(wanted.parts)} pieces; their kerf is {table.setting}'s own")
    if not machine.marker:
        print("note: the machine has no marker: write each piece's name on it before it leaves the table")


def learn_data(
    file: DataFile,
    readings: Annotated[Path, typer.Argument(help="CSV or XLSX of readings.", show_default=False)],
    write: Annotated[
        Path | None, typer.Option(help="Write the file anew, with what was learned, to this place.")
    ] = None,
) -> None:
    """Learn kerf, pierce times or feeds from readings, each with its spread and how sure it is.

    The headings say of what: thickness,nominal,measured (and side, kerf_set); thickness,pierce_s;
    or thickness,feed_mm_min. Readings that cannot tell are refused.
    """
    from cutplan.base.files import read_text, write_text
    from cutplan.process import learn, load_cutting_data, read_readings, with_learned

    table = load_cutting_data(file)
    found = read_readings(readings, table)
    learned = learn(found, table)
    for each in learned:
        print(each.summary())
    if write is not None:
        note = f"{found.quantity} from {len(found.value)} readings of our own"
        write_text(write, with_learned(read_text(file), table, learned, note))
        print(f"written to {write}; check it with: cutplan data check {write}")
