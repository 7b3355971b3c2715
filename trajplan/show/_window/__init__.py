"""The window in which a plan is turned, changed and saved."""
