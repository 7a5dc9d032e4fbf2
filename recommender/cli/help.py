"""help: the help of a command."""

import click
from click.shell_completion import CompletionItem

from recommender.cli.commands import command


def complete_command(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the names of commands, and of those below the ones that are typed already."""
    found: click.Command | None = ctx.find_root().command
    for word in ctx.params.get("name") or ():
        found = found.commands.get(word) if isinstance(found, click.Group) else None
    names = found.commands if isinstance(found, click.Group) else ()
    return [CompletionItem(name) for name in sorted(names) if name.startswith(incomplete)]


@command(epilog="Example: recommender help trials next")
@click.argument("name", metavar="[COMMAND]...", nargs=-1, shell_complete=complete_command)
@click.pass_context
def help(ctx: click.Context, name: tuple[str, ...]) -> int:
    """Show the help of COMMAND, as --help does."""
    root = ctx.find_root()
    arguments = [*name, "--help"]
    root.command.main(arguments, prog_name=root.info_name, standalone_mode=False)
    return 0


COMMANDS = (help,)
