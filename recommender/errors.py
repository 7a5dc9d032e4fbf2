"""The errors of the package.

::

    RecommenderError              one line for a person, exit status 2
    |-- UnknownMaterial           no material of that name, with the nearest known names
    |   |-- AmbiguousMaterial     several materials may be meant, none is guessed
    |   `-- SpoiltCas             a CAS number that a spreadsheet turned into a date
    |-- UnknownFacet              no word of the phrase is a known smell, with the nearest
    |-- WrongCas                  a CAS number whose check digit does not fit
    |-- BadValue                  a field of a request that cannot be used
    |-- BadNotebook               a notebook that cannot be opened, read or written
    |-- ChangedMeanwhile          what was to be changed was changed elsewhere since it was read
    `-- BadTable                  a table that cannot be read, with file, line and column
        `-- StaleTable            a table that no longer fits the evidence it was built from
"""

import copyreg
import re
from collections.abc import Mapping, Sequence
from typing import Any

from recommender.one_line import one_line


class RecommenderError(Exception):
    """Root of all errors that a person can put right: one line, whatever text it quotes.

    They pickle and copy with their message and fields, so that they come back from another process.
    """

    def __init__(self, message: str) -> None:
        super().__init__(one_line(message))

    def __reduce__(self) -> tuple[Any, ...]:
        # by default an exception is made again from its message alone, which no __init__ below takes
        return copyreg.__newobj__, (type(self), *self.args), self.__dict__  # type: ignore[attr-defined]


def _or(names: Sequence[str]) -> str:
    return f". Did you mean {', '.join(names)}?" if names else "."


class UnknownMaterial(RecommenderError):
    """No material has this name, synonym or CAS number.

    `entry` is what the annexes say of it, `hint` what else it is known as: a smell, a bottle, a file.
    """

    def __init__(self, name: str, near: Sequence[str] = (), entry: str = "", hint: str = "") -> None:
        self.name, self.near, self.entry, self.hint = name, tuple(near), entry, hint
        way_out = _or(near) if near else ". `recommender materials` lists what is known."
        if entry:
            way_out = f": {entry}, and it is not in the catalogue."
        if hint:
            way_out = f"; {hint}"
        super().__init__(f'no material is called "{name}"{way_out}')


class AmbiguousMaterial(UnknownMaterial):
    """Several materials may have this name; `near` are their names."""

    def __init__(self, name: str, candidates: Sequence[str]) -> None:
        self.name, self.near, self.entry, self.hint = name, tuple(candidates), "", ""
        every = f"{', '.join(candidates[:-1])} or {candidates[-1]}"
        RecommenderError.__init__(self, f'"{name}" may be {every}: write which one.')


class SpoiltCas(UnknownMaterial):
    """A CAS number that a spreadsheet turned into a date; `near` is the material that has it."""

    def __init__(self, date: str, cas: str, material: str) -> None:
        self.name, self.near, self.entry, self.hint, self.cas = date, (material,), "", "", cas
        problem = f'"{date}" is a date that a spreadsheet made of the CAS number {cas} ({material})'
        RecommenderError.__init__(self, f"{problem}: write {cas}, in a column formatted as text.")


class UnknownFacet(RecommenderError):
    """No word of a phrase names a facet; `hint` is what else it names: a material."""

    def __init__(self, phrase: str, near: Sequence[str] = (), hint: str = "") -> None:
        self.phrase, self.near, self.hint = phrase, tuple(near), hint
        way_out = _or(near) if near else ". `recommender facets` lists the words."
        if hint:
            way_out = f"; {hint}"
        super().__init__(f'no facet is known by "{phrase}"{way_out}')


class WrongCas(RecommenderError):
    """A CAS number with a wrong check digit."""

    def __init__(self, cas: str, expected: int) -> None:
        self.cas, self.expected = cas, expected
        super().__init__(
            f"the CAS number {cas} is mistyped: its check digit would be {expected}. Look at each digit."
        )


class BadValue(RecommenderError):
    """A field of a request, or an argument, that cannot be used.

    `wanted` may name other fields as {field}. Whoever asks has other names for them: an option, a label on a
    page; `named` words the error with those.
    """

    def __init__(
        self, field: str, value: object, wanted: str, names: Mapping[str, str] | None = None
    ) -> None:
        self.field, self.value, self.wanted = field, value, wanted
        called = names or {}
        named = called.get(field, field)
        subject = f'{named} cannot be "{value}"' if str(value) else named
        way_out = re.sub(r"\{([a-z_]+)\}", lambda other: called.get(other[1], other[1]), wanted)
        super().__init__(f"{subject}: {way_out}")

    def named(self, names: Mapping[str, str]) -> "BadValue":
        """Return the same error in the words of whoever asked: field -> what it is called there."""
        return BadValue(self.field, self.value, self.wanted, names)


class BadNotebook(RecommenderError):
    """A notebook that cannot be opened, read or written; nothing in it was changed."""

    def __init__(self, file: str, problem: str, remedy: str = "") -> None:
        self.file, self.problem, self.remedy = file, problem, remedy
        named = f"notebook {file}" if file else "notebook"
        super().__init__(f"{named}: {problem}" + (f". {remedy}" if remedy else ""))


class ChangedMeanwhile(RecommenderError):
    """What was to be changed was changed elsewhere since it was read; nothing was overwritten."""

    def __init__(self, what: str, now: str | None = None) -> None:
        self.what, self.now = what, now
        stands = "" if now is None else f' It stands at "{now}" now.'
        super().__init__(f"{what} was changed elsewhere meanwhile.{stands} Look at it and change it again.")


class BadTable(RecommenderError):
    """A table that cannot be read; says where."""

    def __init__(
        self, file: str, problem: str, *, line: int | None = None, column: str | None = None, remedy: str = ""
    ) -> None:
        self.file, self.problem, self.line, self.column, self.remedy = file, problem, line, column, remedy
        place = file + (f", line {line}" if line else "") + (f", column {column}" if column else "")
        super().__init__(f"{place}: {problem}" + (f". {remedy}" if remedy else ""))


class StaleTable(BadTable):
    """A table that was edited without a rebuild."""
