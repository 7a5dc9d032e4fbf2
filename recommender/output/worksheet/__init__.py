"""A weighing sheet as a file: PDF to print, XLSX or CSV."""

from recommender.output.worksheet.files import check, save, save_labels

__all__ = ["check", "save", "save_labels"]
