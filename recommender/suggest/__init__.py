"""What else smells of this: carriers for a facet, stand-ins for a material, moves toward other words.

`request` reads how it is asked, `terms` and `scoring` rank, `reasons` explain. `for_material` answers for a
material, `in_formula` inside a formula (`target`: what it needs), `relay`, `substitute` for two carriers and
for stand-ins and blends; `revise` makes the next version from a trial. `dispatch` chooses between them.
"""

from recommender.suggest.dispatch import extend, replace, vary
from recommender.suggest.request import Request

__all__ = ["Request", "extend", "replace", "vary"]
