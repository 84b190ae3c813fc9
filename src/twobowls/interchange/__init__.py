"""Files in and out, with a preview and row-by-row errors."""
