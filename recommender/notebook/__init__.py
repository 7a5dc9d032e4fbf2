"""What a person stores: shelf, nose, materials, limits, formulas, trials, strips, in one SQLite file."""
