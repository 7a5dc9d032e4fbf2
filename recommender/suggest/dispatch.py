"""Which way a verb goes: for a material, in a formula, as a relay or a blend."""

from recommender.bench import Bench
from recommender.errors import BadValue
from recommender.formula import is_file
from recommender.model import Findings
from recommender.suggest import context, swap, verbs
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
    if formula is None and not is_file(wish.material):
        if relay:
            raise BadValue("--relay", "", "it needs a formula: a file, or --in FILE")
        return verbs.extend(wish, bench)
    return (hand_over if relay else context.extend)(wish, bench, formula=formula)


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
        raise BadValue("--why-not", wish.why_not, "it is answered without --in and --blend")
    if formula:
        return swap.replace_in(wish, formula, bench)
    return swap.blend(wish, blend, bench) if blend else verbs.replace(wish, bench)


def vary(wish: Wish, bench: Bench | None = None) -> Findings:
    """Vary a material or a formula file; errors as `extend`."""
    return (context.vary if is_file(wish.material) else verbs.vary)(wish, bench)
