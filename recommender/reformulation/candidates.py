"""Who may come into a formula: stand-ins of what is in the way, carriers of what would be lost."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from recommender.formulas.drydown import FormulaDrydown
from recommender.model import CLEAR_LABEL, Material
from recommender.palette import Palette
from recommender.reformulation.preserved import WINDOW
from recommender.suggest import scoring
from recommender.suggest.availability import hard_to_get
from recommender.suggest.for_material import ranked
from recommender.suggest.in_formula import with_purity
from recommender.suggest.query import read
from recommender.suggest.request import Request
from recommender.suggest.target import FormulaTarget, carriers, simulate_candidates

STAND_INS = 30
"""So many of the best stand-ins of a line are looked at, as `replace` ranks them."""
BY_LABEL = 4
"""And so many of those that show one of its clear labels best."""
CARRIERS = 8
"""So many carriers of a facet that would be lost are looked at, as `extend` ranks them."""
LOST_FACETS = 5
"""So many of the facets that would lose most."""


def stand_ins(
    asked: Material, palette: Palette, request: Request, present: frozenset[str] = frozenset()
) -> list[Material]:
    """Return what may stand for a material, as `replace` ranks it, the best first; nothing of `present`."""
    question = read("replace", asked, request, palette, present=present)
    rows, _, _, order = ranked(question)
    best = [rows[place] for place in order]
    chosen = dict.fromkeys(best[:STAND_INS])
    for label in sorted(asked.labels, key=lambda one: -one.strength):
        if label.strength >= CLEAR_LABEL:
            shown = palette.space.weights[:, palette.space.facets.index(label.facet)]
            chosen.update(dict.fromkeys(sorted(best, key=lambda row: -float(shown[row]))[:BY_LABEL]))
    return palette.materials(list(chosen))


def carriers_of(facet: str, leader: Material, table: FormulaDrydown, request: Request) -> list[Material]:
    """Return what carries a facet in a formula that has lost it, as `extend` ranks it, the best first."""
    target = FormulaTarget({facet: 1.0}, WINDOW, leader, None, ())
    trial = simulate_candidates(request, table, target, carriers(request, table, target))
    if not trial.materials:
        return []
    trial = with_purity(table, target, trial)
    scores = scoring.score(trial.terms, "extend in formula")
    order = scoring.order(scores, [m.name for m in trial.materials], hard_to_get(trial.materials, request))
    meant = scoring.means_something(trial.terms, "extend in formula")
    return [trial.materials[place] for place in order if meant[place]][:CARRIERS]


def pool(
    in_the_way: Sequence[Material],
    lost: np.ndarray,
    table: FormulaDrydown,
    without: FormulaDrydown,
    request: Request,
) -> list[Material]:
    """Return all candidates once, in the order in which they were found.

    Parameters
    ----------
    in_the_way : sequence of Material
        The lines that have to change, what matters most first.
    lost : ndarray, shape (facets,)
        What each facet loses where they are cut.
    table, without : FormulaDrydown
        The formula as it is, and cut.
    request : Request
    """
    found: dict[str, Material] = {}
    palette, there = table.palette, frozenset(table.slugs())
    for asked in in_the_way:
        found.update({m.slug: m for m in stand_ins(asked, palette, request, there) if m.slug not in found})
    facets = palette.space.facets
    present = replace(request, top=CARRIERS)
    for place in np.argsort(-lost, kind="stable")[:LOST_FACETS]:
        if lost[place] > 0 and in_the_way:
            more = carriers_of(facets[int(place)], in_the_way[0], without, present)
            found.update({m.slug: m for m in more if m.slug not in found})
    return [m for m in found.values() if m.slug not in there and m.curve is not None]
