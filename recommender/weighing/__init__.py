"""From a formula to the balance: grams, what to dilute first, accords inside, shares of the product."""

from recommender.weighing.asked import Wanted, of_file
from recommender.weighing.dilutions import FLOOR_DIGITS, LADDER, Step, weighable
from recommender.weighing.plan import Pour, Section, Sheet, plan
from recommender.weighing.shares import Shares, shares

__all__ = [
    "FLOOR_DIGITS",
    "LADDER",
    "Pour",
    "Section",
    "Shares",
    "Sheet",
    "Step",
    "Wanted",
    "of_file",
    "plan",
    "shares",
    "weighable",
]
