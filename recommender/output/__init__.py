"""What a person reads: words, tables and files made from results."""
