"""Which way a verb goes: for a material, in a formula, as a relay or a blend."""

from recommender.bench import Bench, shipped
from recommender.errors import BadValue
from recommender.model import Findings
from recommender.phrases import texts
from recommender.suggest import context, swap, verbs
from recommender.suggest.bottles import from_shelf
from recommender.suggest.question import Wish
from recommender.suggest.relay import relay as hand_over


def extend(
    wish: Wish, bench: Bench | None = None, *, formula: str | None = None, relay: bool = False
) -> Findings:
    """Extend a material, a formula file (`wish.material`), or a material that fades in a formula.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable
    """
    ground = bench or shipped()
    if formula is None and not ground.is_formula(wish.material):
        if relay:
            raise BadValue("--relay", "", "it needs a formula: a file, or --in FILE")
        return from_shelf(verbs.extend(wish, ground), wish)
    return from_shelf((hand_over if relay else context.extend)(wish, ground, formula=formula), wish)


def replace(
    wish: Wish, bench: Bench | None = None, *, formula: str | None = None, blend: int | None = None
) -> Findings:
    """Replace a material by itself, in a formula file, or by a blend of two or three.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable
    """
    if formula and blend:
        raise BadValue("--blend", blend, "a blend is found for the material alone, without --in")
    if (formula or blend) and wish.why_not:
        raise BadValue("--why-not", ", ".join(texts(wish.why_not)), "it is answered without --in and --blend")
    if formula:
        return from_shelf(swap.replace_in(wish, formula, bench), wish)
    return from_shelf(swap.blend(wish, blend, bench) if blend else verbs.replace(wish, bench), wish)


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Vary a material or a formula file; errors as `extend`."""
    ground = bench or shipped()
    found = (context.vary if ground.is_formula(wish.material) else verbs.vary)(wish, ground)
    return from_shelf(found, wish)
