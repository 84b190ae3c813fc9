"""The command line: thin commands."""
