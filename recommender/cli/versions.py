"""formulas diff: two versions in parts and in facets over time."""

import click

from recommender.cli.ground import ground, place, told
from recommender.cli.options import output_format
from recommender.cli.saved import formulas, unknown


@formulas.command(epilog="Example: recommender formulas diff morello data/demo/morello_mended.csv")
@click.argument("one", metavar="NAME[@VERSION]")
@click.argument("other", metavar="[NAME[@VERSION]]", required=False)
@output_format
def diff(one: str, other: str | None, form: str) -> int:
    """Show what moved between two versions, in parts per thousand and in facets over time.

    With one NAME its last two versions are taken, with NAME@VERSION that one against the one before it.
    """
    from recommender import trials
    from recommender.bench import Table
    from recommender.present import change_words, courses, exports, tables

    if other is None:
        one, other = _before(one)
    bench = ground(one, other)
    sides = Table.of(one, bench), Table.of(other, bench)
    found = trials.diff(*sides)
    rows = change_words.moved_rows(found)
    if form == "json":
        click.echo(exports.as_json(change_words.diff_data(found)))
    elif form == "csv":
        click.echo(exports.as_csv(rows, change_words.DIFF_COLUMNS))
    else:
        if rows:
            tables.rows(rows, change_words.MOVED_HEADS, wide=("name",))
        click.echo(change_words.room_line(found))
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


COMMANDS = ()  # `diff` stands in the group of saved formulas
