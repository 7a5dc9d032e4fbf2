"""The verbs for Python: `import recommender as r; r.extend("benzaldehyde", facet="almond")`."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from recommender import suggest
from recommender.model import Findings, Material
from recommender.present import contract

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Answer:
    """Suggestions with the query and the notes."""

    findings: Findings

    def __len__(self) -> int:
        return len(self.findings.suggestions)

    def __repr__(self) -> str:
        names = ", ".join(s.material.name for s in self.findings.suggestions[:3])
        return f"<{len(self)} suggestions: {names}{', ...' if len(self) > 3 else ''}>"

    def to_dict(self) -> dict[str, Any]:
        """Return query, suggestions and notes as plain data; the keys are those of `--format json`."""
        return contract.as_dict(self.findings)

    def to_frame(self) -> "pd.DataFrame":
        """Return one row a suggestion as a pandas table; terms become columns of their own."""
        import pandas as pd

        from recommender.present.exports import FLAT_COLUMNS, flat

        rows = [flat(row) for row in self.to_dict()["suggestions"]]
        return pd.DataFrame(rows, columns=None if rows else list(FLAT_COLUMNS))

    def _repr_html_(self) -> str:
        return self.to_frame().to_html(index=False)


def extend(
    material: str,
    facet: str | None = None,
    *,
    into: str | None = None,
    until_hours: float | None = None,
    top: int = 10,
    kind: str | None = None,
    avoid: str | None = None,
    market: str = "any",
    why_not: str | None = None,
) -> Answer:
    """Find what keeps a facet of a material alive after the material has gone.

    Parameters
    ----------
    material : str
        Name, synonym or CAS number.
    facet : str, optional
        Words for the facet to keep; the material's own leading one by default.
    into : {"heart", "base"}, optional
        Where it has to speak.
    until_hours : float, optional
        Until when on a strip [h]; 24 by default.
    top : int
        How many suggestions.
    kind : str, optional
        Only molecules, naturals or bases.
    avoid : str, optional
        Words for facets that must not be brought along.
    market : {"any", "eu", "standards"}
        Whose prohibitions count.
    why_not : str, optional
        A material whose absence is to be explained in the notes.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue

    Examples
    --------
    >>> extend("benzaldehyde", facet="almond").to_dict()["query"]["material"]
    'benzaldehyde'
    """
    wish = suggest.Wish(
        material,
        facet=facet,
        into=into,
        until_hours=until_hours,
        top=top,
        kind=kind,
        avoid=avoid,
        market=market,
        why_not=why_not,
    )
    return Answer(suggest.extend(wish))


def replace(
    material: str,
    facet: str | None = None,
    *,
    top: int = 10,
    kind: str | None = None,
    avoid: str | None = None,
    market: str = "any",
    why_not: str | None = None,
) -> Answer:
    """Find what can stand for a material; parameters and errors as `extend`."""
    wish = suggest.Wish(
        material, facet=facet, top=top, kind=kind, avoid=avoid, market=market, why_not=why_not
    )
    return Answer(suggest.replace(wish))


def vary(
    material: str,
    toward: str,
    *,
    top: int = 10,
    kind: str | None = None,
    avoid: str | None = None,
    market: str = "any",
    why_not: str | None = None,
) -> Answer:
    """Find what moves a material toward other words; parameters and errors as `extend`."""
    wish = suggest.Wish(
        material, toward=toward, top=top, kind=kind, avoid=avoid, market=market, why_not=why_not
    )
    return Answer(suggest.vary(wish))


def material(name: str) -> Material:
    """Return everything known of a material by name, synonym or CAS number."""
    return suggest.shipped().catalogue.find(name)


def materials(words: str | None = None) -> list[Material]:
    """Return the materials that show the facets named by words, the strongest first; all without words."""
    return suggest.find(words)[0]
