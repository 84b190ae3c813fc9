"""Tasting statistics: arrays in, frozen results out. No input or output, no clock."""
