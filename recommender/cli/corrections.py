"""One reading of a trial or a strip, corrected or taken out: what `trials` and `calibrate` share."""

from typing import TYPE_CHECKING

import click

from recommender.cli import printing
from recommender.cli.commands import option
from recommender.cli.options import HOUR
from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.records.strips import StripRecords
    from recommender.records.trials import TrialRecords

AT_HOUR = option("--hour", "hours", type=HOUR, help="When it was smelled.  [default: as before]")
REMOVE = option("--remove", is_flag=True, help="Take the reading out; it can be brought back.")


def correct(
    records: "TrialRecords | StripRecords",
    owner: str,
    place: int,
    number: int,
    text: str | None,
    hours: float | None,
    remove: bool,
) -> int:
    """Correct the reading at a place of a trial or strip, or take it out; return the exit status."""
    from recommender.notebook.readings import written
    from recommender.output.trials import at

    if remove == (text is not None):
        raise BadValue("reading", text or "", "give what was smelled, or {remove}, one of the two")
    if remove:
        removed = records.remove_reading(number, place)
        click.echo(f"reading {place} of {owner} {number} is removed")
        printing.way_back(removed)
    else:
        found = records.correct(number, place, text or "", hours)
        click.echo(f"reading {place} of {owner} {number}: {at(found.hours)}, {written(found)}")
    return 0
