"""Jobs on disks and their images: what a disk is, what is on it, which drive, what to write."""
