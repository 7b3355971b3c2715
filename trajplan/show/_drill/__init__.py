"""The steps of a plan, from the first drill on."""
