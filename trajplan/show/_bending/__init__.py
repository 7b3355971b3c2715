"""How a plate is bent before it is laid on: steps, and a page to hold it against."""
