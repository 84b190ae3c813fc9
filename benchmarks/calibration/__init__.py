"""Whether the rating engine's intervals hold what they promise, by simulation."""
