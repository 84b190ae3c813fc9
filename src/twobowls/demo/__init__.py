"""The sample tasting: invented coffees, people and places."""
