"""Words that every output uses alike."""
