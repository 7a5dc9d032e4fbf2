"""What a formula has to keep to, linear in the amounts: limits through naturals, label, price, usual use."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.markets import decides, names_of
from recommender.model import Amount, Limit, Material
from recommender.reformulation.request import ReformulationRequest
from recommender.regulation.constituents import Substance, substances
from recommender.regulation.labels import DECLARED_ABOVE
from recommender.regulation.limits import ProductUse, counted, covering, in_force
from recommender.regulation.report import ANY_COSMETIC, PHOTOTOXIC
from recommender.suggest.practice import does_poorly

LIMIT, LABEL, PRICE, USUAL = "limit", "label", "price", "usual use"
BANNED, WITHOUT, SHELF, PRODUCT = "prohibited", "without", "shelf", "product"
KEEP, CHANGES = "keep", "changes"


@dataclass(frozen=True)
class Rule:
    """A bound: scale x sum(share x parts) / total parts is at most `bound`.

    `kind` is one of limit, label, price, usual use; `name` the substance, the label's name, or blank.
    `shares` are what counts of a gram of each material, by its key. Limits and labels are in % of the
    product, a price per gram of the concentrate, usual use in parts per thousand.
    """

    kind: str
    name: str
    bound: float
    scale: float
    shares: Mapping[str, float] = field(repr=False)
    limit: Limit | None = None

    def most(self, slug: str) -> float:
        """Return the mass fraction of a material that the bound leaves it, if it alone counted; at most 1."""
        share = self.scale * self.shares.get(slug, 0.0)
        return min(1.0, self.bound / share) if share > 0 else 1.0


@dataclass(frozen=True)
class Cause:
    """Why a line has to change: the `kind` of what is in the way, and its words.

    `name` is the substance that is limited or the name on the label, `before` what there was of it and
    `bound` what there may be, in the unit of the rule.
    """

    kind: str
    name: str = ""
    text: str = ""
    before: float | None = None
    bound: float | None = None


def barred(material: Material, catalogue: Catalogue, use: ProductUse) -> Limit | None:
    """Return the prohibition under which a material may not be put in on the day, None without one."""
    own = Substance(material.slug, material.name, material, 1.0, 1.0, {})
    for limit in covering(own, catalogue.limits_by_key):
        if limit.kind == "prohibition" and decides(limit.market, use.market) and in_force(limit, use.on):
            return limit
    return None


def why_out(
    material: Material,
    request: ReformulationRequest,
    without: Mapping[str, Material],
    catalogue: Catalogue,
) -> Cause | None:
    """Return why a material may not be in the formula at all, None where it may."""
    if material.slug in without:
        return Cause(WITHOUT, material.name, f"{material.name} may not be in it")
    if limit := barred(material, catalogue, request.use):
        by = names_of(limit.market, request.market)
        return Cause(BANNED, material.name, f"{material.name} is prohibited by {by}")
    if material.kind == "solvent":
        return None
    shelf = request.shelf
    if request.only_shelf and shelf is not None and material.slug not in shelf.by_material:
        return Cause(SHELF, material.name, f"{material.name} is not on the shelf")
    if request.product and (poorly := does_poorly(material, request.product)):
        return Cause(PRODUCT, material.name, poorly[0].rstrip("."))
    return None


def rules(
    materials: Iterable[Material],
    request: ReformulationRequest,
    catalogue: Catalogue,
    priced: Sequence[Material] = (),
) -> list[Rule]:
    """Return what bounds a formula of some materials; errors where a price of `priced` is not known.

    Raises
    ------
    BadValue
    """
    use = request.use
    opened = {m.slug: substances([Amount(m, 1.0)], catalogue) for m in materials}
    found = [] if use.dosage_percent is None else _limits(opened, catalogue, use, use.dosage_percent)
    for name, percent in request.at_most:
        limited = catalogue.find(name)
        found.append(Rule(LIMIT, limited.name, percent, 100.0, brings(limited, opened)))
    if request.no_label_allergens and use.dosage_percent is not None:
        found += _labels(opened, catalogue, use, use.dosage_percent)
    if request.max_price is not None and request.shelf is not None:
        prices = request.shelf.prices
        if unknown := [m.name for m in priced if m.kind != "solvent" and m.slug not in prices]:
            wanted = f"no price of {', '.join(unknown)} is on your shelf; record one, or leave the line out"
            raise BadValue("max_price", request.max_price, f"{wanted} with {{without}}")
        found.append(Rule(PRICE, "", request.max_price, 1.0, prices))
    return found


def brings(material: Material, opened: Mapping[str, Sequence[Substance]]) -> dict[str, float]:
    """Return the mass fraction of a material in others, by key: 1 in itself, at the high end in a natural.

    What has its key or one of its CAS numbers counts; `opened` are the substances of each.
    """
    keys = {material.slug, *material.cas_all}
    return _positive(
        {
            slug: sum(one.fraction for one in present if not keys.isdisjoint(one.keys))
            for slug, present in opened.items()
        }
    )


def _limits(
    opened: Mapping[str, Sequence[Substance]], catalogue: Catalogue, use: ProductUse, dosage_percent: float
) -> list[Rule]:
    limits: dict[int, tuple[Limit, str]] = {}
    lowest: dict[str, float] = {}
    for substance in (s for found in opened.values() for s in found):
        for limit in covering(substance, catalogue.limits_by_key):
            percent = limit.percent.get(use.category)
            if percent is None or not decides(limit.market, use.market) or not in_force(limit, use.on):
                continue
            limits.setdefault(id(limit), (limit, substance.name))
            if limit.sum_group:
                lowest[substance.key] = min(percent, lowest.get(substance.key, percent))
    found = []
    for limit, name in limits.values():
        shares = {slug: sum(s.fraction for s in counted(limit, present)) for slug, present in opened.items()}
        found.append(Rule(LIMIT, name, limit.percent[use.category], dosage_percent, _positive(shares), limit))
    if lowest:
        uses = {
            slug: sum(s.fraction / lowest[s.key] for s in present if s.key in lowest)
            for slug, present in opened.items()
        }
        found.append(Rule(LIMIT, PHOTOTOXIC, 1.0, dosage_percent, _positive(uses)))
    return found


def _labels(
    opened: Mapping[str, Sequence[Substance]], catalogue: Catalogue, use: ProductUse, dosage_percent: float
) -> list[Rule]:
    kind = next((c for c in catalogue.categories if c.name == use.category), ANY_COSMETIC)
    found = []
    for allergen in catalogue.allergens:
        shares = {
            slug: sum(s.fraction for s in counted(allergen, present)) for slug, present in opened.items()
        }
        if counts := _positive(shares):
            found.append(Rule(LABEL, allergen.name, DECLARED_ABOVE[kind.use], dosage_percent, counts))
    return found


def _positive(shares: Mapping[str, float]) -> dict[str, float]:
    return {slug: share for slug, share in shares.items() if share > 0}
