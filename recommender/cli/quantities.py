"""Masses and shares as people write them: 10g, 250 mg, 1.5kg; 15 or 15%."""

import re
from collections.abc import Callable
from typing import Any, TypeVar

import click

from recommender.cli.repeated import option

Command = TypeVar("Command", bound=Callable[..., Any])

_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")


def _number(text: str) -> float:
    return float(text.replace(",", "."))


class Mass(click.ParamType[float]):
    """A mass: 10g, 250mg, 1.5kg; a bare number is grams."""

    name = "mass"
    _UNITS = {"": 1.0, "g": 1.0, "gram": 1.0, "grams": 1.0, "mg": 1e-3, "kg": 1e3, "ug": 1e-6, "µg": 1e-6}  # noqa: RUF012
    _VOLUMES = ("ml", "l", "cl", "drop", "drops", "oz", "fl oz")
    LEAST, MOST = 1e-6, 1e6

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return grams."""
        if isinstance(value, float | int):
            return float(value)
        text = str(value).strip().lower().replace("μ", "µ")
        found = re.fullmatch(_NUMBER + r"\s*([a-zµ ]*)", text)
        if found and found[2] in self._VOLUMES:
            self.fail(f'"{value}" is not a mass; all is weighed: write 10g, 250mg or 1.5kg', param, ctx)
        if not found or found[2] not in self._UNITS:
            self.fail(f'"{value}" is not a mass; write 10g, 250mg or 1.5kg', param, ctx)
        if "," in found[1] and _THOUSANDS.fullmatch(found[1]):
            self.fail(f'"{value}" may be thousands or decimals; write it without a comma', param, ctx)
        grams = _number(found[1]) * self._UNITS[found[2]]
        if not self.LEAST <= grams <= self.MOST:
            self.fail(f'"{value}" is not a mass for a bench; write 10g, 250mg or 1.5kg', param, ctx)
        return grams


class Percent(click.ParamType[float]):
    """A share in per cent: 15, 15%, 0,5 %."""

    name = "percent"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return per cent."""
        text = str(value).strip()
        found = re.fullmatch(_NUMBER + r"\s*%?", text)
        if not found:
            self.fail(f'"{value}" is not a share in per cent; write 15 or 15%', param, ctx)
        percent = _number(found[1])
        if not 0 < percent <= 100:
            self.fail(f'"{value}" is not a share in per cent; it is above 0 and at most 100', param, ctx)
        return percent


def resolution(*other_names: str) -> Callable[[Command], Command]:
    """Give a command the last digit of the balance, under other names too."""
    return option(
        "--resolution",
        *other_names,
        "resolution_g",
        type=Mass(),
        metavar="MASS",
        default="0.01g",
        show_default=True,
        help="Last digit of the balance.",
    )
