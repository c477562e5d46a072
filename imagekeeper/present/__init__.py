"""Renderings of results as text, pages and pictures: a frozen result goes in, text comes out, nothing is touched."""
