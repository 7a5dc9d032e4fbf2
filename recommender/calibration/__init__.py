"""A person's own strips: fitted to air, nose and paper, so that the drydown is that of their bench.

`likelihood` measures how well readings fit given figures, `search` looks for the best, `fitting` gives the
figures with their bands and what they predict.
"""

from recommender.calibration.fitting import (
    PARAMETERS,
    Fit,
    FittedParameter,
    PredictedReading,
    StripEnd,
    check_material,
    fit,
)
from recommender.calibration.likelihood import levels

__all__ = [
    "PARAMETERS",
    "Fit",
    "FittedParameter",
    "PredictedReading",
    "StripEnd",
    "check_material",
    "fit",
    "levels",
]
