"""A bounded run of abuse against a server of its own, on this computer only."""
