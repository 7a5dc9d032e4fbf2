"""config: the settings in effect."""

from recommender.cli import printing, settings
from recommender.cli.commands import command
from recommender.cli.options import output_format

COLUMNS = ("setting", "value", "from", "meaning")


@command(epilog="Example: recommender config")
@output_format
def config(form: str) -> int:
    """Show the settings in effect, and where each comes from.

    They are read from a TOML file with lines such as market = "eu" and dosage = 15, in your config folder or
    where $RECOMMENDER_CONFIG names it. An option of a command goes before them. Settings: dosage (of check,
    dose, weigh and what suggests), category, market, balance.
    """
    file = settings.path()
    found = settings.read(file)
    rows = [
        {
            "setting": name,
            "value": found.get(name, setting.default),
            "from": str(file) if name in found else "default",
            "meaning": setting.meaning,
        }
        for name, setting in settings.SETTINGS.items()
    ]
    there = f"settings are read from {file}" + ("." if file.exists() else ", which does not exist yet.")
    data = {"file": str(file), "rows": rows, "notes": [there]}
    heads = {name: name for name in COLUMNS}
    printing.show(form, data, rows, COLUMNS, lambda: printing.table_of(rows, heads, ("from", "meaning")))
    if form != "json":
        printing.note(there)
    return 0


COMMANDS = (config,)
