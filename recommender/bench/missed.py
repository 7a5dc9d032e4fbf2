"""What a person does not smell in a formula, where their nose is blind to a material."""

from dataclasses import dataclass, replace

from recommender.bench.table import Table
from recommender.model import Formula

SHORTER = 1.5
"""A facet is missed where it ends so many times sooner for this nose."""


@dataclass(frozen=True, slots=True)
class Missed:
    """A facet that ends at `others_hours` on a strip, but at `own_hours` to this nose, None for never."""

    facet: str
    others_hours: float
    own_hours: float | None


def missed(table: Table) -> tuple[list[str], list[Missed]]:
    """Return the materials in a formula that this nose cannot smell, and the facets that it misses for it.

    The facet that others smell longest comes first.
    """
    blind = [amount.material for amount in table.amounts if amount.material.own and amount.material.own.blind]
    if not blind:
        return [], []
    own = Table(_muted(table.formula), table.bench)
    smelled = own.ends if any(a.material.curve is not None for a in own.amounts) else {}
    found = []
    for facet, ends in table.ends.items():
        others = ends["just_there"].hours
        left = smelled[facet]["just_there"].hours if facet in smelled else None
        if others is not None and (left is None or others > SHORTER * left):
            found.append(Missed(facet, others, left))
    return [m.name for m in blind], sorted(found, key=lambda m: -m.others_hours)


def _muted(formula: Formula) -> Formula:
    """Return a formula in which what this nose cannot smell evaporates as it does, without a smell."""
    lines = []
    for line in formula.lines:
        content = line.content
        if isinstance(content, Formula):
            content = _muted(content)
        elif content.own and content.own.blind:
            content = replace(content, parts=tuple(replace(part, curve=None) for part in content.parts))
        lines.append(replace(line, content=content))
    return replace(formula, lines=tuple(lines))
