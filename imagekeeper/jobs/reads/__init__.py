"""Jobs on files that a reader gave: compare, vote, inspect, look for checks, show, convert."""
