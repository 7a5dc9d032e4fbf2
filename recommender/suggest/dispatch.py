"""Which way a verb goes: for a material, in a formula, as a relay or a blend."""

from recommender.errors import BadValue
from recommender.model import Findings
from recommender.palette import Palette, shipped
from recommender.similarity.phrases import texts
from recommender.suggest import for_material, in_formula, substitute
from recommender.suggest.availability import from_shelf
from recommender.suggest.relay import relay as hand_over
from recommender.suggest.request import Request


def extend(
    request: Request, palette: Palette | None = None, *, formula: str | None = None, relay: bool = False
) -> Findings:
    """Extend a material, a formula file (`wish.material`), or a material that fades in a formula.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable
    """
    ground = palette or shipped()
    if formula is None and not ground.is_formula(request.material):
        if relay:
            raise BadValue("--relay", "", "it needs a formula: a file, or --in FILE")
        return from_shelf(for_material.extend(request, ground), request)
    return from_shelf((hand_over if relay else in_formula.extend)(request, ground, formula=formula), request)


def replace(
    request: Request, palette: Palette | None = None, *, formula: str | None = None, blend: int | None = None
) -> Findings:
    """Replace a material by itself, in a formula file, or by a blend of two or three.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable
    """
    if formula and blend:
        raise BadValue("--blend", blend, "a blend is found for the material alone, without --in")
    if (formula or blend) and request.why_not:
        raise BadValue(
            "--why-not", ", ".join(texts(request.why_not)), "it is answered without --in and --blend"
        )
    if formula:
        return from_shelf(substitute.replace_in(request, formula, palette), request)
    return from_shelf(
        substitute.blend(request, blend, palette) if blend else for_material.replace(request, palette),
        request,
    )


def vary(request: Request, palette: Palette | None = None) -> Findings:
    """Vary a material or a formula file; errors as `extend`."""
    ground = palette or shipped()
    found = (in_formula.vary if ground.is_formula(request.material) else for_material.vary)(request, ground)
    return from_shelf(found, request)
