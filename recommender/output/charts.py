"""Pictures of facet curves over log time, labelled at the line, legible in grey and when colour-blind."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from recommender import units
from recommender.chemistry.odour_strength import CLEAR, JUST_THERE
from recommender.errors import BadValue
from recommender.formulas import curves
from recommender.formulas.comparison import first_parts
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Findings
from recommender.output import sentences, wording
from recommender.output.curves import TICKS, mark_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

KINDS = (".svg", ".png", ".pdf")
COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#8C6D00", "#56B4E9")
"""Black and the set for colour-blind readers of Okabe and Ito (2008), its yellow darkened."""
NAME_HEIGHT, NAME_WIDTH = 0.045, 3.0
"""Room that a name takes: share of the tallest line, factor of time."""
STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)), (0, (1, 1)))


def drydown(table: FormulaDrydown, file: str) -> None:
    """Draw one formula; raises `BadValue` if the file type is not known."""
    figure, axes = _sheet(file, 1)
    _curves(axes[0], table, table.formula.name, curves.chosen(table))
    _save(figure, file)


def compare(one: FormulaDrydown, other: FormulaDrydown, file: str) -> None:
    """Draw two formulas side by side with the same facets in the same lines."""
    figure, axes = _sheet(file, 2)
    facets = curves.chosen(one, other)
    for axis, table in zip(axes, (one, other), strict=True):
        _curves(axis, table, table.formula.name, facets)
    _save(figure, file)


def before_and_after(before: FormulaDrydown, after: FormulaDrydown, findings: Findings, file: str) -> None:
    """Draw a formula without and with the first suggestion; `after` comes from `after_first_try`."""
    best = findings.suggestions[0]
    wanted = [str(f) for f in findings.query["facets"]]  # type: ignore[attr-defined]
    figure, axes = _sheet(file, 2)
    facets = list(dict.fromkeys([*wanted, *curves.chosen(before, after)]))[: curves.MOST]
    _curves(axes[0], before, f"{before.formula.name}, before", facets, wanted)
    title = f"with {first_parts(best):.2g} parts of 1000 {sentences.name_of(best)}"
    _curves(axes[1], after, title, facets, wanted)
    _save(figure, file)


def check(file: str) -> None:
    """Raise `BadValue` if a picture cannot be written there; call it before the work is done."""
    if Path(file).suffix.lower() not in KINDS:
        raise BadValue("picture", file, f"its name ends in {', '.join(KINDS)}")
    if not Path(os.path.realpath(file)).parent.is_dir():
        raise BadValue("picture", file, "there is no such folder")


def _sheet(file: str, panels: int) -> tuple[Any, Any]:
    check(file)
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(
        panels, 1, figsize=(10, 5.4 * panels), squeeze=False, sharex=True, layout="constrained"
    )
    return figure, axes[:, 0]


def _curves(
    axis: "Axes", table: FormulaDrydown, title: str, facets: list[str], stressed: list[str] | None = None
) -> None:
    hours = table.course.hours
    low, high = curves.bands(table)
    gone = {gap.facet for gap in table.gaps}
    labelled: list[tuple[float, str, str]] = []
    ended: list[tuple[float, float, str, str]] = []
    for names in curves.alike(table, facets):
        column, number = table.film.facets.index(names[0]), facets.index(names[0]) % curves.MOST
        line, colour = table.course.facets[:, column], COLOURS[number]
        if stressed is None or set(names) & set(stressed):
            axis.fill_between(hours, low[:, column], high[:, column], color=colour, alpha=0.12, linewidth=0)
        width = 2.2 if set(names) & gone else 1.4
        axis.plot(hours, line, color=colour, linestyle=STYLES[number], linewidth=width)
        if line[-1] >= JUST_THERE:
            labelled.append((float(line[-1]), wording.join(names), colour))
        else:
            top = max(int(line.argmax()), 4)
            ended.append((float(line[top]), float(hours[top]), wording.join(names), colour))
    tallest = float(table.course.facets.max())
    _name_ended(axis, ended, tallest)
    _name_lines(axis, labelled, tallest)
    _mark_gaps(axis, table, facets)
    for level, name in ((CLEAR, " clear"), (JUST_THERE, " just there")):
        axis.axhline(level, color="#777777", linewidth=0.7, linestyle=":")
        axis.text(1 / 60, level, name, fontsize=8, color="#555555", va="bottom")
    axis.set(xscale="log", xlim=(1 / 60, 168 * 4), ylim=(0, None), title=title)
    axis.set_ylabel("intensity (0 to 100)")
    within = f"a factor of {table.times_within:.2g} either way"
    axis.set_xlabel(
        f"time on {wording.on(table.surface)} (shaded: {within}, solids crystalline or dissolved)"
    )
    axis.set_xticks(TICKS, [units.duration(t) for t in TICKS])
    axis.minorticks_off()
    axis.spines[["top", "right"]].set_visible(False)


def _name_ended(axis: "Axes", ended: list[tuple[float, float, str, str]], tallest: float) -> None:
    """Write each name over the top of its line, moved up where it would stand on another."""
    step, placed = NAME_HEIGHT * max(tallest, 1.0), list[tuple[float, float]]()
    for top, hour, name, colour in sorted(ended):
        height = top + 0.012 * tallest
        for other, below in placed:
            if max(hour, other) < NAME_WIDTH * min(hour, other):
                height = max(height, below + step) if abs(height - below) < step else height
        placed.append((hour, height))
        axis.text(hour, height, name, color=colour, fontsize=9, va="bottom")


def _name_lines(axis: "Axes", labelled: list[tuple[float, str, str]], tallest: float) -> None:
    """Write each name at the end of its line, moved up where names would overlap."""
    lowest = -np.inf
    for height, name, colour in sorted(labelled):
        lowest = max(height, lowest + NAME_HEIGHT * max(tallest, 1.0))
        axis.text(168 * 1.08, lowest, name, color=colour, fontsize=9, va="center")


def _mark_gaps(axis: "Axes", table: FormulaDrydown, facets: list[str]) -> None:
    """Mark each hour at which facets have faded with a line and their names."""
    for mark in curves.marks(table, facets):
        axis.axvline(mark.hours, color="#444444", linewidth=0.8, linestyle=(0, (2, 3)))
        axis.text(
            mark.hours * 1.05,
            0.98,
            mark_text(mark),
            transform=axis.get_xaxis_transform(),
            rotation=90,
            fontsize=9,
            va="top",
            color="#222222",
        )


def _save(figure: Any, file: str) -> None:
    import matplotlib.pyplot as plt

    try:
        figure.savefig(file, dpi=130)
    except OSError as error:
        problem = f"it cannot be written there ({error.strerror})"
        raise BadValue("picture", file, problem) from None
    finally:
        plt.close(figure)
