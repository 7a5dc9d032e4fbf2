"""archive: what a ban, a limit, a price or a missing material does to every formula of a house."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import Command, group, option
from recommender.cli.notebook_option import notebook_file
from recommender.cli.options import PERCENT, complete_material, market, output_format

if TYPE_CHECKING:
    from recommender.archive.store import FormulaStore

SHOWN = 20
"""So many formulas a table lists; CSV, JSON and --out have all."""


@group(epilog="Example: recommender archive mend --store house --ban coumarin --workers 1")
def archive() -> None:
    """Ask all formulas of a house at once: what is hit, and what mends it.

    It needs the extra [archive]. Work is spread over the cores of this machine, or over a Dask cluster.
    """


def in_store(command: Command) -> Command:
    """Add --store, the folder of the formulas."""
    return option(
        "--store",
        metavar="FOLDER",
        required=True,
        type=click.Path(),
        help="The folder that the formulas were imported into.",
    )(command)


def spread(command: Command) -> Command:
    """Add who works, and where the results are written."""
    command = option("--force", is_flag=True, help="Write over the files of --out.")(command)
    command = option(
        "--out",
        metavar="FOLDER",
        type=click.Path(),
        help="Write all rows as CSV and Parquet, what failed, and a report to print.",
    )(command)
    command = option(
        "--workers",
        type=click.IntRange(1),
        metavar="N",
        help="Processes on this machine; 1 is this one alone.  [default: one for each core]",
    )(command)
    return option(
        "--scheduler",
        metavar="ADDRESS",
        help="A Dask scheduler to use in their place: tcp://127.0.0.1:8786, or tls://...",
    )(command)


def store_in(path: str) -> "FormulaStore":
    """Return the store of a call, under its notebook; raises `BadValue`."""
    from recommender.archive import open_store

    return open_store(path, notebook_file())


def progress(form: str) -> Callable[[str, float], bool] | None:
    """Return what shows on a terminal how far the work is, None elsewhere."""
    import sys

    if printing.quiet() or not sys.stderr.isatty():
        return None

    def show(what: str, share: float) -> bool:
        line = f"{what} ({100 * share:.0f} %)" if share < 1.0 else ""
        click.echo(f"\r{line:<70}\r", nl=False, err=True)
        return True

    return show


@archive.command(epilog="Example: recommender archive mend --store house --ban coumarin --workers 1")
@in_store
@option(
    "--ban",
    metavar="MATERIAL",
    default="",
    shell_complete=complete_material,
    help="Prohibited from now on, what naturals bring of it too.",
)
@option(
    "--without",
    metavar="MATERIAL",
    default="",
    shell_complete=complete_material,
    help="Not to be had; what naturals bring of it may stay.",
)
@option(
    "--limit",
    metavar="TEXT",
    default="",
    help='"MATERIAL PERCENT": at most so much in the product, through naturals too.',
)
@option(
    "--price",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A sheet with columns material, price and before: none is to cost more than it did.",
)
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    default=100.0,
    help="Concentrate in the product, for --limit.  [default: 100, the concentrate itself]",
)
@market
@option("--thorough", is_flag=True, help="Search each formula as `reformulate` does: seconds for each.")
@spread
@output_format
def mend(
    store: str,
    scheduler: str | None,
    workers: int | None,
    out: str | None,
    force: bool,
    form: str,
    **given: Any,
) -> int:
    """Find what mends each formula after a ban, a limit, a price or a missing material.

    Each line in the way is swapped, lowered or taken out, as preserves most of the smell. A run that was
    interrupted goes on where it was.
    """
    from recommender.archive.execution import run
    from recommender.archive.mending import Mending, MendingRequest, summary_of
    from recommender.output import archive_page

    request = MendingRequest(**given)
    found_in = store_in(store)
    if out:
        archive_page.check(out, "mend", force)
    result = run(Mending(request), found_in, workers=workers, scheduler=scheduler, progress=progress(form))
    rows = result.rows.to_pylist()
    failures = [dict(vars(failure)) for failure in result.failures]
    summary = summary_of(request, rows, len(found_in), len(failures), found_in.palette)
    report = archive_page.mend_report(summary, rows, failures)
    data = archive_page.mend_data(summary, rows, failures)
    printing.show(form, data, rows, archive_page.MEND_COLUMNS, lambda: archive_page.lines(report, SHOWN))
    if out:
        archive_page.write(report, result.rows, failures, out, "mend")
        printing.written("report", str(Path(out) / "mend.html"))
    if failures and form != "json":
        printing.note(f"{len(failures)} formulas have no answer; --out or --format json says why.")
    return 0 if rows or failures else printing.nothing_found("nothing is in the way of any formula.")


COMMANDS = (archive,)
