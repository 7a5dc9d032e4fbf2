"""A weighing plan as a file to print or to keep: PDF, XLSX or CSV."""

from recommender.output.worksheet.files import check, save

__all__ = ["check", "save"]
