"""Pictures: facet curves over log time, labelled at the line, readable in grey and by colour-blind people."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from recommender.bench import Table, shipped
from recommender.drydown.fading import BAND
from recommender.drydown.mixture import course
from recommender.errors import BadValue
from recommender.model import Findings
from recommender.present import sentences, words
from recommender.strength import CLEAR, JUST_THERE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

KINDS = (".svg", ".png", ".pdf")
MOST = 7
"""Facets drawn in colour; more than these cannot be told apart."""
COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#8C6D00", "#56B4E9")
"""Black and the set for colour-blind readers of Okabe and Ito (2008), its yellow darkened."""
STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)), (0, (1, 1)))
TICKS = (1 / 60, 0.25, 1, 4, 12, 24, 72, 168)


def drydown(table: Table, file: str) -> None:
    """Draw one formula; raises `BadValue` where the file's ending is not known."""
    figure, axes = _sheet(file, 1)
    _curves(axes[0], table, table.formula.name, _chosen(table))
    _save(figure, file)


def compare(one: Table, other: Table, file: str) -> None:
    """Draw two formulas side by side with the same facets in the same lines."""
    figure, axes = _sheet(file, 2)
    facets = _chosen(one, other)
    for axis, table in zip(axes, (one, other), strict=True):
        _curves(axis, table, table.formula.name, facets)
    _save(figure, file)


def before_and_after(formula: str, findings: Findings, file: str) -> None:
    """Draw a formula before and after the first suggestion at its upper dose."""
    before = Table.of(formula, shipped())
    best = findings.suggestions[0]
    high = (best.dose.high if best.dose else 10.0) / 1000.0
    members = best.members or ((best.material, 1.0),)
    after = before.plus([(material, share * high) for material, share in members])
    wanted = [str(f) for f in findings.query["facets"]]  # type: ignore[attr-defined]
    figure, axes = _sheet(file, 2)
    facets = list(dict.fromkeys([*wanted, *_chosen(before, after)]))[:MOST]
    _curves(axes[0], before, f"{before.formula.name}, before", facets, wanted)
    title = f"with {1000 * high:.2g} parts of 1000 {sentences.name_of(best)}"
    _curves(axes[1], after, title, facets, wanted)
    _save(figure, file)


def _sheet(file: str, panels: int) -> tuple[Any, Any]:
    if Path(file).suffix.lower() not in KINDS:
        raise BadValue("--picture", file, f"its name ends in {', '.join(KINDS)}")
    if not Path(file).resolve().parent.is_dir():
        raise BadValue("--picture", file, "there is no such folder")
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(
        panels, 1, figsize=(10, 5.2 * panels), squeeze=False, sharex=True, layout="constrained"
    )
    return figure, axes[:, 0]


def _chosen(*tables: Table) -> list[str]:
    """Return the facets to draw: the loudest gaps first, then the loudest of all."""
    facets = tables[0].film.facets
    peak = np.max([table.course.facets.max(axis=0) for table in tables], axis=0)
    gaps = [gap.facet for gap in tables[0].gaps[:3]]
    loudest = [facets[k] for k in np.argsort(-peak, kind="stable") if peak[k] >= CLEAR]
    return list(dict.fromkeys([*gaps, *loudest]))[:MOST]


def _curves(
    axis: "Axes", table: Table, title: str, facets: list[str], stressed: list[str] | None = None
) -> None:
    hours = table.course.hours
    bands = [
        course(film, hours * factor).facets
        for film in (table.film, table.crystals)
        for factor in (1 / BAND, BAND)
    ]
    gaps = {gap.facet: gap for gap in table.gaps}
    ends: list[tuple[float, str, str]] = []
    for number, facet in enumerate(facets):
        column = table.film.facets.index(facet)
        line = table.course.facets[:, column]
        colour = COLOURS[number]
        low, high = (f([b[:, column] for b in bands], axis=0) for f in (np.min, np.max))
        if stressed is None or facet in stressed:
            axis.fill_between(hours, low, high, color=colour, alpha=0.12, linewidth=0)
        axis.plot(
            hours, line, color=colour, linestyle=STYLES[number], linewidth=2.2 if facet in gaps else 1.4
        )
        top = int(line.argmax())
        ends.append((float(line[top]), facet, colour))
        if facet in gaps:
            at = gaps[facet].hours
            axis.plot(
                [at], [max(float(np.interp(np.log(at), np.log(hours), line)), 0)], marker="v", color=colour
            )
            axis.annotate(
                f"{facet} gone",
                (at, 0),
                xytext=(4, 12 + 12 * number),
                textcoords="offset points",
                color=colour,
                fontsize=9,
                rotation=0,
            )
    _labels(axis, table, facets)
    axis.axhline(CLEAR, color="#777777", linewidth=0.7, linestyle=":")
    axis.axhline(JUST_THERE, color="#777777", linewidth=0.7, linestyle=":")
    axis.text(1 / 60, CLEAR, " clear", fontsize=8, color="#555555", va="bottom")
    axis.text(1 / 60, JUST_THERE, " just there", fontsize=8, color="#555555", va="bottom")
    axis.set(
        xscale="log", xlim=(1 / 60, 168 * 4), ylim=(0, None), ylabel="how strong (0 to 100)", title=title
    )
    axis.set_xticks(TICKS, [words.duration(t) for t in TICKS])
    axis.minorticks_off()
    axis.set_xlabel("time on a strip (shaded: a factor of 2.2 either way, crystals or dissolved)")
    axis.spines[["top", "right"]].set_visible(False)


def _labels(axis: "Axes", table: Table, facets: list[str]) -> None:
    """Write each facet's name beside its line's end, moved apart where they would touch."""
    last = table.course.facets[-1]
    places = sorted((float(last[table.film.facets.index(f)]), number, f) for number, f in enumerate(facets))
    step = 0.045 * max(float(table.course.facets.max()), 1.0)
    lowest = -np.inf
    for height, number, facet in places:
        lowest = max(height, lowest + step)
        axis.text(168 * 1.08, lowest, facet, color=COLOURS[number], fontsize=9, va="center")


def _save(figure: Any, file: str) -> None:
    import matplotlib.pyplot as plt

    figure.savefig(file, dpi=130)
    plt.close(figure)
