"""The command line: gather options, call one verb, print.

Exit status: 0 answered, 1 nothing found (`check`: findings), 2 wrong use.
"""

import os
import signal
import sys
from collections.abc import Mapping
from functools import cache
from importlib import import_module

import click

from recommender import process
from recommender.cli import streams
from recommender.cli.commands import ImportedGroup
from recommender.cli.notebook_option import notebook_option, quiet_option
from recommender.errors import BadValue, RecommenderError
from recommender.one_line import one_line

COMPLETE = "_RECOMMENDER_COMPLETE"
"""The variable with which a shell asks for completions."""
EPILOG = "Example: recommender extend benzaldehyde --facet almond --until 24h"


SUMMARIES: Mapping[str, str] = {
    "extend": "Find materials that keep a facet alive.",
    "replace": "Find substitutes for MATERIAL.",
    "vary": "Move a material or formula in another direction.",
    "pair": "Find what goes well with a material or an accord.",
    "reformulate": "Bring FORMULA inside limits, label, price and shelf with the least change to its smell.",
    "drydown": "Show when each facet of FORMULA fades on a strip, on skin or on cloth.",
    "trim": "Find redundant materials in FORMULA.",
    "strips": "Compare strips of each MATERIAL at 1 %.",
    "dose": "Propose a first amount of each MATERIAL.",
    "compare": "Compare two formulas hour by hour on strips, skin or cloth.",
    "check": "Check FORMULA in the finished product.",
    "weigh": "Plan the weighing of FORMULA.",
    "materials": "List materials, or those that show WORDS.",
    "material": "Show everything on record about MATERIAL, with sources.",
    "facets": "List the facets, or those that WORDS stand for.",
    "similarities": "List how alike all pairs of materials smell.",
    "limits": "List the limits on record, all or those of MATERIAL.",
    "shelf": "Manage your bottles.",
    "nose": "Record what your own nose smells.",
    "formulas": "Save formulas by name, with all their versions.",
    "trials": "Record trials, and derive the next version from them.",
    "calibrate": "Fit the hours to your own strips.",
    "notebook": "Copy, restore and inspect your notebook.",
    "archive": "Ask all formulas of a house at once: what is hit, and what mends it.",
    "serve": "Open the page in the browser.",
    "demo": "List the example files of an invented studio, or copy them to FOLDER.",
    "config": "Show the settings in effect, and where each comes from.",
    "schema": "Print the JSON schema of the answer of COMMAND.",
    "help": "Show the help of COMMAND, as --help does.",
}
"""The first sentence of each command's help. The module of the same name is imported when it is called."""


@cache
def _imported(name: str) -> click.Command:
    """Return a command, with --notebook and --quiet."""
    found: click.Command = getattr(import_module(f"{__name__}.{name}"), name)
    _with_notebook(found)
    return found


def _with_notebook(command: click.Command) -> None:
    """Add --notebook and --quiet to a command and its subcommands."""
    command.params += [notebook_option(), quiet_option()]
    for below in getattr(command, "commands", {}).values():
        _with_notebook(below)


@click.group(
    cls=ImportedGroup,
    summaries=SUMMARIES,
    load=_imported,
    epilog=EPILOG,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(None, "-V", "--version", package_name="recommender")
def cli() -> None:
    """Find materials that smell of something, last as long as needed, fit the rest and are allowed.

    A material is given as name, synonym or CAS number, a formula as a file (CSV, XLSX, XLS or ODS
    with a column of materials and one of amounts). Hours are for a strip at room temperature.
    """


cli.params += [notebook_option(), quiet_option()]


def _usage(error: click.MissingParameter) -> str:
    """Return what a missing option is for, or how the command of a missing argument is called."""
    if isinstance(error.param, click.Option):
        return f": {error.param.help}" if error.param.help else ""
    if error.ctx is None:
        return ""
    words = (word for word in error.ctx.command.collect_usage_pieces(error.ctx) if word != "[OPTIONS]")
    return f". Usage: {' '.join((error.ctx.command_path, *words))}"


def main() -> None:
    """Run the command line; print every error that a user can correct as one line on stderr."""
    if hasattr(signal, "SIGPIPE"):
        # a reader that closes the pipe early (head) ends the program quietly; `serve` ignores the signal
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    process.prepare()
    lost = streams.degrade()
    if COMPLETE in os.environ:
        from recommender.cli import completion

        completion.install()
    try:
        if nul := [text for text in sys.argv if "\0" in text]:
            raise BadValue("argument", nul[0], "it contains a null character")
        status = cli.main(prog_name="recommender", standalone_mode=False)
        sys.stdout.flush()
        if lost:
            click.echo(f"note: {streams.shown_as_unknown(lost)}", err=True)
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        status = 2
    except click.MissingParameter as error:
        click.echo(f"recommender: {one_line(error.format_message().rstrip('.') + _usage(error))}", err=True)
        status = error.exit_code
    except click.ClickException as error:
        click.echo(f"recommender: {one_line(error.format_message())}", err=True)
        status = error.exit_code
    except RecommenderError as error:
        click.echo(f"recommender: {error}", err=True)
        status = 2
    except (click.Abort, KeyboardInterrupt):
        status = 130
    except BrokenPipeError:
        raise
    except Exception as error:
        from recommender.cli import fault

        click.echo(f"recommender: {one_line(fault.line(error))}", err=True)
        status = 2
    sys.exit(status or 0)
