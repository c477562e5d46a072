"""Read, prove and keep the memory chips and floppy disks of old computers and instruments."""

__version__ = "0.1.0"
