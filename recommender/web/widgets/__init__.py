"""What the views are made of, and the values that it shows."""
