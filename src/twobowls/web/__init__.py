"""The web shell: parse, call, render."""
