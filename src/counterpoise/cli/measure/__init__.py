"""``counterpoise measure``: measurements by hand."""
