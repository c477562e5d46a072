"""Compare independent reads of one carrier: do they agree, and where do they differ."""
