"""Reading the archive again and holding it against its digests, records and log."""
