"""``counterpoise twin``: the machine as physics, asked from the terminal."""
