"""Notes of the person's own nose on materials."""

from dataclasses import replace

from recommender.errors import BadValue
from recommender.evidence.overlay import SHIFTS
from recommender.model import Label, Material, OwnNote
from recommender.palette import MOST_LABELS, labels_like, own_smells
from recommender.records.group import Group
from recommender.similarity.phrases import Words


class NoseRecords(Group):
    """Notes of the person's own nose on materials, which count in place of the table."""

    def add(
        self,
        material: Material | str,
        smells: str = "",
        denied: Words = (),
        *,
        also: bool = False,
        strength: str = "",
        blind: bool = False,
        words: str = "",
        like: str = "",
    ) -> tuple[OwnNote, bool]:
        """Store how a material smells to the person; returns the note, and whether it replaced one.

        Parameters
        ----------
        material : Material or str
        smells : str
            "raspberry 3, hay 1": 1 is a trace, 2 clear, 3 leading.
        denied : str or sequence of str
            What it does not smell of.
        also : bool
            Whether the smells are added to those of the table instead of replacing them.
        strength : str
            Against the table: much weaker, weaker, stronger or much stronger.
        blind : bool
            Whether the person cannot smell it.
        words : str
            Their own words.
        like : str
            Materials that it smells like: "vanillin, coumarin" or "2 vanillin, 1 coumarin". The mean of their
            labels is stored, and what it is like in the words; `smells` and `denied` count before it.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadNotebook
        """
        if not (smells.strip() or denied or strength or also or blind or words.strip() or like.strip()):
            raise BadValue("smells", "", "give what it smells of to you, {denied} or {strength}")
        if strength and strength not in SHIFTS:
            raise BadValue("strength", strength, f"it is one of {', '.join(SHIFTS)}")
        found = self._here.material(material)
        labels, absent = own_smells(smells, denied, self._here.palette)
        if like.strip():
            labels, named = self._like(like, labels, absent)
            words = "; ".join(filter(None, (words.strip(), f"like {named}")))
        if also and not labels:
            raise BadValue("also", "", "give the facets to add with {smells}")
        note = OwnNote(found.slug, labels, absent, also, strength, blind, words.strip())
        return note, self._store(note)

    def _like(
        self, like: str, labels: tuple[Label, ...], absent: tuple[str, ...]
    ) -> tuple[tuple[Label, ...], str]:
        """Return labels with those of a likeness that are neither among them nor denied, and it in words."""
        alike, named = labels_like(like, self._here.palette)
        known = {*absent, *(label.facet for label in labels)}
        more = [label for label in alike if label.facet not in known]
        both = sorted((*labels, *more[: max(MOST_LABELS - len(labels), 0)]), key=lambda x: -x.strength)
        return tuple(both), named

    def blind(self, material: Material | str) -> Material:
        """Store that the person cannot smell a material, and return it; errors as `add`."""
        found = self._here.material(material)
        self._store(replace(found.own or OwnNote(found.slug), blind=True, instead_of=()))
        return found

    def _store(self, note: OwnNote) -> bool:
        from recommender.notebook import nose

        with self._here.writing() as db:
            return nose.note(db, note)

    def remove(self, material: Material | str) -> tuple[Material, int]:
        """Remove the note on a material; returns it with the number of the note among the removed.

        Raises
        ------
        UnknownMaterial, WrongCas, BadNotebook
        BadValue
            There is no note on it.
        """
        from recommender.notebook import nose

        found, removed = self._here.material(material), None
        if found.own is not None:
            with self._here.writing() as db:
                removed = nose.remove(db, found.slug)
        if removed is None:
            raise BadValue("material", found.name, f"your notebook has no description of {found.name}")
        return found, removed
