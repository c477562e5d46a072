"""Sphinx: build these pages with `python -m sphinx docs docs/_build`."""

project = "imagekeeper"
author = "the imagekeeper developers"
extensions = ["myst_parser"]
html_theme = "furo"
exclude_patterns = ["_build"]
html_extra_path = ["reference/schemas"]
myst_heading_anchors = 3

