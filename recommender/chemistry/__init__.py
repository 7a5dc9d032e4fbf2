"""Vapour pressure, odour strength and molecular structure."""
