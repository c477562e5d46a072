"""What disk is this? Geometries for an image, a size or a few facts, ranked, with evidence for and against."""

from __future__ import annotations

from imagekeeper.geometry.known import Known
from imagekeeper.geometry.results import GeometryCandidate, GeometryRival, GeometrySolution
from imagekeeper.geometry.solving import best_format, solve

__all__ = ["GeometryCandidate", "GeometryRival", "GeometrySolution", "Known", "best_format", "solve"]
