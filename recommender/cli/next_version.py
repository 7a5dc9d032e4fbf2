"""trials next: the next version from the readings, taken line by line."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli.ground import ground, place, the_shelf, told
from recommender.cli.options import Duration, market, output_format
from recommender.cli.saved import unknown
from recommender.cli.smelled import in_room, now, records_of, saved_version
from recommender.cli.tried import trials

if TYPE_CHECKING:
    from recommender.model import Formula
    from recommender.records import TrialRecord
    from recommender.suggest.revise import Change


@trials.command("next", epilog="Example: recommender trials next morello --accept 1,2 --save")
@click.argument("name", metavar="NAME[@VERSION]")
@click.option(
    "--until", "until_hours", type=Duration(), help="Until when facets have to live.  [default: 24h]"
)
@click.option("--accept", metavar="NUMBERS", help="Which changes to take: 1,3 or all or none.")
@click.option("--save", is_flag=True, help="Save the result as the next version.")
@click.option("--avoid", metavar="WORDS", help="Carriers that do not clearly smell of this.")
@click.option("--shelf", "only_shelf", is_flag=True, help="Only carriers that are on your shelf.")
@click.option(
    "--max-price",
    type=click.FloatRange(0, min_open=True),
    metavar="PRICE",
    help="Only what your shelf holds a price of, at most so much for a gram neat.",
)
@market
@output_format
def next_(name: str, accept: str | None, save: bool, form: str, **given: Any) -> int:
    """Propose the next version from how the trials of this one smelled, each change with its reason.

    Without --accept you are asked line by line on a terminal; anywhere else the proposals are only shown.
    """
    from recommender.notebook import formulas as kept
    from recommender.notebook import reading, writing
    from recommender.present import exports, trial_words
    from recommender.suggest import Wish
    from recommender.suggest.plan import plan
    from recommender.suggest.revise import applied, revise

    with reading(place()) as db:
        if db is None:
            raise unknown(name, [])
        title = saved_version(db, name).title
    bench, records = ground(title), records_of(title)
    if not any(record.readings for record in records):
        raise _unread(title)
    table = in_room(title, bench, records)
    asked = given["only_shelf"] or given["max_price"] is not None
    wish = Wish(title, shelf=the_shelf() if asked else None, **given)
    readings = [one for record in records for one in record.readings]
    found = revise(table, readings, wish)
    asks = accept is None and form == "table" and on_a_terminal()
    chosen = chosen_of(accept, len(found.changes))
    if form == "table":
        click.echo(_proposals(title, records, found.changes))
    if asks:
        chosen = [
            n for n in range(len(found.changes)) if click.confirm(f"take change {n + 1}?", default=True)
        ]
    taken = [found.changes[n] for n in (range(len(found.changes)) if chosen is None else chosen)]
    after = applied(table, taken)
    looks = plan(after, taken, readings)
    saved = None
    if chosen and not save and asks:
        save = click.confirm("save it as the next version?", default=True)
    if save and not chosen:
        told("no change was accepted, so nothing was saved; say --accept 1,3 or --accept all.")
    elif save:
        note = f"from {words_of(records)}: " + "; ".join(trial_words.change_text(one) for one in taken)
        with writing(place()) as db:
            saved = kept.save(db, _named(after.formula, title), now(), note)[-1]
    notes = [*dict.fromkeys((*table.notes, *found.notes))]
    if any(one.additions for one in taken):
        notes.append(trial_words.WORN)
    if form == "json":
        data = {
            "formula": title,
            "trials": [record.number for record in records],
            "changes": [trial_words.change_data(n, one) for n, one in enumerate(found.changes, 1)],
            "accepted": None if chosen is None else [n + 1 for n in chosen],
            "plan": [trial_words.look_data(look) for look in looks],
            "saved": saved.title if saved else None,
            "notes": notes,
        }
        click.echo(exports.as_json(data))
        return 0 if found.changes else 1
    if form == "csv":
        rows = [trial_words.change_data(n, one) for n, one in enumerate(found.changes, 1)]
        click.echo(exports.as_csv(rows, trial_words.CHANGE_COLUMNS))
    else:
        if chosen and taken:
            click.echo("\nThe next version:\n" + "\n".join(trial_words.formula_lines(after.formula)))
        if taken:
            click.echo("\n" + "\n".join(trial_words.look_lines(looks)))
        if saved:
            click.echo(f"\n{saved.title} saved" if saved.new else f"\n{saved.title} is the same")
    for note in notes:
        told(note)
    if not found.changes:
        click.echo("recommender: nothing to change was found in the readings.", err=True)
        return 1
    return 0


def _proposals(title: str, records: "list[TrialRecord]", changes: "tuple[Change, ...]") -> str:
    from recommender.present import trial_words

    lines = [f"{title}, from {words_of(records)}:", "", *trial_words.change_lines(changes)]
    return "\n".join(lines)


def words_of(records: "list[TrialRecord]") -> str:
    """Return the numbers of trials in words."""
    from recommender.present import words

    numbers = words.join(str(record.number) for record in records if record.readings)
    return f"trial{'s' if ' ' in numbers else ''} {numbers}"


def _named(formula: "Formula", title: str) -> "Formula":
    from dataclasses import replace

    return replace(formula, name=title.split("@")[0])


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
