"""trials next: the next version from the readings, taken line by line."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.formulas import unknown
from recommender.cli.notebook_option import ground, place, told
from recommender.cli.options import Duration, offering, output_format
from recommender.cli.reading_options import in_room, now, records_of, saved_version
from recommender.cli.repeated import joined, option
from recommender.cli.suggestions import request_of
from recommender.cli.trials import trials

if TYPE_CHECKING:
    from recommender.model import Formula, TrialRecord
    from recommender.notebook.formulas import SavedVersion
    from recommender.suggest.revise import Change


@trials.command("next", epilog="Example: recommender trials next morello --accept 1,2 --save")
@click.argument("name", metavar="NAME[@VERSION]")
@option("--until", "until_hours", type=Duration(), help="Until when facets have to live.  [default: 24h]")
@option(
    "--accept",
    metavar="NUMBERS",
    multiple=True,
    callback=joined(",", None),
    help="Which changes to take: 1,3 or all or none.",
)
@option("--save", is_flag=True, help="Save the result as the next version.")
@offering
@output_format
def next_(name: str, accept: str | None, save: bool, form: str, **given: Any) -> int:
    """Propose the next version from how the trials of this one smelled, each change with its reason.

    Without --accept you are asked line by line on a terminal; anywhere else the proposals are only shown.
    """
    from recommender.output import formats, revisions, wording
    from recommender.suggest.revise import applied, revise
    from recommender.suggest.smelling_plan import plan

    title, records = _smelled(name)
    table = in_room(title, ground(title), records)
    readings = [one for record in records for one in record.readings]
    found = revise(table, readings, request_of({"material": title, **given}))
    changes = found.changes
    chosen = chosen_of(accept, len(changes))
    if form == "table":
        click.echo(_proposals(title, records, changes))
    asks = accept is None and form == "table" and on_a_terminal()
    if asks:
        chosen = [n for n in range(len(changes)) if click.confirm(f"take change {n + 1}?", default=True)]
        save = save or (bool(chosen) and click.confirm("save it as the next version?", default=True))
    taken = [changes[n] for n in (range(len(changes)) if chosen is None else chosen)]
    after = applied(table, taken)
    looks = plan(after, taken, readings)
    saved = _kept(after.formula, title, records, taken) if save and chosen else None
    notes = [*dict.fromkeys((*table.notes, *found.notes))]
    if save and not chosen:
        notes.append("No change was accepted, so nothing was saved; say --accept 1,3 or --accept all.")
    if any(one.additions for one in taken):
        notes.append(wording.SIGNS_OFF)
    rows = [revisions.change_data(n, one) for n, one in enumerate(changes, 1)]
    if form == "json":
        data = {
            "formula": title,
            "trials": [record.number for record in records],
            "changes": rows,
            "accepted": None if chosen is None else [n + 1 for n in chosen],
            "plan": [revisions.look_data(look) for look in looks],
            "saved": saved.title if saved else None,
            "notes": notes,
        }
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv(rows, revisions.CHANGE_COLUMNS))
    elif taken:
        if chosen:
            click.echo("\nThe next version:\n" + "\n".join(revisions.formula_lines(after.formula)))
        click.echo("\n" + "\n".join(revisions.look_lines(looks)))
        if saved:
            click.echo(f"\n{saved.title} saved" if saved.new else f"\n{saved.title} is the same")
    for note in notes if form != "json" else ():
        told(note)
    if not changes:
        click.echo("recommender: nothing to change was found in the readings.", err=True)
    return 0 if changes else 1


def _smelled(name: str) -> "tuple[str, list[TrialRecord]]":
    """Return a version by name and number, and its trials; raises `BadValue` where nothing was smelled."""
    from recommender.notebook import reading

    with reading(place()) as db:
        if db is None:
            raise unknown(name, [])
        title = saved_version(db, name).title
    records = records_of(title)
    if not any(record.readings for record in records):
        raise _unread(title)
    return title, records


def _kept(
    formula: "Formula", title: str, records: "list[TrialRecord]", taken: "list[Change]"
) -> "SavedVersion":
    """Save the next version, with what was changed as its note."""
    from dataclasses import replace

    from recommender.notebook import formulas as kept
    from recommender.notebook import writing
    from recommender.output import revisions

    note = f"from {words_of(records)}: " + "; ".join(revisions.change_text(one) for one in taken)
    with writing(place()) as db:
        return kept.save(db, replace(formula, name=title.split("@")[0]), now(), note)[-1]


def _proposals(title: str, records: "list[TrialRecord]", changes: "tuple[Change, ...]") -> str:
    from recommender.output import revisions

    lines = [f"{title}, from {words_of(records)}:", "", *revisions.change_lines(changes)]
    return "\n".join(lines)


def words_of(records: "list[TrialRecord]") -> str:
    """Return the numbers of trials in words."""
    from recommender.output import wording

    numbers = wording.join(str(record.number) for record in records if record.readings)
    return f"trial{'s' if ' ' in numbers else ''} {numbers}"


def chosen_of(text: str | None, count: int) -> list[int] | None:
    """Return the places of the changes that are taken; None where nothing was said.

    Raises
    ------
    BadValue
    """
    from recommender.errors import BadValue

    if text is None:
        return None
    said = text.strip().casefold()
    if said in ("all", "none"):
        return list(range(count)) if said == "all" else []
    numbers = [part.strip() for part in said.split(",") if part.strip()]
    if not numbers or not all(n.isdigit() and 1 <= int(n) <= count for n in numbers):
        many = f"numbers from 1 to {count}, such as 1,2" if count else "there is no change to take"
        raise BadValue("--accept", text, f"{many}, or all or none")
    return sorted({int(n) - 1 for n in numbers})


def on_a_terminal() -> bool:
    """Tell whether a person can be asked."""
    import sys

    return sys.stdin.isatty() and sys.stdout.isatty()


def _unread(title: str) -> Exception:
    from recommender.errors import BadValue

    others = sorted({f"{r.formula}@{r.version}" for r in records_of(title.split("@")[0]) if r.readings})
    way_out = f"{', '.join(others)} has" if others else "see `recommender trials add --help`"
    return BadValue("trial", title, f"there are no readings of it yet; {way_out}")


COMMANDS = ()  # `next` stands in the group of trials
