"""nose: what the person's own nose says."""

import click

from recommender.cli.commands import group, joined, option, own_words, words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_facet, complete_material, output_format
from recommender.cli.printing import listed
from recommender.errors import BadValue

STRENGTHS = ("much weaker", "weaker", "stronger", "much stronger")


@group(epilog='Example: recommender nose add alpha-ionone --smells "raspberry 3, hay 2" --not violet')
def nose() -> None:
    """Keep what your own nose says.

    It overrules the table in every command.
    """


@nose.command(
    epilog='Example: recommender nose add alpha-ionone --smells "raspberry 3, hay 2" --not violet '
    "--strength stronger"
)
@click.argument("material", shell_complete=complete_material)
@words(
    "--smells",
    callback=joined(", "),
    shell_complete=complete_facet,
    help="What it smells of to you, each with 1 (trace), 2 (clear) or 3 (leading).",
)
@words("--not", "denied", help="What it does not smell of to you.")
@option("--also", is_flag=True, help="Add to the labels of the table, in place of replacing them.")
@option("--strength", type=click.Choice(STRENGTHS), help="How strong it is to you, against the table.")
@own_words("--note", metavar="WORDS", help="Your own words.")
def add(
    material: str, smells: str, denied: tuple[str, ...], also: bool, strength: str | None, note: str
) -> int:
    """Note what MATERIAL smells of to you, in place of the table's labels (or, with --also, on top).

    With --not alone the table's labels stay, without those. A new note takes the place of an older one.
    """
    from recommender.model import OwnNote
    from recommender.notebook import nose as noses
    from recommender.output import materials
    from recommender.palette import own_smells, shipped

    if not (smells or denied or strength or also):
        raise BadValue("smells", "", "say what it smells of to you, {denied}, or {strength}")
    here = workspace()
    found = here.material(material)
    labels, not_so = own_smells(smells, denied, shipped())
    if also and not labels:
        raise BadValue("also", "", "say with {smells} what is to be added")
    own = OwnNote(found.slug, labels, not_so, also, strength or "", words=note)
    with here.writing() as db:
        before = noses.note(db, own)
    click.echo(
        f"{found.name}, to your nose: {materials.own_words(own)}"
        f"{' (instead of an older note)' if before else ''}"
    )
    return 0


@nose.command(epilog='Example: recommender nose blind "ethylene brassylate"')
@click.argument("material", shell_complete=complete_material)
def blind(material: str) -> int:
    """Note that you cannot smell MATERIAL: it is never proposed, and the drydown says what you miss."""
    from dataclasses import replace

    from recommender.model import OwnNote
    from recommender.notebook import nose as noses

    here = workspace()
    found = here.material(material)
    with here.writing() as db:
        noses.note(db, replace(found.own or OwnNote(found.slug), blind=True, instead_of=()))
    click.echo(f"{found.name}: you cannot smell it. `recommender nose remove` takes that back.")
    return 0


@nose.command("list", epilog="Example: recommender nose list --format csv")
@output_format
def list_(form: str) -> int:
    """List what your nose says, beside the table."""
    from recommender.output import materials
    from recommender.output import wording as words

    rows = [
        {
            "material": material.name,
            "cas": material.cas or None,
            "yours": materials.own_words(note),
            "table": words.labels(note.instead_of),
            "note": note.words or None,
        }
        for material in workspace().palette.catalogue.materials
        if (note := material.own) is not None
    ]
    heads = {"material": "material", "yours": "to your nose", "table": "in the table", "note": "note"}
    empty = "no note of your nose yet; see `recommender nose add --help`."
    columns = ("material", "cas", "yours", "table", "note")
    return listed(rows, form, columns, heads, empty, ("yours", "table", "note"))


@nose.command(epilog="Example: recommender nose remove alpha-ionone")
@click.argument("material", shell_complete=complete_material)
def remove(material: str) -> int:
    """Take back what your nose said of MATERIAL: the table counts again."""
    from recommender.notebook import nose as noses

    here = workspace()
    found = here.material(material)
    if found.own is None:
        raise BadValue("MATERIAL", material, f"your notebook has no note on {found.name}")
    with here.writing() as db:
        noses.forget(db, found.slug)
    click.echo(f"{found.name}: the table counts again")
    return 0


COMMANDS = (nose,)
