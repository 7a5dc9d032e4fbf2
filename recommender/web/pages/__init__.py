"""The views, one file each, and their addresses."""
