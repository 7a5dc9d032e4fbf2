"""nose: what the person's own nose says."""

import click

from recommender.cli import printing
from recommender.cli.commands import group, joined, option, own_words, words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_facet, complete_material, output_format
from recommender.cli.printing import listed

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
    from recommender.output import materials

    here = workspace()
    own, before = here.nose.add(material, smells, denied, also=also, strength=strength or "", words=note)
    found = here.material(own.material)
    click.echo(
        f"{found.name}, to your nose: {materials.own_words(own)}"
        f"{' (instead of an older note)' if before else ''}"
    )
    return 0


@nose.command(epilog='Example: recommender nose blind "ethylene brassylate"')
@click.argument("material", shell_complete=complete_material)
def blind(material: str) -> int:
    """Note that you cannot smell MATERIAL: it is never proposed, and the drydown says what you miss."""
    found = workspace().nose.blind(material)
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
    found, removed = workspace().nose.remove(material)
    click.echo(f"{found.name}: the table counts again")
    printing.way_back(removed)
    return 0


COMMANDS = (nose,)
