"""What else smells of this, and what goes with it: carriers, stand-ins, moves toward words, companions.

`request` and `query` read what is asked, `eligibility` decides who may be offered, `terms` and `scoring`
rank, `explanation` gives the reasons, `assembly` builds each suggestion. `for_material` answers for a
material, `in_formula` inside a formula (`target`: what it needs), `relay` with two carriers, `substitute`
with stand-ins and blends, `companions` with what goes well with a material or an accord; `revise` makes the
next version from a trial. `dispatch` chooses between them.
"""

from recommender.suggest.dispatch import extend, pair, replace, vary
from recommender.suggest.request import Request

__all__ = ["Request", "extend", "pair", "replace", "vary"]
