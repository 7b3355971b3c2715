"""A window in which the fragments of a reduction are moved by hand."""
