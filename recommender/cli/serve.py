"""serve: the page in a browser."""

import click

from recommender.cli.commands import Whole, command, option
from recommender.cli.notebook_option import notebook_file
from recommender.errors import BadValue


@command(epilog="Example: recommender serve --port 8642")
@option("--port", type=Whole(0, 65535), default=8642, show_default=True,
              help="Port on this machine; 0 takes any free one.")  # fmt: skip
@option("--no-browser", is_flag=True, help="Do not open a browser.")
def serve(port: int, no_browser: bool) -> int:
    """Open the page in the browser.

    A formula, when each facet fades, and which materials would help.

    The page is reachable from this machine only, by whoever has the token in the address that is printed;
    it needs no network, and stores everything in the notebook. Ctrl+C ends it.
    """
    from importlib.util import find_spec

    if find_spec("nicegui") is None:
        install = "install it with python3 -m pip install '.[web]'"
        raise BadValue("serve", "", f"the extra [web] is missing; {install}")
    from recommender.web import serve as page

    path, access = notebook_file(), page.access_to(page.free(port))
    click.echo(f"The bench is open at {access.address}  (Ctrl+C ends it)")
    click.echo(f"notebook: {path}", err=True)
    page.serve(path, access, browser=not no_browser)
    return 0


COMMANDS = (serve,)
