"""``counterpoise store``: the store as a whole, and backups by themselves."""
