"""From a formula to the balance: grams, what to dilute first, accords inside, shares of the product."""

from recommender.weighing.bracket import Bracket, Vial
from recommender.weighing.dilutions import FLOOR_DIGITS, LADDER, DilutionStep, weighable
from recommender.weighing.plan import Section, WeighingSheet, WeighingStep, plan
from recommender.weighing.request import WeighingRequest, preferred, weighed
from recommender.weighing.shares import Shares, shares
from recommender.weighing.summary import (
    FLAMMABLE,
    concentrate_g,
    dilutions_for,
    flammable,
    percent_in_product,
    percent_of_concentrate,
    rounding_percent,
    taken_by_dilutions_g,
    times_larger,
    weaker_accords,
    weaker_percent,
)
from recommender.weighing.withdrawals import Withdrawal, withdrawals

__all__ = [
    "FLAMMABLE",
    "FLOOR_DIGITS",
    "LADDER",
    "Bracket",
    "DilutionStep",
    "Section",
    "Shares",
    "Vial",
    "WeighingRequest",
    "WeighingSheet",
    "WeighingStep",
    "Withdrawal",
    "concentrate_g",
    "dilutions_for",
    "flammable",
    "percent_in_product",
    "percent_of_concentrate",
    "plan",
    "preferred",
    "rounding_percent",
    "shares",
    "taken_by_dilutions_g",
    "times_larger",
    "weaker_accords",
    "weaker_percent",
    "weighable",
    "weighed",
    "withdrawals",
]
