"""Plans as text and as what a script reads."""
