"""``counterpoise demo``: an invented workshop plays three machines to their ends."""
