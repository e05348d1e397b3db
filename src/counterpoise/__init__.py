"""Counterpoise: from a shaking machine to a decision that pays."""
