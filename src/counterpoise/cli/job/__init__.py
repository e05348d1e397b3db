"""``counterpoise job``: one job in the terminal."""
