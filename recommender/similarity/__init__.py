"""How alike materials smell, and how they are related."""
