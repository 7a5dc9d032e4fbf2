"""The suggesting verbs: the only place that knows the order of the stages.

`question` reads a wish, `terms` scores candidates, `verbs` retrieves, ranks and explains, `absence` says why
a material is missing, `worn` what limits and label say; `aim`, `context`, `relay` and `swap` do the same
inside a formula, `redundant` finds what can go, and `dispatch` chooses between them.
"""

from recommender.bench import Bench, find, shipped
from recommender.suggest.dispatch import extend, replace, vary
from recommender.suggest.question import Wish

__all__ = ["Bench", "Wish", "extend", "find", "replace", "shipped", "vary"]
