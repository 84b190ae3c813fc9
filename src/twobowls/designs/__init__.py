"""Serving orders, blocks and repeats: combinatorics on whole numbers, nothing else."""
