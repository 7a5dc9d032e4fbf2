"""A weighing sheet as rows, lines and notes."""

from recommender.output.weighing.labels import PURPOSE, VesselLabel, vessels
from recommender.output.weighing.lines import (
    as_mapping,
    bracket_lines,
    heading,
    notes,
    product_lines,
    sheet_lines,
    whole,
)
from recommender.output.weighing.rows import FILE_COLUMNS, data, in_file, preferred_data, rows
from recommender.output.weighing.stock import called_at, way_back, weighed_data, weighed_lines
from recommender.output.weighing.wording import called, grams, recipe, share_percent, shown

__all__ = [
    "FILE_COLUMNS",
    "PURPOSE",
    "VesselLabel",
    "as_mapping",
    "bracket_lines",
    "called",
    "called_at",
    "data",
    "grams",
    "heading",
    "in_file",
    "notes",
    "preferred_data",
    "product_lines",
    "recipe",
    "rows",
    "share_percent",
    "sheet_lines",
    "shown",
    "vessels",
    "way_back",
    "weighed_data",
    "weighed_lines",
    "whole",
]
