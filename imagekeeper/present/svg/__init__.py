"""Pictures of results, as SVG text."""
