"""Pages and labels about the archive: what they show, gathered and written."""
