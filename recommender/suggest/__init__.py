"""The suggesting verbs: the only place that knows the order of the stages.

`bench` holds the catalogue and what is derived from it, `question` reads a wish, `terms` scores
candidates, `verbs` retrieves, ranks and explains, `absence` says why a material is missing.
"""

from recommender.suggest.bench import Bench, Wish, find, shipped
from recommender.suggest.verbs import extend, replace, vary

__all__ = ["Bench", "Wish", "extend", "find", "replace", "shipped", "vary"]
