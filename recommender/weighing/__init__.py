"""From a formula to the balance: grams, what to dilute first, accords inside, shares of the product."""
