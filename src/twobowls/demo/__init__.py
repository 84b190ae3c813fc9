"""The sample tasting: invented coffees, people and places."""

from twobowls.demo.sample import load_sample

__all__ = ["load_sample"]
