"""Who comes in: connections, guesses, seats taken too fast, the host's sessions."""
