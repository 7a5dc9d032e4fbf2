"""Printing: results on stdout in the chosen format, then notes on stderr."""

import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.notebook_option import QUIET
from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.evidence.catalogue import Catalogue
    from recommender.model import Findings
    from recommender.progress import Progress, StageProgress


COLUMNS = "recommender.columns"
"""Key of the columns that a listing is to have, in `click.Context.meta`."""


def meta(key: str) -> Any:
    """Return what an option of every command has left in the context of this call, None for nothing."""
    context = click.get_current_context(silent=True)
    return context.meta.get(key) if context else None


def quiet() -> bool:
    """Return whether notes and progress are left out."""
    return bool(meta(QUIET))


def note(line: str) -> None:
    """Print a note on stderr, after flushing stdout; nothing with --quiet."""
    if quiet():
        return
    sys.stdout.flush()
    text = f"note: {line}"
    if sys.stderr.isatty():
        from recommender.output import layout

        text = "\n".join(layout.fit([text], shutil.get_terminal_size().columns))
    click.echo(text, err=True)


def lines_below(found: Iterable[str]) -> None:
    """Print on stderr how a file was read; nothing with --quiet."""
    if not quiet():
        sys.stdout.flush()
        for line in found:
            click.echo(line, err=True)


def written(what: str, path: str) -> None:
    """Print on stderr where a picture or a sheet was written; nothing with --quiet."""
    if not quiet():
        click.echo(f"{what}: {path}", err=True)


FIRST_SHOWN_S, STEP_S = 1.0, 0.2
"""Seconds after which long work is shown, and between two looks at the clock."""


@contextmanager
def working(what: str) -> "Iterator[Progress]":
    """Show on stderr how much of something is done, and for how long: on a terminal, from a second on.

    Yields what is given the share that is done, 0-1; without it the time alone is shown.
    """
    shares = [0.0]
    if quiet() or not sys.stderr.isatty():
        yield shares.append
        return
    import threading
    import time

    done, start = threading.Event(), time.monotonic()

    def show_time() -> None:
        if done.wait(FIRST_SHOWN_S):
            return
        while not done.wait(STEP_S):
            share = f" {100 * max(shares):.0f} %," if shares[1:] else ""
            sys.stderr.write(f"\r{what} ...{share} {time.monotonic() - start:.0f} s\x1b[K")
            sys.stderr.flush()
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()

    clock = threading.Thread(target=show_time, daemon=True)
    clock.start()
    try:
        yield shares.append
    finally:
        done.set()
        clock.join()


def stages() -> "StageProgress | None":
    """Return what shows on stderr what is being done and how much is done, None where that is no terminal."""
    if quiet() or not sys.stderr.isatty():
        return None

    def show(what: str, share: float) -> bool:
        line = f"{what} ({100 * share:.0f} %)" if share < 0.99 else ""
        sys.stderr.write(f"\r{line}\x1b[K")
        sys.stderr.flush()
        return True

    return show


def way_back(number: int | None) -> None:
    """Print the command that brings back what was just removed."""
    if number is not None:
        note(f"`recommender notebook bring-back {number}` brings it back.")


def notes(lines: Iterable[str]) -> None:
    """Print notes, without repetitions."""
    for line in dict.fromkeys(lines):
        note(line)


def nothing_found(why: str) -> int:
    """Print why there is no answer; return the exit status 1."""
    sys.stdout.flush()
    click.echo(f"recommender: {why}", err=True)
    return 1


def show(
    form: str,
    data: Any,
    rows: Sequence[Mapping[str, Any]],
    columns: Sequence[str],
    table: Callable[[], Iterable[str]],
) -> None:
    """Print `data` as JSON, `rows` with `columns` as CSV, or the lines that `table` returns.

    --columns chooses others of the rows, for CSV and for a table.
    """
    from recommender.output import formats

    chosen = _chosen(form, rows, columns)
    if form == "json":
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv(rows, chosen or columns))
    elif chosen:
        lines(table_of(rows, {key: key for key in chosen}, wide=chosen))
    else:
        lines(table())


def _chosen(form: str, rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> list[str]:
    """Return the columns that --columns names, none where it is not given; raises `BadValue`."""
    given = meta(COLUMNS)
    if not given:
        return []
    if form == "json":
        raise BadValue("columns", given, "JSON has all of them; use it with --format csv or table")
    named = [name.strip() for name in given.split(",") if name.strip()]
    known = list(dict.fromkeys((*columns, *(key for row in rows for key in row))))
    by_name = {name.casefold(): name for name in known}
    if unknown := [name for name in named if name.casefold() not in by_name]:
        raise BadValue("columns", unknown[0], f"the columns are {', '.join(known)}")
    if not named:
        raise BadValue("columns", given, f"name some of {', '.join(known)}")
    return [by_name[name.casefold()] for name in named]


def table_of(
    rows: Sequence[Mapping[str, Any]],
    heads: Mapping[str, str],
    wide: Sequence[str] = (),
    right: Sequence[str] = (),
    amount: str | None = None,
) -> list[str]:
    """Return the lines of a table; see `output.text.rows`."""
    from recommender.output import text

    return text.rows(rows, heads, wide, right, amount)


def lines(found: Iterable[str]) -> None:
    """Print lines, wrapped where they are too long; through a pager where they are more than a screen."""
    from recommender.output import layout

    shown = layout.fit(found, layout.width())
    if not shown:
        return
    if layout.on_terminal() and len(shown) >= shutil.get_terminal_size().lines and pager() != "":
        os.environ.setdefault("LESS", "FRX")
        click.echo_via_pager("\n".join(shown) + "\n")
    else:
        click.echo("\n".join(shown))


def pager() -> str | None:
    """Return the pager that $PAGER names, None where it is not set, blank where it turns paging off."""
    named = os.environ.get("PAGER")
    return "" if named is not None and named.strip() in ("", "cat") else named


def listed(
    rows: Sequence[Mapping[str, Any]],
    form: str,
    columns: Sequence[str],
    heads: Mapping[str, str],
    empty: str,
    wide: Sequence[str] = (),
    data: Any = None,
) -> int:
    """Print rows and return the exit status; without rows it is 1, and `empty` is printed on stderr.

    `columns` are those of CSV, `heads` and `wide` as in `table_of`; `data` is printed as JSON, by default
    the rows.
    """
    if rows or form != "table":
        show(form, rows if data is None else data, rows, columns, lambda: table_of(rows, heads, wide))
    return 0 if rows else nothing_found(empty)


def suggestions(findings: "Findings", catalogue: "Catalogue", form: str, explain: bool) -> int:
    """Print suggestions with their notes; return the exit status."""
    from recommender.output import formats, text, wording
    from recommender.output import suggestions as output

    data = output.as_dict(findings)
    rows = [formats.flat(row) for row in data["suggestions"]]
    found = bool(findings.suggestions or findings.lower)
    if found or form != "table":
        show(
            form,
            data,
            rows,
            formats.FLAT_COLUMNS,
            lambda: text.suggestions(findings, explain, catalogue.sources),
        )
    if form != "json":
        notes((*findings.notes, *([wording.SIGNS_OFF] if found else [])))
    return (
        0
        if found
        else nothing_found("nothing found; try a wider facet or fewer filters; the notes may say more.")
    )
