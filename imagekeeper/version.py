"""The version, where every layer can have it: the package's own face looks up to the door."""

__version__ = "0.1.0"
