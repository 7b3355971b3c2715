"""One page for any browser, and its print."""
