"""What every output of trajplan carries."""

from __future__ import annotations

__all__ = ["CAUTIONS", "CAUTION_TEXT"]

CAUTIONS = (
    "Planning aid for trained people. Not a medical device, not cleared for clinical use.",
    "Models come from segmentations that can be wrong.",
    (
        "Numbers for holding strength and pressure are estimates for comparison, not predictions "
        "for a patient."
    ),
    "The licensed surgeon in charge decides, checks against imaging, and follows local rules.",
)

#: The same as one paragraph.
CAUTION_TEXT = " ".join(CAUTIONS)
