"""Words, tables, pictures and files made from results."""
