"""nose: the person's own descriptions of materials."""

import click

from recommender.cli import printing
from recommender.cli.commands import choice, group, joined, option, own_words, words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_facet, complete_material, output_format
from recommender.cli.printing import listed

STRENGTHS = ("much weaker", "weaker", "stronger", "much stronger")


@group(epilog='Example: recommender nose add alpha-ionone --smells "raspberry 3, hay 2" --not violet')
def nose() -> None:
    """Record what your own nose smells.

    Your descriptions override the table in every command.
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
@option("--also", is_flag=True, help="Add to the labels of the table instead of replacing them.")
@option("--strength", type=choice(STRENGTHS), help="How strong it is to you, compared with the table.")
@option(
    "--like",
    metavar="MATERIALS",
    shell_complete=complete_material,
    help='Materials that it smells like: "vanillin, coumarin" or "2 vanillin, 1 coumarin".',
)
@own_words("--note", metavar="WORDS", help="Your own words.")
def add(
    material: str,
    smells: str,
    denied: tuple[str, ...],
    also: bool,
    strength: str | None,
    like: str | None,
    note: str,
) -> int:
    """Record what MATERIAL smells of to you.

    Your labels replace those of the table, or with --also add to them. With --not alone, only those labels
    are dropped. With --like the mean of the labels of other materials is stored, at most eight. A new
    description replaces an older one.
    """
    from recommender.output import materials

    here = workspace()
    own, before = here.nose.add(
        material, smells, denied, also=also, strength=strength or "", words=note, like=like or ""
    )
    found = here.material(own.material)
    click.echo(
        f"{found.name}, to your nose: {materials.own_words(own)}"
        f"{' (replaces an older description)' if before else ''}"
    )
    return 0


@nose.command(epilog='Example: recommender nose blind "ethylene brassylate"')
@click.argument("material", shell_complete=complete_material)
def blind(material: str) -> int:
    """Record that you cannot smell MATERIAL: it is never suggested, and the drydown shows what you miss."""
    found = workspace().nose.blind(material)
    click.echo(f"{found.name}: you cannot smell it. `recommender nose remove` undoes this.")
    return 0


@nose.command("list", epilog="Example: recommender nose list --format csv")
@output_format
def list_(form: str) -> int:
    """List your descriptions beside those of the table."""
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
    empty = "no description of your own is on record; see `recommender nose add --help`."
    columns = ("material", "cas", "yours", "table", "note")
    return listed(rows, form, columns, heads, empty, ("yours", "table", "note"))


@nose.command(epilog="Example: recommender nose remove alpha-ionone")
@click.argument("material", shell_complete=complete_material)
def remove(material: str) -> int:
    """Remove your description of MATERIAL, so that the table applies again."""
    found, removed = workspace().nose.remove(material)
    click.echo(f"{found.name}: the table applies again")
    printing.way_back(removed)
    return 0


COMMANDS = (nose,)
