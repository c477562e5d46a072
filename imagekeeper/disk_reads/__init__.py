"""Several reads of one disk, compared by cylinder, side and sector: where they agree, and why they do not."""
