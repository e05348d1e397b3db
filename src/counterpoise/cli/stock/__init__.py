"""``counterpoise stock`` and ``prices``."""
