"""The durable log and the shelf: SQLite, one writer, group commit."""
