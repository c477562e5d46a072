"""What listing and searching need, kept in a cache that can be deleted and rebuilt at any time."""
