"""Writing a version of a carrier whole or not at all, and finishing what an interrupted program left."""
