"""Formulas: lines and parts, doses, comparison, redundancy."""
