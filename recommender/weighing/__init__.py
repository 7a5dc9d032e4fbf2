"""From a formula to the balance: grams, what to dilute first, accords inside, shares of the product."""

from recommender.weighing.dilutions import FLOOR_DIGITS, LADDER, DilutionStep, weighable
from recommender.weighing.plan import Section, WeighingSheet, WeighingStep, plan
from recommender.weighing.request import WeighingRequest, weighed
from recommender.weighing.shares import Shares, shares

__all__ = [
    "FLOOR_DIGITS",
    "LADDER",
    "DilutionStep",
    "Section",
    "Shares",
    "WeighingRequest",
    "WeighingSheet",
    "WeighingStep",
    "plan",
    "shares",
    "weighable",
    "weighed",
]
