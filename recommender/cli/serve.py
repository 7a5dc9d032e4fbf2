"""serve: the page in a browser."""

import click

from recommender.cli.commands import command, option
from recommender.cli.notebook_option import notebook_file
from recommender.errors import BadValue


@command(epilog="Example: recommender serve --port 8642")
@option("--port", type=click.IntRange(0, 65535), default=8642, show_default=True,
              help="Where it listens on this machine; 0 takes any that is free.")  # fmt: skip
@option("--no-browser", is_flag=True, help="Do not open a browser.")
def serve(port: int, no_browser: bool) -> int:
    """Open the bench on a page in the browser.

    A formula, what dies when, and what would help.

    It answers this machine alone, needs no network, and keeps everything in the notebook. Ctrl+C ends it.
    """
    from importlib.util import find_spec

    if find_spec("nicegui") is None:
        raise BadValue("serve", "", "the extra [web] is missing; python3 -m pip install '.[web]' brings it")
    from recommender.web import serve as page

    path, chosen = notebook_file(), page.free(port)
    click.echo(f"The bench is open at http://{page.HOST}:{chosen}  (Ctrl+C ends it)")
    click.echo(f"notebook: {path}", err=True)
    page.serve(path, chosen, browser=not no_browser)
    return 0


COMMANDS = (serve,)
