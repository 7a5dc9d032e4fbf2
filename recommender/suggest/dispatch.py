"""Which way a verb goes: for a material, in a formula, as a relay or a blend.

What only some ways need is imported there: a start is a third of a short answer.
"""

import dataclasses
from collections.abc import Sequence

from recommender.errors import BadValue
from recommender.evaporation import Application
from recommender.formulas.formula import amounts, with_theme
from recommender.model import STRIP, Amount, Findings, Formula, Material
from recommender.palette import Palette
from recommender.progress import Progress
from recommender.similarity.phrases import texts
from recommender.suggest import for_material
from recommender.suggest.bottles import from_shelf
from recommender.suggest.practice import with_asked, with_practice
from recommender.suggest.product_limits import with_law, without
from recommender.suggest.request import Request, refuse_because


def extend(
    asked: Material | Formula,
    request: Request,
    palette: Palette,
    within: Formula | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Extend a material, a formula, or a material that fades `within` a formula.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue
    """
    refuse_because(request)
    if isinstance(asked, Formula):
        formula, fading = asked, None
    elif within is not None:
        formula, fading = within, asked
    elif request.relay:
        raise BadValue("relay", "", "it needs a formula, as what is asked about or as {within}")
    else:
        found = for_material.extend(asked, request, _of_a_material(request, palette))
        return _answered(found, request, palette, asked)
    from recommender.suggest import in_formula
    from recommender.suggest.relay import relay

    palette, formula = _on_surface(request, palette), with_theme(formula, request.theme, palette.catalogue)
    way = relay if request.relay else in_formula.extend
    found = way(formula, request, palette, fading, progress)
    return _answered(found, request, palette, fading, formula, amounts(formula))


def replace(asked: Material, request: Request, palette: Palette, within: Formula | None = None) -> Findings:
    """Replace a material by itself, in a formula, or by a blend of two or three; errors as `extend`."""
    if within is not None and request.blend:
        raise BadValue("blend", request.blend, "a blend is found for the material alone, without {within}")
    if (within is not None or request.blend) and request.why_not:
        raise BadValue(
            "why_not", ", ".join(texts(request.why_not)), "it is answered without {within} and {blend}"
        )
    palette = _of_a_material(request, palette) if within is None else _on_surface(request, palette)
    if within is not None:
        within = with_theme(within, request.theme, palette.catalogue)
        found = _replace_in(asked, within, request, palette)
    elif request.blend:
        from recommender.suggest import substitute

        found = substitute.blend(asked, request.blend, request, palette)
    else:
        found = for_material.replace(asked, request, palette)
    rest = [] if within is None else without(asked, amounts(within))
    return _answered(found, request, palette, asked, within, rest, replaced=asked)


def _replace_in(asked: Material, formula: Formula, request: Request, palette: Palette) -> Findings:
    """Replace a line of a formula, or the naturals through which alone a material comes into it."""
    from recommender.formulas.drydown import brought_by

    present = amounts(formula)
    if any(amount.material.slug == asked.slug for amount in present) or not brought_by(present, asked):
        from recommender.suggest.substitute import replace_in

        return replace_in(asked, formula, request, palette)
    from recommender.suggest.through_natural import replace_through

    return replace_through(asked, formula, request, palette)


def vary(
    asked: Material | Formula, request: Request, palette: Palette, progress: Progress | None = None
) -> Findings:
    """Vary a material or a formula; errors as `extend`."""
    refuse_because(request)
    if isinstance(asked, Formula):
        from recommender.suggest import in_formula

        asked = with_theme(asked, request.theme, palette.catalogue)
        found = in_formula.vary(asked, request, _on_surface(request, palette), progress)
        return _answered(found, request, palette, None, asked, amounts(asked))
    found = for_material.vary(asked, request, _of_a_material(request, palette))
    return _answered(found, request, palette, asked)


def pair(asked: Material | Formula, request: Request, palette: Palette) -> Findings:
    """Find companions for a material or a formula; errors as `extend`."""
    refuse_because(request)
    from recommender.suggest import companions

    if isinstance(asked, Formula):
        asked, on = with_theme(asked, request.theme, palette.catalogue), _on_surface(request, palette)
        found = companions.pair(asked, request, on)
        return _answered(found, request, palette, None, asked, amounts(asked))
    found = companions.pair(asked, request, _of_a_material(request, palette))
    return _answered(found, request, palette, asked, rest=[Amount(asked, 1.0)])


def _answered(
    found: Findings,
    request: Request,
    palette: Palette,
    asked: Material | None,
    formula: Formula | None = None,
    rest: Sequence[Amount] = (),
    replaced: Material | None = None,
) -> Findings:
    """Return what was found, with statuses by law, drawbacks in practice, bottles, whose hours those are.

    `asked` is the material and `formula` the formula that was asked about, where there is one. `rest` is what
    the suggestions are added to, `replaced` the material that they stand for.
    """
    found = with_practice(with_law(found, request, palette, rest), request, replaced)
    found = with_asked(found, request, asked, formula)
    found = from_shelf(found, request)
    if request.surface == STRIP:
        return found
    note = "The hours of single materials are those of a strip."
    return dataclasses.replace(found, notes=(*found.notes, note))


def _on_surface(request: Request, palette: Palette) -> Palette:
    """Return the palette with the surface on which a formula dries."""
    conditions = Application(request.surface).on(palette.conditions)
    if conditions == palette.conditions:
        return palette
    return dataclasses.replace(palette, conditions=conditions)


def _of_a_material(request: Request, palette: Palette) -> Palette:
    """Return the palette as it is; raises `BadValue` where the request asks what only a formula has."""
    if texts(request.theme):
        wanted = "it is what a formula is about; a single material has none"
        raise BadValue("theme", ", ".join(texts(request.theme)), wanted)
    if request.share_percent is not None:
        wanted = "it is the share of a formula in a concentrate; ask about a formula"
        raise BadValue("share_percent", f"{request.share_percent:g} %", wanted)
    if request.surface != STRIP:
        Application(request.surface).on(palette.conditions)
        wanted = "the hours of single materials are those of a strip; ask about a formula"
        raise BadValue("surface", request.surface, wanted)
    return palette
