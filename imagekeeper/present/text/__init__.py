"""Results as plain text for people: lines for a terminal, a printer or a log."""
