"""The index in a file of SQLite."""
