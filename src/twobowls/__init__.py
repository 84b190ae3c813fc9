"""twobowls: taste coffees side by side, and know which differences are real."""

__version__ = "0.1.0"
