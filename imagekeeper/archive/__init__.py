"""The archive: a folder that follows the Oxford Common File Layout, its log, and an index that can be rebuilt."""
