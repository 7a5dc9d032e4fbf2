"""materials, material, facets, similarities."""

import sys

import click

from recommender.cli.notebook_option import ground, the_shelf
from recommender.cli.options import card_format, complete_facet, complete_material, market, output_format
from recommender.cli.repeated import option


@click.command(epilog='Example: recommender materials "bitter almond" --format csv')
@click.argument("words", required=False, shell_complete=complete_facet)
@option("--shelf", "only_shelf", is_flag=True, help="Only what is on your shelf.")
@market
@output_format
def materials(words: str | None, only_shelf: bool, market: str, form: str) -> int:
    """List materials, or those that show WORDS.

    `materials add` and `materials import` add materials of your own, `materials remove` takes them away.
    """
    from recommender.output import formats, text
    from recommender.output import materials as cards
    from recommender.palette import find

    palette = ground()
    found, notes = find(words, palette)
    if only_shelf:
        held = the_shelf().by_material
        found = [material for material in found if material.slug in held]
    rows = [cards.row(palette, material, market) for material in found]
    if form == "json":
        click.echo(formats.as_json(rows))
    elif form == "csv":
        click.echo(formats.as_csv(rows, cards.ROW_COLUMNS))
    elif rows:
        columns = {
            "name": "material",
            "cas": "CAS",
            "kind": "kind",
            "position": "position",
            "lasting_hours": "hours",
            "strength": "strength",
            "labels": "smells of",
        }
        for row in rows:
            row["kind"] += (
                ", prohibited" if row["prohibited"] else ", reference" if row["role"] == "reference" else ""
            )
        text.rows(rows, columns, wide=("labels", "kind"))
    sys.stdout.flush()
    for note in notes:
        click.echo(f"note: {note}", err=True)
    if not rows:
        click.echo(
            "recommender: nothing found: no material is known to smell of that; try a wider word.", err=True
        )
        return 1
    return 0


@click.command(epilog="Example: recommender material coumarin")
@click.argument("name", metavar="MATERIAL", shell_complete=complete_material)
@market
@card_format
def material(name: str, market: str, form: str) -> int:
    """Show all that is known of MATERIAL, with sources."""
    from recommender.output import formats
    from recommender.output import materials as cards

    palette = ground()
    data = cards.card(palette, palette.catalogue.find(name), market)
    click.echo(formats.as_json(data) if form == "json" else "\n".join(cards.card_lines(data)))
    return 0


@click.command(epilog="Example: recommender facets nut")
@click.argument("words", required=False, shell_complete=complete_facet)
@output_format
def facets(words: str | None, form: str) -> int:
    """List the facets, or those that WORDS stand for.

    With how many materials show each.
    """
    from recommender.output import formats, text
    from recommender.similarity.phrases import NOTHING

    palette = ground()
    names = [f.name for f in palette.catalogue.facets]
    phrase = palette.phrase(words) if words else NOTHING
    chosen = set(phrase.facets or names) - set(phrase.refused)
    rows = [
        {
            "facet": f.name,
            "family": f.family,
            "meaning": f.meaning,
            "synonyms": list(f.synonyms),
            "materials": sum(
                m.strength_of(f.name) > 0 and m.role == "palette" for m in palette.catalogue.materials
            ),
        }
        for f in palette.catalogue.facets
        if f.name in chosen
    ]
    columns = ("facet", "family", "meaning", "synonyms", "materials")
    if form == "json":
        click.echo(formats.as_json(rows))
    elif form == "csv":
        click.echo(formats.as_csv(rows, columns))
    else:
        text.rows(rows, {key: key for key in columns}, wide=("meaning", "synonyms"))
    sys.stdout.flush()
    for note in phrase.notes:
        click.echo(f"note: {note}", err=True)
    return 0


@click.command(epilog="Example: recommender similarities --format csv > likeness.csv")
@output_format
def similarities(form: str) -> int:
    """List how alike all pairs of materials smell.

    Only materials with CAS numbers; as CSV it is a table to work on.
    """
    from recommender.output import formats, text

    palette = ground()
    numbered = [(i, m.cas) for i, m in enumerate(palette.catalogue.materials) if m.cas and m.labels]
    likeness = palette.space.all_likeness()
    if form == "csv":
        click.echo("cas_a,cas_b,similarity")
        for place, (i, cas) in enumerate(numbered):
            lines = [f"{cas},{other},{likeness[i, j]:.5f}" for j, other in numbered[place + 1 :]]
            if lines:
                click.echo("\n".join(lines))
        return 0
    rows = [
        {"cas_a": cas, "cas_b": other, "similarity": round(float(likeness[i, j]), 5)}
        for place, (i, cas) in enumerate(numbered)
        for j, other in numbered[place + 1 :]
    ]
    if form == "json":
        click.echo(formats.as_json(rows))
    else:
        text.rows(rows, {key: key for key in ("cas_a", "cas_b", "similarity")})
    return 0


COMMANDS = (material, facets, similarities)
