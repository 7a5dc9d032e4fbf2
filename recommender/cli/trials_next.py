"""trials next: the next version from the readings, accepted change by change."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import command, joined, option
from recommender.cli.notebook_option import workspace
from recommender.cli.options import (
    DURATION,
    complete_saved,
    offering,
    output_format,
    theme,
)
from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.model import TrialRecord


@command(name="next", epilog="Example: recommender trials next morello --accept 1,2 --save")
@click.argument("name", metavar="NAME[@VERSION]", shell_complete=complete_saved)
@option("--until", "until_hours", type=DURATION, help="Hour until which facets should last.  [default: 24h]")
@option(
    "--accept",
    metavar="NUMBERS",
    multiple=True,
    callback=joined(",", None),
    help="Changes to accept: 1,3 or all or none.",
)
@theme
@option("--save", is_flag=True, help="Save the result as the next version.")
@offering
@output_format
def next_(name: str, accept: str | None, save: bool, form: str, **given: Any) -> int:
    """Propose the next version from the trials of this one, each change with its reason.

    Without --accept you are asked for each change on a terminal; elsewhere the changes are only shown.
    """
    from recommender.output import revisions, wording
    from recommender.suggest import Request
    from recommender.suggest.revise import applied
    from recommender.suggest.smelling_plan import plan

    here = workspace()
    with printing.working("simulating the next version") as progress:
        found = here.next_version(name, Request(**given), progress=progress)
    changes, title = found.revision.changes, found.version.title
    chosen = chosen_of(accept, len(changes))
    if form == "table":
        heading = f"{title}, from {words_of(found.records)}:"
        printing.lines(
            (heading, wording.theme(found.drydown.theme.figures), "", *revisions.change_lines(changes))
        )
    if accept is None and form == "table" and on_a_terminal():
        chosen = [n for n in range(len(changes)) if click.confirm(f"accept change {n + 1}?", default=True)]
        save = save or (bool(chosen) and click.confirm("save it as the next version?", default=True))
    taken = [changes[n] for n in (range(len(changes)) if chosen is None else chosen)]
    after = applied(found.drydown, taken)
    readings = [one for record in found.records for one in record.readings]
    looks = plan(after, taken, readings)
    saved = None
    if save and chosen:
        done = "; ".join(revisions.change_text(one) for one in taken)
        saved = here.formulas.save(
            after.formula, found.version.name, f"from {words_of(found.records)}: {done}"
        )[-1]
    notes = [*dict.fromkeys((*found.drydown.notes, *found.revision.notes))]
    if save and not chosen:
        notes.append("No change was accepted, so nothing was saved; use --accept 1,3 or --accept all.")
    if any(one.additions for one in taken):
        notes.append(wording.SIGNS_OFF)
    rows = [revisions.change_data(n, one) for n, one in enumerate(changes, 1)]
    data = {
        "formula": title,
        "theme": found.drydown.theme.figures,
        "trials": [record.number for record in found.records],
        "changes": rows,
        "accepted": None if chosen is None else [n + 1 for n in chosen],
        "plan": [revisions.look_data(look) for look in looks],
        "saved": saved.title if saved else None,
        "notes": notes,
    }

    def for_a_reader() -> list[str]:
        out = ["", "The next version:", *revisions.formula_lines(after.formula)] if chosen else []
        out += ["", *revisions.look_lines(looks)] if taken else []
        if saved:
            out += ["", f"{saved.title} saved" if saved.new else f"{saved.title} is identical"]
        return out

    printing.show(form, data, rows, revisions.CHANGE_COLUMNS, for_a_reader)
    if form != "json":
        printing.notes(notes)
    return 0 if changes else printing.nothing_found("the readings call for no change.")


def words_of(records: "Sequence[TrialRecord]") -> str:
    """Return the numbers of the trials with readings, in words."""
    from recommender.output import wording

    numbers = wording.join(str(record.number) for record in records if record.readings)
    return f"trial{'s' if ' ' in numbers else ''} {numbers}"


def chosen_of(text: str | None, count: int) -> list[int] | None:
    """Return the indices of the accepted changes, None if the option is not given.

    Raises
    ------
    BadValue
    """
    if text is None:
        return None
    word = text.strip().casefold()
    if word in ("all", "none"):
        return list(range(count)) if word == "all" else []
    numbers = [part.strip() for part in word.split(",") if part.strip()]
    if not numbers or not all(n.isdigit() and 1 <= int(n) <= count for n in numbers):
        many = f"numbers from 1 to {count}, such as 1,2" if count else "there is no change to accept"
        raise BadValue("accept", text, f"{many}, or all or none")
    return sorted({int(n) - 1 for n in numbers})


def on_a_terminal() -> bool:
    """Return whether the command can ask the user."""
    import sys

    return sys.stdin.isatty() and sys.stdout.isatty()
