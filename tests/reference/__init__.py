"""Answers and figures against published sources."""
