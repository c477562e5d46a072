"""Jobs for a new chip."""
