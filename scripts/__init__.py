"""Repository scripts: what make calls."""
