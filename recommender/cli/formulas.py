"""formulas: named formulas with their versions."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.listing import listed
from recommender.cli.notebook_option import ground, place, told
from recommender.cli.options import output_format
from recommender.cli.repeated import option, own_words

if TYPE_CHECKING:
    from recommender.model import Formula
    from recommender.notebook.formulas import SavedVersion


@click.group(epilog="Example: recommender formulas list")
def formulas() -> None:
    """Keep formulas by name, every version of them.

    Wherever a command takes FORMULA, the name of a saved one does as well: NAME for its last version, or
    NAME@2.
    """


@formulas.command(epilog="Example: recommender formulas save data/demo/morello.csv")
@click.argument("formula", metavar="FILE_OR_NAME")
@option("--as", "name", metavar="NAME", help="Under which name.  [default: that of the file]")
@own_words("--note", help="What is new in this version.")
@output_format
def save(formula: str, name: str | None, note: str, form: str) -> int:
    """Save a formula file (or a saved version again) as the next version of its name."""
    from dataclasses import replace
    from datetime import UTC, datetime

    from recommender.formulas.drydown import FormulaDrydown
    from recommender.notebook import formulas as kept
    from recommender.notebook import writing
    from recommender.output import formats

    palette = ground(formula)
    table = FormulaDrydown.of(formula, palette)
    found = replace(
        table.formula, name=kept.check_name(name or table.formula.name.split("@")[0], palette.catalogue)
    )
    for inner in _accords(found):
        kept.check_name(inner.name, palette.catalogue)
    when = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S")
    with writing(place()) as db:
        saved = kept.save(db, found, when, note)
    rows = [_row(one) | {"new": one.new} for one in dict.fromkeys(saved)]
    if form == "json":
        click.echo(formats.as_json({"saved": rows, "notes": list(table.notes)}))
        return 0
    if form == "csv":
        click.echo(formats.as_csv(rows, ("name", "version", "saved", "note", "new")))
    else:
        for one in dict.fromkeys(saved):
            click.echo(f"{one.title} saved" if one.new else f"{one.title} is the same; nothing new to save")
    for line in table.notes:
        told(line)
    return 0


def _accords(formula: "Formula") -> "list[Formula]":
    """Return all formulas inside a formula."""
    from recommender.model import Material

    inner = [line.content for line in formula.lines if not isinstance(line.content, Material)]
    return [*inner, *(deeper for one in inner for deeper in _accords(one))]


def _row(saved: "SavedVersion") -> dict[str, Any]:
    return {
        "name": saved.name,
        "version": saved.number,
        "saved": f"{saved.when.replace('T', ' ')} UTC",
        "note": saved.note or None,
    }


@formulas.command("list", epilog="Example: recommender formulas list --format csv")
@click.argument("name", required=False)
@output_format
def list_(name: str | None, form: str) -> int:
    """List the saved formulas, or all versions of NAME."""
    from recommender.notebook import formulas as kept
    from recommender.notebook import reading

    with reading(place()) as db:
        found = [] if db is None else kept.versions(db, name) if name else kept.latest(db)
        if name and not found:
            raise unknown(name, [] if db is None else list(kept.near(db, name)))
    rows = [_row(one) for one in found]
    heads = {"name": "name", "version": "version", "saved": "saved", "note": "note"}
    empty = "no formula is saved yet; see `recommender formulas save --help`."
    return listed(rows, form, ("name", "version", "saved", "note"), heads, empty, ("note",))


def unknown(name: str, near: list[str]) -> Exception:
    """Return what is said of a name under which nothing is saved."""
    from recommender.errors import BadValue

    way_out = f"did you mean {', '.join(near)}?" if near else "`recommender formulas list` shows them"
    return BadValue("formula", name, f"no formula is saved under this name; {way_out}")


def _opened(name: str) -> "tuple[SavedVersion, Formula]":
    """Return a saved version and its formula; raises `BadValue` where nothing is called so."""
    from recommender.notebook import formulas as kept
    from recommender.notebook import reading

    catalogue = ground().catalogue
    with reading(place()) as db:
        saved = None if db is None else kept.find(db, name)
        if db is None or saved is None:
            raise unknown(name, [] if db is None else list(kept.near(db, name)))
        return saved, kept.formula_of(db, saved, catalogue)


@formulas.command(epilog="Example: recommender formulas show morello@1")
@click.argument("name", metavar="NAME[@VERSION]")
@output_format
def show(name: str, form: str) -> int:
    """Show a saved formula line by line, the last version or the one that is named."""
    from recommender.formulas import formula as sheets
    from recommender.output import formats, text

    saved, formula = _opened(name)
    rows: list[dict[str, Any]] = [dict(row) for row in sheets.rows(formula)]
    for row, line in zip(rows, formula.lines, strict=True):
        row["material"] = line.content.name
    if form == "json":
        click.echo(formats.as_json(_row(saved) | {"lines": rows}))
    elif form == "csv":
        click.echo(formats.as_csv(rows, sheets.COLUMNS))
    else:
        click.echo(f"{saved.title}, saved {saved.when.replace('T', ' ')} UTC{_dash(saved.note)}\n")
        heads = {
            "material": "material",
            "parts": "parts",
            "dilution_percent": "%",
            "solvent": "in",
            "note": "note",
        }
        text.rows(rows, heads, wide=("material", "note"))
    return 0


def _dash(note: str) -> str:
    return f": {note}" if note else ""


@formulas.command(epilog="Example: recommender formulas export morello@1 morello_1.csv")
@click.argument("name", metavar="NAME[@VERSION]")
@click.argument("file", type=click.Path())
@option("--force", is_flag=True, help="Write over a file that is there.")
def export(name: str, file: str, force: bool) -> int:
    """Write a saved formula into a CSV FILE, its accords into files beside it."""
    from pathlib import Path

    from recommender.errors import BadValue
    from recommender.formulas import formula as sheets
    from recommender.output import formats

    if Path(file).suffix.lower() != ".csv":
        raise BadValue("FILE", file, "its name ends in .csv")
    saved, formula = _opened(name)
    places = {Path(file): formula}
    for inner in _accords(formula):
        beside = Path(file).with_name(f"{inner.name}.csv")
        if places.setdefault(beside, inner) != inner:
            raise BadValue("FILE", file, f"two accords in it are called {inner.name}; show them one by one")
    if not force and (there := [str(path) for path in places if path.exists()]):
        raise BadValue("FILE", there[0], "it is there already; name another, or say --force")
    for path, content in places.items():
        try:
            path.write_text(
                formats.as_csv(sheets.rows(content), sheets.COLUMNS) + "\n", encoding="utf-8", newline=""
            )
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise BadValue("FILE", str(path), f"it cannot be written: {why}") from None
    click.echo(f"{saved.title} written to {', '.join(str(path) for path in places)}")
    return 0


@formulas.command(epilog="Example: recommender formulas diff morello data/demo/morello_mended.csv")
@click.argument("one", metavar="NAME[@VERSION]")
@click.argument("other", metavar="[NAME[@VERSION]]", required=False)
@output_format
def diff(one: str, other: str | None, form: str) -> int:
    """Show what moved between two versions, in parts per thousand and in facets over time.

    With one NAME its last two versions are taken, with NAME@VERSION that one against the one before it.
    """
    from recommender.formulas import comparison
    from recommender.formulas.drydown import FormulaDrydown
    from recommender.output import formats, revisions, text
    from recommender.output import formulas as courses

    if other is None:
        one, other = _before(one)
    palette = ground(one, other)
    sides = FormulaDrydown.of(one, palette), FormulaDrydown.of(other, palette)
    found = comparison.diff(*sides)
    rows = revisions.moved_rows(found)
    if form == "json":
        click.echo(formats.as_json(revisions.diff_data(found)))
    elif form == "csv":
        click.echo(formats.as_csv(rows, revisions.DIFF_COLUMNS))
    else:
        if rows:
            text.rows(rows, revisions.MOVED_HEADS, wide=("name",))
        click.echo(revisions.room_line(found))
        click.echo("\n" + "\n".join(courses.side_lines(found.side)))
    for note in dict.fromkeys((*sides[0].notes, *sides[1].notes)):
        told(note)
    return 0


def _before(name: str) -> tuple[str, str]:
    """Return a version and the one before it, both by name and number."""
    from recommender.errors import BadValue
    from recommender.notebook import formulas as kept
    from recommender.notebook import reading

    with reading(place()) as db:
        saved = None if db is None else kept.find(db, name)
        if db is None or saved is None:
            raise unknown(name, [] if db is None else list(kept.near(db, name)))
        earlier = [v for v in kept.versions(db, saved.name) if v.number < saved.number]
    if not earlier:
        raise BadValue("formula", saved.title, "there is no version before it; name two")
    return earlier[-1].title, saved.title


COMMANDS = (formulas,)
