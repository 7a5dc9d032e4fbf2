"""The suggesting verbs: the only place that knows the order of the stages.

`question` reads a wish, `terms` scores candidates, `verbs` retrieves, ranks and explains, `absence` says why
a material is missing; `context` and `swap` do the same inside a formula, `redundant` finds what can go.
"""

from recommender.bench import Bench, find, shipped
from recommender.suggest.question import Wish
from recommender.suggest.verbs import extend, replace, vary

__all__ = ["Bench", "Wish", "extend", "find", "replace", "shipped", "vary"]
