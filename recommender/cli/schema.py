"""schema: what the JSON of a command looks like."""

import click

from recommender.cli.commands import command
from recommender.errors import BadValue


@command(epilog="Example: recommender schema drydown")
@click.argument("name", metavar="[COMMAND]...", nargs=-1)
def schema(name: tuple[str, ...]) -> int:
    """Print the JSON schema of the answer of COMMAND.

    Without one, the commands that have a schema are listed.
    """
    from recommender.output import formats, schemas

    if not name:
        click.echo("\n".join(schemas.names()))
        return 0
    asked = " ".join(name)
    if asked not in schemas.names():
        raise BadValue("name", asked, f"a schema is there for {', '.join(schemas.names())}")
    click.echo(formats.as_json(schemas.schema(asked)))
    return 0


COMMANDS = (schema,)
