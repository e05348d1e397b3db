"""Counterpoise: from a shaking washing machine to a decision that pays."""
