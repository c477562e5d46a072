"""The archive as a whole: check, repair, search, hand on, take in."""
