"""archive: what a ban, a limit, a price or a missing material does to every formula of a house."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import group, option, words
from recommender.cli.notebook_option import notebook_file, workspace
from recommender.cli.options import (
    PERCENT,
    Command,
    category,
    complete_facet,
    complete_formula,
    complete_material,
    market,
    on,
    output_format,
)
from recommender.cli.printing import COLUMNS, meta

if TYPE_CHECKING:
    import pyarrow

    from recommender.archive.store import FormulaStore
    from recommender.output.archive_page import ArchiveReport

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


def files(command: Command) -> Command:
    """Add where the results are written."""
    command = option("--force", is_flag=True, help="Write over the files of --out.")(command)
    return option(
        "--out",
        metavar="FOLDER",
        type=click.Path(),
        help="Write all rows as CSV and Parquet, what failed, and a report to print.",
    )(command)


def spread(command: Command) -> Command:
    """Add who works, and where the results are written."""
    command = files(command)
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


def store_in(path: str, *, new: bool = False) -> "FormulaStore":
    """Return the store of a call, under its notebook, a `new` one where there is none; raises `BadValue`."""
    from recommender.archive import open_store

    return open_store(path, notebook_file(), new=new)


def show(
    name: str,
    form: str,
    report: "ArchiveReport",
    data: Mapping[str, Any],
    rows: Sequence[Mapping[str, Any]],
    table: "pyarrow.Table",
    out: str | None,
    failures: Sequence[Mapping[str, Any]] = (),
) -> None:
    """Print an answer, and write its report, its rows and what failed where --out names a folder."""
    from recommender.output import archive_page

    columns = table.schema.names
    printing.show(form, data, rows, columns, lambda: archive_page.lines(report, SHOWN))
    if out:
        archive_page.write(report, table, failures, out, name)
        printing.written("report", str(Path(out) / f"{name}.html"))


@archive.command("import", epilog="Example: recommender archive import formulas --store house")
@click.argument("source", type=click.Path())
@in_store
@spread
@output_format
def import_(
    source: str,
    store: str,
    scheduler: str | None,
    workers: int | None,
    out: str | None,
    force: bool,
    form: str,
) -> int:
    """Store the formulas of SOURCE: a folder of sheets, a sheet, a notebook or Parquet.

    Folders inside are read too; of a notebook all saved formulas with their versions. Parquet has a row for
    each line: formula, material, parts, and where there are any dilution_percent, solvent, accord, name and
    theme. What has not changed since the last import is not read again, a changed file replaces its formula,
    and what cannot be read is listed. Exit status 0 only if everything was read.
    """
    from recommender.output import archive, archive_page

    if out:
        archive_page.check(out, "import", force)
    here = store_in(store, new=True)
    found = here.import_formulas(source, workers=workers, scheduler=scheduler, progress=printing.stages())
    data = archive.import_data(found, here.path)
    report = archive.import_report(data)
    failed = data["failures"]
    table = archive.table_of(failed, archive.IMPORT_COLUMNS)
    show("import", form, report, data, failed, table, out)
    if form != "json":
        printing.notes(data["notes"])
    return 1 if failed or not found.finished else 0


@archive.command(epilog="Example: recommender archive affected coumarin --store house")
@click.argument("material", shell_complete=complete_material)
@in_store
@files
@output_format
def affected(material: str, store: str, out: str | None, force: bool, form: str) -> int:
    """List the formulas that MATERIAL is in, with its share of the concentrate.

    Put in as such, in accords, in dilutions, as their solvent, or through naturals.
    """
    from recommender.output import archive, archive_page

    if out:
        archive_page.check(out, "affected", force)
    found = store_in(store).affected(material)
    data = archive.affected_data(found)
    show("affected", form, archive.affected_report(data), data, data["rows"], found.rows, out)
    return 0 if found.rows.num_rows else 1


@archive.command(epilog="Example: recommender archive check --store house --dosage 15 --market eu")
@in_store
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    setting="dosage",
    required=True,
    help="Share of the concentrates in the finished product, in % by mass.",
)
@category
@market
@on
@spread
@output_format
def check(
    store: str,
    dosage_percent: float,
    category: str,
    market: str,
    on: str,
    scheduler: str | None,
    workers: int | None,
    out: str | None,
    force: bool,
    form: str,
) -> int:
    """Check all formulas in the finished product, each as `recommender check` does.

    A row is a finding: a formula, a substance, its per cent of the product and its status. Exit status 0 only
    if nothing is found.
    """
    from recommender.output import archive, archive_page
    from recommender.regulation import ProductUse

    for name in ("check", "check_decisions") if out else ():
        archive_page.check(str(out), name, force)
    use = ProductUse(dosage_percent, category, market, on)
    found = store_in(store).check(use, workers=workers, scheduler=scheduler, progress=printing.stages())
    report, failed = archive.check_report(found), archive.failures(found.failures)
    data = archive.check_data(found) if form != "table" or meta(COLUMNS) else {"rows": []}
    show("check", form, report, data, data["rows"], found.rows, out, failed)
    if out:
        archive_page.write_table(found.decisions, out, "check_decisions")
    return 0 if found.nothing else 1


@archive.command(epilog="Example: recommender archive search --store house --gives hay")
@in_store
@option("--like", metavar="FORMULA", shell_complete=complete_formula, help="Formulas that smell like it.")
@words("--gives", shell_complete=complete_facet, help="Formulas that smell of this, in words.")
@option("--top", type=click.IntRange(1), default=10, show_default=True, help="Number of formulas.")
@spread
@output_format
def search(
    store: str,
    like: str | None,
    gives: tuple[str, ...],
    top: int,
    scheduler: str | None,
    workers: int | None,
    out: str | None,
    force: bool,
    form: str,
) -> int:
    """Find formulas that smell like one, or of something, from a minute to three days.

    The first search after an import works out how each formula dries, which later ones look up.
    """
    from recommender.archive.search import SearchRequest
    from recommender.output import archive, archive_page

    if out:
        archive_page.check(out, "search", force)
    request = SearchRequest(workspace().formula(like) if like else None, ", ".join(gives), top)
    found = store_in(store).search(request, workers=workers, scheduler=scheduler, progress=printing.stages())
    data = archive.search_data(found)
    table = archive.table_of(data["rows"], archive.FOUND_COLUMNS)
    show("search", form, archive.search_report(data), data, data["rows"], table, out, data["failures"])
    if form != "json":
        printing.notes(data["notes"])
    return 0 if data["rows"] else printing.nothing_found("no formula smells of this.")


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
    from recommender.archive.mending import MendingRequest
    from recommender.output import archive, archive_page

    if out:
        archive_page.check(out, "mend", force)
    request = MendingRequest(**given)
    found = store_in(store).mend(request, workers=workers, scheduler=scheduler, progress=printing.stages())
    data = archive.mend_data(found)
    rows, failures = data["rows"], data["failures"]
    show("mend", form, archive.mend_report(found, rows), data, rows, found.rows, out, failures)
    if failures and form != "json":
        printing.note(f"{len(failures)} formulas have no answer; --out or --format json says why.")
    return 0 if rows else printing.nothing_found("nothing is in the way of any formula.")


COMMANDS = (archive,)
