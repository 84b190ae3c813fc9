"""From records to what the tasting showed: tables, fits, findings in words, pictures."""
