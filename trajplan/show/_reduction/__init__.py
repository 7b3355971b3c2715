"""Displaced fragments, before and after they were put together."""
