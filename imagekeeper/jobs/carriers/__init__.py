"""One carrier's life in the archive: keep its reads, agree, describe, derive, replace."""
