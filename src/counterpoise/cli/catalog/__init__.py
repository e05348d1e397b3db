"""``counterpoise catalog``: families read, and a workshop's own begun, tried and added."""
