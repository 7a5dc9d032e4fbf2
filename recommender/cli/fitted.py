"""calibrate fit, show, reset: what the person's own strips say of air, nose and paper."""

import click

from recommender.cli.calibrate import calibrate, own_strips
from recommender.cli.ground import ground, place, told, way_back
from recommender.cli.options import card_format, output_format
from recommender.cli.repeated import option
from recommender.cli.smelled import now


@calibrate.command(epilog="Example: recommender calibrate fit")
@option("--dry-run", is_flag=True, help="Show the fit, and keep on using what was used before.")
@output_format
def fit(dry_run: bool, form: str) -> int:
    """Fit still air, paper and nose to your strips; every drydown uses them from now on."""
    from dataclasses import asdict

    from recommender.calibration import fit as fitted_to
    from recommender.notebook import strips as kept
    from recommender.notebook import writing
    from recommender.present import exports, strip_words

    found = fitted_to([strip for strip in own_strips(ground()) if strip.readings])
    held = found.conditions
    if not dry_run:
        figures = {name: getattr(held, name) for name in ("film_m", "nose_l_per_s", "paper_share")}
        own = {slug: asdict(offset) for slug, offset in held.own.items()}
        with writing(place()) as db:
            kept.keep(db, now(), figures | {"room_c": held.temperature_c}, own)
    if form == "json":
        click.echo(exports.as_json(strip_words.fit_data(found) | {"used": not dry_run}))
    elif form == "csv":
        click.echo(exports.as_csv(strip_words.ended_rows(found), strip_words.ENDED_COLUMNS))
    else:
        click.echo("\n".join(strip_words.fit_lines(found)))
    told(
        "what was used before is still used."
        if dry_run
        else "every drydown uses it from now on; `recommender calibrate reset` goes back to the table."
    )
    return 0


@calibrate.command(epilog="Example: recommender calibrate show")
@card_format
def show(form: str) -> int:
    """Show what is used now: the table's figures, or those of your last fit."""
    from recommender.notebook import reading
    from recommender.notebook import strips as kept
    from recommender.present import exports, strip_words

    with reading(place()) as db:
        held = None if db is None else kept.kept(db)
    data = strip_words.used_data(held, ground())
    click.echo(exports.as_json(data) if form == "json" else "\n".join(strip_words.used_lines(data)))
    return 0


@calibrate.command(epilog="Example: recommender calibrate reset")
def reset() -> int:
    """Go back to the figures of the table; your strips stay."""
    from recommender.notebook import strips as kept
    from recommender.notebook import writing

    path, removed = place(), None
    if path.exists():
        with writing(path) as db:
            removed = kept.reset(db)
    click.echo("every drydown uses the figures of the table again; your strips are kept")
    way_back(removed)
    return 0


COMMANDS = ()  # they stand in the group of strips
