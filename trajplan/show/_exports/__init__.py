"""Plans as files for other programs."""
