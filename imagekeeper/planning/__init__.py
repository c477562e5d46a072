"""Plans for the bench: what to make, how to set the device, and how to prove the result."""
