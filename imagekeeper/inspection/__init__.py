"""What one image says of itself: faults that show without a second read, facts, and hints at what it is."""
