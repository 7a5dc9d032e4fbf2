"""The suggesting verbs: the only place that knows the order of the stages.

`question` reads a wish, `terms` scores candidates, `verbs` retrieves, ranks and explains, `absence` says why
a material is missing, `worn` what limits and label say; `target`, `context`, `relay` and `swap` do the same
inside a formula, `redundant` finds what can go, and `dispatch` chooses between them.
"""

from recommender.palette import Palette, find, shipped
from recommender.suggest.dispatch import extend, replace, vary
from recommender.suggest.request import Request

__all__ = ["Palette", "Request", "extend", "find", "replace", "shipped", "vary"]
