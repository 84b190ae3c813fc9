"""Load: three hundred phones at a real server, and how many marks a second it keeps."""
