"""The names of the grades, for options; `provenance.grades`, which explains them, takes long to load."""

from __future__ import annotations

GRADES = ("none", "single", "repeated", "independent", "corroborated", "disputed")
