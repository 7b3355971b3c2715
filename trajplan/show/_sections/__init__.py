"""Section drawings to scale, in the planes through a screw's axis."""
