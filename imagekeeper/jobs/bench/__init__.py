"""What a person has at the bench, and the sheets that are worked from there."""
