"""help: the help of a command."""

import click

from recommender.cli.commands import command


@command(epilog="Example: recommender help trials next")
@click.argument("name", metavar="[COMMAND]...", nargs=-1)
@click.pass_context
def help(ctx: click.Context, name: tuple[str, ...]) -> int:
    """Show the help of COMMAND, as --help does."""
    root = ctx.find_root()
    arguments = [*name, "--help"]
    root.command.main(arguments, prog_name=root.info_name, standalone_mode=False)
    return 0


COMMANDS = (help,)
