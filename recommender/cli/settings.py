"""The settings of a person: what options of every command are, unless a call says otherwise."""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from recommender.errors import BadTable, BadValue

VARIABLE = "RECOMMENDER_CONFIG"
FILE = "config.toml"


@dataclass(frozen=True)
class Setting:
    """One setting: what it means, what applies without it, and what checks its text."""

    meaning: str
    default: str
    check: Callable[[str], object]


def _market(text: str) -> object:
    from recommender.evidence.markets import market_of

    return market_of(text.casefold())


def _category(text: str) -> object:
    from recommender.regulation import checked_category

    return checked_category(text)


def _dosage(text: str) -> object:
    from recommender.units import percent_of

    return percent_of(text)


def _balance(text: str) -> object:
    from recommender.units import mass_of

    return mass_of(text)


SETTINGS: Mapping[str, Setting] = {
    "dosage": Setting("share of the concentrate in the finished product, in %", "none", _dosage),
    "category": Setting("category of the industry Standards", "4", _category),
    "market": Setting("whose rules decide", "any", _market),
    "balance": Setting("last digit of the balance", "0.01g", _balance),
}
"""The settings by the name that they have in the file."""


def path(environment: Mapping[str, str] = os.environ) -> Path:
    """Return where the settings are: $RECOMMENDER_CONFIG, else in the user's config folder."""
    if named := environment.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_config_path

    return user_config_path("recommender", appauthor=False) / FILE


def read(file: Path) -> dict[str, str]:
    """Return the settings of a file as texts, none where there is no file.

    Raises
    ------
    BadTable
        It cannot be read, is no TOML, has a key that is none of `SETTINGS`, or a value that cannot be used.
    """
    import tomllib

    try:
        found = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise BadTable(str(file), f"it cannot be read ({error})", remedy="Check the file") from None
    except tomllib.TOMLDecodeError as error:
        problem = f"it is no TOML: {error}"
        raise BadTable(str(file), problem, remedy='Write lines such as market = "eu"') from None
    return {key: _text(str(file), key, value) for key, value in found.items()}


def _text(file: str, key: str, value: Any) -> str:
    """Return the checked text of one setting."""
    setting = SETTINGS.get(key)
    if setting is None:
        raise BadTable(file, f'"{key}" is no setting', remedy=f"The settings are {', '.join(SETTINGS)}")
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise BadTable(file, f"{key} is neither a text nor a number", remedy=f"It is the {setting.meaning}")
    try:
        setting.check(str(value))
    except BadValue as error:
        raise BadTable(file, f'{key} cannot be "{value}"', remedy=error.wanted.capitalize()) from None
    return str(value)
